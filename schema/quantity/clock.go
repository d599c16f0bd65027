package quantity

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"
)

// ClockHour is a place on the clock face as the eye is seen by somebody facing the
// patient, 12 superior, to the half hour. Whoever sits at the head sees it upside
// down; the hours stay those of the patient. The zero ClockHour is no place; see IsZero.
type ClockHour struct {
	halves int // half hours past twelve: 1 is half past twelve, 24 is twelve
}

const (
	facesHalves   = 24 // half hours around the face
	fixClockHour  = "write a whole or half hour such as 11, 5:30 or 12:30"
	whyHalfHours  = "places on the clock face are recorded to the half hour"
	whyHalfSpoken = "this is half past the hour in British speech and half before it in German and Dutch"
)

var (
	clockWord    = regexp.MustCompile(`[A-Za-z]+`)
	oClock       = regexp.MustCompile(`(?i) ?o ?['’]? ?clock$`)
	wholeHour    = regexp.MustCompile(`^([0-9]{1,2})$`)
	colonHour    = regexp.MustCompile(`^([0-9]{1,2}):([0-9]{2})$`)
	pointHour    = regexp.MustCompile(`^([0-9]{1,2})\.([0-9]+)$`)
	halfPast     = regexp.MustCompile(`(?i)^half[ -]past ([0-9]{1,2})$`)
	halfSpoken   = regexp.MustCompile(`(?i)^half[ -]?([0-9]{1,2})$`)
	quarterTo    = regexp.MustCompile(`(?i)^quarter (past|to) ([0-9]{1,2})$`)
	betweenHours = regexp.MustCompile(`(?i)^between ([0-9]{1,2}) and ([0-9]{1,2})$`)
	hourRange    = regexp.MustCompile(`(?i)^([0-9.:]+) ?(?:-|–|—|to) ?([0-9.:]+)$`)
)

// ParseClockHour reads a whole or half hour: "11 o'clock", "11", "eleven",
// "5:30", "5.5", "half past 5". Half past twelve may be typed 12:30, 12.5,
// 0:30 or 0.5. A finer time, "half five" (two readings), a span of hours and
// an hour above twelve are Problems.
func ParseClockHour(text string) (ClockHour, *Problem) {
	t, p := clean(text)
	if p != nil {
		return ClockHour{}, p
	}
	return parseClock(t)
}

func parseClock(t string) (ClockHour, *Problem) {
	t = clockWord.ReplaceAllStringFunc(t, func(w string) string {
		if h, ok := lexicon().Hours[strings.ToLower(w)]; ok {
			return strconv.Itoa(h)
		}
		return w
	})
	t = oClock.ReplaceAllString(t, "")
	switch {
	case wholeHour.MatchString(t):
		return clockAt(atoi(t), 0)
	case colonHour.MatchString(t):
		m := colonHour.FindStringSubmatch(t)
		return clockAt(atoi(m[1]), atoi(m[2]))
	case pointHour.MatchString(t):
		return pointClock(pointHour.FindStringSubmatch(t))
	case halfPast.MatchString(t):
		return clockAt(atoi(halfPast.FindStringSubmatch(t)[1]), 30)
	case halfSpoken.MatchString(t):
		h := atoi(halfSpoken.FindStringSubmatch(t)[1])
		if h < 1 || h > 12 {
			return ClockHour{}, hourOffFace()
		}
		return ClockHour{}, problem("the half hour has two readings", whyHalfSpoken, fixClockHour,
			fmt.Sprintf("%d:30", h), fmt.Sprintf("%d:30", (h+10)%12+1))
	case quarterTo.MatchString(t):
		m := quarterTo.FindStringSubmatch(t)
		h := atoi(m[2])
		if strings.EqualFold(m[1], "to") {
			return clockAt(h-1, 45)
		}
		return clockAt(h, 15)
	case betweenHours.MatchString(t):
		return ClockHour{}, betweenProblem(betweenHours.FindStringSubmatch(t))
	case hourRange.MatchString(t):
		return ClockHour{}, problem("a span of the clock face stands where one hour is wanted",
			"a span has two ends and two ways round", fixClockHour)
	}
	p := problem("the text is not an hour of the clock face", whyHalfHours, fixClockHour)
	if _, np := parseNumber(t); np != nil {
		p.Readings = np.Readings
	}
	return ClockHour{}, p
}

