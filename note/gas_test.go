package note_test

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/fstest"

	"graftnote/note"
	"graftnote/schema"
)

// filled is the sample with a microperforation, with what is left in the chamber
// exchanged.
func filled(t *testing.T, fill string) schema.Checked {
	t.Helper()
	b, err := os.ReadFile("../testdata/entries/03-type-2-microperforation.yaml")
	if err != nil {
		t.Fatal(err)
	}
	text := strings.Replace(string(b), "chamber-fill: air", "chamber-fill: "+fill, 1)
	if text == string(b) && fill != "air" {
		t.Fatal("the sample leaves no air")
	}
	file := filepath.Join(t.TempDir(), "case.yaml")
	if err := os.WriteFile(file, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	return checkedCases(t, file)[0]
}

// A gas that expands goes home with the patient: what it is and what must not
// happen until it is absorbed stands in front of the note, and of the brief note
// (gas-alert-2018 of sources.yaml). Air does not expand and has no such caution;
// the brief note says what was left, posture, pressure and pupil all the same.
func TestGasLeftInTheEye(t *testing.T) {
	cautions := []string{"nitrous oxide", "flight", "altitude", "absorbed", "Local policy", "anaesthetist", "wristband"}
	for fill, gas := range map[string]string{"sf6, gas-strength: 20 %": "sulphur hexafluoride 20 %", "c3f8, gas-strength: 12 %": "perfluoropropane 12 %", "c3f8": "perfluoropropane", "air": ""} {
		d := built(t, filled(t, fill))
		brief := ""
		for _, i := range d.Brief {
			if i.Label == "Findings" {
				brief = i.Value
			}
		}
		for place, text := range map[string]string{"alerts": strings.Join(d.Alerts, " "), "text": squeeze(d.Text())} {
			for _, c := range append(cautions, "left in the eye ("+gas+")") {
				if has := containsFold(text, c); has != (gas != "") && !(gas == "" && place == "text" && c != "nitrous oxide" && c != "flight") {
					t.Errorf("%s, %s: %q: %v", fill, place, c, has)
				}
			}
		}
		for _, must := range []string{"Left in the anterior chamber: ", "filling 40 %", "Lying on the back", "Pupil: "} {
			if !strings.Contains(brief, must) {
				t.Errorf("%s: the brief note lacks %q: %s", fill, must, brief)
			}
		}
	}
}

// A site words the caution in its own way and can't leave it out.
func TestGasCautionCannotBeLeftOut(t *testing.T) {
	for text, want := range map[string]string{
		"[words]\ngas-left:\n":               "the word \"gas-left\" is empty",
		"[words]\ngas-left: Ask the ward.\n": "the word \"gas-left\" lacks {gas}",
	} {
		if _, err := note.LoadPhrases(fstest.MapFS{"phrases.txt": {Data: []byte(text)}}); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v", text, err)
		}
	}
	own, err := note.LoadPhrases(fstest.MapFS{"phrases.txt": {Data: []byte("[brief-end]\n[end]\n[words]\ngas-left: {gas} in the eye: yellow wristband, ward protocol 7.\n")}})
	if err != nil {
		t.Fatal(err)
	}
	d, err := note.Build(filled(t, "sf6, gas-strength: 20 %"), own, note.Options{})
	if err != nil {
		t.Fatal(err)
	}
	said := "sulphur hexafluoride 20 % in the eye: yellow wristband"
	if !strings.Contains(strings.Join(d.Alerts, " "), said) {
		t.Errorf("alerts: %q", d.Alerts)
	}
}
