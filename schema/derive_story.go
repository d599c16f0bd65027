package schema

import (
	"regexp"
	"slices"
	"strings"
	"sync"

	"graftnote/schema/quantity"
)

// wordTable holds the words looked for in free text (data/words.yaml).
type wordTable struct {
	Sides struct {
		Nouns    []string        `yaml:"nouns"`
		OtherEye []string        `yaml:"other-eye"`
		Short    map[string]Code `yaml:"short"`
		Skip     []string        `yaml:"skip"`
		Letters  map[string]Code `yaml:"letters"`
		Donor    []string        `yaml:"donor"`
		Lying    []string        `yaml:"lying"`
	} `yaml:"sides"`
	Nasal       map[Code]int             `yaml:"nasal"`
	Seats       map[Code]map[Code]string `yaml:"seats"`
	Denials     []string                 `yaml:"denials"`
	BareNone    []string                 `yaml:"bare-none"`
	TearTreated []string                 `yaml:"tear-treated"`
	EventTold   []string                 `yaml:"event-told"`
	Harmless    []string                 `yaml:"harmless"`
	Hours       []string                 `yaml:"hours"`
	Materials   map[string]string        `yaml:"materials"`
	NotHours    []string                 `yaml:"not-hours"`

	side, fellow, fromDonor, lying, short, denial, treated, told, harmless *regexp.Regexp
}

// words is data/words.yaml, read once. A failure is a fault of the build.
var words = sync.OnceValue(func() *wordTable {
	w := &wordTable{}
	if err := decode("words.yaml", w); err != nil {
		panic("schema: data: " + err.Error())
	}
	var shorts []string
	for s := range w.Sides.Short {
		shorts = append(shorts, s)
	}
	slices.Sort(shorts)
	// A capital alone is a side, a small letter alone is none.
	w.side = regexp.MustCompile(`(?i)\b(?P<side>right|left|(?-i:[RL]))[- ](?P<noun>` + alternatives(w.Sides.Nouns) + `)s?\b`)
	w.fromDonor = regexp.MustCompile(`(?i)\b(?:` + alternatives(w.Sides.Donor) + `)\b.*\bfrom (?:a |an |the |his |her |its )?$|\bdonor(?:['’]s)? $`)
	w.lying = anyOf(w.Sides.Lying)
	w.harmless = anyOf(w.Harmless)
	w.fellow = anyOf(w.Sides.OtherEye)
	w.short = regexp.MustCompile(`(?:^|[\s(])(` + alternatives(shorts) + `)(?:[\s).,;:]|$)`)
	w.denial = anyOf(w.Denials)
	w.treated = anyOf(w.TearTreated)
	w.told = anyOf(w.EventTold)
	return w
})

func anyOf(list []string) *regexp.Regexp {
	return regexp.MustCompile(`(?i)\b(?:` + alternatives(list) + `)\b`)
}

func alternatives(list []string) string {
	quoted := make([]string, len(list))
	for i, w := range list {
		quoted[i] = regexp.QuoteMeta(w)
	}
	return strings.Join(quoted, "|")
}

var (
	sentenceEnd = regexp.MustCompile(`[.;!?\n](?:\s|$)`)
	clauseEnd   = regexp.MustCompile(`[.;:,!?\n](?:\s|$)|\s(?:but|then|and then)\s`)
)

// namesOtherEye reports a sentence that names the eye that was not operated,
// unless it calls it the fellow eye, a donor's eye, or a side of something else.
// Short forms are taken from the story only: in a plan "OD" can be a dose.
func (s *scope) namesOtherEye(text string, short bool) bool {
	w := words()
	for _, sentence := range sentenceEnd.Split(text, -1) {
		if w.fellow.MatchString(sentence) {
			continue
		}
		for _, at := range w.side.FindAllStringIndex(sentence, -1) {
			before, m, after := sentence[:at[0]], w.side.FindStringSubmatch(sentence[at[0]:at[1]]), sentence[at[1]:]
			side, noun := Code(strings.ToLower(m[w.side.SubexpIndex("side")])), m[w.side.SubexpIndex("noun")]
			if full, ok := w.Sides.Letters[strings.ToUpper(string(side))]; ok {
				side = full
			}
			ofSomething := strings.EqualFold(noun, "side") && (strings.HasPrefix(after, " of ") || w.lying.MatchString(sentence))
			if !s.e.Eye.Operated.Is(side) && !ofSomething && !w.fromDonor.MatchString(before) {
				return true
			}
		}
		if !short {
			continue
		}
		for _, m := range w.short.FindAllStringSubmatch(sentence, -1) {
			if !s.e.Eye.Operated.Is(w.Sides.Short[m[1]]) {
				return true
			}
		}
	}
	return false
}