// clockAt makes the place at h:m, or the Problem that it is not one.
func clockAt(h, m int) (ClockHour, *Problem) {
	if h < 0 || h > 12 || m > 59 || (h == 0 && m == 0) {
		return ClockHour{}, hourOffFace()
	}
	if m%30 != 0 {
		below := ClockHour{halves: (h*2+m/30+facesHalves-1)%facesHalves + 1}
		above := ClockHour{halves: (h*2+m/30)%facesHalves + 1}
		return ClockHour{}, problem("the hour is finer than a half", whyHalfHours, fixClockHour,
			below.String(), above.String())
	}
	return ClockHour{halves: (h*2+m/30+facesHalves-1)%facesHalves + 1}, nil
}

// pointClock reads hours with a point. "5.30" is refused: it may be 5:30
// written with a point, or five and three tenths.
func pointClock(m []string) (ClockHour, *Problem) {
	h, tenths := atoi(m[1]), strings.TrimRight(m[2], "0")
	if h > 12 {
		return ClockHour{}, hourOffFace()
	}
	if len(m[2]) == 2 && m[2] == "30" {
		return ClockHour{}, problem("the point may stand for a colon", whyHalfHours, fixClockHour,
			fmt.Sprintf("%d:30", h), fmt.Sprintf("%d.3 hours", h))
	}
	switch tenths {
	case "":
		return clockAt(h, 0)
	case "5":
		return clockAt(h, 30)
	}
	// Only the neighbours matter for the readings, so any minute of the same
	// half hour will do.
	if tenths[0] < '5' {
		return clockAt(h, 15)
	}
	return clockAt(h, 45)
}

func betweenProblem(m []string) *Problem {
	a, b := atoi(m[1]), atoi(m[2])
	p := problem("two hours stand where one is wanted", "the place between them is not said", fixClockHour)
	if a >= 1 && a <= 12 && b == a%12+1 {
		p.Readings = []string{fmt.Sprintf("%d:30", a)}
	}
	return p
}

func hourOffFace() *Problem {
	return problem("the hour is not on the clock face", "the face runs from 12:30 to 12 o'clock", fixClockHour)
}

// atoi reads digits that a pattern has already limited to a few.
func atoi(s string) int {
	n, err := strconv.Atoi(s)
	if err != nil {
		return -1
	}
	return n
}

// IsZero reports whether c is no place at all.
func (c ClockHour) IsZero() bool { return c.halves == 0 }

// Hours returns the place in hours: 5.5, 11, and 0.5 for half past twelve, so
// that values run from 0.5 to 12.
func (c ClockHour) Hours() Decimal {
	return FromInt(int64(c.halves)).Mul(MustDecimal("0.5")).reduce(0)
}

// String prints the place as it is said: "11 o'clock", "5:30", "12:30".
func (c ClockHour) String() string {
	if c.IsZero() {
		return ""
	}
	h := c.halves / 2
	if c.halves%2 == 0 {
		return fmt.Sprintf("%d o'clock", h)
	}
	if h == 0 {
		h = 12
	}
	return fmt.Sprintf("%d:30", h)
}

// Gap returns the shorter way round the face between c and other, in hours: 0
// to 6.
func (c ClockHour) Gap(other ClockHour) Decimal {
	d := (c.halves - other.halves + facesHalves) % facesHalves
	d = min(d, facesHalves-d)
	return ClockHour{halves: d}.Hours()
}

// Degrees returns the angle clockwise from 12 o'clock, 0 to 345, for drawing.
// It is not a meridian of a refraction, which runs the other way from 3 o'clock.
func (c ClockHour) Degrees() Decimal { return FromInt(int64(c.halves%facesHalves) * 15) }
