package note_test

import (
	"os"
	"regexp"
	"slices"
	"strings"
	"testing"

	"graftnote/note"
	"graftnote/schema"
)

// changed builds the note of a sample with parts of its text replaced: pairs of
// what stands there and what is put in its place.
func changed(t *testing.T, sample string, swaps ...string) note.Document {
	t.Helper()
	raw, err := os.ReadFile("../testdata/entries/" + sample + ".yaml")
	if err != nil {
		t.Fatal(err)
	}
	text := string(raw)
	for i := 0; i < len(swaps); i += 2 {
		if !strings.Contains(text, swaps[i]) {
			t.Fatalf("%s has no %q", sample, swaps[i])
		}
		text = strings.Replace(text, swaps[i], swaps[i+1], 1)
	}
	c, err := schema.Check(schema.Read(schema.Source{Name: "e.yaml", Data: []byte(text)}, asked).Cases[0], asked, nil)
	if err != nil {
		t.Fatal(err)
	}
	return built(t, c)
}

// flat is the text of the note in one line.
func flat(d note.Document) string { return squeeze(d.Text()) }

// While the eye operated and the eye listed contradict each other, no page names
// one of them: the wrong one would be read (laterality, see eye-not-as-listed).
func TestEyeNotAgreed(t *testing.T) {
	d := changed(t, "01-double-bubble", "operated: right", "operated: left",
		"before: {", "before: {eye: left, ", "paracentesis: {", "paracentesis: {eye: right, ")
	said := d.Text() + d.Banner.Eye
	for _, i := range append(d.Brief, d.Unconfirmed...) {
		said += "\n" + i.Label + ": " + i.Value
	}
	if side := regexp.MustCompile(`(?i)\b(left|right) eye|\bnasal|\btemporal`).FindString(said); side != "" {
		t.Errorf("the note says %q", side)
	}
	if d.Diagram != nil {
		t.Errorf("a diagram of the %s is drawn", d.Diagram.Eye)
	}
	if d.Banner.Eye != "EYE NOT AGREED" || !strings.Contains(squeeze(said), "No diagram is drawn: the eye operated and the eye on the consent and the list do not agree.") {
		t.Errorf("banner %q, or nothing says why there is no diagram", d.Banner.Eye)
	}
}

// The six-item note names who supervised and what they did (accreditor's
// RC.02.01.03: surgeon and assistants).
func TestBriefNamesTheSupervisor(t *testing.T) {
	const did = "manual dissection and the air tamponade"
	for swap, want := range map[string]string{
		"role: [supervisor, signer], did: " + did: "Joss Keld; Imara Voss (supervising surgeon; did: " + did + ")",
		"role: [supervisor, signer]":              "Joss Keld; Imara Voss (supervising surgeon)",
		"role: [surgeon, supervisor, signer]":     "Imara Voss, Joss Keld",
	} {
		d := changed(t, "08-regraft", "role: [supervisor, signer], grade: consultant, did: supervised throughout and placed four sutures", swap)
		if got := d.Brief[0].Value; got != want {
			t.Errorf("%s: %q", swap, got)
		}
	}
}

// The steps stand in the order in which they happened.
func TestStepsInTheirOrder(t *testing.T) {
	for debulked, order := range map[string][]string{
		"before-injection": {"A bubble of air", "The stroma was debulked before the injection; 2/3 of it", "Separation was attempted", "Signs seen", "The bubble was opened"},
		"after-injection":  {"A bubble of air", "Separation was attempted", "Signs seen", "The stroma was debulked after the injection; 2/3 of it", "The bubble was opened"},
	} {
		text := flat(changed(t, "01-double-bubble", "debulked: after-injection", "debulked: "+debulked))
		for _, words := range order {
			_, rest, found := strings.Cut(text, words)
			if !found {
				t.Errorf("%s: %q is not in its place", debulked, words)
				break
			}
			text = rest
		}
		if strings.Contains(text, "debulked") {
			t.Errorf("%s: told twice", debulked)
		}
	}
}

