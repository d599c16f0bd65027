package quantity

import (
	"fmt"
	"regexp"
	"strings"
	"time"
)

// TimeOfDay is a wall-clock time to the minute, 00:00 to 23:59, with the offset
// from UTC where one was written. It is comparable with ==.
type TimeOfDay struct {
	Hour, Minute int
	// HasOffset is set when an offset was written; Offset is then in minutes
	// east of UTC.
	HasOffset bool
	Offset    int
}

var (
	time24      = regexp.MustCompile(`^([0-9]{2}):([0-9]{2})(Z|[-+][0-9]{2}:[0-9]{2})?$`)
	oneDigit    = regexp.MustCompile(`^([0-9]):([0-9]{2})$`)
	pointTime   = regexp.MustCompile(`^([0-9]{1,2})[.h]([0-9]{2})h?$`)
	fourDigits  = regexp.MustCompile(`^([0-9]{2})([0-9]{2}) ?(?:h|hrs|hours)?$`)
	twelveHour  = regexp.MustCompile(`(?i)^([0-9]{1,2})(?:[:.]?([0-9]{2}))? ?([ap])\.? ?m\.?$`)
	withSeconds = regexp.MustCompile(`^([0-9]{2}:[0-9]{2}):[0-9]{2}`)
	offsetParts = regexp.MustCompile(`^([-+])([0-9]{2}):([0-9]{2})$`)
)

// widestOffset is the furthest any place keeps from UTC, in minutes: UTC+14,
// kept in Kiribati. The same bound is used westward.
const widestOffset = 14 * 60

const fixTime = "write hours and minutes of the 24-hour clock as in 09:05"

// ParseTimeOfDay reads the 24-hour clock, "09:05", with an optional offset from
// UTC, "02:30+01:00" or "02:30Z". "9.05", "0905", "9:05 pm" and "24:00" are
// Problems with their readings.
func ParseTimeOfDay(text string) (TimeOfDay, *Problem) {
	t, p := clean(text)
	if p != nil {
		return TimeOfDay{}, p
	}
	m := time24.FindStringSubmatch(t)
	if m == nil {
		return TimeOfDay{}, notTime24(t)
	}
	out := TimeOfDay{Hour: atoi(m[1]), Minute: atoi(m[2])}
	if out.Hour == 24 && out.Minute == 0 {
		return TimeOfDay{}, problem("midnight has two days", "24:00 is the start of the next day",
			"write 00:00 and the date of the day that begins", "00:00")
	}
	if out.Hour > 23 || out.Minute > 59 {
		return TimeOfDay{}, problem("there is no such time", "the day runs from 00:00 to 23:59", fixTime)
	}
	if m[3] == "" {
		return out, nil
	}
	out.HasOffset = true
	out.Offset, p = parseOffset(m[3])
	if p != nil {
		return TimeOfDay{}, p
	}
	return out, nil
}

// parseOffset reads "Z" or "+01:00" as minutes east of UTC.
func parseOffset(t string) (int, *Problem) {
	if t == "Z" || t == "z" {
		return 0, nil
	}
	const fix = "write the offset as in +01:00, from -14:00 to +14:00"
	m := offsetParts.FindStringSubmatch(t)
	if m == nil {
		return 0, problem("the offset from UTC is not readable", whyNoGuess, fix)
	}
	h, minutes := atoi(m[2]), atoi(m[3])
	total := h*60 + minutes
	if minutes > 59 || total > widestOffset {
		return 0, problem("no place keeps that offset from UTC", "offsets run from -14:00 to +14:00", fix)
	}
	if m[1] == "-" {
		if total == 0 {
			// RFC 3339, section 4.3: -00:00 means the local offset is unknown.
			return 0, problem("the offset says that it is unknown", "-00:00 means that the local time is not known", fix)
		}
		total = -total
	}
	return total, nil
}

