package note_test

import (
	"strings"
	"testing"
	"testing/fstest"

	"graftnote/note"
	"graftnote/schema"
)

// A fault in a site's phrases names file and line.
func TestSitePhrases(t *testing.T) {
	own := fstest.MapFS{"phrases.txt": {Data: []byte("[preoperative]\nDiagnosis: {indication.diagnosis}.\n[words]\ntitle: Note\n")}}
	if _, err := note.LoadPhrases(own); err != nil {
		t.Fatal(err)
	}
	for bad, want := range map[string]string{
		"[plan]\n{plan.steriod}\n":                     "phrases.txt:2: no field",
		"[plan]\nSteroid: {plan.steroid\n":             "phrases.txt:2: a brace",
		"[plan]\nSteroid [{plan.steroid}\n":            "phrases.txt:2: a bracket",
		"[plan]\nif plan.steroid: given\n":             "phrases.txt:2",
		"[plan]\nif sutures.pattern is circle: Round.": "phrases.txt:2",
		"{plan.steroid}\n":                             "phrases.txt:1",
		"[plann]\nSteroid: {plan.steroid}.\n":          "phrases.txt:1: no section",
		"[Plan]\nSteroid: {plan.steroid}.\n":           "phrases.txt:1: a section",
		"[plan]\n{plan.steroid:loud}\n":                "phrases.txt:2: no style",
		"[words]\ndraft-mark:\n":                       "phrases.txt:2: the word",
		"[words]\ndraught: DRAUGHT\n":                  "phrases.txt:2: no word",
		"[words]\nnot-recorded: {title} unknown\n":     "phrases.txt:2: the word \"not-recorded\" lacks {reason}",
	} {
		_, err := note.LoadPhrases(fstest.MapFS{"phrases.txt": {Data: []byte(bad)}})
		if err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v, want %s", bad, err, want)
		}
	}
}

// What a site does not name stays. The draft mark and the cautions are on the
// page whatever a site writes, and a section that it empties is still listed
// (the main job: DRAFT until signed; no recorded value missing).
func TestSitePhrasesTakeNothingAway(t *testing.T) {
	c := checkedCases(t, "../testdata/entries/02-failed-bubble-manual.yaml")[0]
	own := fstest.MapFS{"phrases.txt": {Data: []byte("[preoperative]\nDiagnosis: {indication.diagnosis}.\n[plan]\n[words]\ntitle: Operation record\nunit d: night|nights\n")}}
	p, err := note.LoadPhrases(own)
	if err != nil {
		t.Fatal(err)
	}
	d, err := note.Build(c, p, note.Options{})
	if err != nil {
		t.Fatal(err)
	}
	ours := built(t, c)
	if d.Title != "Operation record" || d.Mark != ours.Mark || d.Mark == "" || d.Status != ours.Status || len(d.Cautions) == 0 {
		t.Errorf("title %q, mark %q, status %q, %d cautions", d.Title, d.Mark, d.Status, len(d.Cautions))
	}
	text := squeeze(d.Text())
	for _, want := range []string{"Diagnosis: keratoconus.", "Steroid: dexamethasone 0.1 % two-hourly.", "First review after: 1 night", "Paracentesis was made"} {
		if !containsFold(text, want) {
			t.Errorf("the note lacks %q", want)
		}
	}
}

// An order of sections that would lose a part of the entry is refused.
func TestSiteSections(t *testing.T) {
	var whole []string
	for _, k := range note.SectionKeys {
		whole = append(whole, k+" | "+k+" |")
	}
	whole[0] += groups()
	load := func(lines []string) error {
		_, err := note.LoadPhrases(fstest.MapFS{"sections.txt": {Data: []byte(strings.Join(lines, "\n"))}})
		return err
	}
	if err := load(whole); err != nil {
		t.Fatal(err)
	}
	for want, lines := range map[string][]string{
		"is missing":      whole[:len(whole)-1],
		"stands twice":    append(append([]string(nil), whole...), whole[1]),
		"no section":      append(append([]string(nil), whole...), "coda | Coda |"),
		"holds the group": append([]string{whole[0][:strings.LastIndex(whole[0], " ")]}, whole[1:]...),
	} {
		if err := load(lines); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%v, want %s", err, want)
		}
	}
}

func groups() string {
	out := ""
	for _, g := range schema.Content().Groups {
		if g.Key != "" {
			out += " " + g.Key
		}
	}
	return out
}

// A running suture of another size than the interrupted stitches keeps it; one
// of the same size is not told twice.
func TestRunningSutureSize(t *testing.T) {
	for stitches, want := range map[string]string{
		"interrupted: 8 x 10-0 nylon, running: 16-bite 11-0 nylon": "The graft was sutured with 10-0 nylon: 8 interrupted stitches and a running suture of 16 bites (11-0).",
		"interrupted: 8 x 10-0 nylon, running: 16-bite 10-0 nylon": "The graft was sutured with 10-0 nylon: 8 interrupted stitches and a running suture of 16 bites.",
	} {
		r := schema.Read(schema.Source{Name: "e.yaml", Data: []byte("case: two-sizes-1\nsutures: {pattern: interrupted-and-running, " + stitches + "}\n")}, asked)
		c, err := schema.Check(r.Cases[0], asked, nil)
		if err != nil {
			t.Fatal(err)
		}
		if text := squeeze(built(t, c).Text()); !strings.Contains(text, want) {
			t.Errorf("%s: no %q in %s", stitches, want, text)
		}
	}
}

// The brief note of an entry without a word on complications says so: "none"
// must be said (the main job: silence is a gap).
func TestBriefNoteTellsSilence(t *testing.T) {
	r := schema.Read(schema.Source{Name: "e.yaml", Data: []byte("case: silent-case-1\nseparation: {obtained: complete}\n")}, asked)
	c, err := schema.Check(r.Cases[0], asked, nil)
	if err != nil {
		t.Fatal(err)
	}
	if got, want := built(t, c).Brief[2].Value, "A complete separation was obtained. Complications: not stated."; got != want {
		t.Errorf("%q, want %q", got, want)
	}
}

// A section without a group of its own says why its answer is missing, and the
// brief note too (the missing-value principle: a reason is never silence).
func TestReasonStandsInItsSection(t *testing.T) {
	for _, c := range checkedCases(t, "../testdata/entries/12-not-recorded.yaml") {
		d := built(t, c)
		const want = "Post-operative diagnosis: not recorded (not on the form)."
		for _, s := range d.Sections {
			if s.Key == "postoperative" && (len(s.Blocks) != 1 || s.Blocks[0].Paragraph != want) {
				t.Errorf("%+v", s.Blocks)
			}
		}
		if got := d.Brief[5].Value; got != want {
			t.Errorf("brief: %q", got)
		}
		if n := strings.Count(squeeze(d.Text()), want); n != 1 {
			t.Errorf("said %d times", n)
		}
	}
}
