package fhir

import (
	"bytes"
	"crypto/sha1"
	"encoding/base64"
	"encoding/json"
	"errors"
	"fmt"
	"net/url"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"graftnote/note"
	"graftnote/schema"
)

// samples are all complete cases of the sample entries.
func samples(t testing.TB) map[string]schema.Checked {
	t.Helper()
	names, err := filepath.Glob("../testdata/entries/[0-9]*.yaml")
	if err != nil || len(names) == 0 {
		t.Fatal("no sample entries", err)
	}
	out := map[string]schema.Checked{}
	for _, n := range names {
		for _, c := range read(t, filepath.Base(n)) {
			if c.Complete() {
				out[c.ID()] = c
			}
		}
	}
	if len(out) < 8 {
		t.Fatalf("only %d complete samples", len(out))
	}
	return out
}

var (
	// RFC 9562, section 5.5: version 5, variant 10xx.
	urn5 = regexp.MustCompile(`^urn:uuid:[0-9a-f]{8}-[0-9a-f]{4}-5[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}$`)
	// R4 dateTime: with a time always seconds and zone (datatypes, dateTime).
	dateTime = regexp.MustCompile(`^\d{4}-\d\d-\d\d(T\d\d:\d\d:\d\d(Z|[+-]\d\d:\d\d))?$`)
)

func TestInvariantsOfEverySample(t *testing.T) {
	made := time.Date(2026, 11, 12, 8, 0, 0, 0, time.UTC)
	for id, c := range samples(t) {
		for _, document := range []bool{false, true} {
			make := Transaction
			if document {
				make = DocumentBundle
			}
			b, err := make(c, words(t, c), Options{PDF: pdf, Tool: "graftnote 1.0.0", Made: made})
			if err != nil {
				t.Errorf("%s: %v", id, err)
				continue
			}
			bundle := tree(t, b)
			structure(t, id, bundle, document)
			contents(t, id, bundle)
		}
	}
}

// structure holds the rules of R4 Bundle: bdl-3 (request in a transaction),
// bdl-7 (fullUrl once), bdl-9, bdl-10 and bdl-11 (documents); and that every
// reference leads to an entry and no identity comes twice.
func structure(t *testing.T, id string, bundle object, document bool) {
	t.Helper()
	if document {
		if dig(bundle, "identifier", "system") == nil || dig(bundle, "identifier", "value") == nil {
			t.Errorf("%s: bdl-9", id)
		}
		if s, _ := bundle["timestamp"].(string); !dateTime.MatchString(s) || len(s) < 20 {
			t.Errorf("%s: bdl-10: %q", id, s)
		}
		if len(all(bundle, "Patient")) != 1 || len(all(bundle, "DocumentReference")) != 1 {
			t.Errorf("%s: a document holds its patient and its PDF", id)
		}
	} else if bundle["type"] != "transaction" || len(all(bundle, "Patient")) != 0 {
		t.Errorf("%s: transaction with a patient", id)
	}
	if dig(bundle, "entry", 0, "resource", "resourceType") != "Composition" {
		t.Errorf("%s: bdl-11", id)
	}
	urls, identities := map[string]bool{}, map[string]bool{}
	for _, e := range entries(bundle) {
		url := e["fullUrl"].(string)
		if urls[url] || !urn5.MatchString(url) {
			t.Errorf("%s: bdl-7: %s", id, url)
		}
		urls[url] = true
		once, _ := dig(e, "request", "ifNoneExist").(string)
		if document == (e["request"] != nil) || !document && once == "" {
			t.Errorf("%s: bdl-3: %v", id, e["request"])
		}
		kind := dig(e, "resource", "resourceType").(string)
		if once != "" && identities[kind+once] {
			t.Errorf("%s: identity twice: %s %s", id, kind, once)
		}
		identities[kind+once] = true
		sought(t, id, e)
	}
	// R4 transaction: a server replaces a fullUrl by the address that it gives,
	// in references and wherever else a uri stands. So it may mean nothing else.
	walk(bundle["entry"], func(k string, v any) {
		if s, ok := v.(string); ok && k != "fullUrl" && k != "reference" {
			for url := range urls {
				if strings.Contains(s, url) || strings.Contains(s, escape(url)) {
					t.Errorf("%s: %s holds a fullUrl: %s", id, k, s)
				}
			}
		}
	})
	reached := map[string]bool{}
	walk(bundle["entry"], func(k string, v any) {
		if ref, ok := v.(string); ok && k == "reference" {
			reached[ref] = true
			if !urls[ref] && (document || !strings.HasPrefix(ref, "Patient?identifier=")) {
				t.Errorf("%s: %s leads nowhere", id, ref)
			}
		}
	})
	for _, e := range entries(bundle) { // R4 documents: only what the Composition reaches, and Provenance
		kind := dig(e, "resource", "resourceType")
		if document && !reached[e["fullUrl"].(string)] && kind != "Provenance" {
			t.Errorf("%s: nothing refers to the %v", id, kind)
		}
	}
}

