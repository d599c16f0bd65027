package report

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"graftnote/note"
	"graftnote/registry/figures"
)

func section(r note.Report, key string) (out string) {
	for _, s := range r.Sections {
		if s.Key == key {
			out = text(note.Report{Sections: []note.ReportSection{s}})
		}
	}
	return out
}

// What the rows are stands below the title, without a number that the report
// hides; what was given up has a section of its own.
func TestScopeAndGivenUp(t *testing.T) {
	d := sample(1, 160)
	d.GivenUp = []string{"Every row is like at least 4 others in what is known of a person.", "The year of surgery is withheld."}
	for text, want := range map[string]string{
		"":                                     "2026-10",
		"9 of the 160 rows are of 2026-10.":    "2026-10. * of the 160 rows are of 2026-10.",
		"160 rows, of which 14 are new.":       "2026-10. 160 rows, of which 14 are new.",
		"Of 160 rows 155 were sent before.":    "2026-10. Of 160 rows * were sent before.",
		"All operations sent up to 2026-10; 3": "2026-10. All operations sent up to 2026-10; *.",
	} {
		d.Scope = text
		if r := build(t, d, Options{Period: "2026-10"}); r.Subtitle != want {
			t.Errorf("%q, want %q", r.Subtitle, want)
		}
		if r := build(t, d, Options{Unmasked: true}); r.Subtitle != strings.TrimSuffix(text, ".")+map[bool]string{true: "."}[text != ""] {
			t.Errorf("unmasked: %q", r.Subtitle)
		}
	}
	for _, d := range []Data{d, {GivenUp: d.GivenUp}} {
		got := section(build(t, d, Options{}), "given-up")
		for _, want := range d.GivenUp {
			if !strings.Contains(got, want) {
				t.Errorf("%q is not in %q", want, got)
			}
		}
	}
	if section(build(t, sample(1, 20), Options{}), "given-up") != "" {
		t.Error("a section with nothing in it")
	}
}

// Whatever is hidden, the report says in a sentence whether the counts add up.
func TestCountsAddUp(t *testing.T) {
	for _, c := range []struct {
		counts Counts
		want   string
	}{
		{Counts{Theatre: 9, Operated: 9, Signed: 8, Sent: 7, Held: []Held{{"a", 2}}}, "The counts add up: the theatre counted as many operations as were entered in the casebook, and those sent and those held back make up those entered."},
		{Counts{Theatre: 12, Operated: 9, Signed: 8, Sent: 7, Held: []Held{{"a", 2}}}, "The counts do not add up: the theatre counted more operations than were entered in the casebook; those sent and those held back make up those entered."},
		{Counts{Theatre: 8, Operated: 9, Signed: 8, Sent: 7, Held: []Held{{"a", 2}}}, "The counts do not add up: the theatre counted fewer operations than were entered in the casebook; those sent and those held back make up those entered."},
		{Counts{Theatre: 200, Operated: 160, Signed: 160, Sent: 160}, "The counts do not add up: the theatre counted 40 more operations than were entered in the casebook; those sent and those held back make up those entered."},
		{Counts{Theatre: -1, Operated: 9, Signed: 9, Sent: 9}, "Nobody gave the theatre's count, so operations that were never entered cannot be seen here; those sent and those held back make up those entered."},
		{Counts{Theatre: -1, Operated: 9, Signed: 8, Sent: 7, Held: []Held{{"a", 1}}}, "The counts do not add up: nobody gave the theatre's count, so operations that were never entered cannot be seen here; those sent and those held back do not make up those entered."},
		{Counts{Theatre: 9, Operated: 9, Signed: 8, Sent: 7, Held: []Held{{"a", 1}}}, "The counts do not add up: the theatre counted as many operations as were entered in the casebook, and those sent and those held back do not make up those entered."},
	} {
		d := sample(1, 160)
		d.Counts = &c.counts
		if got := section(build(t, d, Options{}), "denominator"); !strings.Contains(got, c.want) {
			t.Errorf("%s\nwant %s", got, c.want)
		}
	}
}

// No count of the denominator follows from the others: what was entered is what
// was sent and what was held back (CMS policy as above).
func TestDenominatorCannotBeSolved(t *testing.T) {
	r := rand.New(rand.NewPCG(9, 1))
	hidden := 0
	for range 300 {
		most := []int{4, 15, 60}[r.IntN(3)]
		c := &Counts{Theatre: -1, Sent: r.IntN(most)}
		for i := range r.IntN(4) {
			c.Held = append(c.Held, Held{fmt.Sprint("reason ", i), r.IntN(most)})
		}
		c.Signed, c.Operated = c.Sent, c.Sent
		for _, h := range c.Held {
			c.Operated += h.N
		}
		if r.IntN(2) == 0 {
			c.Theatre = c.Operated + r.IntN(2)*r.IntN(20)
		}
		d := sample(1, 40)
		d.Counts = c
		p := read(build(t, d, Options{}))
		p.eq = nil
		var parts []term
		for name, cell := range p.cells {
			if !strings.HasPrefix(name, "denominator/") {
				continue
			}
			if cell.Masked {
				hidden++
			} else if cell.Count > 0 && cell.Count < figures.DefaultMinimum {
				t.Fatalf("%+v: %s is shown", c, name)
			}
			if strings.Contains(name, "/Held back") || strings.Contains(name, "/Sent/") {
				parts = append(parts, p.at(name))
			}
		}
		p.equal(p.at("denominator/Entered, signed or not/Number"), parts...)
		if got := determined(p.eq); len(got) > 0 {
			t.Fatalf("%+v: %v", c, got)
		}
	}
	if hidden < 300 {
		t.Errorf("only %d counts were hidden", hidden)
	}
}

// A column that is withheld everywhere is not complete, and a field is named with
// the part of the entry that it stands in.
func TestCompletenessNames(t *testing.T) {
	d := sample(1, 60)
	for i, r := range d.Rows {
		row := r.(Cells)
		row["kc_stage"], row["chamber_bubble_gas"], row["chamber_bubble_position"], row["pachymeter"] = "WH", "air", "central", "NS"
		row["fellow_eye"] = []string{"WH", "normal"}[i%2]
	}
	got := section(build(t, d, Options{}), "completeness")
	for _, want := range []string{"Chamber bubble: gas, position at the start", "Measurements before surgery: pachymetry method | 0 | 0 | 60",
		content().say("withheld") + "\n- Indication: keratoconus stage", content().say("withheld-some") + "\n- Eye: fellow eye"} {
		if !strings.Contains(got, want) {
			t.Errorf("missing: %s\n%s", want, got)
		}
	}
	if strings.Count(got, "keratoconus stage") != 1 {
		t.Errorf("a withheld column counts as complete:\n%s", got)
	}
	// Titles that say enough by themselves stand alone, and no two are the same.
	var seen []string
	for _, c := range fieldsOf(eyesOf(d)).asked {
		name := content().title(c.Name)
		if slices.Contains(seen, name) {
			t.Errorf("%s twice", name)
		}
		seen = append(seen, name)
	}
}

func eyesOf(d Data) []eye {
	all, _, err := eyes(d, nil)
	if err != nil {
		panic(err)
	}
	return all
}

// A chart's caution stands beside a chart only.
func TestCautionNeedsItsChart(t *testing.T) {
	for n, want := range map[int]bool{12: false, 400: true} {
		r := build(t, sample(1, n), Options{})
		if got := section(r, "learning"); strings.Contains(got, "certificate") != want || strings.Contains(got, "chart ") != want {
			t.Errorf("%d operations: %s", n, got)
		}
	}
}
