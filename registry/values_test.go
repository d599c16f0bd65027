package registry

import (
	"fmt"
	"regexp"
	"slices"
	"strings"
	"testing"

	"graftnote/schema"
)

const typedAcuity = "corrected: 0.7 logMAR"

// The published column of the acuity table (michaelbach.de/sci/acuity.html),
// two decimals; 20/30 and 20/60 are computed, -log10 of the fraction.
func TestAcuityAsLogMAR(t *testing.T) {
	for typed, want := range map[string]string{
		"20/10": "-0.30", "20/16": "-0.10", "6/6": "0.00", "20/25": "0.10", "20/30": "0.18", "6/9.5": "0.20",
		"20/40": "0.30", "20/50": "0.40", "20/60": "0.48", "6/19": "0.50", "20/80": "0.60", "20/100": "0.70",
		"20/125": "0.80", "6/48": "0.90", "6/60": "1.00", "20/400": "1.30", "0.5 decimal": "0.30", "0.34 logMAR": "0.34",
	} {
		r := rowFrom(t, changed(t, firstSample, typedAcuity, "corrected: "+typed))
		if got := cell(t, r, "corrected_before_logmar"); got != want {
			t.Errorf("%s: %s, published %s", typed, got, want)
		}
		if got := cell(t, r, "corrected_before_class"); got != "chart" {
			t.Errorf("%s: class %s", typed, got)
		}
	}
}

// Authors give off-chart vision unlike numbers (Schulze-Bonsel 2006: counting
// fingers 1.85; Lange 2009: 1.98), so the row gives none. A letter score has no
// conversion without a convention either.
func TestOffChartVisionHasNoNumber(t *testing.T) {
	for typed, class := range map[string]string{"CF 1 m": "CF", "hand movements": "HM", "LP": "LP", "NLP": "NLP", "70 letters": "letters"} {
		r := rowOf(checked(t, changed(t, firstSample, typedAcuity, "corrected: "+typed)).Entry(), testKey)
		if n, c := cell(t, r, "corrected_before_logmar"), cell(t, r, "corrected_before_class"); n != "NC" || c != class {
			t.Errorf("%s: logMAR %s, class %s", typed, n, c)
		}
		letters := "NA"
		if class == "letters" {
			letters = "70"
		}
		if got := cell(t, r, "corrected_before_letters"); got != letters {
			t.Errorf("%s: letters %s", typed, got)
		}
	}
}

// Spherical equivalent is sphere plus half the cylinder (arithmetic).
func TestRefraction(t *testing.T) {
	for typed, want := range map[string][2]string{
		"-3.00/-4.00 x 90": {"-5.00", "4.00"}, "plano/-1.00 x 180": {"-0.50", "1.00"},
		"+1.25/+0.75 x 10": {"1.63", "0.75"}, "-2.00 sph": {"-2.00", "0.00"},
	} {
		r := rowFrom(t, changed(t, firstSample, typedAcuity, typedAcuity+", refraction: "+typed))
		if se, cyl := cell(t, r, "refraction_before_se"), cell(t, r, "refraction_before_cyl_d"); se != want[0] || cyl != want[1] {
			t.Errorf("%s: equivalent %s, cylinder %s; want %v", typed, se, cyl, want)
		}
	}
}

