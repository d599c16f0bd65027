package schema

import (
	"slices"
	"strings"
	"testing"
)

// A slip of the keyboard is offered its word; another word never is. The pairs
// that must not be offered for one another are those whose meaning flips in
// speech and typing (complete and incomplete, bared and retained membrane, micro
// and macro: common practice, no source).
func TestNearCodes(t *testing.T) {
	for _, c := range []struct{ list, word, want string }{
		{"tone", "norml", "normal"},
		{"bubble-type", "type1", "type-1"},
		{"separation", "incomplete", ""},
		{"separation", "complte", "complete"},
		{"plane", "bare-descemet", ""},
		{"plane", "descemetik", "descemetic"},
		{"event", "mcroperforation", "microperforation or macroperforation"},
		{"event", "microperforatoin", "microperforation"},
		{"eye", "r", ""},
		{"eye", "rigth", "right"},
		{"donor-membrane", "not-removed", ""},
	} {
		list, ok := Content().Lists[c.list]
		if !ok {
			t.Errorf("no list %s", c.list)
			continue
		}
		var known []string
		for _, k := range list.Codes {
			known = append(known, k.Code)
		}
		if got := strings.Join(nearCodes(c.word, known), " or "); got != c.want {
			t.Errorf("%s of %s: %q, want %q", c.word, c.list, got, c.want)
		}
	}
	if got := nearCodes(strings.Repeat("n", maxID+1), []string{"none"}); slices.Contains(got, "none") {
		t.Error("a long text is compared")
	}
}

// What neither the list header nor the case says is asked for at the case, each
// case by its own line (issue: a finding has file, line and column).
func TestSilenceOfAListIsFoundAtItsCase(t *testing.T) {
	src := Source{Name: "list.yaml", Data: []byte("list:\n  episode: {date: 2026-09-08, site: Lindow Eye Unit}\ncases:\n  - case: first-of-two\n    events: none\n  - case: second-of-two\n    events: none\n")}
	lines := map[int]int{}
	for _, cs := range Read(src, Options{}).Cases {
		c, err := Check(cs, Options{}, nil)
		if err != nil {
			t.Fatal(err)
		}
		for _, f := range c.Findings() {
			if f.Rule == "required-field" && f.Path == "episode.start" {
				lines[f.Pos.Line]++
			}
		}
	}
	if len(lines) != 2 || lines[4] != 1 || lines[6] != 1 {
		t.Errorf("asked for at lines %v, want 4 and 6", lines)
	}
}
