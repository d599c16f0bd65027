package registry

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"regexp"
	"slices"
	"strings"
	"testing"

	"graftnote/schema"
)

type descriptor struct {
	Classification string
	KeyEpoch       string
	Fields         []struct {
		Name, Title, Description, Type string
		Constraints                    struct {
			Required, Unique bool
			Enum             []string
			Minimum, Maximum *json.Number
			Pattern          string
		}
		Unit *struct{ Symbol, UCUM string }
	}
	MissingValues []string
	PrimaryKey    []string
}

func describe(t *testing.T, o Options) descriptor {
	t.Helper()
	data, err := TableSchema(o)
	if err != nil {
		t.Fatal(err)
	}
	var d descriptor
	if err := json.Unmarshal(data, &d); err != nil {
		t.Fatal(err)
	}
	return d
}

// Table Schema 1 (specs.frictionlessdata.io/table-schema): each field has a unique
// name and a type of the list; enum and pattern are for strings, minimum and
// maximum for figures; missingValues are strings; primaryKey names fields.
func TestTableSchemaParts(t *testing.T) {
	d := describe(t, Options{Key: testKey})
	seen := map[string]bool{}
	for _, f := range d.Fields {
		c := f.Constraints
		if seen[f.Name] || f.Title == "" || f.Description == "" {
			t.Errorf("field %s: twice, or without words", f.Name)
		}
		seen[f.Name] = true
		switch f.Type {
		case "string":
			if (len(c.Enum) == 0) == (c.Pattern == "") || c.Minimum != nil {
				t.Errorf("%s: a text needs an enum or a pattern, never both", f.Name)
			}
			if _, err := regexp.Compile(c.Pattern); err != nil || strings.HasPrefix(c.Pattern, "^") {
				t.Errorf("%s: pattern %q", f.Name, c.Pattern)
			}
			for _, e := range c.Enum {
				if slices.Contains(d.MissingValues, e) {
					t.Errorf("%s: %s is a code and a missing value", f.Name, e)
				}
			}
		case "number", "integer", "year":
			if c.Minimum == nil || c.Maximum == nil || len(c.Enum) > 0 || c.Pattern != "" {
				t.Errorf("%s: a figure needs minimum and maximum", f.Name)
			}
		default:
			t.Errorf("%s: type %s", f.Name, f.Type)
		}
	}
	if !slices.Equal(d.PrimaryKey, []string{"row_key"}) || slices.Contains(d.MissingValues, "") {
		t.Errorf("primary key %v, missing values %v", d.PrimaryKey, d.MissingValues)
	}
	if d.Classification != "pseudonymised, not anonymous" {
		t.Errorf("classification %q: GDPR Article 4(5) and recital 26", d.Classification)
	}
	if d.KeyEpoch != Epoch(testKey) || describe(t, Options{}).KeyEpoch != "" {
		t.Errorf("key epoch %q", d.KeyEpoch)
	}
}

// UCUM 2.1: [diop], never D; mm[Hg]; um; /mm2.
func TestUnitsAreUCUM(t *testing.T) {
	want := map[string]string{"k_mean_before_d": "[diop]", "refraction_before_se": "[diop]", "pressure_before_mmhg": "mm[Hg]",
		"thinnest_um": "um", "donor_ecd": "/mm2", "host_diameter_mm": "mm", "storage_days": "d", "chamber_bubble_ml": "mL", "trephine_depth_percent": "%"}
	for _, f := range describe(t, Options{}).Fields {
		if w, ok := want[f.Name]; ok {
			delete(want, f.Name)
			if f.Unit == nil || f.Unit.UCUM != w {
				t.Errorf("%s: unit %v, want %s", f.Name, f.Unit, w)
			}
		}
	}
	if len(want) > 0 {
		t.Errorf("not seen: %v", want)
	}
}

