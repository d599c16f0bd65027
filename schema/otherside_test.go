package schema

import (
	"strings"
	"testing"
)

// Each text that names the other eye is pointed at by itself, one of a list by
// its own place; a field about the fellow eye is not.
func TestTextOfTheOtherEyeIsPointedAt(t *testing.T) {
	text := "case: k7mq-2f9x\neye: {operated: right}\nend:\n  drugs: [dexamethasone, antibiotic into the left eye]\nplan:\n  instructions: shield over the left eye\n  vision: patching of the left eye\nteam:\n  - {name: A, role: surgeon}\n  - {name: B, role: other, did: draped the left eye}\n"
	r := Read(Source{Name: "c.yaml", Data: []byte(text)}, Options{Now: galleryNow})
	c, err := Check(r.Cases[0], Options{Now: galleryNow}, nil)
	if err != nil {
		t.Fatal(err)
	}
	got := map[string]string{}
	for _, f := range c.Findings() {
		if f.Rule != "words-other-eye" {
			continue
		}
		line := strings.Split(text, "\n")[f.Pos.Line-1]
		got[f.Path] = string([]rune(line)[f.Pos.Col-1 : f.Pos.EndCol-1])
		if strings.Contains(f.Public().What+f.Fix+f.Why, "left") {
			t.Errorf("%s: the public text quotes the entry", f.Path)
		}
		if len(f.Related) != 1 || f.Related[0].Path != "eye.operated" || !f.Related[0].Pos.Known() {
			t.Errorf("%s: the operated eye is not shown", f.Path)
		}
	}
	want := map[string]string{"end.drugs": "antibiotic into the left eye", "plan.instructions": "shield over the left eye", "team[2].did": "draped the left eye"}
	for path, words := range want {
		if got[path] != words {
			t.Errorf("%s: pointed at %q, want %q", path, got[path], words)
		}
	}
	if len(got) != len(want) {
		t.Errorf("findings at %v", got)
	}
}
