package fhir

import (
	"bytes"
	"encoding/json"
	"flag"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"graftnote/note"
	"graftnote/schema"
)

var update = flag.Bool("update", false, "rewrite the golden bundles; read them afterwards")

// pdf is the smallest text that begins as a PDF file does.
var pdf = []byte("%PDF-1.7\n%%EOF\n")

var opened = schema.Options{Now: time.Date(2028, 1, 1, 0, 0, 0, 0, time.UTC)}

// read checks the cases of one sample entry, edited by old and new pairs.
func read(t testing.TB, name string, edit ...string) []schema.Checked {
	t.Helper()
	path := filepath.Join("..", "testdata", "entries", name)
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	text := string(b)
	for i := 0; i < len(edit); i += 2 {
		if !strings.Contains(text, edit[i]) {
			t.Fatalf("%s has no %q", name, edit[i])
		}
		text = strings.Replace(text, edit[i], edit[i+1], 1)
	}
	r := schema.Read(schema.Source{Name: name, Data: []byte(text)}, opened)
	batch := schema.NewBatch()
	for _, cs := range r.Cases {
		batch.Add(cs)
	}
	var out []schema.Checked
	for _, cs := range r.Cases {
		c, err := schema.Check(cs, opened, batch)
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, c)
	}
	return out
}

// whole is the first case, which must be complete.
func whole(t testing.TB, name string, edit ...string) schema.Checked {
	t.Helper()
	c := read(t, name, edit...)[0]
	if !c.Complete() {
		t.Fatalf("%s is not complete: %v", name, c.Gaps())
	}
	return c
}

func words(t testing.TB, c schema.Checked) note.Document {
	t.Helper()
	p, err := note.LoadPhrases(nil)
	if err != nil {
		t.Fatal(err)
	}
	d, err := note.Build(c, p, note.Options{})
	if err != nil {
		t.Fatal(err)
	}
	return d
}

type object = map[string]any

func tree(t testing.TB, b []byte) object {
	t.Helper()
	dec := json.NewDecoder(bytes.NewReader(b))
	dec.UseNumber()
	var out object
	if err := dec.Decode(&out); err != nil {
		t.Fatal(err)
	}
	return out
}

// imported is the transaction Bundle of a case as a tree.
func imported(t testing.TB, c schema.Checked, edit ...func(*Options)) object {
	t.Helper()
	o := Options{PDF: pdf, Tool: "graftnote 1.0.0"}
	for _, e := range edit {
		e(&o)
	}
	b, err := Transaction(c, words(t, c), o)
	if err != nil {
		t.Fatal(err)
	}
	return tree(t, b)
}

// final is the transaction Bundle of a note that its one signer has signed.
func final(t testing.TB, c schema.Checked, edit ...func(*Options)) object {
	t.Helper()
	p, err := note.LoadPhrases(nil)
	if err != nil {
		t.Fatal(err)
	}
	at := time.Date(2026, 9, 8, 11, 3, 0, 0, time.FixedZone("", 3600))
	d, err := note.Build(c, p, note.Options{ToSign: true})
	if err != nil {
		t.Fatal(err)
	}
	d = d.Sign(note.Signoff{Signatures: []note.Signature{
		{Name: "Imara Voss", Role: "consultant", Meaning: "authored and approved", At: at, Zone: "Europe/London", Key: "a"}}})
	o := Options{PDF: pdf, Tool: "graftnote 1.0.0", Signed: at,
		Signoff: &Signoff{Revision: 1, Acts: []Act{{"signed", []byte("one"), make([]byte, 64)}}}}
	for _, e := range edit {
		e(&o)
	}
	b, err := Transaction(c, d, o)
	if err != nil {
		t.Fatal(err)
	}
	return tree(t, b)
}

func entries(bundle object) []object {
	var out []object
	for _, e := range bundle["entry"].([]any) {
		out = append(out, e.(object))
	}
	return out
}

// all are the resources of one type.
func all(bundle object, kind string) []object {
	var out []object
	for _, e := range entries(bundle) {
		if r := e["resource"].(object); r["resourceType"] == kind {
			out = append(out, r)
		}
	}
	return out
}

// named is the resource whose first identifier ends so.
func named(t testing.TB, bundle object, kind, end string) object {
	t.Helper()
	for _, r := range all(bundle, kind) {
		ids, _ := r["identifier"].([]any)
		if len(ids) > 0 && strings.HasSuffix(ids[0].(object)["value"].(string), "."+end) {
			return r
		}
	}
	t.Fatalf("no %s %s", kind, end)
	return nil
}

// dig follows keys and array places; "" for what is not there.
func dig(v any, path ...any) any {
	for _, p := range path {
		switch p := p.(type) {
		case string:
			m, _ := v.(object)
			v = m[p]
		case int:
			l, _ := v.([]any)
			if p >= len(l) {
				return nil
			}
			v = l[p]
		}
	}
	return v
}

// codesOf are "code" of every coding below v.
func codesOf(v any) []string {
	var out []string
	walk(v, func(k string, x any) {
		if list, ok := x.([]any); ok && k == "coding" {
			for _, c := range list {
				out = append(out, c.(object)["code"].(string))
			}
		}
	})
	return out
}

func walk(v any, visit func(key string, v any)) {
	switch v := v.(type) {
	case object:
		for k, x := range v {
			visit(k, x)
			walk(x, visit)
		}
	case []any:
		for _, x := range v {
			walk(x, visit)
		}
	}
}

func wants(t *testing.T, got []string, want ...string) {
	t.Helper()
	if strings.Join(got, " ") != strings.Join(want, " ") {
		t.Errorf("codes %v, want %v", got, want)
	}
}