// sought: what an entry is found by is what its resource is known by, and is a
// search parameter of every R4 server: identifier, or _tag of the types that have
// no search by identifier.
func sought(t *testing.T, id string, e object) {
	t.Helper()
	query, _ := dig(e, "request", "ifNoneExist").(string)
	if u, _ := dig(e, "request", "url").(string); query == "" {
		_, query, _ = strings.Cut(u, "?")
	}
	if query == "" {
		return // a document
	}
	values, err := url.ParseQuery(query)
	res := e["resource"].(object)
	kind, names := res["resourceType"], "identifier"
	known, many := res["identifier"].([]any)
	if !many { // Composition has one
		known = []any{res["identifier"]}
	}
	if kind == "Provenance" || kind == "BiologicallyDerivedProduct" {
		names = "_tag"
		known, _ = dig(res, "meta", "tag").([]any)
	}
	found := slices.ContainsFunc(known, func(x any) bool {
		code := dig(x, "value")
		if names == "_tag" {
			code = dig(x, "code")
		}
		return fmt.Sprintf("%v|%v", dig(x, "system"), code) == values.Get(names)
	})
	if err != nil || len(values) != 1 || !found {
		t.Errorf("%s: %v is sought by %s", id, kind, query)
	}
}

// contents holds cmp-1, cmp-2 (Composition), obs-6, obs-7 (Observation), per-1
// (Period), con-3 (Condition) and the forms of R4 JSON.
func contents(t *testing.T, id string, bundle object) {
	t.Helper()
	for _, s := range dig(all(bundle, "Composition")[0], "section").([]any) {
		if dig(s, "text", "div") == nil && dig(s, "entry") == nil {
			t.Errorf("%s: cmp-1", id)
		}
		if dig(s, "entry") != nil && dig(s, "emptyReason") != nil {
			t.Errorf("%s: cmp-2", id)
		}
	}
	for _, o := range all(bundle, "Observation") {
		for _, v := range append([]any{o}, listOf(o["component"])...) {
			values := 0
			for k := range v.(object) {
				if strings.HasPrefix(k, "value") {
					values++
				}
			}
			if values > 1 || values == 1 && dig(v, "dataAbsentReason") != nil {
				t.Errorf("%s: obs-6: %v", id, o["identifier"])
			}
		}
	}
	for _, c := range all(bundle, "Condition") {
		if dig(c, "category", 0, "coding", 0, "code") == "problem-list-item" && c["clinicalStatus"] == nil {
			t.Errorf("%s: con-3", id)
		}
	}
	walk(bundle, func(k string, v any) {
		switch v := v.(type) {
		case nil:
			t.Errorf("%s: %s is null", id, k)
		case []any:
			if len(v) == 0 {
				t.Errorf("%s: %s is empty", id, k)
			}
		case string:
			if strings.HasSuffix(k, "DateTime") && !dateTime.MatchString(v) {
				t.Errorf("%s: %s %q", id, k, v)
			}
			if v == "8966001" || v == "18944008" || strings.Contains(v, "ama-assn") {
				t.Errorf("%s: forbidden %q", id, v)
			}
		case object:
			start, end := dig(v, "start"), dig(v, "end")
			if start != nil && end != nil {
				s, err1 := time.Parse(time.RFC3339, start.(string))
				e, err2 := time.Parse(time.RFC3339, end.(string))
				if err1 != nil || err2 != nil || e.Before(s) {
					t.Errorf("%s: per-1: %v %v", id, start, end)
				}
			}
		}
	})
}

func listOf(v any) []any { l, _ := v.([]any); return l }

