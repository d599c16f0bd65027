package note_test

import (
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"testing/fstest"
	"time"

	"graftnote/note"
	"graftnote/schema"
	"graftnote/schema/quantity"
)

var update = flag.Bool("update", false, "rewrite the golden notes; read them afterwards")

var asked = schema.Options{Now: time.Date(2026, 11, 25, 12, 0, 0, 0, time.UTC)}

// checkedCases reads a file of samples; a site and a technique stand beside them.
func checkedCases(t *testing.T, file string) []schema.Checked {
	t.Helper()
	o := asked
	if b, err := os.ReadFile("../testdata/technique.yaml"); err == nil && strings.Contains(file, "with-technique") {
		o.Technique = schema.ReadTechnique(schema.Source{Name: "technique.yaml", Data: b}, o)
	}
	b, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	var out []schema.Checked
	for _, cs := range schema.Read(schema.Source{Name: filepath.Base(file), Data: b}, o).Cases {
		c, err := schema.Check(cs, o, nil)
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, c)
	}
	return out
}

func samples(t *testing.T) []string {
	t.Helper()
	files, err := filepath.Glob("../testdata/entries/*.yaml")
	if err != nil || len(files) < 10 {
		t.Fatalf("samples: %d files, %v", len(files), err)
	}
	return files
}

func built(t *testing.T, c schema.Checked) note.Document {
	t.Helper()
	p, err := note.LoadPhrases(nil)
	if err != nil {
		t.Fatal(err)
	}
	d, err := note.Build(c, p, note.Options{})
	if err != nil {
		t.Fatal(err)
	}
	return d
}

// The golden notes were read by eye against their entries.
func TestGoldenNotes(t *testing.T) {
	for _, file := range samples(t) {
		var got strings.Builder
		for _, c := range checkedCases(t, file) {
			got.WriteString(built(t, c).Text() + "\n")
		}
		golden := filepath.Join("../testdata/golden", strings.TrimSuffix(filepath.Base(file), ".yaml")+".note.txt")
		if *update {
			if err := os.MkdirAll(filepath.Dir(golden), 0o755); err != nil {
				t.Fatal(err)
			}
			if err := os.WriteFile(golden, []byte(got.String()), 0o644); err != nil {
				t.Fatal(err)
			}
		}
		want, err := os.ReadFile(golden)
		if err != nil {
			t.Fatal(err)
		}
		if got.String() != string(want) {
			t.Errorf("%s: the note reads differently from %s", file, golden)
		}
	}
}

// Whatever was recorded can be read in the note: the rule that the note is whole
// (42 CFR 482.51(b)(6) as read by survey tag A-0959 asks for each element).
func TestNothingRecordedIsMissing(t *testing.T) {
	phrases, err := note.LoadPhrases(nil)
	if err != nil {
		t.Fatal(err)
	}
	for _, file := range samples(t) {
		for _, c := range checkedCases(t, file) {
			text := squeeze(built(t, c).Text())
			c.Entry().Walk(func(r *schema.Row, item int, f schema.Field) {
				words := ""
				if reason, gap := f.NotRecorded(); gap {
					words = reason
				} else if f.Recorded() {
					words = phrases.Say(f)
				}
				switch r.Path() {
				case "graftnote", "from-technique", "episode.begun":
					return
				case "sutures.interrupted": // said as a count with size and material
					words, _, _ = strings.Cut(words, " x ")
				case "sutures.running": // size and material are said once, by their own fields
					for _, st := range f.Any().([]quantity.Stitches) {
						if each := fmt.Sprintf("%d bites", st.Count); !containsFold(text, each) {
							t.Errorf("%s: %s is not in the note", filepath.Base(file), each)
						}
					}
					return
				case "sutures.pattern":
					if f.Text() == "interrupted-and-running" {
						words = "interrupted stitches and a running suture"
					}
				}
				if r.ListName() == "yes-no" || r.ListName() == "none-only" {
					return // said by a sentence of its own; see TestYesAndNoAreSaid
				}
				if words != "" && !containsFold(text, squeeze(words)) && !eachSaid(text, f) && !noneSentence(f) {
					t.Errorf("%s: %s is recorded but not in the note", filepath.Base(file), r.Path())
				}
			})
		}
	}
}

// noneSentence is an answer "none" or "0", which the note says in a sentence.
func noneSentence(f schema.Field) bool {
	return f.Text() == "none" || f.Text() == "0" || f.Text() == "unknown" || f.Text() == "no" || f.Text() == "complete" || f.Text() == "partial" || f.Text() == "nothing" || f.Text() == "not-determinable"
}

// eachSaid looks for the words of a list answer one by one.
func eachSaid(text string, f schema.Field) bool {
	list, ok := schema.Content().Lists[f.Row().ListName()]
	if !ok {
		for _, item := range f.Texts() {
			if !containsFold(text, squeeze(item)) {
				return false
			}
		}
		return len(f.Texts()) > 1
	}
	for _, c := range f.Codes() {
		if w, _ := list.Words(string(c)); !containsFold(text, w) {
			return false
		}
	}
	return len(f.Codes()) > 0
}

func containsFold(text, words string) bool {
	return strings.Contains(strings.ToLower(text), strings.ToLower(words))
}

func squeeze(s string) string {
	return strings.Join(strings.Fields(strings.ReplaceAll(s, ">", " ")), " ")
}

