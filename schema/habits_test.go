package schema

import (
	"os"
	"strings"
	"testing"
)

func withTechnique(t *testing.T, technique, entry string) (*Entry, *TechniqueFile) {
	t.Helper()
	o := Options{Now: galleryNow}
	o.Technique = ReadTechnique(Source{Name: "technique.yaml", Data: []byte(technique)}, o)
	if len(o.Technique.Findings) > 0 {
		t.Fatal(o.Technique.Findings)
	}
	return Read(Source{Name: "c.yaml", Data: []byte(entry)}, o).Cases[0].Entry, o.Technique
}

// One answer that differs stops that habit and its details, and no other; what
// was not filled is told with its reason.
func TestHabitsAreDecidedOneByOne(t *testing.T) {
	technique, err := os.ReadFile("../testdata/technique.yaml")
	if err != nil {
		t.Fatal(err)
	}
	sample, err := os.ReadFile("../testdata/entries/16-with-technique.yaml")
	if err != nil {
		t.Fatal(err)
	}
	whole, _ := withTechnique(t, string(technique), string(sample))
	other := strings.Replace(string(sample), "plan: {", "plan: {steroid: prednisolone 1 % hourly, ", 1)
	if other == string(sample) {
		t.Fatal("the sample has no plan in braces")
	}
	e, file := withTechnique(t, string(technique), other)
	whole.walk(func(r *Row, item int, s slot) {
		if s.Origin() == Technique && r.Path() != "plan.steroid" && e.slot(r, item).Origin() != Technique {
			t.Errorf("%s was dropped because the steroid differs", r.Path())
		}
	})
	why := map[string]string{}
	for _, h := range file.Habits(e) {
		if h.Filled == (h.Why != "") {
			t.Errorf("%s: filled %v, why %q", h.Path, h.Filled, h.Why)
		}
		why[h.Path] = h.Why
	}
	if why["plan.steroid"] != saysElse {
		t.Errorf("the steroid: %q", why["plan.steroid"])
	}
}

// A detail goes with that whose detail it is: the drug of a block is not that of
// another block.
func TestHabitGoesWithItsMain(t *testing.T) {
	const technique = "anaesthesia: {type: peribulbar, given-by: surgeon, drug: lidocaine 2 %, volume: 5 mL, antisepsis: 5 %}\nparacentesis: {blade: 15 degree}\n"
	e, file := withTechnique(t, technique, "anaesthesia: {type: sub-tenon}\nparacentesis: {made: no}\n")
	if !e.Anaesthesia.Drug.Blank() || !e.Anaesthesia.Volume.Blank() || !e.Anaesthesia.GivenBy.Blank() || !e.Anaesthesia.Antisepsis.Recorded() {
		t.Error("the details of another block were filled, or the antisepsis was not")
	}
	why := map[string]string{}
	for _, h := range file.Habits(e) {
		why[h.Path] = h.Why
	}
	for path, want := range map[string]string{"anaesthesia.type": saysElse, "anaesthesia.drug": saysElse + " under 'type'", "paracentesis.blade": stepNotMade} {
		if why[path] != want {
			t.Errorf("%s: %q, want %q", path, why[path], want)
		}
	}
}
