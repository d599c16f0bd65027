package schema

import (
	"fmt"
	"regexp"
	"slices"
	"strings"
	"sync"

	"graftnote/schema/quantity"
)

// direction is nasal or temporal, above or below, alone or joined: superotemporal,
// superior nasal.
var direction = regexp.MustCompile(`(?i)\b(?:(?P<joined>super|infer)(?:o|ior)[- ]?)?(?P<across>nasal|temporal)(?:ly)?\b|\b(?P<upright>super|infer)ior(?:ly)?\b`)

// sidesIn gives the one horizontal and the one vertical word of a text, "" where
// there is none. With two of a kind nobody can tell which belongs to what.
func sidesIn(text string) (horizontal, vertical string) {
	var across, upright []string
	joined, alone := direction.SubexpIndex("joined"), direction.SubexpIndex("upright")
	for _, m := range direction.FindAllStringSubmatch(text, -1) {
		if w := m[direction.SubexpIndex("across")]; w != "" {
			across = append(across, strings.ToLower(w))
		}
		if w := m[joined] + m[alone]; w != "" {
			upright = append(upright, strings.ToLower(w))
		}
	}
	if len(across) == 1 {
		horizontal = across[0]
	}
	if len(upright) == 1 {
		vertical = upright[0]
	}
	return horizontal, vertical
}

// hourPatterns: an hour is said as "3 o'clock", in figures or in a word, as "half
// past three", or as "at 3" when no unit follows: "at 3 mm" is none.
var hourPatterns = sync.OnceValue(func() []*regexp.Regexp {
	word := `(?:[0-9]{1,2}(?::[0-9]{2}|\.[0-9]+)?|` + alternatives(words().Hours) + `)`
	return []*regexp.Regexp{
		regexp.MustCompile(`(?i)\b(?P<hour>half past ` + word + `)\b`),
		regexp.MustCompile(`(?i)\b(?P<hour>` + word + `) ?o ?['’]? ?clock\b`),
		regexp.MustCompile(`(?i)\bat (?P<hour>` + word + `)\b(?:\s*(?P<next>[^\s,.;:!?]+))?`),
	}
})

// hoursIn are the clock hours named in a text.
func hoursIn(text string) (out []quantity.ClockHour) {
	for _, p := range hourPatterns() {
		for _, m := range p.FindAllStringSubmatch(text, -1) {
			if i := p.SubexpIndex("next"); i > 0 && slices.Contains(words().NotHours, strings.ToLower(m[i])) {
				continue
			}
			if h, problem := quantity.ParseClockHour(m[p.SubexpIndex("hour")]); problem == nil {
				out = append(out, h)
			}
		}
		text = p.ReplaceAllString(text, " ") // what one pattern read is not read again
	}
	return out
}

// facing is +1 in the half of the clock face around an hour, -1 in the opposite
// half, and 0 on the line between them.
func facing(at quantity.ClockHour, centre int) int {
	middle, problem := quantity.ParseClockHour(fmt.Sprint(centre))
	if problem != nil {
		return 0
	}
	gap := at.Gap(middle)
	return quantity.FromInt(6).Cmp(gap.Add(gap))
}

// sideContradicts compares the words for a side with a clock hour.
func (s *scope) sideContradicts(horizontal, vertical string, at quantity.ClockHour) bool {
	nasal, above := 0, facing(at, 12)
	if centre, known := words().Nasal[s.e.Eye.Operated.Value()]; known {
		nasal = facing(at, centre)
	}
	return horizontal == "nasal" && nasal < 0 || horizontal == "temporal" && nasal > 0 ||
		vertical == "super" && above < 0 || vertical == "infer" && above > 0
}

// SeatHour is the clock hour of the operated eye at which the surgeon sat, on the
// face of somebody who looks at the patient; ok is false when seat or eye is not
// recorded.
func (e *Entry) SeatHour() (at quantity.ClockHour, ok bool) {
	seat, eye := e.Episode.SurgeonSeat, e.Eye.Operated
	if !seat.Recorded() || !eye.Recorded() {
		return at, false
	}
	at, problem := quantity.ParseClockHour(words().Seats[seat.Value()][eye.Value()])
	return at, problem == nil
}

// deriveStorySideAgainstHour needs a side and at least one hour in a clause.
func deriveStorySideAgainstHour(s *scope) DerivedValue {
	if !s.e.Story.Recorded() || !s.e.Eye.Operated.Recorded() {
		return unknown
	}
	for _, clause := range clauseEnd.Split(s.e.Story.Value(), -1) {
		horizontal, vertical := sidesIn(clause)
		for _, h := range hoursIn(clause) {
			if s.sideContradicts(horizontal, vertical, h) {
				return someYes(true)
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
		horizontal, vertical := sidesIn(ev.Detail.Value())
		return someYes(s.sideContradicts(horizontal, vertical, ev.Hour.Value()))
	})
}
