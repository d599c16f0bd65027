package schema_test

import (
	"bytes"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"graftnote/schema"
)

// samples is the folder of the invented eye unit's entries.
const samples = "../testdata/entries"

// checkedOn is the day on which the samples are checked: after the last of them.
var checkedOn = time.Date(2026, 11, 25, 12, 0, 0, 0, time.UTC)

func options() schema.Options { return schema.Options{Now: checkedOn} }

func readFile(t testing.TB, path string) schema.Source {
	t.Helper()
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return schema.Source{Name: filepath.Base(path), Data: b}
}

// optionsFor gives the short form its standing technique.
func optionsFor(t testing.TB, file string) schema.Options {
	t.Helper()
	o := options()
	if strings.HasPrefix(file, "16-") {
		o.Technique = schema.ReadTechnique(readFile(t, "../testdata/technique.yaml"), o)
		if len(o.Technique.Findings) != 0 {
			t.Fatalf("technique.yaml: %s", o.Technique.Findings[0].Layout())
		}
	}
	return o
}

func check(t testing.TB, cs *schema.Case, o schema.Options, b *schema.Batch) schema.Checked {
	t.Helper()
	c, err := schema.Check(cs, o, b)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func sampleFiles(t testing.TB, pattern string) []string {
	t.Helper()
	files, err := filepath.Glob(filepath.Join(samples, pattern))
	if err != nil || len(files) == 0 {
		t.Fatalf("no samples at %s: %v", pattern, err)
	}
	return files
}

// expected names, for each case of each sample, the rules that must speak, in
// reading order. The first six are the worked cases of the trade: what is asked,
// warned and left quiet there is common practice with no source, or rests on the
// paper that the rule row cites. Empty: no finding at all.
var expected = map[string][][]string{
	"01-double-bubble.yaml":           {{}},
	"02-failed-bubble-manual.yaml":    {{"stage-below-thickness"}}, // 52.6 D fits stage 2, 398 µm fits stage 3
	"03-type-2-microperforation.yaml": {{}},
	"04-child-layered.yaml":           {{"shallow-for-ring"}},    // 48 %; early suture removal has its reason: child
	"05-healed-hydrops-fluid.yaml":    {{}},                      // 380 µm exceeds the thinnest point, not the ring; no air planned
	"06-conversion.yaml":              {{"outside-usual-range"}}, // thinnest 280 µm; the depth itself is not flagged
	"07-second-eye.yaml":              {{}},
	"08-regraft.yaml":                 {{"earlier-lamellar-graft"}},
	"09-diacritics.yaml":              {{}},
	"10-two-scripts.yaml":             {{}, {}},
	"11-very-long.yaml": {{"duration-unusual", "many-attempts", "outside-usual-range", "bed-not-smooth",
		"outside-proposed-limit", "knots-exposed"}},
	"12-not-recorded.yaml":           {{"endothelium-not-recorded-lamellar", "tissue-release-not-recorded", "suture-size-not-stated", "counts-not-recorded"}},
	"13-femtosecond.yaml":            {{}},
	"14-viscodissection-visits.yaml": {{}},
	"15-staged.yaml":                 {{"no-backup-tissue"}},
	"16-with-technique.yaml":         {{}},
	"17-json-form.json":              {{}},
	"18-bad-night.yaml":              {{"tissue-expired", "conversion-with-stripped-tissue", "no-backup-tissue", "counts-not-correct"}},
	"list-2026-09-08.yaml":           {{}, {}, {}},
	"blocked/06-before-completion.yaml": {{"conversion-not-in-procedure", "outside-usual-range", "required-field",
		"required-field", "required-field", "macroperforation-without-hour", "macroperforation-without-size",
		"required-field", "required-field"}},
	"blocked/defects.yaml": {twelve},
}

// twelve are the defects that the foot of defects.yaml lists.
var twelve = []string{"complications-not-stated", "eye-not-as-listed", "value-unreadable", "value-unreadable",
	"unknown-field", "value-unreadable", "separation-without-sign", "type-2-pre-descemetic", "tissue-expired",
	"outside-proposed-limit", "value-unreadable", "required-field"}

func TestSamplesGiveTheIntendedFindings(t *testing.T) {
	files := slices.Concat(sampleFiles(t, "*.yaml"), sampleFiles(t, "*.json"), sampleFiles(t, "blocked/*.yaml"))
	if len(files) != len(expected) {
		t.Errorf("%d samples, %d expectations", len(files), len(expected))
	}
	for _, path := range files {
		name, _ := filepath.Rel(samples, path)
		name = filepath.ToSlash(name)
		t.Run(name, func(t *testing.T) {
			o := optionsFor(t, name)
			r := schema.Read(readFile(t, path), o)
			want, known := expected[name]
			if !known || len(r.Cases) != len(want) || len(r.Findings) != 0 {
				t.Fatalf("known %v, %d cases, want %d, file findings %v", known, len(r.Cases), len(want), r.Findings)
			}
			for i, cs := range r.Cases {
				c := check(t, cs, o, nil)
				var rules, shown []string
				for _, f := range c.Findings() {
					rules = append(rules, f.Rule)
					shown = append(shown, f.Layout())
				}
				if !slices.Equal(rules, want[i]) && len(rules)+len(want[i]) > 0 {
					t.Errorf("case %d: got %q, want %q\n%s", i+1, rules, want[i], strings.Join(shown, ""))
				}
				if blocked := strings.HasPrefix(name, "blocked/"); c.Complete() == blocked {
					t.Errorf("case %d: complete %v", i+1, c.Complete())
				}
			}
		})
	}
}

// One run over all samples at the site whose profiles block there: nobody and no tissue is met twice. Two eyes of one
// person on two days are two operations (rules 9 and 10 of the trade's list).
func TestSamplesTogether(t *testing.T) {
	batch := schema.NewBatch()
	site, err := schema.ParseSite(readFile(t, "../testdata/site/site.yaml"))
	if err != nil {
		t.Fatal(err)
	}
	var cases []*schema.Case
	for _, path := range slices.Concat(sampleFiles(t, "[01]*.yaml"), sampleFiles(t, "list*.yaml"), sampleFiles(t, "*.json")) {
		for _, cs := range schema.Read(readFile(t, path), optionsFor(t, filepath.Base(path))).Cases {
			batch.Add(cs)
			cases = append(cases, cs)
		}
	}
	for _, cs := range cases {
		o := options()
		o.Site = site
		if c := check(t, cs, o, batch); !c.Complete() {
			t.Errorf("%s: %s", c.ID(), c.Gaps()[0].Layout())
		}
	}
}

// The figures that the worked cases state beside their values; the arithmetic
// was checked by hand when they were written.
func TestSamplesArithmetic(t *testing.T) {
	for _, w := range []struct {
		file, name string
		places     int
		want       string
	}{
		{"01-double-bubble.yaml", "age", 0, "24"},
		{"01-double-bubble.yaml", "depth-percent", 0, "67"},
		{"01-double-bubble.yaml", "disparity", 2, "0.25"},
		{"01-double-bubble.yaml", "chamber-volume-ratio", 2, "1.34"}, // 0.03 mL over a sphere of 3.5 mm
		{"01-double-bubble.yaml", "stage-by-curvature", 0, "3"},
		{"01-double-bubble.yaml", "stage-by-thickness", 0, "3"},
		{"02-failed-bubble-manual.yaml", "age", 0, "31"},
		{"02-failed-bubble-manual.yaml", "depth-percent", 1, "62.5"},
		{"02-failed-bubble-manual.yaml", "stage-by-curvature", 0, "2"},
		{"02-failed-bubble-manual.yaml", "stage-by-thickness", 0, "3"},
		{"03-type-2-microperforation.yaml", "age", 0, "38"},
		{"03-type-2-microperforation.yaml", "depth-percent", 0, "70"},
		{"04-child-layered.yaml", "age", 0, "11"},
		{"04-child-layered.yaml", "depth-percent", 0, "48"},
		{"05-healed-hydrops-fluid.yaml", "age", 0, "46"},
		{"05-healed-hydrops-fluid.yaml", "depth-percent", 0, "63"},
		{"06-conversion.yaml", "age", 0, "43"},
		{"06-conversion.yaml", "depth-percent", 0, "65"},
		{"06-conversion.yaml", "attempts", 0, "2"},
		{"11-very-long.yaml", "attempts", 0, "25"},
	} {
		e := schema.Read(readFile(t, filepath.Join(samples, w.file)), options()).Cases[0].Entry
		n, ok := e.Number(w.name)
		if got := n.Round(w.places).String(); !ok || got != w.want {
			t.Errorf("%s: %s is %s (%v), want %s", w.file, w.name, got, ok, w.want)
		}
	}
}

// Half past five is stored as 5.5, and two thirds stay two thirds.
func TestSamplesKeepWhatWasSaid(t *testing.T) {
	e := schema.Read(readFile(t, filepath.Join(samples, "05-healed-hydrops-fluid.yaml")), options()).Cases[0].Entry
	if got := e.Events[0].Hour.Value().Hours().String(); got != "5.5" {
		t.Errorf("5:30 is %s hours", got)
	}
	e = schema.Read(readFile(t, filepath.Join(samples, "01-double-bubble.yaml")), options()).Cases[0].Entry
	if got := e.Dissection.Fraction.Text(); got != "2/3" {
		t.Errorf("fraction is %s", got)
	}
	if got := e.Trephination.HostDiameter.Text(); got != "7.75 mm" {
		t.Errorf("host diameter is %s", got)
	}
	if got := e.Tissues[0].Diameter.Text(); got != "8.00 mm" { // the precision as typed
		t.Errorf("donor diameter is %s", got)
	}
}

// An uncomplicated case fits on one screen; with a standing technique it is
// shorter still. The limits are the project's own.
func TestUncomplicatedCaseIsShort(t *testing.T) {
	for file, limit := range map[string]int{"01-double-bubble.yaml": 30, "16-with-technique.yaml": 25} {
		lines := bytes.Count(readFile(t, filepath.Join(samples, file)).Data, []byte("\n"))
		if lines > limit {
			t.Errorf("%s has %d lines, more than %d", file, lines, limit)
		}
	}
}

// Habits come in with the origin that keeps them unconfirmed, and only habits.
func TestShortFormTakesHabitsOnly(t *testing.T) {
	o := optionsFor(t, "16-with-technique.yaml")
	e := schema.Read(readFile(t, filepath.Join(samples, "16-with-technique.yaml")), o).Cases[0].Entry
	habits := 0
	e.Walk(func(r *schema.Row, _ int, f schema.Field) {
		if f.Origin() != schema.Technique || f.Blank() {
			return
		}
		habits++
		if !r.Habit() {
			t.Errorf("%s came from the standing technique", r.Path())
		}
	})
	if habits < 30 {
		t.Errorf("only %d habits were filled", habits)
	}
	if !e.Plan.Posture.Blank() { // asked for only when the chamber was filled
		t.Errorf("posture was filled though the chamber was not")
	}
}

// Everything that may be a gap is one here, and each keeps its reason.
func TestHonestGapsKeepTheirReason(t *testing.T) {
	e := schema.Read(readFile(t, filepath.Join(samples, "12-not-recorded.yaml")), options()).Cases[0].Entry
	gaps, conditional := 0, map[string]bool{"sutures.running": true, "paracentesis.eye": true, "true-states.at": true, "true-states.told-on": true}
	e.Walk(func(r *schema.Row, item int, f schema.Field) {
		reason, gap := f.NotRecorded()
		if gap && reason != "" {
			gaps++
		}
		top := r.Group.Key == "" || r.Group.Key == "team" && item == 0
		if !gap && !r.Refuse && !top && !conditional[r.Path()] && !f.Recorded() {
			t.Errorf("%s is not given as a gap", r.Path())
		}
	})
	if gaps < 130 {
		t.Errorf("only %d gaps", gaps)
	}
	if got := e.List("injections").Reason; got != "the attempts were not counted" {
		t.Errorf("reason of the list is %q", got)
	}
}

func TestSiteFileOfTheSamples(t *testing.T) {
	s, err := schema.ParseSite(readFile(t, "../testdata/site/site.yaml"))
	if err != nil {
		t.Fatal(err)
	}
	for _, kind := range []string{"patient", "practitioner", "organization", "location", "encounter", "tissue", "note"} {
		if !strings.HasPrefix(s.Identifiers[kind], "https://lindow-eye.example/") {
			t.Errorf("identifier system of %s is %q", kind, s.Identifiers[kind])
		}
	}
	if empty, err := schema.ParseSite(source("site.yaml", "# nothing yet\n")); err != nil || empty.Name != "" {
		t.Errorf("an empty site file: %v", err)
	}
	if s.Name != "Lindow Eye Unit" || s.Zone != "Europe/London" || s.RowKey != "row.key" {
		t.Errorf("site read as %q, %q, %q", s.Name, s.Zone, s.RowKey)
	}
}
