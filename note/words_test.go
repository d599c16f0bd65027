package note_test

import (
	"fmt"
	"os"
	"regexp"
	"slices"
	"strings"
	"testing"

	"graftnote/schema"
)

var (
	placeholder = regexp.MustCompile(`[{][^}]*[}]`)
	pathIn      = regexp.MustCompile(`\b[a-z]+[.][a-z-]+\b`)
)

// overclaims are the words in the fixed text of a phrase that an answer of the same
// group may hold, and that the line neither tests nor prints. The name of a field that
// it tests or prints is none of them, nor are yes, no and none.
func overclaims(line string) (out []string) {
	fixed := line
	if rest, ok := strings.CutPrefix(line, "if "); ok {
		_, fixed, _ = strings.Cut(rest, ": ")
	}
	fixed = " " + strings.ToLower(placeholder.ReplaceAllString(fixed, " ")) + " "
	var own, titles []string
	beside := map[*schema.Row]bool{}
	for _, p := range pathIn.FindAllString(line, -1) {
		r, ok := schema.Content().Row(p)
		if !ok {
			continue
		}
		own, titles = append(own, r.ListName()), append(titles, " "+strings.ToLower(r.Title)+" ")
		for _, other := range r.Group.Fields {
			beside[other] = true
		}
	}
	for r := range beside {
		list, ok := schema.Content().Lists[r.ListName()]
		if !ok || slices.Contains(own, r.ListName()) {
			continue
		}
		for _, c := range list.Codes {
			if slices.Contains([]string{"yes", "no", "none"}, c.Words) {
				continue
			}
			word := regexp.MustCompile(`[^a-z]` + regexp.QuoteMeta(strings.ToLower(c.Words)) + `[^a-z]`)
			if word.MatchString(fixed) && !slices.ContainsFunc(titles, word.MatchString) {
				out = append(out, fmt.Sprintf("%q, a word of %s", c.Words, r.Path()))
			}
		}
	}
	return out
}

// No sentence says more than the entry: what the fixed text of a phrase names is what
// the entry holds (common practice, no source).
func TestPhrasesNameNoCodeOnTheirOwn(t *testing.T) {
	raw, err := os.ReadFile("../templates/en/phrases.txt")
	if err != nil {
		t.Fatal(err)
	}
	if overclaims("The graft was sutured with nylon, {sutures.interrupted:count} stitches.") == nil ||
		overclaims("if sutures.pattern is interrupted: {sutures.pattern:capital} polyester sutures.") == nil {
		t.Fatal("a material that nobody entered is not seen")
	}
	checked := 0
	for _, line := range strings.Split(string(raw), "\n") {
		if line == "[words]" {
			break
		}
		if line == "" || line[0] == '#' || line[0] == '[' && !strings.Contains(line, "{") {
			continue
		}
		checked++
		for _, said := range overclaims(line) {
			t.Errorf("%s\nsays %s, which it neither tests nor prints", line, said)
		}
	}
	if checked < 100 {
		t.Errorf("only %d phrases were read", checked)
	}
}

// What was typed is what is printed: the word of a material says no more than the one
// typed, and the number of attempts is told twice only when there are two.
func TestNoMoreThanTyped(t *testing.T) {
	const two = "injections:\n  - {medium: air, result: no-bubble}\n  - {medium: air, result: full-bubble}\nseparation: {stated-attempts: %d}\n"
	const three = "injections:\n  - {medium: air}\n  - {medium: air}\n  - {medium: air}\nseparation: {stated-attempts: %d}\n"
	for entry, c := range map[string]struct{ has, lacks string }{
		"sutures: {pattern: interrupted, interrupted: 16 x 10-0 nylon}\n":              {"interrupted stitches of 10-0 nylon.", "monofilament"},
		"sutures: {pattern: interrupted, interrupted: 16 x 10-0 monofilament nylon}\n": {"16 (monofilament nylon) interrupted stitches of 10-0 nylon.", "Material: not stated"},
		fmt.Sprintf(two, 2):                              {"attempted twice; the attempts follow", "stated as"},
		fmt.Sprintf(two, 3):                              {"attempted twice (stated as 3); the attempts follow", "Attempts as stated"},
		fmt.Sprintf(three, 3):                            {"attempted 3 times; the attempts follow", "stated as"},
		fmt.Sprintf(three, 2):                            {"attempted 3 times (stated as 2); the attempts follow", "Separation attempts: "},
		"end: {chamber-fill: air, fill-percent: 80 %}\n": {"Left in the anterior chamber: air", "Left in the chamber"},
	} {
		text := squeeze(drafted(t, "case: say-no-more\n"+entry).Text())
		if !strings.Contains(text, c.has) {
			t.Errorf("%s: no %q in %s", entry, c.has, text)
		}
		if strings.Contains(text, c.lacks) {
			t.Errorf("%s: says %q", entry, c.lacks)
		}
	}
}