func TestSchemaFollowsTheChoice(t *testing.T) {
	o := Options{Columns: []string{"eye", "plane"}}
	d := describe(t, o)
	if len(d.Fields) != 2 || d.Fields[0].Name != "eye" || len(d.PrimaryKey) != 0 {
		t.Errorf("%d fields, primary key %v", len(d.Fields), d.PrimaryKey)
	}
	if lines := readBack(t, written(t, nil, o)); len(lines[0]) != 2 {
		t.Errorf("header %v", lines[0])
	}
	if _, err := TableSchema(Options{Columns: []string{"patient.name"}}); !errors.Is(err, ErrColumn) {
		t.Error(err)
	}
}

// The documents in docs/ say what this program does.
func TestDocumentsAreCurrent(t *testing.T) {
	s, err := TableSchema(Options{})
	if err != nil {
		t.Fatal(err)
	}
	for name, want := range map[string][]byte{"registry-dictionary.md": DictionaryMarkdown(), "row.schema.json": s} {
		have, err := os.ReadFile("../docs/" + name)
		if err != nil || !bytes.Equal(have, want) {
			t.Errorf("docs/%s is not current: run go generate ./registry (%v)", name, err)
		}
	}
}

func TestDictionaryPageIsWhole(t *testing.T) {
	page := string(DictionaryMarkdown())
	for _, c := range Columns() {
		if !strings.Contains(page, "| `"+c.Name+"` |") {
			t.Errorf("no line for %s", c.Name)
		}
		if c.Symbol != "" && !strings.Contains(page, c.Symbol) {
			t.Errorf("no unit of %s", c.Name)
		}
		for _, w := range c.Codes {
			if !strings.Contains(page, "`"+w.Code+"` | "+w.Words) {
				t.Errorf("%s: code %s has no line", c.Name, w.Code)
			}
		}
		for _, k := range c.Source {
			if !strings.Contains(page, "- **"+k+"**") {
				t.Errorf("%s: source %s is not cited", c.Name, k)
			}
		}
	}
	for _, m := range MissingCodes() {
		if !strings.Contains(page, fmt.Sprintf("| `%s` | %s |", m.Code, m.Title)) {
			t.Errorf("no line for missing code %s", m.Code)
		}
	}
	for _, id := range load().identifiers {
		if !strings.Contains(page, fmt.Sprintf("| %s | %s |", id.Letter, id.Identifier)) {
			t.Errorf("no line for identifier %s", id.Letter)
		}
	}
	if !strings.Contains(page, "pseudonymised, not anonymous") || strings.Contains(page, "anonymised") {
		t.Error("the page must say pseudonymised, not anonymous")
	}
	for n, l := range strings.Split(page, "\n") {
		if strings.HasPrefix(l, "|") && !strings.HasSuffix(l, "|") {
			t.Errorf("line %d: a table row that does not end", n+1)
		}
	}
}

// What the embedded files may not say: each is a fault of the build.
func TestFaultyContentIsRefused(t *testing.T) {
	text := string(columnsYAML)
	swap := func(old, new string) string {
		if !strings.Contains(text, old) {
			t.Fatalf("columns.yaml does not hold %q", old)
		}
		return strings.Replace(text, old, new, 1)
	}
	for name, columns := range map[string]string{
		"name of the patient": swap("from: team.grade", "from: team.name"),
		"unknown code":        swap("is: [failed-bubble]", "is: [failed-buble]"),
		"unknown derived":     swap("from: air-attempts", "from: gas-attempts"),
		"unknown field":       swap("from: injections.result", "from: injections.outcome"),
		"column twice":        swap("name: other_events", "name: events_total"),
		"unknown setting":     swap("separator:", "seperator:"),
		"unknown way":         swap("how: union", "how: together"),
		"unknown source":      swap("source: [needle-depth-2016]", "source: [nobody-2016]"),
		"formula as code":     swap("10-0: size 10-0", `10-0: "=10"`),
		"single as list":      swap("how: last, from: injections.medium", "how: last, from: before.thinnest"),
		"date":                swap("from: events.step", "from: events.seen-at"),
	} {
		if _, err := build(schema.Content(), []byte(columns), safeHarborYAML); err == nil {
			t.Errorf("%s: no error", name)
		}
	}
	if _, err := build(schema.Content(), columnsYAML, safeHarborYAML); err != nil {
		t.Error(err)
	}
}