// The diagram draws what is recorded; what has no recorded place is listed with
// the reason (the main job: nothing is claimed that the entry does not say).
func TestDiagramPlacesOnlyWhatIsRecorded(t *testing.T) {
	const entry = "hour: 1 o'clock, "
	for _, c := range []struct{ old, new, not, legend string }{
		{"position: central", "position: eccentric", "Chamber bubble at its widest 3.5 mm: it lay eccentric, where is not recorded", ""},
		{", position: central", "", "Chamber bubble at its widest 3.5 mm: its position is not recorded", ""},
		{"centration: pupil", "centration: pupil, offset: 0.5 mm", "Offset of the trephination by 0.5 mm: its direction is not recorded", "Host trephination 7.75 mm, drawn on the centre of the limbus"},
		{"centration: pupil", "centration: pupil, offset-hour: 6 o'clock", "Offset of the trephination towards 6 o'clock: how far is not recorded", "Host trephination 7.75 mm, drawn on the centre of the limbus"},
		{"centration: pupil", "centration: pupil, offset: 0.5 mm, offset-hour: 6 o'clock", "", "Host trephination 7.75 mm"},
		{"centration: pupil", "centration: geometric", "", "Host trephination 7.75 mm"},
		{"centration: pupil", "centration: cone", "", "Host trephination 7.75 mm, drawn on the centre of the limbus"},
		{entry, entry + "site: peripheral, ", "Attempt 1, air, 1 o'clock: entered peripheral to the groove, how far out is not recorded", ""},
		{entry, entry + "site: debulked-bed, ", "Attempt 1, air, 1 o'clock: entered through the debulked bed, how far out is not recorded", ""},
		{entry, entry + "site: in-groove, ", "", "Attempt 1, air, 1 o'clock"},
		{entry, "", "Attempt 1, air: clock hour is not recorded", ""},
		{"made: yes", "made: no", "Paracentesis, 11 o'clock: it is recorded that none was made", ""},
		{"white-to-white: 11.8 mm, ", "", "Paracentesis, 11 o'clock: the limbus is not recorded", ""},
		{"host-diameter: 7.75 mm, ", "", "16 interrupted stitches: the trephination is not recorded", ""},
		{"host-diameter: 7.75 mm, ", "", "Attempt 1, air, 1 o'clock: the trephination is not recorded", ""},
	} {
		g := changed(t, "01-double-bubble", c.old, c.new).Diagram
		if c.not == "" && len(g.NotDrawn) > 0 || c.not != "" && !slices.Contains(g.NotDrawn, c.not) {
			t.Errorf("%s: not drawn: %q, want %q", c.new, g.NotDrawn, c.not)
		}
		if c.legend != "" && !slices.Contains(g.Legend, c.legend) {
			t.Errorf("%s: measures: %q, want %q", c.new, g.Legend, c.legend)
		}
		what, _, _ := strings.Cut(c.not, ": ")
		drawn := slices.ContainsFunc(g.Marks, func(m note.Mark) bool { return m.Text == what })
		if drawn || strings.HasPrefix(what, "Chamber") && g.Bubble != nil || strings.HasPrefix(what, "16") && g.Stitches != nil {
			t.Errorf("%s: %s is drawn all the same", c.new, what)
		}
	}
}

// Sentences that fit what was recorded, and claim no more.
func TestSentencesFit(t *testing.T) {
	const hours = "hours: 11 o'clock"
	for _, c := range []struct{ sample, old, new, want string }{
		{"01-double-bubble", hours, "hours: [10 o'clock, 2:30], blade: 15 degree", "Paracentesis was made at 10 o'clock and 2:30 (blade: 15 degree)."},
		{"01-double-bubble", hours, `hours: "not recorded: not noted"`, "Paracentesis: clock hours: not recorded (not noted)."},
		{"04-child-layered", "obtained: none", "obtained: none", "No separation by injection was planned, and none was obtained. Plane"},
		{"04-child-layered", "planned: manual-layered", "planned: air-big-bubble", "No separation was obtained; no attempt at one is recorded. Plane"},
		{"04-child-layered", "planned: manual-layered, ", "", "No separation was obtained; no attempt at one is recorded. Plane"},
		{"04-child-layered", "separation:", "injections: \"not recorded: sheet lost\"\nseparation:", "FINDINGS No separation was obtained. Plane"},
		{"02-failed-bubble-manual", "obtained: none", "obtained: none", "FINDINGS No separation was obtained. Bubble type: not applicable. Plane"},
		{"12-not-recorded", "tissues:", "tissues:", "The graft was sutured with 16 interrupted stitches. "},
	} {
		if text := flat(changed(t, c.sample, c.old, c.new)); !strings.Contains(text, c.want) {
			t.Errorf("%s, %s: no %q", c.sample, c.new, c.want)
		}
	}
}
