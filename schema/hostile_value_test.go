package schema_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"graftnote/schema"
)

// awkward is one change to a sample and what must be said about it.
type awkward struct {
	name  string
	pairs []string // replacements in the sample
	rule  string   // "" : no finding beyond the sample's own
	path  string
	block bool
}

func tryAwkward(t *testing.T, file string, cases []awkward) {
	t.Helper()
	before, _ := sound(t, source("a.yaml", sampleWith(t, file)), options())
	for _, w := range cases {
		t.Run(w.name, func(t *testing.T) {
			all, checked := sound(t, source("a.yaml", sampleWith(t, file, w.pairs...)), options())
			if w.rule == "" {
				if len(all) != len(before) || !checked[0].Complete() {
					t.Errorf("findings %q", rules(all))
				}
				return
			}
			f, ok := find(all, w.rule, w.path)
			if !ok || checked[0].Complete() == w.block || (f.Severity == schema.Blocks) != w.block {
				var got []string
				for _, f := range all {
					got = append(got, f.Rule+" at "+f.Path)
				}
				t.Errorf("got %q, want %s at %s, blocking %v", got, w.rule, w.path, w.block)
			}
		})
	}
}

// Dates: day and month are never guessed, dates that the calendar lacks are
// refused (ISO 8601, Gregorian calendar), rare ones that exist are taken.
func TestAwkwardDates(t *testing.T) {
	tryAwkward(t, "01-double-bubble.yaml", []awkward{
		{"two readings", []string{"{date: 2026-08-20", "{date: 03/04/2026"}, "value-unreadable", "consent.date", true},
		{"30 February", []string{"{date: 2026-08-20", "{date: 2026-02-30"}, "value-unreadable", "consent.date", true},
		{"29 February of a common year", []string{"born: 2002-03-14", "born: 2001-02-29"}, "value-unreadable", "patient.born", true},
		{"thirteenth month", []string{"{date: 2026-08-20", "{date: 2026-13-01"}, "value-unreadable", "consent.date", true},
		{"short form", []string{"{date: 2026-08-20", "{date: 26-1-5"}, "value-unreadable", "consent.date", true},
		{"year 0001", []string{"born: 2002-03-14", "born: 0001-03-14"}, "value-unreadable", "patient.born", true},
		{"121 years", []string{"born: 2002-03-14", "born: 1905-09-07"}, "age-impossible", "patient.born", true},
		{"103 years", []string{"born: 2002-03-14", "born: 1923-03-14"}, "age-above-89", "patient.born", false},
		{"29 February", []string{"born: 2002-03-14", "born: 2004-02-29"}, "", "", false},
		{"born after", []string{"born: 2002-03-14", "born: 2026-09-09"}, "born-after-surgery", "patient.born", true},
		{"consent after", []string{"{date: 2026-08-20", "{date: 2026-09-09"}, "consent-after-surgery", "consent.date", true},
		{"surgery tomorrow", []string{"date: 2026-09-08", "date: 2026-11-26"}, "surgery-in-future", "episode.date", true},
		{"words", []string{"{date: 2026-08-20", "{date: 20 August 2026"}, "value-unreadable", "consent.date", true},
		{"a moment for a date", []string{"{date: 2026-08-20", "{date: 2026-08-20T00:00Z"}, "value-unreadable", "consent.date", true},
	})
	f, ok := find(mustFind(t, "{date: 2026-08-20", "{date: 03/04/2026"), "value-unreadable", "consent.date")
	if !ok || len(f.Readings) != 2 || !slices.Contains(f.Readings, "3 April 2026") || !slices.Contains(f.Readings, "4 March 2026") {
		t.Errorf("the readings are %q", f.Readings)
	}
}

func mustFind(t *testing.T, pairs ...string) []schema.Finding {
	t.Helper()
	all, _ := sound(t, source("a.yaml", simple(t, pairs...)), options())
	return all
}

