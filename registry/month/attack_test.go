package month

import (
	"fmt"
	"regexp"
	"slices"
	"strings"
	"testing"

	"graftnote/registry"
	"graftnote/schema"
)

// A reader of the package knows every direct identifier and the whole range of
// hospital numbers and case identifiers, and how keys are made, but neither the
// key nor the map. No row links: not by a plain hash, not by a keyed hash under
// any guessable key, not by anything that stands in a file. (45 CFR 164.514(b)(2);
// the attack is our own, no source.)
func TestNoRowLinksWithoutTheKey(t *testing.T) {
	list := crowd(t, 60)
	for mode, o := range map[Mode]Options{Pseudonymised: keyed(), SafeHarbor: random(3, NewKeyMap())} {
		p := build(t, input(list), o)
		f := folder(t, p)
		seen := map[string]bool{}
		for _, name := range []string{"operations.csv", "followups.csv", ExceptionsName} {
			for _, line := range records(t, f, name)[1:] {
				for _, cell := range line {
					seen[cell] = true
				}
			}
		}
		if o.Mode == Pseudonymised {
			// The attack works when the key is known, so it would find a link.
			if !seen[registry.RowKey(testKey, list[0].Case)] || !seen[registry.PersonKey(testKey, list[0].Person)] {
				t.Fatal("the attack cannot find what is there")
			}
		}
		guesses := [][]byte{make([]byte, 32), []byte(strings.Repeat("0", 32)), []byte("graftnote graftnote graftnote 12"), []byte(p.Manifest.KeyEpoch + strings.Repeat("\x00", 32)), []byte(p.Manifest.Package + p.Manifest.Package)}
		linked := 0
		for n := range 10_000 {
			for _, name := range []string{fmt.Sprintf("FIC-%04d", n), fmt.Sprintf("case-%04d", n)} {
				if seen[name] {
					linked++
				}
				for _, key := range guesses {
					if seen[registry.RowKey(key, name)] || seen[registry.PersonKey(key, name)] {
						linked++
					}
				}
			}
		}
		if linked > 0 {
			t.Errorf("%s: %d rows link", mode, linked)
		}
	}
}

// Two sites, or one site after a change of its key, share no key of a row or a
// person.
func TestKeysDoNotLinkAcrossKeys(t *testing.T) {
	list := crowd(t, 40)
	other := slices.Clone(testKey)
	other[31]++
	o := keyed()
	o.Key = other
	a, b := folder(t, build(t, input(list), keyed())), folder(t, build(t, input(list), o))
	for _, name := range []string{"row_key", "person_key"} {
		have := columnOf(t, records(t, a, "operations.csv"), name)
		for _, key := range columnOf(t, records(t, b, "operations.csv"), name) {
			if slices.Contains(have, key) {
				t.Fatalf("%s links", name)
			}
		}
	}
}

// Random keys say nothing about the order of the operations, and the map finds
// the case for whoever holds it.
func TestRandomKeysNeedTheMap(t *testing.T) {
	keys := NewKeyMap()
	list := crowd(t, 40)
	p := build(t, input(list), random(5, keys))
	lines := records(t, folder(t, p), "operations.csv")
	if slices.Contains(lines[0], "person_key") {
		t.Error("a key of the person is sent")
	}
	for _, key := range columnOf(t, lines, "row_key") {
		if id, ok := keys.Case(key); !ok || !strings.HasPrefix(id, "case-") {
			t.Error("the map does not find its row")
		}
	}
	if err := keys.Add(keys.List()[0]); err == nil {
		t.Error("a key was put in twice")
	}
}

// No file of the package holds anything that names a person, a place, a tissue or
// a day: nothing private that the entries say, no text, no date but those of the
// package itself (45 CFR 164.514(b)(2)(i)(A) to (R)).
func TestNoIdentifierInAnyFile(t *testing.T) {
	var list []Operation
	var private []string
	for n, c := range checkedSamples(t) {
		for copies := range 6 {
			o, err := Take(c, Signing{State: Signed, Revision: 1})
			if err != nil {
				t.Fatal(err)
			}
			o.Case, o.Person = fmt.Sprintf("%s-%d", o.Case, copies), fmt.Sprintf("%s-%d", o.Person, copies)
			private = append(private, o.Case, o.Person)
			list = append(list, o)
		}
		c.Entry().Walk(func(r *schema.Row, _ int, f schema.Field) {
			if !f.Recorded() || !(r.Private || r.Type == "text" || r.Type == "id" || r.Type == "story" || r.Type == "date" || r.Type == "instant") {
				return
			}
			for _, text := range f.Texts() {
				if len(text) > 5 && regexp.MustCompile(`[A-Z0-9]`).MatchString(text) {
					private = append(private, text)
				}
			}
		})
		if n > 20 {
			break
		}
	}
	in := input(list)
	in.Period = Period{2026, 0}
	in.At = now.AddDate(1, 0, 0)
	in.By = "coordinator"
	for name, o := range map[string]Options{"keyed": keyed(), "random": random(9, NewKeyMap())} {
		f := folder(t, build(t, in, o))
		for file, data := range f {
			for _, text := range private {
				if strings.Contains(string(data.Data), text) {
					t.Errorf("%s: %s holds something private of %d letters", name, file, len(text))
				}
			}
		}
		dated := regexp.MustCompile(`\b(19|20)[0-9]{2}-[0-9]{2}-[0-9]{2}\b`)
		for _, file := range []string{"operations.csv", "followups.csv", "operations.ndjson", "followups.ndjson", ExceptionsName} {
			if dated.Match(f[file].Data) {
				t.Errorf("%s: %s holds a date", name, file)
			}
		}
	}
}