// notTime24 names the way the time was written and its readings.
func notTime24(t string) *Problem {
	for _, form := range []struct {
		pattern *regexp.Regexp
		what    string
	}{
		{oneDigit, "the hour has one digit"},
		{pointTime, "the time has no colon"},
		{fourDigits, "the time has no colon"},
	} {
		if m := form.pattern.FindStringSubmatch(t); m != nil {
			h, minute := atoi(m[1]), atoi(m[2])
			readings := times(h, minute)
			if h >= 1 && h < 12 && len(m[1]) == 1 {
				readings = append(readings, times(h+12, minute)...)
			}
			return problem(form.what, "morning and evening must not be mistaken", fixTime, readings...)
		}
	}
	if m := twelveHour.FindStringSubmatch(t); m != nil {
		return problem("the time is of the 12-hour clock", "the record keeps the 24-hour clock", fixTime,
			twelveTo24(m)...)
	}
	if m := withSeconds.FindStringSubmatch(t); m != nil {
		return problem("the time has seconds", "times of an operation are kept to the minute", fixTime, m[1])
	}
	return problem("the text is not a time of day", whyNoGuess, fixTime)
}

func twelveTo24(m []string) []string {
	h, minute := atoi(m[1]), 0
	if m[2] != "" {
		minute = atoi(m[2])
	}
	if h < 1 || h > 12 {
		return times(h, minute)
	}
	h %= 12
	if strings.EqualFold(m[3], "p") {
		h += 12
	}
	return times(h, minute)
}

func times(h, m int) []string {
	if h > 23 || m > 59 {
		return nil
	}
	return []string{fmt.Sprintf("%02d:%02d", h, m)}
}

// String prints "09:05", followed by the offset where one was written.
func (t TimeOfDay) String() string {
	s := fmt.Sprintf("%02d:%02d", t.Hour, t.Minute)
	if !t.HasOffset {
		return s
	}
	if t.Offset == 0 {
		return s + "Z"
	}
	sign, o := "+", t.Offset
	if o < 0 {
		sign, o = "-", -o
	}
	return fmt.Sprintf("%s%s%02d:%02d", s, sign, o/60, o%60)
}

var (
	instantText = regexp.MustCompile(`^([0-9]{4}-[0-9]{2}-[0-9]{2})[Tt]([0-9]{2}):([0-9]{2})(?::([0-9]{2})(\.[0-9]{1,9})?)?([Zz]|[-+][0-9]{2}:[0-9]{2})$`)
	noZone      = regexp.MustCompile(`^[0-9]{4}-[0-9]{2}-[0-9]{2}[Tt ][0-9]{2}:[0-9]{2}(?::[0-9]{2}(?:\.[0-9]+)?)?$`)
)

// ParseInstant reads an RFC 3339 date-time with its offset; the seconds may be
// left out: "2026-09-08T10:20+01:00". The result keeps the written offset and
// does not depend on the zone of the computer. A text without an offset is a
// Problem.
func ParseInstant(text string) (time.Time, *Problem) {
	const fix = "write date, time and offset as in 2026-09-08T10:20+01:00"
	t, p := clean(text)
	if p != nil {
		return time.Time{}, p
	}
	if noZone.MatchString(t) {
		return time.Time{}, problem("the time has no offset from UTC",
			"the same clock time is another moment in another zone", fix, t+"Z?")
	}
	m := instantText.FindStringSubmatch(t)
	if m == nil {
		return time.Time{}, problem("the text is not a date and time", whyNoGuess, fix)
	}
	date, p := ParseDate(m[1])
	if p != nil {
		return time.Time{}, problem(p.What, p.Why, fix, p.Readings...)
	}
	offset, p := parseOffset(m[6])
	if p != nil {
		return time.Time{}, p
	}
	hour, minute, second := atoi(m[2]), atoi(m[3]), 0
	if m[4] != "" {
		second = atoi(m[4])
	}
	if hour > 23 || minute > 59 || second > 59 {
		return time.Time{}, problem("there is no such time", "the day runs from 00:00:00 to 23:59:59", fix)
	}
	nanos := 0
	if m[5] != "" {
		nanos = atoi((m[5][1:] + "000000000")[:9])
	}
	zone := time.UTC
	if offset != 0 {
		zone = time.FixedZone("", offset*60)
	}
	return time.Date(date.Year, date.Month, date.Day, hour, minute, second, nanos, zone), nil
}
