package note

import (
	"fmt"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"graftnote/schema"
	"graftnote/schema/quantity"
)

// styles are the ways a phrase may ask for a field: "{path:style}".
var styles = []string{
	"capital",  // with a capital letter
	"sentence", // a typed text as a sentence
	"order",    // items joined by "then"
	"count",    // the number of interrupted stitches
	"a",        // with its article
	"bites",    // the bites of each running suture
}

// speaker turns phrases into sentences for one entry and remembers which
// answers were said, so that none is left out of the note.
type speaker struct {
	p    *Phrases
	view *schema.View
	e    *schema.Entry
	said map[string]bool
	// excused are answers whose reason for being missing stands in a section of
	// its own, so that the rest of the note need not repeat it.
	excused map[string]bool
	// mark follows each value of the standing technique until the note is signed;
	// marked tells that one was written since it was last set to false.
	mark   string
	marked bool
}

func newSpeaker(p *Phrases, e *schema.Entry) *speaker {
	return &speaker{p: p, view: schema.NewView(e), e: e, said: map[string]bool{}, excused: map[string]bool{}}
}

// paragraphs of a section, each of the sentences that fit the entry.
func (s *speaker) paragraphs(section string) []string {
	var out []string
	for _, sentences := range s.p.sentences[section] {
		var said []string
		for _, line := range sentences {
			if text, ok := s.sentence(line); ok {
				said = append(said, text)
			}
		}
		if len(said) > 0 {
			out = append(out, strings.Join(said, " "))
		}
	}
	return out
}

func (s *speaker) sentence(line sentence) (string, bool) {
	if !s.view.Holds(line.when, 0) {
		return "", false
	}
	var said []string
	text, ok := s.parts(line.parts, &said)
	text = strings.TrimSpace(text)
	if !ok || strings.Trim(text, ". ") == "" {
		return "", false
	}
	if strings.HasSuffix(text, "..") && !strings.HasSuffix(text, "...") { // a typed text brought its own full stop
		text = text[:len(text)-1]
	}
	for _, p := range line.when.Affirms() { // a word that the sentence says without naming it
		if !slices.Contains(said, p) && s.open(s.e.At(p)) {
			s.marked = true
			if text = strings.TrimSuffix(text, "."); !strings.HasSuffix(text, s.mark) {
				text += s.mark
			}
			text += "."
			break
		}
	}
	for _, p := range append(said, line.when.Affirms()...) {
		s.said[p] = true
	}
	return capital(text), true
}

// parts writes the pieces; without one of the required fields there is nothing.
func (s *speaker) parts(parts []part, said *[]string) (string, bool) {
	var b strings.Builder
	for _, p := range parts {
		switch {
		case p.optional != nil:
			var inner []string
			if text, ok := s.parts(p.optional, &inner); ok {
				b.WriteString(text)
				*said = append(*said, inner...)
			}
		case p.path != "":
			words, ok := s.field(p)
			if !ok {
				return "", false
			}
			b.WriteString(words)
			*said = append(*said, p.path)
		default:
			b.WriteString(p.text)
		}
	}
	return b.String(), true
}

func (s *speaker) field(p part) (said string, ok bool) {
	if name, ok := strings.CutPrefix(p.path, "derived."); ok {
		return s.view.Derived(name, 0)
	}
	f := s.e.At(p.path)
	if f == nil || !f.Recorded() {
		return "", false
	}
	words := s.say(f)
	defer func() { said = s.flag(f, said) }()
	switch p.style { // as listed in styles
	case "order":
		words = strings.Join(itemWords(f), ", then ")
	case "capital":
		words = capital(words)
	case "sentence":
		words = closed(capital(words))
	case "a":
		words = withArticle(words)
	case "count":
		if st, ok := f.Any().(quantity.Stitches); ok {
			words = s.counted(st, "")
		}
	case "bites":
		if sutures, ok := f.Any().([]quantity.Stitches); ok {
			each := make([]string, len(sutures))
			for i, st := range sutures {
				each[i] = s.counted(st, " bites")
			}
			words = strings.Join(each, " and ")
		}
	}
	return words, true
}

