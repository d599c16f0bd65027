package quantity

import (
	"fmt"
	"regexp"
	"time"
)

// Date is a calendar date without a time or place. It is comparable with ==.
// The zero Date is no date.
type Date struct {
	Year  int
	Month time.Month
	Day   int
}

var (
	isoDate     = regexp.MustCompile(`^([0-9]{4})-([0-9]{2})-([0-9]{2})$`)
	bigEndian   = regexp.MustCompile(`^([0-9]{4})[-/. ]?([0-9]{1,2})[-/. ]?([0-9]{1,2})$`)
	littleYear4 = regexp.MustCompile(`^([0-9]{1,2})[-/. ]([0-9]{1,2})[-/. ]([0-9]{4})$`)
	shortYear   = regexp.MustCompile(`^([0-9]{1,2})[-/. ]([0-9]{1,2})[-/. ]([0-9]{1,2})$`)
	wordDate    = regexp.MustCompile(`^([0-9]{1,2})(?:st|nd|rd|th)?[- ]([A-Za-z]+\.?),?[- ]([0-9]{4})$`)
	wordFirst   = regexp.MustCompile(`^([A-Za-z]+\.?) ([0-9]{1,2})(?:st|nd|rd|th)?,? ([0-9]{4})$`)
	dateAndTime = regexp.MustCompile(`^[0-9]{4}-[0-9]{2}-[0-9]{2}[Tt ][0-9]`)
)

// firstYear is the earliest year read. Nobody alive was born before it, and
// years such as 0001 come from empty fields of other systems.
const firstYear = 1900

const (
	fixDate    = "write year, month and day as in 2026-04-03"
	whyOrder   = "day and month are written in either order"
	whyNoGuess = "a date on an operative record must have one reading"
)

// ParseDate reads an ISO 8601 calendar date, "2026-04-03", and nothing else.
// Other ways of writing a date are Problems whose readings spell the month.
func ParseDate(text string) (Date, *Problem) {
	t, p := clean(text)
	if p != nil {
		return Date{}, p
	}
	if m := isoDate.FindStringSubmatch(t); m != nil {
		return isoParts(atoi(m[1]), atoi(m[2]), atoi(m[3]))
	}
	return Date{}, notISO(t)
}

func isoParts(y, m, d int) (Date, *Problem) {
	if y < firstYear {
		return Date{}, problem("the year is before 1900", "nobody in this record was born then", fixDate)
	}
	if date, ok := calendarDate(y, m, d); ok {
		return date, nil
	}
	if m < 1 || m > 12 {
		return Date{}, problem("there is no such month", "months run from 01 to 12", fixDate, wordsOf([3]int{y, d, m})...)
	}
	return Date{}, problem("there is no such day in that month", "the day or the month is wrong", fixDate)
}

// notISO names the way the date was written and its readings.
func notISO(t string) *Problem {
	if m := littleYear4.FindStringSubmatch(t); m != nil {
		y, a, b := atoi(m[3]), atoi(m[1]), atoi(m[2])
		return problem("the date does not begin with the year", whyOrder, fixDate,
			wordsOf([3]int{y, b, a}, [3]int{y, a, b})...)
	}
	if m := bigEndian.FindStringSubmatch(t); m != nil {
		return problem("the date is not written with hyphens and two digits", whyNoGuess, fixDate,
			wordsOf([3]int{atoi(m[1]), atoi(m[2]), atoi(m[3])})...)
	}
	if m := shortYear.FindStringSubmatch(t); m != nil {
		a, b, c := atoi(m[1]), atoi(m[2]), atoi(m[3])
		return problem("the year does not have four digits", "the century and the order are not said", fixDate,
			wordsOf([3]int{2000 + a, b, c}, [3]int{2000 + c, b, a}, [3]int{2000 + c, a, b})...)
	}
	day, word, year := 0, "", 0
	if m := wordDate.FindStringSubmatch(t); m != nil {
		day, word, year = atoi(m[1]), m[2], atoi(m[3])
	} else if m := wordFirst.FindStringSubmatch(t); m != nil {
		day, word, year = atoi(m[2]), m[1], atoi(m[3])
	}
	if month, ok := lexicon().month(word); ok {
		var readings []string
		if d, ok := calendarDate(year, month, day); ok {
			readings = append(readings, d.String())
		}
		return problem("the month is written as a word", "other systems read only digits", fixDate, readings...)
	}
	if dateAndTime.MatchString(t) {
		return problem("a time stands beside the date", "this value is a day, and a time may shift it across zones",
			fixDate, t[:10])
	}
	return problem("the text is not a date", whyNoGuess, fixDate)
}

// wordsOf spells each year-month-day that is a real date, each once.
func wordsOf(dates ...[3]int) []string {
	var out []string
	seen := map[Date]bool{}
	for _, x := range dates {
		if d, ok := calendarDate(x[0], x[1], x[2]); ok && !seen[d] {
			seen[d] = true
			out = append(out, d.Words())
		}
	}
	return out
}

func calendarDate(y, m, d int) (Date, bool) {
	date := Date{Year: y, Month: time.Month(m), Day: d}
	if y < firstYear || y > 9999 || dateOf(date.utc()) != date {
		return Date{}, false
	}
	return date, true
}

func dateOf(t time.Time) Date {
	y, m, d := t.Date()
	return Date{Year: y, Month: m, Day: d}
}

// utc puts the date at midnight UTC, where every day has 24 hours.
func (d Date) utc() time.Time { return time.Date(d.Year, d.Month, d.Day, 0, 0, 0, 0, time.UTC) }

// IsZero reports whether d is no date.
func (d Date) IsZero() bool { return d == Date{} }

// String prints the ISO 8601 date, "2026-04-03"; the zero Date is empty.
func (d Date) String() string {
	if d.IsZero() {
		return ""
	}
	return fmt.Sprintf("%04d-%02d-%02d", d.Year, int(d.Month), d.Day)
}

// Words prints the date as it is said, "3 April 2026"; the zero Date is empty.
func (d Date) Words() string {
	if d.IsZero() {
		return ""
	}
	return fmt.Sprintf("%d %s %d", d.Day, d.Month, d.Year)
}

// MarshalText writes String.
func (d Date) MarshalText() ([]byte, error) { return []byte(d.String()), nil }

// UnmarshalText reads with ParseDate; the error is a *Problem.
func (d *Date) UnmarshalText(text []byte) error {
	v, p := ParseDate(string(text))
	if p != nil {
		return p
	}
	*d = v
	return nil
}

// Before reports whether d is an earlier day than e.
func (d Date) Before(e Date) bool { return d.utc().Before(e.utc()) }

// After reports whether d is a later day than e.
func (d Date) After(e Date) bool { return d.utc().After(e.utc()) }

// DaysUntil returns the days from d to e, below zero when e is earlier.
func (d Date) DaysUntil(e Date) int {
	return int((e.utc().Unix() - d.utc().Unix()) / (24 * 60 * 60))
}

// AddDays returns the day n days later, or earlier when n is below zero.
func (d Date) AddDays(n int) Date { return dateOf(d.utc().AddDate(0, 0, n)) }

// AgeAt returns the completed years on the given day of a person born on d. It
// is below zero when the day is before the birth. Who was born on 29 February
// completes a year on 1 March of a common year.
func (d Date) AgeAt(on Date) int {
	age := on.Year - d.Year
	if on.Month < d.Month || (on.Month == d.Month && on.Day < d.Day) {
		age--
	}
	return age
}