// Times: the clocks of London went forward on 29 March 2026 at 01:00 and went
// back on 25 October 2026 at 02:00 (the last Sundays; IANA time zone database).
func TestAwkwardTimes(t *testing.T) {
	day := func(date, start, end, begun string) []string {
		return []string{"date: 2026-09-08", "date: " + date, "start: 09:05", "start: " + start, "end: 10:02", "end: " + end,
			"begun: 2026-09-08T10:20+01:00", "begun: " + begun, "{date: 2026-08-20", "{date: 2026-01-20", "expires: 2026-09-15", "expires: 2026-12-15"}
	}
	tryAwkward(t, "01-double-bubble.yaml", []awkward{
		{"skipped", day("2026-03-29", "01:30", "02:40", "2026-03-29T10:00+01:00"), "time-skipped", "episode.start", true},
		{"doubled", day("2026-10-25", "01:30", "03:10", "2026-10-25T10:00+00:00"), "time-doubled", "episode.start", true},
		{"an hour later it came once", day("2026-10-25", "02:30", "03:40", "2026-10-25T10:00+00:00"), "", "", false},
		{"over midnight", day("2026-09-08", "23:30", "00:40", "2026-09-09T10:00+01:00"), "operation-across-midnight", "episode.end", false},
		{"end before start", day("2026-09-08", "10:02", "09:05", "2026-09-08T10:20+01:00"), "end-before-start", "episode.end", true},
		{"note before the end", day("2026-09-08", "09:05", "10:02", "2026-09-08T09:59+01:00"), "note-before-end", "episode.begun", true},
		// 10:20 at +14:00 is 20:20 UTC of the day before: before the operation.
		{"offset +14:00", day("2026-09-08", "09:05", "10:02", "2026-09-08T10:20+14:00"), "note-before-end", "episode.begun", true},
		{"offset -11:00", day("2026-09-08", "09:05", "10:02", "2026-09-08T10:20-11:00"), "", "", false},
		{"no offset", day("2026-09-08", "09:05", "10:02", "2026-09-08T10:20"), "value-unreadable", "episode.begun", true},
		{"25 o'clock", day("2026-09-08", "25:05", "10:02", "2026-09-08T10:20+01:00"), "value-unreadable", "episode.start", true},
		{"no such zone", []string{"zone: Europe/London", "zone: Europe/Lindow"}, "zone-unknown", "episode.zone", true},
		{"path for a zone", []string{"zone: Europe/London", "zone: ../../etc/passwd"}, "zone-unknown", "episode.zone", true},
		{"the machine's zone", []string{"zone: Europe/London", "zone: Local"}, "zone-unknown", "episode.zone", true},
		{"late entry", day("2026-09-08", "09:05", "10:02", "2026-09-16T10:20+01:00"), "late-entry", "episode.begun", false},
	})
}

