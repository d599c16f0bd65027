package report

import (
	"errors"
	"flag"
	"fmt"
	"os"
	"reflect"
	"slices"
	"strings"
	"testing"

	"graftnote/note"
)

var update = flag.Bool("update", false, "write the golden files anew")

func build(t *testing.T, d Data, o Options) note.Report {
	t.Helper()
	r, err := Build(d, o)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// text is the report as plain lines.
func text(r note.Report) string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s | %s | %s\n", r.Title, r.Subtitle, r.Name)
	for _, f := range r.Facts {
		fmt.Fprintf(&b, "%s: %s\n", f.Label, f.Value)
	}
	for _, a := range r.Alerts {
		fmt.Fprintf(&b, "! %s\n", a)
	}
	for _, s := range r.Sections {
		fmt.Fprintf(&b, "\n== %s: %s\n", s.Key, s.Title)
		for _, x := range s.Blocks {
			switch {
			case x.Table != nil:
				fmt.Fprintf(&b, "\n%s\n%s\n", x.Table.Caption, strings.Join(x.Table.Header, " | "))
				for _, row := range x.Table.Rows {
					fmt.Fprintln(&b, "  "+strings.Join(row, " | "))
				}
				for _, n := range x.Table.Notes {
					fmt.Fprintln(&b, n)
				}
			case x.Chart != nil:
				fmt.Fprintf(&b, "\n[chart %.0f x %.0f, %d shapes] %s\n  %s\n", x.Chart.Width, x.Chart.Height, len(x.Chart.Shapes), x.Chart.Caption, x.Chart.Alt)
			case x.List != nil:
				fmt.Fprintln(&b, "- "+strings.Join(x.List, "\n- "))
			case x.Caution != "":
				fmt.Fprintln(&b, "!! "+x.Caution)
			default:
				fmt.Fprintln(&b, x.Paragraph)
			}
		}
	}
	for _, c := range r.Cautions {
		fmt.Fprintln(&b, "foot: "+c)
	}
	return b.String()
}

func counts() *Counts {
	return &Counts{Theatre: 191, Operated: 190, Signed: 175, Sent: 160, Held: []Held{{"the note is not signed", 15}, {"consent is not recorded as yes", 15}}}
}

// The whole report of an invented series, read by eye.
func TestGolden(t *testing.T) {
	d := sample(1, 160)
	d.Counts = counts()
	for name, o := range map[string]Options{"masked": {Period: "November 2026", Site: "Lindow Eye Unit"}, "unmasked": {Period: "November 2026", Unmasked: true}} {
		file := "testdata/" + name + ".txt"
		got := text(build(t, d, o))
		if *update {
			if err := os.WriteFile(file, []byte(got), 0o644); err != nil {
				t.Fatal(err)
			}
		}
		want, err := os.ReadFile(file)
		if err != nil || got != string(want) {
			t.Errorf("%s: the report changed (%v); read the difference, then run with -update:\n%s", name, err, got)
		}
	}
}

// find is the row of a table that begins with the words.
func find(t *testing.T, r note.Report, section, first string) []string {
	t.Helper()
	for _, s := range r.Sections {
		for _, b := range s.Blocks {
			if s.Key != section || b.Table == nil {
				continue
			}
			for _, row := range b.Table.Rows {
				if row[0] == first {
					return row
				}
			}
		}
	}
	t.Fatalf("%s has no row %s", section, first)
	return nil
}

// Score intervals as Newcombe prints them, Stat Med 1998;17:857-872, table I:
// 81/263 is 0.2553 to 0.3662 and 15/148 is 0.0624 to 0.1605.
func TestRatesAsPublished(t *testing.T) {
	for _, c := range []struct {
		events, of int
		want       []string
	}{{81, 263, []string{"81", "263", "30.8", "25.5 to 36.6"}}, {15, 148, []string{"15", "148", "10.1", "6.2 to 16.0"}}} {
		var d Data
		for i := range c.of {
			n := "0"
			if i < c.events {
				n = "1"
			}
			d.Rows = append(d.Rows, Cells{"row_key": fmt.Sprint(i), "microperforations": n, "macroperforations": "0"})
		}
		row := find(t, build(t, d, Options{}), "events", "Any perforation of Descemet membrane")
		if !slices.Equal(row[1:], c.want) {
			t.Errorf("%v, want %v", row, c.want)
		}
	}
}