// counted is a count alone. Size and material written with it are said by the
// fields they answer for; where those say something else, both are shown.
func (s *speaker) counted(st quantity.Stitches, unit string) string {
	words := fmt.Sprint(st.Count) + unit
	gauge, material := s.e.Apart(st)
	if own := strings.TrimSpace(gauge + " " + material); own != "" {
		words += " (" + own + ")"
	}
	return words
}

// eyeOpen reports that the eye operated and the eye of the consent and the list
// contradict each other, and nobody has confirmed that this is what happened: then
// no page may name one of them, and no clock hour has a side.
func (s *speaker) eyeOpen() bool {
	o, l := s.e.Eye.Operated, s.e.Eye.Listed
	return o.Recorded() && l.Recorded() && o.Text() != l.Text() && !s.e.ConfirmedTrue(wrongSide)
}

// say is Phrases.Say, but names no eye while the eye is not agreed.
func (s *speaker) say(f schema.Field) string {
	if s.eyeOpen() && f.Row().ListName() == s.e.Eye.Operated.Row().ListName() {
		return s.p.words["eye-not-agreed"]
	}
	return s.p.Say(f)
}

// open reports a value of the standing technique that nobody has confirmed.
func (s *speaker) open(f schema.Field) bool {
	return s.mark != "" && f != nil && f.Recorded() && f.Origin() == schema.Technique
}

// flag puts the mark behind an unconfirmed value, before its full stop.
func (s *speaker) flag(f schema.Field, words string) string {
	if !s.open(f) {
		return words
	}
	s.marked = true
	if text, closed := strings.CutSuffix(words, "."); closed {
		return text + s.mark + "."
	}
	return words + s.mark
}

// Say writes a recorded answer as the note says it: words for codes, dates and
// spans of time in words, the canonical text for the rest.
func (p *Phrases) Say(f schema.Field) string {
	switch v := f.Any().(type) {
	case quantity.Date:
		return v.Words()
	case quantity.Quantity:
		one, many, ok := strings.Cut(p.words["unit "+v.Unit.Symbol], "|")
		switch {
		case !ok:
		case v.Number.String() == "1":
			return "1 " + one
		default:
			return v.Number.String() + " " + many
		}
	}
	return f.Words()
}

// itemWords are the words of a list answer one by one.
func itemWords(f schema.Field) []string {
	codes := f.Codes()
	if codes == nil {
		return f.Texts()
	}
	list := schema.Content().Lists[f.Row().ListName()]
	out := make([]string, len(codes))
	for i, c := range codes {
		out[i], _ = list.Words(string(c))
	}
	return out
}

// sayOrGap writes an answer, or that it was not recorded and why; ok is false
// for silence.
func (s *speaker) sayOrGap(f schema.Field) (string, bool) {
	if f.Recorded() {
		return s.flag(f, s.say(f)), true
	}
	if reason, ok := f.NotRecorded(); ok {
		return "not recorded (" + reason + ")", true
	}
	said := s.unread(f)
	return said, said != ""
}

// word of the [words] section with its {fields} filled in.
func (s *speaker) word(key string, fill ...string) string {
	return strings.NewReplacer(fill...).Replace(s.p.words[key])
}

func capital(s string) string {
	r, n := utf8.DecodeRuneInString(s)
	if n == 0 {
		return s
	}
	return string(unicode.ToUpper(r)) + s[n:]
}

// withArticle puts a or an before a word; scissors are many and have none.
func withArticle(s string) string {
	switch {
	case strings.HasSuffix(s, "scissors"):
		return s
	case strings.ContainsAny(s[:min(1, len(s))], "aeiou"):
		return "an " + s
	}
	return "a " + s
}

func closed(s string) string {
	if strings.HasSuffix(s, ".") || strings.HasSuffix(s, "!") || strings.HasSuffix(s, "?") {
		return s
	}
	return s + "."
}
