package registry

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"

	"go.yaml.in/yaml/v3"

	"graftnote/schema"
)

// canary is a value of the type that would be known again anywhere.
func canary(r *schema.Row, n int) string {
	switch r.Type {
	case "date":
		return fmt.Sprintf("19%02d-11-%02d", 30+n%60, 1+n%28)
	case "time":
		return fmt.Sprintf("04:%02d", 10+n%50)
	case "instant":
		return fmt.Sprintf("2026-09-08T19:%02d+01:00", 10+n%50)
	case "years":
		return "97 years"
	case "count":
		return "1987"
	case "nhs-number":
		return "943 476 5919" // the worked example of the check digit
	case "european-code":
		return "SEC GB000001G123498654321 A012345600020261231"
	case "donation-number":
		return "G1234 98 654321 H"
	case "device-code":
		return "(01)08904000210037(17)261231(10)LOT7"
	}
	return fmt.Sprintf("Zzcanary%04d", n)
}

// unspeakable: no value of these types may be seen outside the hospital.
func unspeakable(r *schema.Row) bool {
	return r.Private || slices.Contains([]string{"text", "texts", "id", "story", "date", "time", "instant",
		"nhs-number", "european-code", "donation-number", "device-code"}, r.Type)
}

// planted is the first sample with a canary in every field that may not leave:
// one item more in each list, so that lists hold canaries too.
func planted(t *testing.T) (text string, canaries []string) {
	t.Helper()
	var top map[string]any
	if err := yaml.Unmarshal([]byte(sample(t, firstSample)), &top); err != nil {
		t.Fatal(err)
	}
	n := 0
	for _, g := range schema.Content().Groups {
		into := top
		if g.Many != "" {
			items, _ := top[g.Key].([]any)
			if len(items) == 0 {
				items = []any{map[string]any{}}
			}
			into = items[0].(map[string]any)
			top[g.Key] = items
		} else if g.Key != "" {
			m, ok := top[g.Key].(map[string]any)
			if !ok {
				m = map[string]any{}
				top[g.Key] = m
			}
			into = m
		}
		for _, r := range g.Fields {
			if !unspeakable(r) || r.Path() == "case" || r.Path() == "graftnote" || r.Path() == "from-technique" || r.Path() == "episode.zone" {
				continue
			}
			n++
			into[r.Key] = canary(r, n)
			canaries = append(canaries, canary(r, n))
		}
	}
	out, err := yaml.Marshal(top)
	if err != nil {
		t.Fatal(err)
	}
	return string(out), canaries
}

// Threat: an identifier reaches the row by any way. Every field that may not
// leave holds a canary; none may be seen in row, schema, page or message.
func TestNoCanaryLeaves(t *testing.T) {
	text, canaries := planted(t)
	if len(canaries) < 60 {
		t.Fatalf("only %d fields hold a canary", len(canaries))
	}
	c := checked(t, text)
	read := 0
	c.Entry().Walk(func(r *schema.Row, _ int, f schema.Field) {
		if unspeakable(r) && f.Recorded() {
			read++
		}
	})
	if read < len(canaries) {
		t.Fatalf("%d of %d canaries were read", read, len(canaries))
	}
	row := rowOf(c.Entry(), testKey)
	o := Options{Key: testKey}
	descriptor, err := TableSchema(o)
	if err != nil {
		t.Fatal(err)
	}
	_, draft := Make(c, o)
	_, noKey := Make(c, Options{})
	places := map[string]string{"row": strings.Join(row.cells, "\n"), "schema": string(descriptor),
		"errors": fmt.Sprint(draft, noKey)}
	for _, v := range canaries {
		for where, have := range places {
			if strings.Contains(strings.ToLower(have), strings.ToLower(v)) {
				t.Errorf("%s holds %q", where, v)
			}
		}
	}
	for _, part := range []string{"zzcanary", "1931", "1987", "9434765919", "654321", "lot7", "04:", "-11-"} {
		if strings.Contains(strings.ToLower(places["row"]), part) {
			t.Errorf("the row holds %q", part)
		}
	}
}

// The same over the samples: no cell is, or holds, what was typed in a field
// that may not leave.
func TestSamplesLeakNothingTyped(t *testing.T) {
	for _, name := range []string{firstSample, "04-child-layered.yaml", "06-conversion.yaml", "11-very-long.yaml", "12-not-recorded.yaml", "18-bad-night.yaml"} {
		c := checked(t, sample(t, name))
		row := rowOf(c.Entry(), testKey)
		c.Entry().Walk(func(r *schema.Row, _ int, f schema.Field) {
			said, gap := f.NotRecorded()
			if gap {
				said = "not recorded: " + said
			} else if said = f.Raw(); !unspeakable(r) || len(said) < 3 || said == "none" { // "none" is also a code
				return
			}
			for i, have := range row.cells {
				if strings.Contains(have, said) {
					t.Errorf("%s: column %s holds what was typed at %s", name, Columns()[i].Name, r.Path())
				}
			}
		})
	}
}

