package schema_test

import (
	"bytes"
	"encoding/json"
	"errors"
	"io"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"
	"go.yaml.in/yaml/v3"

	"graftnote/schema"
)

// entrySchema compiles the published schema with an independent validator; its
// own meta-schema (JSON Schema 2020-12) is checked on the way.
func entrySchema(t testing.TB) *jsonschema.Schema {
	t.Helper()
	b, err := schema.JSONSchema()
	if err != nil {
		t.Fatal(err)
	}
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(b))
	if err != nil {
		t.Fatal(err)
	}
	c := jsonschema.NewCompiler()
	if err := c.AddResource("entry.json", doc); err != nil {
		t.Fatal(err)
	}
	s, err := c.Compile("entry.json")
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// jsonOf turns a YAML node into what an editor's YAML 1.2 reader hands to the
// schema: whole numbers, true, false and null are typed, the rest is text.
func jsonOf(n *yaml.Node) any {
	switch n.Kind {
	case yaml.MappingNode:
		out := map[string]any{}
		for i := 0; i+1 < len(n.Content); i += 2 {
			out[n.Content[i].Value] = jsonOf(n.Content[i+1])
		}
		return out
	case yaml.SequenceNode:
		out := []any{}
		for _, c := range n.Content {
			out = append(out, jsonOf(c))
		}
		return out
	}
	switch n.Tag {
	case "!!int":
		return json.Number(n.Value)
	case "!!null":
		return nil
	}
	return n.Value
}

// documents of a file as plain YAML; none when the file uses the bare form of
// "not recorded: reason", which plain YAML refuses.
func documents(src schema.Source) []any {
	var out []any
	dec := yaml.NewDecoder(bytes.NewReader(src.Data))
	for {
		var n yaml.Node
		if err := dec.Decode(&n); errors.Is(err, io.EOF) {
			return out
		} else if err != nil {
			return nil
		}
		out = append(out, jsonOf(n.Content[0]))
	}
}

// Every complete sample is valid by the schema that editors use, as typed and in
// its canonical form (JSON Schema draft 2020-12, validator independent of us).
func TestSamplesAreValidBySchema(t *testing.T) {
	s := entrySchema(t)
	asTyped := 0
	for _, path := range slices.Concat(sampleFiles(t, "*.yaml"), sampleFiles(t, "*.json")) {
		name := filepath.Base(path)
		src := readFile(t, path)
		for i, doc := range documents(src) {
			asTyped++
			if err := s.Validate(doc); err != nil {
				t.Errorf("%s, document %d as typed: %v", name, i+1, err)
			}
		}
		o := optionsFor(t, name)
		for _, cs := range schema.Read(src, o).Cases {
			doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(check(t, cs, o, nil).Canonical()))
			if err != nil {
				t.Fatal(err)
			}
			if err := s.Validate(doc); err != nil {
				t.Errorf("%s, canonical: %v", name, err)
			}
		}
	}
	if asTyped < 15 {
		t.Errorf("only %d documents were validated as typed", asTyped)
	}
}

// What the reader refuses as an unknown field, code, unit or shape, the schema
// refuses in the editor already; a value without fault passes.
func TestSchemaRefusesWhatTheReaderRefuses(t *testing.T) {
	s := entrySchema(t)
	good := string(readFile(t, filepath.Join(samples, "01-double-bubble.yaml")).Data)
	for _, w := range []struct{ name, from, to string }{
		{"unknown field", "depth: 360 µm", "depht: 360 µm"},
		{"unknown group", "backup:", "back-up:"},
		{"unknown code", "operated: right", "operated: both"},
		{"number without unit", "depth: 360 µm", "depth: 360"},
		{"day before month", "date: 2026-09-08", "date: 08/09/2026"},
		{"list for a single value", "operated: right", "operated: [right, left]"},
		{"gap where none may be", "operated: right", `operated: "not recorded: forgotten"`},
		{"gap without reason", "fellow: keratoconus", "fellow: not recorded"},
		{"count with letters", "stage: 3", "stage: three"},
		{"events by another word", "events: none", "events: nothing"},
	} {
		text := strings.Replace(good, w.from, w.to, 1)
		if text == good {
			t.Fatalf("%s: %q is not in the sample", w.name, w.from)
		}
		docs := documents(schema.Source{Data: []byte(text)})
		if len(docs) != 1 || s.Validate(docs[0]) == nil {
			t.Errorf("%s: the schema accepts it", w.name)
		}
		r := schema.Read(schema.Source{Name: "x.yaml", Data: []byte(text)}, options())
		if check(t, r.Cases[0], options(), nil).Complete() {
			t.Errorf("%s: the reader accepts it", w.name)
		}
	}
}

// The schema names every field of the dictionary with its title, and no other.
func TestSchemaHoldsEveryField(t *testing.T) {
	b, err := schema.JSONSchema()
	if err != nil {
		t.Fatal(err)
	}
	type node struct {
		Title      string                     `json:"title"`
		Properties map[string]json.RawMessage `json:"properties"`
	}
	var doc struct {
		Defs map[string]json.RawMessage `json:"$defs"`
	}
	if err := json.Unmarshal(b, &doc); err != nil {
		t.Fatal(err)
	}
	byTitle := map[string]node{}
	var entry node
	for name, raw := range doc.Defs {
		var d node
		if json.Unmarshal(raw, &d) == nil { // a definition may be just true
			byTitle[d.Title] = d
		}
		if name == "Entry" {
			entry = d
		}
	}
	for _, g := range schema.Content().Groups {
		props := byTitle[g.Title].Properties
		if g.Key == "" {
			props = entry.Properties
		} else {
			want := len(g.Fields)
			if g.Many != "" {
				want++ // the name of the item
			}
			if len(props) != want {
				t.Errorf("%s: %d properties, want %d", g.Key, len(props), want)
			}
		}
		for _, f := range g.Fields {
			var p node
			if err := json.Unmarshal(props[f.Key], &p); err != nil || p.Title != f.Title {
				t.Errorf("%s: title %q, want %q (%v)", f.Path(), p.Title, f.Title, err)
			}
		}
	}
}
