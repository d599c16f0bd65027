package schema

import (
	"encoding/json"
	"reflect"
	"regexp"
	"strings"

	"github.com/invopop/jsonschema"
)

// JSONSchema of an answer: any text or number; the group adds the codes.
func (Answer[T]) JSONSchema() *jsonschema.Schema { return &jsonschema.Schema{} }

const notRecordedPattern = `^[Nn]ot recorded: .+$`

// describeGroup fills in a group's properties from the field rows.
func describeGroup(key string, s *jsonschema.Schema) {
	g, _ := Content().Group(key)
	s.Title = g.Title
	if g.Many != "" {
		s.Properties.Set(itemKey, &jsonschema.Schema{Title: "Name of the item", Description: "Written by graftnote when a signed note is corrected: the item keeps it, whatever comes before it in the list.",
			OneOf: []*jsonschema.Schema{{Type: "integer"}, {Type: "string", Pattern: `^[1-9][0-9]{0,3}$`}}})
	}
	describeRows(g, s)
}

// JSONSchemaExtend describes the fields at the top of the entry and lets the
// list groups be said to be none, or hold one item without its dash.
func (Entry) JSONSchemaExtend(s *jsonschema.Schema) {
	top, _ := Content().Group("")
	describeRows(top, s)
	for _, g := range Content().Groups {
		p, ok := s.Properties.Get(g.Key)
		if g.Many == "" || !ok {
			continue
		}
		s.Properties.Set(g.Key, &jsonschema.Schema{Title: g.Title,
			OneOf: []*jsonschema.Schema{p, p.Items, {Const: "none"}, {Type: "string", Pattern: notRecordedPattern}}})
	}
}

func describeRows(g *Group, s *jsonschema.Schema) {
	for _, r := range g.Fields {
		if _, ok := s.Properties.Get(r.Key); ok {
			s.Properties.Set(r.Key, rowSchema(r))
		}
	}
}

// rowSchema is what an editor needs: title, help, codes, unit and example.
func rowSchema(r *Row) *jsonschema.Schema {
	one := scalarSchema(r)
	if manyItems[r.Type] {
		items := scalarSchema(r)
		one = &jsonschema.Schema{OneOf: []*jsonschema.Schema{one, {Type: "array", Items: items, MinItems: ptr(uint64(1))}}}
	}
	out := &jsonschema.Schema{Title: r.Title, Description: describe(r)}
	if r.Example != "" && !strings.HasPrefix(r.Example, "[") {
		out.Examples = []any{r.Example}
	}
	out.AnyOf = []*jsonschema.Schema{one, {Type: "null"}}
	if !r.Refuse {
		gap := jsonschema.NewProperties()
		gap.Set("not recorded", &jsonschema.Schema{Type: "string"})
		out.AnyOf = append(out.AnyOf, &jsonschema.Schema{Type: "string", Pattern: notRecordedPattern},
			&jsonschema.Schema{Type: "object", Properties: gap, Required: []string{"not recorded"}, AdditionalProperties: jsonschema.FalseSchema})
	}
	return out
}

func ptr[T any](v T) *T { return &v }

func scalarSchema(r *Row) *jsonschema.Schema {
	if list, ok := Content().Lists[r.ListName()]; ok && r.ListName() != "" {
		s := &jsonschema.Schema{}
		for _, c := range list.Codes {
			s.Enum = append(s.Enum, c.Code)
		}
		if r.Type == "codes" { // one text may hold several, by commas
			var alt []string
			for _, c := range list.Codes {
				alt = append(alt, regexp.QuoteMeta(c.Code))
			}
			return &jsonschema.Schema{AnyOf: []*jsonschema.Schema{s, {Type: "string", Pattern: "^(" + strings.Join(alt, "|") + ")(, *(" + strings.Join(alt, "|") + "))*$"}}}
		}
		return s
	}
	switch r.Type {
	case "count":
		return &jsonschema.Schema{OneOf: []*jsonschema.Schema{{Type: "integer"}, {Type: "string", Pattern: `^\d+$`}}}
	case "id", "clock", "clocks", "stitches", "stitch-list", "fraction", "nhs-number":
		return &jsonschema.Schema{OneOf: []*jsonschema.Schema{{Type: "string"}, {Type: "number"}}}
	case "date":
		return &jsonschema.Schema{Type: "string", Pattern: `^\d{4}-\d{2}-\d{2}$`}
	}
	if dim, ok := r.Dimension(); ok && dim.Canonical().Symbol != "" {
		return &jsonschema.Schema{Type: "string", Pattern: `^-?\d+(\.\d+)?\s*\D+.*$`}
	}
	return &jsonschema.Schema{Type: "string"}
}

func describe(r *Row) string {
	var out []string
	if r.Help != "" {
		out = append(out, r.Help)
	}
	if dim, ok := r.Dimension(); ok && dim.Canonical().Symbol != "" {
		out = append(out, "Unit: "+dim.Canonical().Symbol+".")
	}
	switch cond, isCond := Content().Conditions[r.Need]; {
	case r.Need == "always":
		out = append(out, "Always asked for.")
	case isCond:
		out = append(out, "Asked for when "+cond.Title+".")
	}
	if r.Habit() {
		out = append(out, "May come from the standing technique.")
	}
	return strings.Join(out, " ")
}

// entryFile is the shape of a list file: a shared header and its cases.
type entryFile struct {
	Graftnote Answer[string] `json:"graftnote,omitempty"`
	List      listHeader     `json:"list,omitempty"`
	Cases     []Entry        `json:"cases"`
}

type listHeader struct {
	Episode Episode  `json:"episode,omitempty"`
	Team    []Person `json:"team,omitempty"`
}

// plainName leaves out type parameters: a reference is a URI, and a URI knows no
// brackets.
func plainName(t reflect.Type) string {
	name, _, _ := strings.Cut(t.Name(), "[")
	return name
}

// JSONSchema is the schema of an entry file as indented JSON: a single case, or
// a list of cases under a header.
func JSONSchema() ([]byte, error) {
	r := &jsonschema.Reflector{ExpandedStruct: false, AllowAdditionalProperties: false, Namer: plainName}
	s := r.Reflect(&entryFile{})
	s.ID = "https://graftnote.example/schema/entry.json"
	s.Title = "graftnote entry"
	s.Ref = ""
	s.AnyOf = []*jsonschema.Schema{{Ref: "#/$defs/entryFile"}, {Ref: "#/$defs/Entry"}}
	b, err := json.MarshalIndent(s, "", "  ")
	return append(b, '\n'), err
}