// The maintained arm of the aml data of R's survival package (Miller, Survival
// Analysis, 1981): 9, 13, 13+, 18, 23, 28+, 31, 34, 45+, 48, 161+. S is 0.9091
// from 9, 0.6136 from 23, 0.3682 from 34; numbers at risk by counting.
func TestSurvivalAsPublished(t *testing.T) {
	var d Data
	for i, s := range strings.Fields("9 13 13+ 18 23 28+ 31 34 45+ 48 161+") {
		key := fmt.Sprint(i)
		d.Rows = append(d.Rows, Cells{"row_key": key})
		months, censored := strings.CutSuffix(s, "+")
		status := "failed"
		if censored {
			status = "surviving"
		}
		d.FollowUps = append(d.FollowUps, Cells{"row_key": key, "months": months, "graft_status": status})
	}
	r := build(t, d, Options{Unmasked: true})
	for months, want := range map[string][]string{"6": {"11", "100.0"}, "12": {"10", "90.9"}, "24": {"6", "61.4"}, "36": {"3", "36.8"}} {
		if row := find(t, r, "survival", months); !slices.Equal(row[1:3], want) {
			t.Errorf("%s months: %v, want %v", months, row, want)
		}
	}
	// Masked, nothing of so small a series is shown.
	for _, s := range build(t, d, Options{}).Sections {
		for _, b := range s.Blocks {
			if s.Key == "survival" && b.Chart != nil {
				t.Error("a curve of eleven grafts is drawn though failures are few")
			}
		}
	}
}

// Who is lost or has died was not seen on the day of that entry: the graft counts
// until it was seen last, and one that was never seen does not count (censoring at
// the last observation, as product-limit estimates ask for).
func TestLostIsNotSurvival(t *testing.T) {
	var d Data
	add := func(key string, visits ...string) {
		d.Rows = append(d.Rows, Cells{"row_key": key})
		for _, v := range visits {
			months, status, _ := strings.Cut(v, " ")
			d.FollowUps = append(d.FollowUps, Cells{"row_key": key, "months": months, "graft_status": status})
		}
	}
	for i := range 10 {
		add(fmt.Sprint("seen", i), "12 surviving", "36 surviving")
		add(fmt.Sprint("lost", i), "12 surviving", "36 "+[]string{"lost", "died"}[i%2])
	}
	add("never", "36 lost")
	r := build(t, d, Options{Unmasked: true})
	for months, want := range map[string]string{"12": "20", "24": "10", "36": "10"} {
		if row := find(t, r, "survival", months); row[1] != want {
			t.Errorf("%s months: %v at risk, want %s", months, row[1], want)
		}
	}
}

// Each failure adds one minus the target, each success takes the target off:
// Biau and others, Qual Saf Health Care 2007;16:203-207. The target is 42 failures
// of 155 (113 bubbles, PMID 31883463).
func TestLearningCurve(t *testing.T) {
	d := Data{Ordered: true}
	for i, c := range []struct{ separation, air, viscoelastic string }{
		{"none", "1", "0"}, {"complete", "1", "0"}, {"partial", "2", "0"}, {"complete", "1", "1"}, // rescued: air alone failed
		{"none", "0", "0"}, {"complete", "0", "1"}, {"complete", "NR", "NR"}, // no air, or nobody knows
	} {
		attempts := "2"
		if c.air+c.viscoelastic == "00" {
			attempts = "0"
		}
		d.Rows = append(d.Rows, Cells{"row_key": fmt.Sprint(i), "separation": c.separation, "attempts": attempts, "attempts_air": c.air, "attempts_viscoelastic": c.viscoelastic, "attempts_fluid": "0"})
	}
	r, err := work(d, Options{Unmasked: true})
	if err != nil {
		t.Fatal(err)
	}
	const p = 42.0 / 155
	for i, want := range []float64{1 - p, 1 - 2*p, 1 - 3*p, 2 - 4*p} {
		if got := r.curve.value[i]; got-want > 1e-12 || want-got > 1e-12 {
			t.Errorf("case %d: %g, want %g", i+1, got, want)
		}
	}
	if len(r.curve.at) != 4 {
		t.Errorf("%v", r.curve.at)
	}
	// The rate beside the published ones is of the same eyes and counts the same.
	report := build(t, d, Options{Unmasked: true})
	for first, want := range map[string][]string{
		"Separated by air alone, of eyes given air":       {"2", "4"},
		"Separated by any medium, of eyes given air":      {"3", "4"},
		"Separated, of eyes given air and another medium": {"1", "1"},
	} {
		if row := find(t, report, "separation", first); !slices.Equal(row[1:3], want) {
			t.Errorf("%v, want %v", row, want)
		}
	}
	d.Ordered = false
	if r, _ := work(d, Options{Unmasked: true}); len(r.curve.at) > 0 {
		t.Error("a learning curve without an order")
	}
}