// The same entry gives the same bytes, and reading the bytes as JSON and writing
// them with the standard library's compaction changes nothing: no blanks.
func TestBytesAreFixed(t *testing.T) {
	c := whole(t, "01-double-bubble.yaml")
	d := words(t, c)
	first, err := Transaction(c, d, Options{PDF: pdf})
	if err != nil {
		t.Fatal(err)
	}
	for range 5 {
		again, _ := Transaction(c, d, Options{PDF: pdf})
		if !bytes.Equal(first, again) {
			t.Fatal("two runs differ")
		}
	}
	var compact bytes.Buffer
	if err := json.Compact(&compact, first); err != nil || !bytes.Equal(compact.Bytes(), first) {
		t.Error("not compact", err)
	}
}

// 512,000 bytes is the default limit of a common converter (its issue 598); the
// note's PDF is at most 300 kB.
func TestSizeWithALargePDF(t *testing.T) {
	big := append([]byte("%PDF-1.7\n"), make([]byte, 300_000)...)
	for _, name := range []string{"01-double-bubble.yaml", "06-conversion.yaml"} {
		c := whole(t, name)
		b, err := Transaction(c, words(t, c), Options{PDF: big})
		if err != nil || len(b) >= UsualLimit {
			t.Errorf("%s: %d bytes, %v", name, len(b), err)
		}
	}
}

// R4 Attachment: size in bytes, hash the base64 of the SHA-1, both before base64.
func TestAttachment(t *testing.T) {
	c := whole(t, "01-double-bubble.yaml")
	doc := all(imported(t, c), "DocumentReference")[0]
	a := dig(doc, "content", 0, "attachment")
	data, err := base64.StdEncoding.DecodeString(dig(a, "data").(string))
	if err != nil || !bytes.Equal(data, pdf) {
		t.Error("the data are not the PDF", err)
	}
	sum := sha1.Sum(pdf)
	if dig(a, "hash") != base64.StdEncoding.EncodeToString(sum[:]) || dig(a, "size").(json.Number) != "15" || dig(a, "contentType") != "application/pdf" {
		t.Errorf("attachment %v", a)
	}
	// SHA-256 of the 15 bytes by coreutils sha256sum, written as RFC 6920 says.
	if got := dig(doc, "identifier", 1, "value"); got != "ni:///sha-256;HnMTrOePD7SBpIaTm0iFkCZjECgYCQgFUVVT2E4Lv9M" {
		t.Errorf("identifier %v", got)
	}
	if _, err := Transaction(c, words(t, c), Options{PDF: []byte("PK\x03\x04")}); !errors.Is(err, ErrNotPDF) {
		t.Errorf("a file that is no PDF: %v", err)
	}
}

// Nothing of the patient is in a urn:uuid: another patient, the same names.
func TestNamesHoldNoPatient(t *testing.T) {
	names := func(c schema.Checked) string {
		var out []string
		for _, e := range entries(imported(t, c)) {
			out = append(out, e["fullUrl"].(string))
		}
		return strings.Join(out, " ")
	}
	one := names(whole(t, "01-double-bubble.yaml"))
	two := names(whole(t, "01-double-bubble.yaml", "id: FIC-0101", "id: FIC-7777", "Ines Calloway", "Orla Fenwick", "2002-03-14", "1999-01-02"))
	if one != two {
		t.Error("the names of the resources follow the patient")
	}
}

func TestDraftIsRefused(t *testing.T) {
	c := read(t, "01-double-bubble.yaml", "diagnosis-after: keratoconus, ", "")[0]
	for _, make := range []func(schema.Checked, note.Document, Options) ([]byte, error){Transaction, DocumentBundle} {
		b, err := make(c, words(t, c), Options{})
		var draft *Incomplete
		if b != nil || !errors.As(err, &draft) || len(draft.Gaps) == 0 || !strings.Contains(err.Error(), "indication.diagnosis-after") {
			t.Errorf("a draft gave %d bytes, %v", len(b), err)
		}
		if strings.Contains(err.Error(), "Calloway") || strings.Contains(err.Error(), "FIC-0101") {
			t.Error("the refusal names the patient")
		}
	}
	if _, err := Transaction(schema.Checked{}, note.Document{}, Options{}); !errors.Is(err, ErrUnchecked) {
		t.Errorf("the zero entry: %v", err)
	}
}

func BenchmarkTransaction(b *testing.B) {
	c := whole(b, "06-conversion.yaml")
	d := words(b, c)
	o := Options{PDF: append([]byte("%PDF-1.7\n"), make([]byte, 100_000)...), Tool: "graftnote 1.0.0"}
	for b.Loop() {
		if _, err := Transaction(c, d, o); err != nil {
			b.Fatal(err)
		}
	}
}
