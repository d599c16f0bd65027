package schema

import (
	"regexp"
	"slices"
	"strconv"
	"strings"
	"sync"
)

// wordTable holds the words looked for in free text (data/words.yaml).
type wordTable struct {
	Sides struct {
		Nouns    []string        `yaml:"nouns"`
		OtherEye []string        `yaml:"other-eye"`
		Short    map[string]Code `yaml:"short"`
		Skip     []string        `yaml:"skip"`
	} `yaml:"sides"`
	Nasal       map[Code]int `yaml:"nasal"`
	Denials     []string     `yaml:"denials"`
	BareNone    []string     `yaml:"bare-none"`
	TearTreated []string     `yaml:"tear-treated"`
	EventTold   []string     `yaml:"event-told"`

	side, fellow, short, denial, treated, told *regexp.Regexp
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
	w.side = regexp.MustCompile(`(?i)\b(right|left)[- ](?:` + alternatives(w.Sides.Nouns) + `)s?\b`)
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
	sideOfNose  = regexp.MustCompile(`(?i)\b(nasal|temporal)(?:ly)?\b`)
	// An hour is said as "3 o'clock" anywhere, or as "at 3" at the end of a
	// clause: "at 3 mm" is none.
	hoursInWords = []*regexp.Regexp{
		regexp.MustCompile(`(?i)\b([0-9]{1,2})((?::30|\.5)?) ?o ?['’]? ?clock\b`),
		regexp.MustCompile(`(?i)\bat ([0-9]{1,2})((?::30|\.5)?)\s*$`),
	}
)

// namesOtherEye reports a sentence that names the eye that was not operated,
// unless it calls it the fellow eye. Short forms are taken from the story only:
// in a plan "OD" can be a dose.
func (s *scope) namesOtherEye(text string, short bool) bool {
	w := words()
	for _, sentence := range sentenceEnd.Split(text, -1) {
		if w.fellow.MatchString(sentence) {
			continue
		}
		for _, m := range w.side.FindAllStringSubmatch(sentence, -1) {
			if !s.e.Eye.Operated.Is(Code(strings.ToLower(m[1]))) {
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
	found := false
	s.e.Walk(func(r *Row, _ int, f Field) {
		if found || !f.Recorded() || r.Private || r.Type != "text" && r.Type != "texts" || slices.Contains(words().Sides.Skip, r.Path()) {
			return
		}
		found = s.namesOtherEye(f.Text(), false)
	})
	return someYes(found)
}

// facing is +1 on the side of the clock face where 3 o'clock is, -1 on the side
// of 9 o'clock, and 0 at twelve and six.
func facing(hour int, half bool) int {
	halves := hour * 2 % 24
	if half {
		halves++
	}
	switch {
	case halves == 0 || halves == 12:
		return 0
	case halves < 12:
		return 1
	}
	return -1
}

// sideContradicts compares the word nasal or temporal with a clock hour.
func (s *scope) sideContradicts(word string, hour int, half bool) bool {
	nasal := facing(words().Nasal[s.e.Eye.Operated.Value()], false)
	if strings.EqualFold(word, "temporal") {
		nasal = -nasal
	}
	at := facing(hour, half)
	return nasal != 0 && at != 0 && at != nasal
}

// deriveStorySideAgainstHour needs one side and at least one hour in a clause:
// with both sides in it nobody can tell which belongs to which.
func deriveStorySideAgainstHour(s *scope) DerivedValue {
	if !s.e.Story.Recorded() || !s.e.Eye.Operated.Recorded() {
		return unknown
	}
	for _, clause := range clauseEnd.Split(s.e.Story.Value(), -1) {
		sides := sideOfNose.FindAllStringSubmatch(clause, -1)
		if len(sides) != 1 {
			continue
		}
		for _, pattern := range hoursInWords {
			for _, m := range pattern.FindAllStringSubmatch(clause, -1) {
				hour, _ := strconv.Atoi(m[1])
				if hour >= 1 && hour <= 12 && s.sideContradicts(sides[0][1], hour, m[2] != "") {
					return someYes(true)
				}
			}
		}
	}
	return someYes(false)
}

func deriveEventSideAgainstHour(s *scope) []DerivedValue {
	return perItem(s.e.Events, func(ev Event) DerivedValue {
		if !ev.Detail.Recorded() || !ev.Hour.Recorded() || !s.e.Eye.Operated.Recorded() {
			return unknown
		}
		sides := sideOfNose.FindAllStringSubmatch(ev.Detail.Value(), -1)
		if len(sides) != 1 {
			return someYes(false)
		}
		// Hours gives 11.5 for half past eleven.
		whole, half, _ := strings.Cut(ev.Hour.Value().Hours().String(), ".")
		hour, _ := strconv.Atoi(whole)
		return someYes(s.sideContradicts(sides[0][1], hour, strings.Trim(half, "0") != ""))
	})
}

// tells reports a clause that holds one of the words and no denial.
func (s *scope) tells(pattern *regexp.Regexp) DerivedValue {
	if !s.e.Story.Recorded() {
		return someYes(false)
	}
	for _, clause := range clauseEnd.Split(s.e.Story.Value(), -1) {
		if pattern.MatchString(clause) && !words().denial.MatchString(clause) {
			return someYes(true)
		}
	}
	return someYes(false)
}

func deriveStoryTreatsTear(s *scope) DerivedValue { return s.tells(words().treated) }

func deriveStoryTellsEvent(s *scope) DerivedValue { return s.tells(words().told) }