// A report says what every rate is compared with, and that no curve certifies
// anybody: Biau and Porcher, Stat Med 2010, doi 10.1002/sim.3947.
func TestEveryPartHasItsSource(t *testing.T) {
	r := build(t, sample(3, 80), Options{Unmasked: true})
	all := text(r)
	for _, want := range []string{"no certificate of competence", "72.9 % (113/155)", "18.7 % (101/540)", "Too few to tell one rate from another", "at risk", "no target and no ranking"} {
		if !strings.Contains(all, want) {
			t.Errorf("missing: %s", want)
		}
	}
	for _, s := range r.Sections {
		for _, b := range s.Blocks {
			if b.Table == nil {
				continue
			}
			for _, row := range b.Table.Rows {
				if len(row) != len(b.Table.Header) {
					t.Errorf("%s: %d cells under %d headings", b.Table.Caption, len(row), len(b.Table.Header))
				}
				if b.Table.Caption == "Published figures" && row[4] == "" && row[1] != content().say("blank") {
					t.Errorf("a published figure without a source: %v", row)
				}
			}
		}
	}
}

func TestBadInput(t *testing.T) {
	two := Data{Rows: []Row{Cells{"row_key": "a"}, Cells{"row_key": "a"}}}
	wrong := counts()
	wrong.Sent = wrong.Signed + 1
	for name, c := range map[string]struct {
		d    Data
		o    Options
		want error
	}{
		"one key twice":       {two, Options{}, ErrKey},
		"odd minimum":         {Data{}, Options{Minimum: 2}, ErrMinimum},
		"no such visit":       {Data{}, Options{Months: -1}, ErrOptions},
		"counts do not tally": {Data{Counts: wrong}, Options{}, ErrCounts},
	} {
		if _, err := Build(c.d, c.o); !errors.Is(err, c.want) {
			t.Errorf("%s: %v", name, err)
		}
	}
	// Nothing, one case, rows of nothing but odd cells: a report all the same.
	for _, d := range []Data{{}, {Rows: []Row{Cells{}}}, {Rows: []Row{Cells{"row_key": "a", "indication": "=1+1", "attempts": "NaN", "separation": "\x00"}},
		FollowUps: []Row{Cells{"row_key": "a", "months": "1e400"}, Cells{"row_key": "b", "months": "3"}, Cells{"row_key": "a", "months": "-3"}}}} {
		for _, o := range []Options{{}, {Unmasked: true}} {
			build(t, d, o)
			if _, err := Series(d, o); err != nil {
				t.Error(err)
			}
		}
	}
}

// The order of the rows changes nothing but the learning curve.
func TestOrderDoesNotMatter(t *testing.T) {
	d := sample(5, 90)
	d.Ordered = false
	back := Data{Rows: slices.Clone(d.Rows), FollowUps: slices.Clone(d.FollowUps)}
	slices.Reverse(back.Rows)
	slices.Reverse(back.FollowUps)
	for _, o := range []Options{{Minimum: 5}, {}} {
		if !reflect.DeepEqual(build(t, d, o), build(t, back, o)) {
			t.Error("the report depends on the order of the rows")
		}
	}
}