// Numbers: comma, missing unit and forms of programs are asked about, never
// guessed; units and blanks that differ only in writing are the same value.
func TestAwkwardNumbers(t *testing.T) {
	tryAwkward(t, "05-healed-hydrops-fluid.yaml", []awkward{ // its measurements stand one a line
		{"decimal comma", []string{"white-to-white: 11.9 mm", "white-to-white: 11,9 mm"}, "value-unreadable", "before.white-to-white", true},
		{"no unit", []string{"thinnest: 310 µm", "thinnest: 310"}, "value-unreadable", "before.thinnest", true},
		{"unit unspaced", []string{"thinnest: 310 µm", "thinnest: 310um"}, "", "", false},
		{"Greek mu", []string{"thinnest: 310 µm", "thinnest: 310 \u03bcm"}, "", "", false},
		{"no-break space", []string{"thinnest: 310 µm", "thinnest: 310\u00a0µm"}, "", "", false},
		{"narrow no-break space", []string{"thinnest: 310 µm", "thinnest: 310\u202fµm"}, "", "", false},
		{"millimetres for micrometres", []string{"thinnest: 310 µm", "thinnest: 310 mm"}, "outside-possible-range", "before.thinnest", true},
		{"the same in millimetres", []string{"thinnest: 310 µm", "thinnest: 0.310 mm"}, "", "", false},
		{"minus zero", []string{"thinnest: 310 µm", "thinnest: -0 µm"}, "value-unreadable", "before.thinnest", true},
		{"not a number", []string{"thinnest: 310 µm", "thinnest: NaN µm"}, "value-unreadable", "before.thinnest", true},
		{"infinite", []string{"thinnest: 310 µm", "thinnest: .inf"}, "value-unreadable", "before.thinnest", true},
		{"huge", []string{"thinnest: 310 µm", "thinnest: 1e308 µm"}, "value-unreadable", "before.thinnest", true},
		{"hexadecimal", []string{"thinnest: 310 µm", "thinnest: 0x136 µm"}, "value-unreadable", "before.thinnest", true},
		{"Arabic digits", []string{"thinnest: 310 µm", "thinnest: ٣١٠ µm"}, "value-unreadable", "before.thinnest", true},
		{"full-width digits", []string{"thinnest: 310 µm", "thinnest: ３１０ µm"}, "value-unreadable", "before.thinnest", true},
		{"two values", []string{"host-diameter: 8.25 mm", "host-diameter: 8.25/8.0"}, "value-unreadable", "trephination.host-diameter", true},
		{"a point without its zero", []string{"volume: 0.3 mL", "volume: .3 mL"}, "value-unreadable", "injections[1].volume", true},
		{"tenfold", []string{"volume: 0.3 mL", "volume: 30 mL"}, "outside-proposed-limit", "injections[1].volume", false},
		{"acuity without its scale", []string{"corrected: CF at 1 m", "corrected: 0.3"}, "value-unreadable", "before.corrected", true},
		{"suture size with a letter", []string{"[16-bite 10-0 nylon,", "[16-bite 10-O nylon,"}, "value-unreadable", "sutures.running", true},
		{"half past seven in words of two lands", []string{`hour: "5:30"`, "hour: half five"}, "value-unreadable", "events[1].hour", true},
		{"hour 13", []string{`hour: "5:30"`, "hour: 13"}, "value-unreadable", "events[1].hour", true},
	})
	e := schema.Read(source("a.yaml", sampleWith(t, "05-healed-hydrops-fluid.yaml", "thinnest: 310 µm", "thinnest: 0.310 mm")), options()).Cases[0].Entry
	if got := e.Before.Thinnest.Value().In().Round(0).String(); got != "310" {
		t.Errorf("0.310 mm is %s µm", got)
	}
	// 0.8 mL typed for 0.08: ten times the volume of the whole chamber's bubble.
	all := mustFind(t, "volume: 0.03 mL", "volume: 0.8 mL")
	if !slices.Contains(rules(all), "chamber-bubble-volume-whole-chamber") {
		t.Errorf("0.8 mL: %q", rules(all))
	}
}

// The depth set may exceed the thinnest point, because the blade cuts at the
// ring: that is looked at, not blocked (Cornea 2019;38:645: 450 to 550 µm at a
// 9 mm ring did well). A tenfold slip blocks.
func TestAwkwardDepths(t *testing.T) {
	noRing := []string{"thinnest: 372 µm, ring: 540 µm", "thinnest: 380 µm", "host-diameter: 7.75 mm", "host-diameter: 9.00 mm", "diameter: 8.00 mm", "diameter: 9.25 mm"}
	tryAwkward(t, "01-double-bubble.yaml", []awkward{
		{"620 of an unknown ring", slices.Concat(noRing, []string{"depth: 360 µm", "depth: 620 µm"}), "depth-beyond-thinnest", "trephination.depth", false},
		{"62", slices.Concat(noRing, []string{"depth: 360 µm", "depth: 62 µm"}), "outside-possible-range", "trephination.depth", true},
		{"6200", slices.Concat(noRing, []string{"depth: 360 µm", "depth: 6200 µm"}), "outside-possible-range", "trephination.depth", true},
		{"beyond the ring", []string{"depth: 360 µm", "depth: 540 µm"}, "depth-beyond-ring", "trephination.depth", true},
	})
}

