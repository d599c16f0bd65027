package note_test

import (
	"fmt"
	"strings"
	"testing"

	"graftnote/note"
	"graftnote/schema"
)

// drafted is the document of one entry that may hold anything.
func drafted(t *testing.T, yaml string) note.Document {
	t.Helper()
	r := schema.Read(schema.Source{Name: "e.yaml", Data: []byte(yaml)}, asked)
	if len(r.Cases) != 1 {
		t.Fatalf("not one case: %s", yaml)
	}
	c, err := schema.Check(r.Cases[0], asked, nil)
	if err != nil {
		t.Fatal(err)
	}
	return built(t, c)
}

// What was written and could not be read is never called "not recorded" or "not
// stated": every field, with the words that stand there (common practice, no source).
func TestUnreadIsNotCalledUnrecorded(t *testing.T) {
	const typed = "qqq 1 zz"
	tried := 0
	for _, g := range schema.Content().Groups {
		for _, r := range g.Fields {
			entry := fmt.Sprintf("%s: {%s: %s}\n", g.Key, r.Key, typed)
			switch {
			case g.Key == "": // its own fields stand at the top
				entry = fmt.Sprintf("%s: %s\n", r.Key, typed)
			case g.Many != "":
				entry = fmt.Sprintf("%s:\n  - {%s: %s}\n", g.Key, r.Key, typed)
			}
			read := schema.Read(schema.Source{Name: "e.yaml", Data: []byte(entry)}, asked)
			f := read.Cases[0].Entry.At(r.Path())
			if g.Many != "" {
				f = read.Cases[0].Entry.Item(r.Path(), 0)
			}
			if _, unread := f.Unread(); !unread || g.Key == "" {
				continue
			}
			tried++
			text := squeeze(drafted(t, entry).Text())
			if !strings.Contains(text, "ritten '"+typed+"', not understood") {
				t.Errorf("%s: the draft does not say that it was written", r.Path())
			}
		}
	}
	if tried < 100 {
		t.Errorf("only %d fields can be written wrongly", tried)
	}
}

func TestHeadOfAnUnreadEntry(t *testing.T) {
	d := drafted(t, `patient: {id: FIC-0101, name: Ines Calloway, born: 14/13/2002}
eye: {listed: right, operated: OD}
episode: {date: yesterday}
team:
  - {name: Imara Voss, role: consultant surgeon}
procedure: {performed: DALK}
indication: {diagnosis-after: keratoconus}
end: {blood-loss: about nothing}
events:
  - {kind: leak}
`)
	b := d.Banner
	for _, x := range [][2]string{{b.Eye, "EYE UNCLEAR"}, {b.Born, "written '14/13/2002', not understood"},
		{b.Operated, "written 'yesterday', not understood"}, {b.Surgeon, "written, not understood"}} {
		if x[0] != x[1] {
			t.Errorf("the head says %q, want %q", x[0], x[1])
		}
	}
	for _, i := range d.Brief[:4] {
		if i.Value == note.NotStated || !strings.Contains(i.Value, "not understood") {
			t.Errorf("%s: %s", i.Label, i.Value)
		}
	}
	if last := d.Brief[len(d.Brief)-1]; !strings.Contains(last.Value, "keratoconus") {
		t.Errorf("a diagnosis is lost beside an eye that could not be read: %q", last.Value)
	}
	text := squeeze(d.Text())
	for _, want := range []string{"written 'OD', not understood", "written 'consultant surgeon', not understood", "vent written 'leak', not understood"} {
		if !strings.Contains(text, want) {
			t.Errorf("the draft lacks %q", want)
		}
	}
	if strings.Contains(text, "Complications: not stated") {
		t.Error("an event that could not be read is called unstated")
	}
	found := false
	for _, gap := range d.Gaps {
		found = found || strings.Contains(gap, "'OD'")
	}
	if !found {
		t.Errorf("no gap quotes the word: %q", d.Gaps)
	}
}

// A list of which something was written that is no list is not silent either.
func TestUnreadLists(t *testing.T) {
	d := drafted(t, "events: nil\ninjections: two\nteam: Imara Voss\n")
	text := squeeze(d.Text()) + fmt.Sprint(d.Brief)
	for _, want := range []string{"Complications: written, not understood.", "Surgeon and assistants Written, not understood",
		"Attempts at separation: written, not understood.", "Team: written, not understood."} {
		if !strings.Contains(text, want) {
			t.Errorf("the draft lacks %q in %s", want, text)
		}
	}
	for _, untrue := range []string{"The complications are not stated", "Team: nothing is recorded", "Complications: not stated"} {
		if strings.Contains(text, untrue) {
			t.Errorf("the draft says %q of what was written", untrue)
		}
	}
}

// A form left as it stood, and a gap without its reason, were not typed.
func TestFormsAreNotQuoted(t *testing.T) {
	d := drafted(t, "patient: {born: 'not recorded:'}\neye: {operated: 'not recorded: unclear'}\n")
	if strings.Contains(d.Text(), "not understood") || d.Banner.Eye != "EYE NOT STATED" {
		t.Errorf("%q: %s", d.Banner.Eye, d.Text())
	}
}
