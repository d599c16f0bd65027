package note_test

import (
	"os"
	"regexp"
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