// The side: nothing in words may contradict the eye. Seen from the front the
// nose lies at 3 o'clock of a right eye and at 9 o'clock of a left one.
func TestAwkwardSides(t *testing.T) {
	story := func(s string) []string { return []string{"patient:", "story: " + yamlQuoted(s) + "\npatient:"} }
	tryAwkward(t, "01-double-bubble.yaml", []awkward{
		{"other eye in the story", story("The left cornea was marked."), "story-other-eye", "story", false},
		{"this eye in the story", story("The right cornea was marked."), "", "", false},
		{"fellow eye named as such", story("The left fellow eye was covered."), "", "", false},
		{"nasal at 9 of a right eye", story("A vessel nasal at 9 o'clock was pressed."), "story-side-against-hour", "story", false},
		{"nasal at 3 of a right eye", story("A vessel nasal at 3 o'clock was pressed."), "", "", false},
		{"other eye in the plan", []string{"steroid: dexamethasone 0.1 % two-hourly", "steroid: dexamethasone 0.1 % two-hourly to the left eye"}, "words-other-eye", "plan.steroid", false},
		{"both eyes", []string{"operated: right", "operated: both"}, "unknown-code", "eye.operated", true},
		{"letters for the eye", []string{"operated: right", "operated: OD"}, "unknown-code", "eye.operated", true},
		{"not as listed", []string{"listed: right", "listed: left"}, "eye-not-as-listed", "eye.operated", true},
	})
}

// Conversion and complications that contradict themselves.
func TestAwkwardConversions(t *testing.T) {
	tryAwkward(t, "06-conversion.yaml", []awkward{
		{"stripped tissue grafted", []string{"membrane: left, membrane-reason: full thickness kept for the conversion", "membrane: removed-complete, stain: none"}, "conversion-with-stripped-tissue", "tissues[2].membrane", true},
		{"still lamellar", []string{"performed: converted-penetrating", "performed: air-big-bubble"}, "conversion-not-in-procedure", "procedure.performed", true},
		{"no donor count", []string{"ecd: 2600 cells/mm2, ", ""}, "conversion-without-donor-count", "tissues[2].ecd", true},
		{"not watertight", []string{"watertight: yes", "watertight: no"}, "conversion-not-watertight", "sutures.watertight", true},
		{"not consented", []string{"covers-conversion: yes", "covers-conversion: no"}, "conversion-not-consented", "consent.covers-conversion", false},
	})
	tryAwkward(t, "01-double-bubble.yaml", []awkward{
		{"none and a perforation", []string{"result: full-bubble", "result: perforation"}, "perforated-without-event", "events", true},
		{"silence", []string{"events: none\n", ""}, "complications-not-stated", "events", true},
		{"empty list", []string{"events: none", "events: []"}, "complications-not-stated", "events", true},
		{"not recorded", []string{"events: none", "events: not recorded"}, "not-recorded-refused", "events", true},
		{"empty list of codes", []string{"earlier-surgery: none", "earlier-surgery: []"}, "required-field", "eye.earlier-surgery", true},
		{"list of blanks", []string{"drugs: dexamethasone 4 mg subconjunctival", `drugs: ["", " "]`}, "required-field", "end.drugs", true},
		{"list with a blank", []string{"drugs: dexamethasone 4 mg subconjunctival", `drugs: [dexamethasone, ""]`}, "wrong-shape", "end.drugs", true},
		{"none and a treated tear in words", []string{"patient:", "story: The small tear was covered by a stromal patch.\npatient:"}, "treatment-without-event", "events", true},
	})
}