// The gate itself: whatever fields.yaml asks, a private field leaves as a year
// or an age band or not at all, and text, identifiers, days and clock times never.
func TestGateRefusesWhatMayNotLeave(t *testing.T) {
	c := load()
	b := builder{content: c, dict: schema.Content()}
	ways := []string{"", "value"}
	for as := range c.As {
		ways = append(ways, as)
	}
	refused, let := 0, 0
	for _, g := range schema.Content().Groups {
		for _, r := range g.Fields {
			if !unspeakable(r) {
				continue
			}
			for _, as := range ways {
				_, err := b.field(r, as)
				allowed := r.Type == "date" && as == "year" || r.Type == "years" && as == "age-band"
				if allowed != (err == nil) {
					t.Errorf("%s as %q: %v", r.Path(), as, err)
				}
				if err != nil {
					refused++
				} else {
					let++
				}
			}
		}
	}
	if refused < 300 || let == 0 {
		t.Errorf("%d refused, %d let through", refused, let)
	}
}

// Computed values pass a gate too: an interval of days from the day of surgery
// gives a date back as soon as the other date is known.
func TestGateRefusesComputedDates(t *testing.T) {
	b := builder{content: load(), dict: schema.Content()}
	for _, dimension := range []string{"date", "code", "days", "minutes", "hours", "months", "years", "text", "nonsense"} {
		if _, err := b.derived(&schema.Derived{Name: "x", Dimension: dimension}, ""); err == nil {
			t.Errorf("a computed %s may leave", dimension)
		}
	}
}

// 45 CFR 164.514(b)(2)(i) lists A to R. Every private field must be accounted
// for under one of them.
func TestSafeHarborMapIsWhole(t *testing.T) {
	held := map[string]string{}
	letters := ""
	for _, id := range load().identifiers {
		letters += id.Letter
		if id.Identifier == "" || id.Row == "" {
			t.Errorf("%s says nothing", id.Letter)
		}
		for _, path := range id.Holds {
			if _, ok := schema.Content().Row(path); !ok {
				t.Errorf("%s: no field %s", id.Letter, path)
			}
			if held[path] != "" {
				t.Errorf("%s stands under %s and %s", path, held[path], id.Letter)
			}
			held[path] = id.Letter
		}
	}
	if letters != "ABCDEFGHIJKLMNOPQR" {
		t.Errorf("letters %s", letters)
	}
	for _, g := range schema.Content().Groups {
		for _, r := range g.Fields {
			if r.Private && held[r.Path()] == "" {
				t.Errorf("private field %s is in no row of safeharbor.yaml", r.Path())
			}
		}
	}
	for _, col := range Columns() {
		if held[col.From] != "" && col.Name != "operation_year" {
			t.Errorf("column %s is made of %s", col.Name, col.From)
		}
	}
}

// 45 CFR 164.514(b)(2)(i)(C): ages over 89 and all that shows them become one
// group. Whoever is 90 and whoever is 103 give the same row.
func TestAgesOver89AreOneGroup(t *testing.T) {
	var rows []Row
	for _, c := range []struct{ born, band string }{
		{"1938-03-14", "80 to 89"}, // 88 on 2026-09-08
		{"1936-09-09", "80 to 89"}, // 89: the birthday is tomorrow
		{"1936-09-08", "90 or over"},
		{"1923-03-14", "90 or over"}, // 103
	} {
		r := rowFrom(t, changed(t, firstSample, "born: 2002-03-14", "born: "+c.born))
		if got := cell(t, r, "age_band"); got != c.band {
			t.Errorf("born %s: %s, want %s", c.born, got, c.band)
		}
		rows = append(rows, r)
	}
	if !slices.Equal(rows[2].cells, rows[3].cells) {
		t.Error("a row tells 90 from 103")
	}
	var b strings.Builder
	if err := Write(&b, rows[2:], Options{}); !errors.Is(err, ErrRowTwice) {
		t.Errorf("one operation twice in a file: %v", err)
	}
	// Operation year 2026 and a band give a span of ten birth years at least.
	for _, col := range Columns() {
		if strings.Contains(col.Name, "birth") || strings.Contains(col.Name, "born") {
			t.Errorf("column %s", col.Name)
		}
	}
}