// J0 is -(C/2)·cos 2a and J45 -(C/2)·sin 2a: Thibos, Wheeler and Horner, Optom
// Vis Sci 1997;74:367-375. The same lens in plus cylinder has the same vector.
func TestPowerVectorColumns(t *testing.T) {
	for typed, want := range map[string][2]string{
		"-3.00/-4.00 x 90": {"-2.00", "0.00"}, "plano/-1.00 x 180": {"0.50", "0.00"}, "-2.00 sph": {"0.00", "0.00"},
		"-1.00/-2.00 x 45": {"0.00", "1.00"}, "-3.00/+2.00 x 135": {"0.00", "1.00"}, "+1.25/+0.75 x 10": {"-0.35", "-0.13"},
		"plano/-0.25 x 46": {"0.00", "0.12"}, // -0.004, and no -0.00
	} {
		r := rowFrom(t, changed(t, firstSample, typedAcuity, typedAcuity+", refraction: "+typed))
		if j0, j45 := cell(t, r, "refraction_before_j0_d"), cell(t, r, "refraction_before_j45_d"); j0 != want[0] || j45 != want[1] {
			t.Errorf("%s: J0 %s, J45 %s; want %v", typed, j0, j45, want)
		}
	}
}

// An audit found "not applicable" and "not recorded" mixed up (J Perioper Pract
// 2010, 10.1177/175045891002000905): they must stay apart, and the words of the
// reason must stay at home. The wordings are common practice, no source.
func TestReasonBecomesACode(t *testing.T) {
	for reason, want := range map[string]string{
		"not measured": "NM", "Not measured, machine down": "NM", "not possible": "NP",
		"dense scar, could not be measured": "NP", "can’t fixate": "NP", "not applicable": "NA", "N/A": "NA",
		"sheet lost": "NR", "not recalled": "NR", "Dr Voss did not say": "NR", "scan notes lost": "NR",
	} {
		text := changed(t, firstSample, "ring: 540 µm", `ring: "not recorded: `+reason+`"`)
		r := rowOf(checked(t, text).Entry(), testKey)
		if got := cell(t, r, "ring_um"); got != want {
			t.Errorf("%q: %s, want %s", reason, got, want)
		}
		if got := cell(t, r, "trephine_depth_percent"); got != "NR" {
			t.Errorf("%q: the computed share is %s", reason, got)
		}
	}
	for column, want := range map[string]string{"pressure_before_mmhg": "NS", "earlier_graft_failed": "NA"} {
		if got := cell(t, rowFrom(t, sample(t, firstSample)), column); got != want {
			t.Errorf("%s: %s, want %s", column, got, want)
		}
	}
	// No bubble, no diameter of it.
	if got := cell(t, rowFrom(t, sample(t, "02-failed-bubble-manual.yaml")), "big_bubble_mm"); got != "NA" {
		t.Errorf("big_bubble_mm: %s, want NA", got)
	}
	// Nobody knows whether the question arises when what it rests on is unknown.
	text := changed(t, firstSample, "earlier-surgery: none", `earlier-surgery: "not recorded: old notes lost"`)
	if got := cell(t, rowOf(checked(t, text).Entry(), testKey), "earlier_graft_failed"); got != "NS" {
		t.Errorf("earlier_graft_failed: %s, want NS", got)
	}
}

func TestSeveralCodes(t *testing.T) {
	text := changed(t, firstSample, "steps: air,", "steps: [viscoelastic, air, manual, air],", "scar: none", "scar: [central, posterior, central]")
	r := rowOf(checked(t, text).Entry(), testKey)
	if got := cell(t, r, "techniques_tried"); got != "viscoelastic|air|manual|air" {
		t.Errorf("techniques %s: they are told in the order tried", got)
	}
	if got := cell(t, r, "scar"); got != "posterior|central" {
		t.Errorf("scar %s: the order of the code list, each code once", got)
	}
}

// A figure is a measurement or it is nothing: a number typed into the wrong
// field, such as a record number, does not leave.
func TestFiguresAreRoundedAndLimited(t *testing.T) {
	for typed, want := range map[string]string{
		"11.80 mm": "11.80", "11.8049999 mm": "11.80", "11.805 mm": "11.81", "11800 µm": "11.80", "9434765919 mm": "OL",
	} {
		text := changed(t, firstSample, "white-to-white: 11.8 mm", "white-to-white: "+typed)
		if got := cell(t, rowOf(checked(t, text).Entry(), testKey), "white_to_white_mm"); got != want {
			t.Errorf("%s: %s, want %s", typed, got, want)
		}
	}
}