// Tissue labels: slips of the pen are refused by their check characters
// (ISBT 128 keyboard entry check, ISO 7064 mod 37-2; the vectors are tested in
// schema/ident), an expired tissue blocks.
func TestAwkwardTissues(t *testing.T) {
	label := func(s string) []string {
		return []string{"id: T-FIC-9001", "id: T-FIC-9001, donation: " + yamlQuoted(s)}
	}
	tryAwkward(t, "01-double-bubble.yaml", []awkward{
		{"letter O for zero", label("G1234 98 65432O H"), "value-unreadable", "tissues[1].donation", true},
		{"wrong check character", label("G1234 98 654321 B"), "value-unreadable", "tissues[1].donation", true},
		{"expired the day before", []string{"expires: 2026-09-15", "expires: 2026-09-07"}, "tissue-expired", "tissues[1].expires", true},
		{"expires today", []string{"expires: 2026-09-15", "expires: 2026-09-08"}, "tissue-expires-next-day", "tissues[1].expires", false},
		{"not released", []string{"release: released", "release: not-released"}, "tissue-not-released", "tissues[1].release", true},
		{"no identifier", []string{"id: T-FIC-9001", "id: \"not recorded: label lost\""}, "tissue-not-identified", "tissues[1].id", true},
	})
}

// What only shows beside the other cases of the run.
func TestAwkwardNeighbours(t *testing.T) {
	first := simple(t)
	again := func(pairs ...string) string {
		return simple(t, append([]string{"case: a1k7-double-bubble", "case: b2k8-double-bubble"}, pairs...)...)
	}
	left := []string{"listed: right, operated: right", "listed: left, operated: left", "id: T-FIC-9001", "id: T-FIC-9991"}
	later := []string{"date: 2026-09-08", "date: 2026-09-29", "begun: 2026-09-08", "begun: 2026-09-29", "expires: 2026-09-15", "expires: 2026-10-15"}
	for _, w := range []struct{ name, second, rule string }{
		{"the same entry twice", first, "case-twice"},
		{"the same operation twice", again(), "eye-grafted-twice-on-day"},
		{"both eyes on one day", again(left...), "both-eyes-on-day"},
		{"one tissue in two eyes", again("listed: right, operated: right", "listed: left, operated: left"), "tissue-on-another-patient"},
		{"one tissue in two patients", again("id: FIC-0101", "id: FIC-0999"), "tissue-on-another-patient"},
		{"two corneas of one donor in one patient", again(append(slices.Clone(later), left...)...), ""},
		{"a split tissue named as split once only", again("id: FIC-0101", "id: FIC-0999", "id: T-FIC-9001", `id: T-FIC-9001, split: "002"`), "tissue-on-another-patient"},
		{"the same eye three weeks later", again(append(slices.Clone(later), "id: T-FIC-9001", "id: T-FIC-9991")...), ""},
	} {
		t.Run(w.name, func(t *testing.T) {
			all, checked := sound(t, source("two.yaml", first+"---\n"+w.second), options())
			if w.rule == "" && len(all) != 0 || w.rule != "" && !slices.Contains(rules(all), w.rule) {
				t.Errorf("got %q, want %q", rules(all), w.rule)
			}
			complete := w.rule == "" || w.rule == "both-eyes-on-day" // unusual, not impossible
			if len(checked) != 2 || checked[0].Complete() != complete || checked[1].Complete() != complete {
				t.Errorf("%d cases, complete %v", len(checked), checked[0].Complete())
			}
			for _, f := range all {
				if len(f.Related) == 0 || !f.Related[0].Pos.Known() || strings.Contains(f.What, "FIC") {
					t.Errorf("%s does not show the other place: %+v", f.Rule, f.Related)
				}
			}
		})
	}
}

