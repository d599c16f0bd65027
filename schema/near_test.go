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