// Each yes and no changes the text: none of them is swallowed.
func TestYesAndNoAreSaid(t *testing.T) {
	const path = "../testdata/entries/01-double-bubble.yaml"
	raw, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	for _, swap := range [][2]string{{"interface-washed: yes", "interface-washed: no"}, {"covers-conversion: yes", "covers-conversion: no"},
		{"seated: yes", "seated: no"}, {"interface-clear: yes", "interface-clear: no"}, {"counts-correct: yes", "counts-correct: no"},
		{"aqueous-released: yes", "aqueous-released: no"}, {"inflamed: no", "inflamed: yes"}, {"endothelium-diseased: no", "endothelium-diseased: yes"},
		{"available: yes", "available: no"}, {"blood-loss: none", "blood-loss: minimal"}, {"hydrops: none", "hydrops: healed"}, {"scar: none", "scar: posterior"}} {
		changed := strings.Replace(string(raw), swap[0], swap[1], 1)
		if changed == string(raw) {
			t.Fatalf("the sample has no %q", swap[0])
		}
		read := func(s string) string {
			cs := schema.Read(schema.Source{Name: "e.yaml", Data: []byte(s)}, asked).Cases[0]
			c, err := schema.Check(cs, asked, nil)
			if err != nil {
				t.Fatal(err)
			}
			return built(t, c).Text()
		}
		if read(changed) == read(string(raw)) {
			t.Errorf("%s reads the same as %s", swap[1], swap[0])
		}
	}
}

// An empty entry claims nothing: every section says that it was not stated.
func TestSilenceClaimsNothing(t *testing.T) {
	r := schema.Read(schema.Source{Name: "e.yaml", Data: []byte("case: empty-case-1\n")}, asked)
	c, err := schema.Check(r.Cases[0], asked, nil)
	if err != nil {
		t.Fatal(err)
	}
	d := built(t, c)
	for _, s := range d.Sections {
		if len(s.Blocks) != 1 || s.Blocks[0].Paragraph != "Not stated." {
			t.Errorf("%s says %+v of an empty entry", s.Key, s.Blocks)
		}
	}
	if !d.Draft || len(d.Gaps) == 0 || d.Diagram != nil {
		t.Errorf("draft %v, gaps %d, diagram %v", d.Draft, len(d.Gaps), d.Diagram)
	}
	for _, i := range d.Brief {
		if i.Value != note.NotStated {
			t.Errorf("brief %s: %q", i.Label, i.Value)
		}
	}
}

// The eight sections of HL7's Operative Note (C-CDA on FHIR, STU 1.1) are there
// in every note, and the indication and implants too.
func TestRequiredSections(t *testing.T) {
	for _, file := range samples(t) {
		for _, c := range checkedCases(t, file) {
			var keys []string
			for _, s := range built(t, c).Sections {
				keys = append(keys, s.Key)
				if !slices.Contains(note.SectionKeys, s.Key) {
					t.Errorf("%s: section %q is not in SectionKeys", file, s.Key)
				}
			}
			for _, must := range []string{"preoperative", "postoperative", "anaesthesia", "description", "findings", "complications", "blood-loss", "specimens", "indication", "implants"} {
				if !slices.Contains(keys, must) {
					t.Errorf("%s: no section %s", file, must)
				}
			}
		}
	}
}

// Seen facing the patient, the nose lies at 3 o'clock of a right eye and at 9
// o'clock of a left eye (anatomy; common practice, no source).
func TestDiagramSides(t *testing.T) {
	for _, c := range checkedCases(t, "../testdata/entries/01-double-bubble.yaml") {
		d := built(t, c).Diagram
		if d.Eye != "RIGHT EYE" || d.RightLabel != "nasal" || d.LeftLabel != "temporal" {
			t.Errorf("right eye: %s, 9 o'clock %s, 3 o'clock %s", d.Eye, d.LeftLabel, d.RightLabel)
		}
		if d.Title != "Right eye, seen facing the patient, 12 o'clock superior" {
			t.Errorf("the drawing is titled %q", d.Title)
		}
		if d.Limbus.Radius != 5.9 || d.Trephination.Radius != 3.875 || d.Donor.Radius != 4 || d.Bubble.Radius != 1.75 {
			t.Errorf("circles %v %v %v %v", d.Limbus, d.Trephination, d.Donor, d.Bubble)
		}
		if len(d.Stitches) != 16 {
			t.Errorf("%d stitches of 16", len(d.Stitches))
		}
		for _, m := range d.Marks {
			if m.Kind == "paracentesis" && (m.X >= 0 || m.Y <= 0) { // 11 o'clock is up and to the left
				t.Errorf("11 o'clock at %v, %v", m.X, m.Y)
			}
			if m.Kind == "injection" && (m.X <= 0 || m.Y <= 0) { // 1 o'clock is up and to the right
				t.Errorf("1 o'clock at %v, %v", m.X, m.Y)
			}
		}
	}
}

// An unchecked entry has no note.
func TestOnlyCheckedEntries(t *testing.T) {
	p, err := note.LoadPhrases(nil)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := note.Build(schema.Checked{}, p, note.Options{}); err != note.ErrUnchecked {
		t.Errorf("got %v", err)
	}
}

func FuzzPhrases(f *testing.F) {
	f.Add("[plan]\nSteroid: {plan.steroid}[ and {plan.antibiotic}].\n")
	f.Add("[a]\nif events is missing: x\n")
	f.Fuzz(func(t *testing.T, text string) {
		_, _ = note.LoadPhrases(fstest.MapFS{"phrases.txt": {Data: []byte(text)}}) // must not panic
	})
}

func BenchmarkBuild(b *testing.B) {
	raw, err := os.ReadFile("../testdata/entries/01-double-bubble.yaml")
	if err != nil {
		b.Fatal(err)
	}
	c, err := schema.Check(schema.Read(schema.Source{Name: "e", Data: raw}, asked).Cases[0], asked, nil)
	if err != nil {
		b.Fatal(err)
	}
	p, err := note.LoadPhrases(nil)
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		if _, err := note.Build(c, p, note.Options{}); err != nil {
			b.Fatal(err)
		}
	}
}
