package note

import (
	"strings"

	"graftnote/schema"
)

// wrongSide is the state whose words name both eyes.
const wrongSide = "wrong-side"

// states are the states that a rule would block and that the entry confirms as
// true, one line each: what, why, who was told, and the incident number.
func (s *speaker) states() []string {
	var out []string
	for _, x := range s.e.TrueStates {
		if !x.State.Recorded() {
			continue
		}
		what := x.State.Words()
		if n := itemNumber(x.At.Text()); n != "" {
			what = n + ": " + what
		}
		parts := []string{closed(s.word("true-state", "{state}", capital(what), "{reason}", orNotStated(x.Reason)))}
		if x.State.Is(wrongSide) {
			parts = append(parts, closed(s.word("true-state-eyes", "{operated}", s.e.Eye.Operated.Words(), "{listed}", s.e.Eye.Listed.Words())))
		}
		if schema.IsIncident(string(x.State.Value())) || x.Told.Recorded() {
			when := orNotStated(x.ToldAt)
			if x.ToldOn.Recorded() {
				when += ", " + x.ToldOn.Value().Words()
			}
			parts = append(parts, closed(s.word("true-state-told", "{told}", strings.TrimSuffix(orNotStated(x.Told), "."), "{when}", when)))
		}
		if schema.IsIncident(string(x.State.Value())) || x.Incident.Recorded() {
			parts = append(parts, closed(s.word("true-state-incident", "{incident}", orNotStated(x.Incident))))
		}
		out = append(out, strings.Join(parts, " "))
	}
	return out
}

// orNotStated is the text of an answer; a draft may lack it, and says so.
func orNotStated(f schema.Field) string {
	if f.Recorded() {
		return f.Text()
	}
	return NotStated
}

// itemNumber names a list item as the note's tables do: "Tissue 2" for
// tissues[2]; "" for what is no list item.
func itemNumber(at string) string {
	key, rest, ok := strings.Cut(at, "[")
	g, known := schema.Content().Group(key)
	if !ok || !known || g.Many == "" {
		return ""
	}
	return capital(g.Many) + " " + strings.TrimSuffix(rest, "]")
}

// statesTold repeats them where the complications stand, so that a reader of that
// section alone, or of the record made from it, is told.
func (s *speaker) statesTold() []Block {
	lines := s.states()
	if lines == nil {
		return nil
	}
	return []Block{{Paragraph: s.p.words["true-states"]}, {List: lines}}
}