// An abandoned operation has no graft: its graft columns do not apply, which is
// another thing than not recorded.
func TestNoGraftNoGraftColumns(t *testing.T) {
	r := rowFrom(t, sample(t, "15-staged.yaml"))
	for _, column := range []string{"donor_diameter_mm", "donor_ecd", "donor_age_band", "disparity_mm", "suture_pattern", "interrupted_count"} {
		if got := cell(t, r, column); got != "NA" {
			t.Errorf("%s: %s, want NA", column, got)
		}
	}
}

// A tissue that was opened counts, whatever became of it; one that went back
// closed does not.
func TestTissuesOpened(t *testing.T) {
	const stripped = "outcome: punched-not-used, outcome-reason: stripped before the membrane tore"
	for _, c := range []struct{ file, from, to, want string }{
		{"15-staged.yaml", "case:", "case:", "1"},
		{"15-staged.yaml", "outcome: opened-not-used, outcome-reason: cloudy medium on opening", "outcome: returned, outcome-reason: never opened", "0"},
		{"06-conversion.yaml", stripped, "outcome: discarded, outcome-reason: stripped before the membrane tore", "2"},
	} {
		if got := cell(t, rowFrom(t, changed(t, c.file, c.from, c.to)), "tissues_opened"); got != c.want {
			t.Errorf("%s, %s: %s, want %s", c.file, c.to, got, c.want)
		}
	}
}

// Every kind of event is counted by one column, so a new kind can't be lost.
func TestEveryEventIsCountedOnce(t *testing.T) {
	derived := map[string]string{"trephine-entry": "trephine_entries", "microperforation": "microperforations",
		"macroperforation": "macroperforations", "conversion": "converted"}
	counted := map[string]int{}
	for _, o := range load().Tail {
		if o.How == "count" && o.From == "events" {
			for _, code := range o.Is {
				counted[code]++
			}
		}
	}
	for code, column := range derived {
		if _, ok := load().byName[column]; ok {
			counted[code]++
		}
	}
	for _, w := range schema.Content().Lists["event"].Codes {
		if want := map[bool]int{true: 0, false: 1}[w.Code == "none"]; counted[w.Code] != want {
			t.Errorf("event %s is counted %d times", w.Code, counted[w.Code])
		}
	}
}

func TestEventColumns(t *testing.T) {
	events := `events:
  - {kind: microperforation, step: excision, hour: 7 o'clock, size: 0.4 mm, managed-by: [observed, chamber-air]}
  - {kind: macroperforation, step: deep-dissection, hour: 5 o'clock, size: 2.5 mm, managed-by: [tear-sutured, chamber-air]}
  - {kind: bleeding, managed-by: compression}`
	r := rowOf(checked(t, changed(t, firstSample, "events: none", events)).Entry(), testKey)
	for column, want := range map[string]string{
		"microperforations": "1", "macroperforations": "1", "largest_tear_mm": "2.50", "perforation_step": "excision",
		"perforation_management": "chamber-air|tear-sutured|observed", "bleedings": "1", "events_total": "3",
		"conversion_reason": "NA", "complications_none": "no",
	} {
		if got := cell(t, r, column); got != want {
			t.Errorf("%s: %s, want %s", column, got, want)
		}
	}
	silent := rowOf(checked(t, changed(t, firstSample, "events: none\n", "")).Entry(), testKey)
	if got := cell(t, silent, "events_total"); got != "NS" {
		t.Errorf("events_total of a silent list: %s; silence is not 'none'", got)
	}
}

