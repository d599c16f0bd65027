package schema

import (
	"fmt"
	"strings"
	"testing"
	"time"
)

// entryOf reads the few fields of a computation; what the entry lacks is no
// concern here.
func entryOf(t *testing.T, text string) *Entry {
	t.Helper()
	r := Read(Source{Name: "entry.yaml", Data: []byte(text)}, Options{Now: galleryNow})
	if len(r.Findings) > 0 || len(r.Cases) != 1 {
		t.Fatalf("%s\nread as %d cases, %v", text, len(r.Cases), r.Findings)
	}
	for _, f := range r.Cases[0].findings {
		t.Fatalf("%s\n%s", text, f.Layout())
	}
	return r.Cases[0].Entry
}

// said gives the computed values as text, one per item; "-" is unknown.
func said(t *testing.T, e *Entry, name string, o Options) string {
	t.Helper()
	d, ok := Content().derived[name]
	if !ok {
		t.Fatalf("no computed value %s", name)
	}
	s := &scope{e: e, memo: map[*Derived][]DerivedValue{}, o: o}
	var out []string
	for _, v := range s.derive(d) {
		switch {
		case !v.Known:
			out = append(out, "-")
		case v.HasNumber:
			out = append(out, v.Number.String())
		default:
			out = append(out, v.Code)
		}
	}
	return strings.Join(out, " ")
}

type example struct{ entry, name, want string }

func hold(t *testing.T, examples []example) {
	t.Helper()
	for _, x := range examples {
		if got := said(t, entryOf(t, x.entry), x.name, Options{}); got != x.want {
			t.Errorf("%s of %s\n is %s, want %s", x.name, x.entry, got, x.want)
		}
	}
}

// Volumes of a sphere, V = pi d^3 / 6, to the thousandth of a millilitre:
// 3 mm 0.014, 4 mm 0.034, 5.3 mm 0.08, 5.8 mm 0.10; 3.5 mm holds 0.022, of
// which 0.03 mL is 1.34. Arithmetic, worked by hand.
func TestChamberBubble(t *testing.T) {
	for _, c := range []struct{ diameter, volume, sphere, ratio string }{
		{"3 mm", "0.014 mL", "0.01414", "0.99"},
		{"4 mm", "0.034 mL", "0.03351", "1.01"},
		{"5.3 mm", "0.08 mL", "0.07795", "1.03"},
		{"5.8 mm", "0.1 mL", "0.1022", "0.98"},
		{"3.5 mm", "0.03 mL", "0.02245", "1.34"},
		{"3.5 mm", "80 µL", "0.02245", "3.56"},
		{"0 mm", "0.03 mL", "0", "-"},
	} {
		e := entryOf(t, fmt.Sprintf("chamber-bubble: {diameter: %s, volume: %s}", c.diameter, c.volume))
		if got := said(t, e, "sphere-volume", Options{}); got != c.sphere {
			t.Errorf("%s: sphere %s, want %s", c.diameter, got, c.sphere)
		}
		if got := said(t, e, "chamber-volume-ratio", Options{}); got != c.ratio {
			t.Errorf("%s in %s: ratio %s, want %s", c.volume, c.diameter, got, c.ratio)
		}
	}
}

// Arithmetic of the trephination. The first shares are those of the worked
// cases of the trade: 67, 62.5, 70, 48, 63 and 65 % of the ring.
func TestTrephination(t *testing.T) {
	hold(t, []example{
		{"before: {ring: 540 µm}\ntrephination: {depth: 360 µm}", "depth-percent", "66.7"},
		{"before: {ring: 560 µm}\ntrephination: {depth: 350 µm}", "depth-percent", "62.5"},
		{"before: {ring: 640 µm}\ntrephination: {depth: 450 µm}", "depth-percent", "70.3"},
		{"before: {ring: 620 µm}\ntrephination: {depth: 300 µm}", "depth-percent", "48.4"},
		{"before: {ring: 0.6 mm}\ntrephination: {depth: 380 µm}", "depth-percent", "63.3"},
		{"before: {ring: 505 µm}\ntrephination: {depth: 330 µm}", "depth-percent", "65.3"},
		{"before: {ring: 505 µm}", "depth-percent", "-"},
		{"before: {ring: 0 µm}\ntrephination: {depth: 330 µm}", "depth-percent", "-"},
		{"before: {thinnest: 280 µm}\ntrephination: {depth: 330 µm}", "depth-percent-thinnest", "117.9"},
		{"before: {ring: 540 µm}\ntrephination: {depth: 360 µm, stated-percent: 80 %}", "depth-percent-gap", "13.3"},
		{"before: {white-to-white: 11.8 mm}\ntrephination: {host-diameter: 7.75 mm}", "limbus-distance", "2.025"},
		{"before: {white-to-white: 11.0 mm}\ntrephination: {host-diameter: 9.0 mm, offset: 1.2 mm}", "limbus-distance", "-0.2"},
		{"trephination: {host-diameter: 8.00 mm}", "host-circumference", "25.1"},
		{"before: {ring: 540 µm}\ntrephination: {lamellar-depth: 470 µm, laser-residual: 70 µm}", "laser-sum-gap", "0.0"},
		{"before: {ring: 500 µm}\ntrephination: {lamellar-depth: 380 µm, laser-residual: 60 µm}", "laser-sum-gap", "12.0"},
		{"trephination: {side-cut: 110 °, lamellar-depth: 'not recorded: not known'}", "laser-values", "1"},
	})
}