// Two parts of a split tissue serve two patients, and a tissue that went back
// unused may come again (Directive 2006/86/EC, Annex VII: the split number).
func TestTissueSplitOrReturned(t *testing.T) {
	second := []string{"case: a1k7-double-bubble", "case: b2k8-double-bubble", "id: FIC-0101", "id: FIC-0999"}
	split := simple(t, "id: T-FIC-9001", `id: T-FIC-9001, split: "001"`) + "---\n" + simple(t, append(second, "id: T-FIC-9001", `id: T-FIC-9001, split: "002"`)...)
	returned := sampleWith(t, "15-staged.yaml", "T-FIC-9015", "T-FIC-9001", "outcome: opened-not-used", "outcome: returned") + "---\n" + simple(t)
	for name, text := range map[string]string{"split": split, "returned": returned} {
		all, _ := sound(t, source("two.yaml", text), options())
		if slices.Contains(rules(all), "tissue-on-another-patient") {
			t.Errorf("%s: %q", name, rules(all))
		}
	}
}

// Field names: a slip is an error with the right word; a comma within braces is
// explained. Nothing is ever ignored.
func TestAwkwardFieldNames(t *testing.T) {
	for _, w := range []struct{ from, to, fix string }{
		{"depth: 360 µm", "depht: 360 µm", `"depth"`},
		{"host-diameter:", "host_diameter:", `"host-diameter"`},
		{"trephination:", "Trephination:", `"trephination"`},
		{"backup: {available: yes}", "backup: {available: yes, ring: 540 µm}", `"before"`},
		{"white-to-white: 11.8 mm", "white-to-white: 11,8 mm", "point for decimals"},
	} {
		all := mustFind(t, w.from, w.to)
		i := slices.IndexFunc(all, func(f schema.Finding) bool { return f.Rule == "unknown-field" })
		if i < 0 || !strings.Contains(all[i].Fix, w.fix) {
			t.Errorf("%s: %q", w.to, rules(all))
		}
	}
}

// The other place is the tissue itself, in its own file and under its own number.
func TestOtherPlaceAcrossFiles(t *testing.T) {
	spare := "outcome: grafted}\n  - {id: T-FIC-9009, bank: Lindow Tissue Bank, donor-age: 61 years, preservation: hypothermic, medium: cold storage medium, storage: 5 d, expires: 2026-09-15, release: released, outcome: opened-not-used, outcome-reason: torn}"
	files := []schema.Source{source("m1/a.yaml", simple(t, "outcome: grafted}", spare)),
		source("m2/b.yaml", "# another list\n"+simple(t, "case: a1k7-double-bubble", "case: b2k8-double-bubble", "id: FIC-0101", "id: FIC-0999", "id: T-FIC-9001", "id: T-FIC-9009"))}
	where := func(p schema.Pos) string { return fmt.Sprintf(" at %s:%d:%d", p.File, p.Line, p.Col) }
	batch := schema.NewBatch()
	var cases []*schema.Case
	for _, f := range files {
		cases = append(cases, schema.Read(f, options()).Cases...)
	}
	for _, c := range cases {
		batch.Add(c)
	}
	var got []string
	for _, c := range cases {
		for _, f := range check(t, c, options(), batch).Findings() {
			if f.Rule == "tissue-on-another-patient" {
				for _, r := range f.Related {
					got = append(got, f.Path+where(f.Pos)+" see "+r.Path+where(r.Pos))
				}
			}
		}
	}
	at := func(file int, path string) string {
		ids := cases[file].Entry.Tissues
		return path + where(ids[len(ids)-1].ID.Pos())
	}
	want := []string{at(0, "tissues[2].id") + " see " + at(1, "tissues[1].id"), at(1, "tissues[1].id") + " see " + at(0, "tissues[2].id")}
	if !slices.Equal(got, want) {
		t.Errorf("got %q, want %q", got, want)
	}
}