// A spreadsheet turns 10-19, 10-0 and mar1 into dates on opening (gene names:
// Ziemann 2016, Genome Biology 17:177; the suture sizes: from memory,
// unverified). No code of any column may look like one.
func TestNoCodeLooksLikeADate(t *testing.T) {
	months := "jan|feb|mar|apr|may|jun|jul|aug|sep|sept|oct|nov|dec"
	date := regexp.MustCompile(`(?i)^([0-9]{1,4}[-/. ][0-9]{1,2}([-/. ][0-9]{1,4})?|(` + months + `)[a-z]*[-/. ]?[0-9]+|[0-9]+[-/. ]?(` + months + `)[a-z]*|[0-9]+:[0-9]+.*|[0-9.]+e[0-9]+|true|false)$`)
	for _, must := range []string{"10-19", "10-0", "mar1", "1-mar", "2e5", "09:05"} {
		if !date.MatchString(must) {
			t.Fatalf("the test does not know %q", must)
		}
	}
	n := 0
	for _, col := range Columns() {
		for _, w := range col.Codes {
			n++
			if date.MatchString(w.Code) {
				t.Errorf("%s: code %q", col.Name, w.Code)
			}
		}
	}
	for _, m := range MissingCodes() {
		if date.MatchString(m.Code) {
			t.Errorf("missing code %q", m.Code)
		}
	}
	if n < 150 {
		t.Errorf("only %d codes seen", n)
	}
}

// The limits of the dictionary that block must stand in the column.
func TestBlockingLimitsReachTheColumn(t *testing.T) {
	want := map[string]string{"kc_stage": "1..4", "vascular_quadrants": "0..4", "thinnest_um": "10..1500", "chamber_fill_percent": "0..100", "storage_days": "0..3650"}
	for _, col := range Columns() {
		if w, ok := want[col.Name]; ok {
			delete(want, col.Name)
			if got := col.Minimum + ".." + col.Maximum; got != w {
				t.Errorf("%s: %s, the dictionary says %s", col.Name, got, w)
			}
		}
	}
	if len(want) > 0 {
		t.Errorf("columns not seen: %v", want)
	}
}

func TestColumnNamesAndOrder(t *testing.T) {
	name := regexp.MustCompile(`^[a-z][a-z0-9_]{1,40}$`) // safe as a name in any statistics program (common practice, no source)
	var names []string
	for _, c := range Columns() {
		if !name.MatchString(c.Name) || c.Title == "" || c.Meaning == "" || !strings.HasSuffix(c.Meaning, ".") {
			t.Errorf("column %s: %q %q", c.Name, c.Title, c.Meaning)
		}
		names = append(names, c.Name)
	}
	if !slices.Equal(names[:2], []string{"row_key", "person_key"}) {
		t.Errorf("the row begins with %v", names[:2])
	}
	if fmt.Sprint(names) != fmt.Sprint(slices.Compact(slices.Clone(names))) {
		t.Error("a column twice")
	}
}

// One size in the row for two sutures of different size would be a wrong one.
func TestSuturesOfTwoKinds(t *testing.T) {
	const old = "pattern: interrupted, interrupted: 16 x 10-0 nylon"
	for typed, want := range map[string][2]string{
		"pattern: double-running, running: [12-bite 10-0 nylon, 12-bite 11-0 nylon]":                              {"mixed", "nylon"},
		"pattern: interrupted-and-running, interrupted: 8 x 10-0 nylon, running: 16-bite 11-0 polypropylene":      {"mixed", "mixed"},
		"pattern: interrupted-and-running, interrupted: 8 x 10-0 nylon, running: 16-bite 10-0 monofilament nylon": {"size 10-0", "nylon"},
		"pattern: interrupted-and-running, interrupted: 8, running: 16-bite 11-0 nylon":                           {"size 11-0", "nylon"},
	} {
		r := rowOf(checked(t, changed(t, firstSample, old, typed)).Entry(), testKey)
		for i, column := range []string{"suture_gauge", "suture_material"} {
			if got := cell(t, r, column); got != want[i] {
				t.Errorf("%s: %s %s, want %s", typed, column, got, want[i])
			}
		}
	}
}