// Cut points of the Amsler-Krumeich table (source kc-grading): mean K up to 48,
// 53, 55 D; thickness above 400, 300 to 400, below. 2 stands for 1 and 2 where the
// table has no thickness. Ends of the ranges belong to the lower stage.
func TestStaging(t *testing.T) {
	for k, stage := range map[string]string{"47.9": "1", "48": "1", "48.1": "2", "52.6": "2", "53.0": "2", "54.1": "3", "55": "3", "63": "4"} {
		hold(t, []example{{"before: {k-mean: " + k + " D}", "stage-by-curvature", stage}})
	}
	for um, stage := range map[string]string{"401": "2", "400": "3", "398": "3", "372": "3", "300": "3", "299": "4", "280": "4"} {
		hold(t, []example{{"before: {thinnest: " + um + " µm}", "stage-by-thickness", stage}})
	}
	hold(t, []example{
		{"before: {k1: 52.0 D, k2: 56.5 D}", "mean-k", "54.25"},
		{"before: {k1: 52.0 D, k2: 56.5 D, k-mean: 54.0 D}", "mean-k", "54.0"},
		{"before: {k1: 52.0 D, k2: 56.5 D}", "stage-by-curvature", "3"},
		{"before: {k1: 52.0 D, k2: 56.5 D, k-mean: 57 D}", "k-mean-outside", "yes"},
		{"before: {k1: 56.5 D, k2: 52.0 D, k-mean: 54 D}", "k-mean-outside", "no"},
		{"before: {k2: 56.5 D, k-max: 55.0 D}", "k2-above-k-max", "1.5"},
		{"before: {thickest: 640 µm, thinnest: 372 µm}", "thickness-range", "268"},
		// 6/12 is 0.30 and 20/30 is 0.18 (published table of acuity notations).
		{"before: {corrected: 6/12}", "corrected-logmar", "0.30"},
		{"before: {corrected: 20/30}", "corrected-logmar", "0.18"},
		{"before: {corrected: CF 1 m}", "corrected-logmar", "-"},
	})
}

// The worked cases of the trade give these ages at surgery: 24, 31, 38, 11, 46, 43.
func TestAges(t *testing.T) {
	for _, c := range []struct{ born, day, age string }{
		{"2002-03-14", "2026-09-08", "24"}, {"1994-11-02", "2026-09-08", "31"}, {"1988-06-21", "2026-09-15", "38"},
		{"2015-01-30", "2026-09-15", "11"}, {"1979-12-05", "2026-09-22", "46"}, {"1983-04-17", "2026-09-29", "43"},
		{"2026-09-09", "2026-09-08", "-"}, {"2026-09-08", "2026-09-08", "0"},
	} {
		hold(t, []example{{fmt.Sprintf("patient: {born: %s}\nepisode: {date: %s}", c.born, c.day), "age", c.age}})
	}
	hold(t, []example{{"patient: {born: 2002-03-14, stated-age: 34 years}\nepisode: {date: 2026-09-08}", "stated-age-gap", "10"}})
}

