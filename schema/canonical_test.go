package schema_test

import (
	"bytes"
	"encoding/json"
	"math"
	"path/filepath"
	"slices"
	"strconv"
	"testing"
	"unicode/utf16"

	"github.com/gowebpki/jcs"

	"graftnote/schema"
)

// everyCase runs over each case of each sample, the blocked ones too.
func everyCase(t *testing.T, f func(t *testing.T, c schema.Checked)) {
	t.Helper()
	for _, pattern := range []string{"*.yaml", "*.json", "blocked/*.yaml"} {
		for _, path := range sampleFiles(t, pattern) {
			o := optionsFor(t, filepath.Base(path))
			for _, cs := range schema.Read(readFile(t, path), o).Cases {
				c := check(t, cs, o, nil)
				t.Run(c.ID(), func(t *testing.T) { f(t, c) })
			}
		}
	}
}

// Reading the canonical form of an entry gives the same entry, byte for byte,
// and the same verdict: no technique, site or header is needed a second time.
// The blocked samples hold values that are none; those can't come back.
func TestCanonicalFormReadsBack(t *testing.T) {
	everyCase(t, func(t *testing.T, c schema.Checked) {
		r := schema.Read(schema.Source{Name: "canonical.json", Data: c.Canonical()}, options())
		if len(r.Cases) != 1 || len(r.Findings) != 0 {
			t.Fatalf("%d cases, findings %v", len(r.Cases), r.Findings)
		}
		again := check(t, r.Cases[0], options(), nil)
		if !bytes.Equal(again.Canonical(), c.Canonical()) {
			t.Errorf("first  %s\nsecond %s", c.Canonical(), again.Canonical())
		}
		if again.Digest() != c.Digest() || c.Complete() && !again.Complete() {
			t.Errorf("digest %s, then %s; complete %v, then %v", c.Digest(), again.Digest(), c.Complete(), again.Complete())
		}
		if c.Complete() && !slices.Equal(ruleNames(c), ruleNames(again)) {
			t.Errorf("findings %v, then %v", ruleNames(c), ruleNames(again))
		}
	})
}

func ruleNames(c schema.Checked) []string {
	var out []string
	for _, f := range c.Findings() {
		out = append(out, f.Rule)
	}
	slices.Sort(out)
	return out
}

// The unconfirmed mark of a habit survives the canonical form.
func TestCanonicalFormKeepsHabitsUnconfirmed(t *testing.T) {
	o := optionsFor(t, "16-with-technique.yaml")
	c := check(t, schema.Read(readFile(t, filepath.Join(samples, "16-with-technique.yaml")), o).Cases[0], o, nil)
	again := schema.Read(schema.Source{Name: "canonical.json", Data: c.Canonical()}, options()).Cases[0].Entry
	var first, second []string
	note := func(into *[]string) func(*schema.Row, int, schema.Field) {
		return func(r *schema.Row, item int, f schema.Field) {
			if f.Recorded() && f.Origin() == schema.Technique {
				*into = append(*into, r.Path()+"/"+strconv.Itoa(item))
			}
		}
	}
	c.Entry().Walk(note(&first))
	again.Walk(note(&second))
	if len(first) == 0 || !slices.Equal(first, second) {
		t.Errorf("from the technique: first %v, then %v", first, second)
	}
}

// RFC 8785 section 3.2: no white space, keys sorted by UTF-16 code units, each
// key once. Values are texts, so that a typed 7.50 does not become 7.5 (section
// 3.2.2.3 would print the double).
func TestCanonicalFormFollowsRFC8785(t *testing.T) {
	everyCase(t, func(t *testing.T, c schema.Checked) {
		var compact bytes.Buffer
		if err := json.Compact(&compact, c.Canonical()); err != nil || compact.Len() != len(c.Canonical()) {
			t.Fatalf("not compact: %v", err)
		}
		dec := json.NewDecoder(bytes.NewReader(c.Canonical()))
		sortedObject(t, dec)
	})
}

func sortedObject(t *testing.T, dec *json.Decoder) {
	t.Helper()
	tok, err := dec.Token()
	if err != nil {
		t.Fatal(err)
	}
	switch tok {
	case json.Delim('{'):
		var last []uint16
		for first := true; dec.More(); first = false {
			key, _ := dec.Token()
			k := utf16.Encode([]rune(key.(string)))
			if !first && slices.Compare(last, k) >= 0 {
				t.Errorf("key %q is out of order", key)
			}
			last = k
			sortedObject(t, dec)
		}
		_, _ = dec.Token()
	case json.Delim('['):
		for dec.More() {
			sortedObject(t, dec)
		}
		_, _ = dec.Token()
	default:
		if _, text := tok.(string); !text {
			t.Errorf("%v is not a text", tok)
		}
	}
}

// The published test set of RFC 8785 (github.com/cyberphone/json-canonicalization),
// against the library that writes the canonical form.
func TestCanonicalLibraryVectors(t *testing.T) {
	for in, want := range map[string]string{
		`{"numbers":[333333333.33333329,1E30,4.50,2e-3,0.000000000000000000000000001],"string":"\u20ac$\u000F\u000aA'\u0042\u0022\u005c\\\"\/","literals":[null,true,false]}`: `{"literals":[null,true,false],"numbers":[333333333.3333333,1e+30,4.5,0.002,1e-27],"string":"€$\u000f\nA'B\"\\\\\"/"}`,
		`[56,{"d":true,"10":null,"1":[]}]`: `[56,{"1":[],"10":null,"d":true}]`,
		`{"1":{"f":{"f":"hi","F":5},"\n":56.0},"10":{},"":"empty","a":{},"111":[{"e":"yes","E":"no"}],"A":{}}`: `{"":"empty","1":{"\n":56,"f":{"F":5,"f":"hi"}},"10":{},"111":[{"E":"no","e":"yes"}],"A":{},"a":{}}`,
		// The "weird" set: an emoji sorts by its surrogate before U+FB33.
		`{"\ufb33":0,"\ud83d\ude02":0,"\u20ac":0,"\u00f6":0,"\u0080":0,"</script>":0,"1":0,"\r":0,"\n":0}`: "{\"\\n\":0,\"\\r\":0,\"1\":0,\"</script>\":0,\"\u0080\":0,\"ö\":0,\"€\":0,\"😂\":0,\"\ufb33\":0}",
		"[\"A\u030a\"]": "[\"A\u030a\"]", // no Unicode normalisation
	} {
		got, err := jcs.Transform([]byte(in))
		if err != nil || string(got) != want {
			t.Errorf("%s\n got %s (%v)\nwant %s", in, got, err, want)
		}
	}
	// Doubles of the same set, by their bits.
	for bits, want := range map[uint64]string{
		0x4340000000000001: "9007199254740994", 0x4340000000000002: "9007199254740996",
		0x444b1ae4d6e2ef50: "1e+21", 0x3eb0c6f7a0b5ed8d: "0.000001",
		0x3eb0c6f7a0b5ed8c: "9.999999999999997e-7", 0x8000000000000000: "0",
	} {
		if got, err := jcs.NumberToJSON(math.Float64frombits(bits)); err != nil || got != want {
			t.Errorf("%x: got %s (%v), want %s", bits, got, err, want)
		}
	}
}