func deriveStoryOtherEye(s *scope) DerivedValue {
	if !s.e.Story.Recorded() || !s.e.Eye.Operated.Recorded() {
		return unknown
	}
	return someYes(s.namesOtherEye(s.e.Story.Value(), true))
}

// deriveWordsOtherEye looks at the texts about the operation. Names of people
// and places are none: a hospital may stand on the left bank.
func deriveWordsOtherEye(s *scope) DerivedValue {
	if !s.e.Eye.Operated.Recorded() {
		return unknown
	}
	return someYes(len(s.textsOtherEye()) > 0)
}

// textAt is a text of the entry, with its item and the one of its parts.
type textAt struct {
	row  *Row
	item int
	pos  Pos
}

// textsOtherEye are the places of the texts that name the other eye. Fields about
// the fellow eye are none of them.
func (s *scope) textsOtherEye() (out []textAt) {
	s.e.walk(func(r *Row, item int, f slot) {
		if !f.Recorded() || r.Private || r.Type != "text" && r.Type != "texts" || slices.Contains(words().Sides.Skip, r.Path()) {
			return
		}
		texts, places := f.Texts(), f.head().parts
		if r.Type == "text" {
			texts, places = []string{f.Text()}, nil
		}
		for i, text := range texts {
			if !s.namesOtherEye(text, false) {
				continue
			}
			at := f.Pos()
			if i < len(places) {
				at = places[i]
			}
			out = append(out, textAt{r, item, at})
		}
	})
	return out
}

// tellingClauses are the clauses of the story that hold one of the words, in
// something else than a harmless phrase, and no denial.
func (s *scope) tellingClauses(pattern *regexp.Regexp) []string {
	if !s.e.Story.Recorded() {
		return nil
	}
	w := words()
	return slices.DeleteFunc(clauseEnd.Split(strings.ReplaceAll(s.e.Story.Value(), "’", "'"), -1), func(clause string) bool {
		return !pattern.MatchString(w.harmless.ReplaceAllString(clause, " ")) || w.denial.MatchString(clause)
	})
}

func deriveStoryTreatsTear(s *scope) DerivedValue {
	return someYes(len(s.tellingClauses(words().treated)) > 0)
}

func deriveStoryTellsEvent(s *scope) DerivedValue {
	return someYes(len(s.tellingClauses(words().told)) > 0)
}

// deriveStoryEventOtherHour needs an event with its hour: without one nothing is
// there to differ from. A paracentesis that leaks is at an hour of its own.
func deriveStoryEventOtherHour(s *scope) DerivedValue {
	var known []quantity.ClockHour
	for _, ev := range s.e.Events {
		if ev.Hour.Recorded() {
			known = append(known, ev.Hour.Value())
		}
	}
	if len(known) == 0 {
		return unknown
	}
	half := quantity.FromInt(1).Quo(quantity.FromInt(2), 1)
	for _, clause := range s.tellingClauses(words().told) {
		told := hoursIn(clause)
		if len(told) == 0 || strings.Contains(strings.ToLower(clause), "paracentesis") {
			continue
		}
		if !slices.ContainsFunc(told, func(h quantity.ClockHour) bool {
			return slices.ContainsFunc(known, func(k quantity.ClockHour) bool { return h.Gap(k).Cmp(half) <= 0 })
		}) {
			return someYes(true)
		}
	}
	return someYes(false)
}