// Wall clock of the theatre, and zoned moments for what is compared with now.
func TestTimes(t *testing.T) {
	const day = "episode: {date: 2026-09-08, zone: Europe/London, "
	hold(t, []example{
		{day + "start: 09:05, end: 10:02}", "duration", "57"},
		{day + "start: 23:30, end: 00:40}", "duration", "70"},
		{day + "start: 23:30, end: 00:40}", "end-before-start", "yes"},
		{day + "start: 23:30, end: 00:40, end-date: 2026-09-09}", "duration", "70"},
		{day + "start: 23:30, end: 00:40, end-date: 2026-09-09}", "end-before-start", "no"},
		{day + "start: 09:05, end: 10:02, end-date: 2026-09-07}", "duration", "-1383"},
		{day + "start: 10:02, end: 09:05}", "duration", "1383"},
		{day + "start: 09:05, end: 10:02, begun: 2026-09-08T10:01+01:00}", "begun-before-end", "yes"},
		{day + "start: 09:05, end: 10:02, begun: 2026-09-08T09:02Z}", "begun-before-end", "no"},
		{day + "start: 23:30, end: 00:40, begun: 2026-09-09T00:30+01:00}", "begun-before-end", "yes"},
		{day + "begun: 2026-09-18T10:20+01:00}", "delay-to-note", "10"},
		{day + "end: 10:02, left-recovery: 11:30, begun: 2026-09-08T13:20+01:00}", "recovery-before-note", "yes"},
		{day + "end: 10:02, left-recovery: 11:30, begun: 2026-09-08T11:20+01:00}", "recovery-before-note", "no"},
		{day + "start: 22:00, end: 23:50, left-recovery: 00:50, begun: 2026-09-09T00:20+01:00}", "recovery-before-note", "no"},
		{day + "start: 09:05, end: 10:02}\nevents: [{seen-at: 09:40}, {seen-at: 08:40}, {}]", "seen-outside-operation", "no yes -"},
		{day + "start: 23:30, end: 00:40}\nevents: [{seen-at: 00:10}, {seen-at: 12:00}]", "seen-outside-operation", "no yes"},
	})
	// The clocks go back at 02:00 on 25 October 2026 (Directive 2000/84/EC, kept by
	// the zone data): 00:30 summer time is 23:30 UTC, two hours before 01:30 UTC.
	back := entryOf(t, "episode: {date: 2026-10-25, end-date: 2026-10-25, zone: Europe/London, start: '00:30+01:00', end: '01:30Z'}")
	if got := said(t, back, "duration", Options{}); got != "120" {
		t.Errorf("over the change of the clocks: %s minutes", got)
	}
	e := entryOf(t, day+"start: 09:05, end: 10:02}\nvisits: [{date: 2026-09-09}, {date: 2026-09-08}, {}]")
	now := Options{Now: time.Date(2026, 9, 8, 23, 30, 0, 0, time.UTC)} // the 9th in London
	for name, want := range map[string]string{"days-since-surgery": "1", "end-in-future": "no", "visit-in-future": "no no -"} {
		if got := said(t, e, name, now); got != want {
			t.Errorf("%s is %s, want %s", name, got, want)
		}
	}
	early := Options{Now: time.Date(2026, 9, 8, 8, 30, 0, 0, time.UTC)}
	for name, want := range map[string]string{"days-since-surgery": "0", "end-in-future": "yes", "visit-in-future": "yes no -"} {
		if got := said(t, e, name, early); got != want {
			t.Errorf("before the end %s is %s, want %s", name, got, want)
		}
	}
	if got := said(t, e, "days-since-surgery", Options{}); got != "-" {
		t.Errorf("without a clock: %s days", got)
	}
}

// Places on the clock face: the shorter way round, to the nearest paracentesis.
func TestEntryToParacentesis(t *testing.T) {
	e := entryOf(t, "paracentesis: {hours: [11, '5:30']}\ninjections: [{hour: 1}, {hour: '11:30'}, {hour: 6}, {}]")
	if got := said(t, e, "entry-paracentesis-gap", Options{}); got != "2 0.5 0.5 -" {
		t.Errorf("gaps %s", got)
	}
}

func TestAttemptsAndEvents(t *testing.T) {
	const three = "injections: [{medium: air, result: emphysema-only}, {medium: air, result: reflux}, {medium: viscoelastic, result: full-bubble}]"
	hold(t, []example{
		{three, "attempts", "3"}, {three, "air-attempts", "2"}, {three, "viscoelastic-attempts", "1"},
		{three, "fluid-attempts", "0"}, {three, "failed-air-attempts", "yes"},
		{"injections: none", "air-attempts", "0"}, {"injections: [{gauge: 27 G}]", "air-attempts", "-"},
		{"injections: [{medium: air}]", "failed-air-attempts", "-"},
		{"events: none", "no-complications", "yes"}, {"events: [{kind: bleeding}]", "no-complications", "no"},
		{"case: silent-about-events", "no-complications", "-"}, {"case: silent-about-events", "tears", "-"},
		{"events: none", "tears", "0"},
		{"events: [{kind: microperforation, size: 0.4 mm}, {kind: macroperforation, size: 3500 µm}, {kind: bleeding, size: 9 mm}]", "tears", "2"},
		{"events: [{kind: microperforation, size: 0.4 mm}, {kind: macroperforation, size: 3500 µm}, {kind: bleeding, size: 9 mm}]", "largest-tear", "3.500"},
		{"events: [{detail: closed at once}, {managed-by: closed}, {managed-by: observed}]", "event-told", "yes yes no"},
		{"procedure: {performed: converted-penetrating}", "converted", "yes"},
		{"team: [{role: [surgeon], grade: trainee}]", "trainee-operates", "yes"},
		{"team: [{role: [surgeon], grade: fellow}, {role: [writer], grade: trainee}]", "trainee-operates", "no"},
	})
}
