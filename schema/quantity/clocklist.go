package quantity

import (
	"regexp"
	"strings"
)

var (
	hourSeparator = regexp.MustCompile(`(?i) ?(?:,|;|&|\+) ?(?:and )?| and `)
	tightComma    = regexp.MustCompile(`^([0-9]{1,2}),(0|5)$`)
)

// ParseClockHours reads one or more hours: "10, 2", "10 and 2", "11; 5:30".
// The same hour twice is a Problem, and so is "12,5", which is a list or a
// decimal comma.
func ParseClockHours(text string) ([]ClockHour, *Problem) {
	t, p := clean(text)
	if p != nil {
		return nil, p
	}
	if m := tightComma.FindStringSubmatch(t); m != nil {
		return nil, problem("the comma has two readings", "a comma can be a decimal point or a list",
			"write a blank after the comma of a list, or the half hour with :30", m[1]+":30", m[1]+" and "+m[2])
	}
	if strings.HasPrefix(strings.ToLower(t), "between ") {
		_, p := parseClock(t)
		return nil, p
	}
	var out []ClockHour
	seen := map[ClockHour]bool{}
	for _, part := range hourSeparator.Split(t, -1) {
		c, p := parseClock(strings.TrimSpace(part))
		if p != nil {
			return nil, p
		}
		if seen[c] {
			return nil, problem("the same hour is listed twice", "one of the two may be another hour",
				"write each hour once")
		}
		seen[c] = true
		out = append(out, c)
	}
	return out, nil
}
