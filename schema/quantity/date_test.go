package quantity

import (
	"slices"
	"testing"
	"time"
)

func day(t testing.TB, text string) Date {
	t.Helper()
	d, p := ParseDate(text)
	if p != nil {
		t.Fatalf("%q: %v", text, p)
	}
	return d
}

// Format: ISO 8601-1, calendar date, extended format. Leap years: Gregorian
// calendar (2000 is one, 1900 and 2100 are not).
func TestDate(t *testing.T) {
	for text, words := range map[string]string{
		"2026-04-03": "3 April 2026", "1923-12-31": "31 December 1923", "2000-02-29": "29 February 2000", " 2024-02-29 ": "29 February 2024",
	} {
		if got := day(t, text).Words(); got != words {
			t.Errorf("%q: %s, want %s", text, got, words)
		}
	}
	d := day(t, "2026-04-03")
	var back Date
	text, err := d.MarshalText()
	if err != nil || string(text) != "2026-04-03" || back.UnmarshalText(text) != nil || back != d {
		t.Errorf("%v comes back as %v", d, back)
	}
	if back.UnmarshalText([]byte("03/04/2026")) == nil {
		t.Error("an ambiguous date was read from text")
	}
	if !(Date{}).IsZero() || (Date{}).String() != "" || (Date{}).Words() != "" {
		t.Error("the zero Date prints something")
	}
}

// RFC 3339, section 5.7, for impossible days; the order of day and month is
// common practice in each country, no source.
func TestRefusedDate(t *testing.T) {
	for _, c := range []struct {
		text     string
		readings []string
	}{
		{"03/04/2026", []string{"3 April 2026", "4 March 2026"}},
		{"3.4.2026", []string{"3 April 2026", "4 March 2026"}},
		{"13/04/2026", []string{"13 April 2026"}},
		{"04/04/2026", []string{"4 April 2026"}},
		{"2026-4-3", []string{"3 April 2026"}},
		{"2026/04/03", []string{"3 April 2026"}},
		{"20260403", []string{"3 April 2026"}},
		{"26-1-5", []string{"5 January 2026", "26 January 2005"}},
		{"2026-13-01", []string{"13 January 2026"}},
		{"3 April 2026", []string{"2026-04-03"}},
		{"3rd Apr 2026", []string{"2026-04-03"}},
		{"April 3, 2026", []string{"2026-04-03"}},
		{"2026-04-03T10:00Z", []string{"2026-04-03"}},
		{"2026-02-30", nil}, {"2026-02-29", nil}, {"1900-02-29", nil}, {"2100-02-29", nil}, {"2026-00-01", nil},
		{"2026-01-00", nil}, {"2026-04-31", nil}, {"0001-01-01", nil}, {"1899-12-31", nil}, {"31 Febtober 2026", nil},
		{"31/02/2026", nil}, {"tomorrow", nil}, {"", nil}, {"２０２６-04-03", nil}, {"2026-04-03\u202e", nil}, {"99999-01-01", nil},
	} {
		d, p := ParseDate(c.text)
		if p == nil || !slices.Equal(p.Readings, c.readings) {
			t.Errorf("%q: %v, %+v", c.text, d, p)
		}
	}
}

// POSIX seconds since the epoch: 2000-01-01 is 946684800, so 10957 days of
// 86400 seconds after 1970-01-01. 2000 is a leap year.
func TestDays(t *testing.T) {
	a, b := day(t, "1970-01-01"), day(t, "2000-01-01")
	if n := a.DaysUntil(b); n != 10957 || b.DaysUntil(a) != -10957 {
		t.Errorf("%d days from %v to %v", n, a, b)
	}
	if got := a.AddDays(10957); got != b || b.AddDays(-10957) != a {
		t.Errorf("10957 days on is %v", got)
	}
	if got := day(t, "2024-02-28").AddDays(2).String(); got != "2024-03-01" {
		t.Errorf("two days on is %s", got)
	}
	if !a.Before(b) || a.After(b) || !b.After(a) || a.Before(a) || a.After(a) {
		t.Error("the order of days is wrong")
	}
}

// Birthday on 29 February: the year is completed on 1 March of a common year,
// as in English law; other countries take 28 February (from memory, unverified).
func TestAge(t *testing.T) {
	for _, c := range []struct {
		born, on string
		age      int
	}{
		{"1990-06-15", "2026-06-14", 35}, {"1990-06-15", "2026-06-15", 36}, {"1923-01-01", "2026-09-08", 103},
		{"2004-02-29", "2025-02-28", 20}, {"2004-02-29", "2025-03-01", 21}, {"2004-02-29", "2024-02-29", 20},
		{"2026-09-08", "2026-09-08", 0}, {"2026-09-08", "2026-09-07", -1},
	} {
		if got := day(t, c.born).AgeAt(day(t, c.on)); got != c.age {
			t.Errorf("born %s, on %s: %d, want %d", c.born, c.on, got, c.age)
		}
	}
}

// Format: ISO 8601-1 extended, 24-hour clock; offset as in RFC 3339, 5.6.
func TestTimeOfDay(t *testing.T) {
	for text, want := range map[string]TimeOfDay{
		"09:05": {Hour: 9, Minute: 5}, "00:00": {}, "23:59": {Hour: 23, Minute: 59},
		"02:30+01:00": {Hour: 2, Minute: 30, HasOffset: true, Offset: 60},
		"02:30-03:30": {Hour: 2, Minute: 30, HasOffset: true, Offset: -210},
		"02:30Z":      {Hour: 2, Minute: 30, HasOffset: true},
		"02:30+14:00": {Hour: 2, Minute: 30, HasOffset: true, Offset: 840},
	} {
		got, p := ParseTimeOfDay(text)
		if p != nil || got != want || got.String() != text {
			t.Errorf("%q: %+v, %v", text, got, p)
		}
	}
	for _, c := range []struct {
		text     string
		readings []string
	}{
		{"9:05", []string{"09:05", "21:05"}}, {"9.05", []string{"09:05", "21:05"}}, {"0905", []string{"09:05"}},
		{"14h30", []string{"14:30"}}, {"9:05 pm", []string{"21:05"}}, {"12:10 a.m.", []string{"00:10"}}, {"12 pm", []string{"12:00"}},
		{"24:00", []string{"00:00"}}, {"09:05:30", []string{"09:05"}},
		{"24:01", nil}, {"25:00", nil}, {"09:60", nil}, {"2500", nil}, {"13 pm", []string{"13:00"}},
		{"02:30+14:01", nil}, {"02:30-14:30", nil}, {"02:30+01:60", nil}, {"02:30-00:00", nil}, {"noon", nil}, {"", nil},
	} {
		got, p := ParseTimeOfDay(c.text)
		if p == nil || !slices.Equal(p.Readings, c.readings) {
			t.Errorf("%q: %v, %+v", c.text, got, p)
		}
	}
}

// The reference reader is Go's own RFC 3339 layout. Seconds left out and the
// bound of fourteen hours are this package's.
func TestInstant(t *testing.T) {
	for _, text := range []string{
		"2026-09-08T10:20:00+01:00", "2026-09-08T10:20:30Z", "2026-09-08T10:20:30.125-03:30", "2026-12-31T23:59:59+14:00",
	} {
		want, err := time.Parse(time.RFC3339Nano, text)
		got, p := ParseInstant(text)
		if err != nil || p != nil || !got.Equal(want) || got.Format(time.RFC3339Nano) != text {
			t.Errorf("%s: %v, %v", text, got, p)
		}
	}
	short, p := ParseInstant("2026-09-08T10:20+01:00")
	if p != nil || short.Format(time.RFC3339) != "2026-09-08T10:20:00+01:00" {
		t.Errorf("without seconds: %v, %v", short, p)
	}
	for _, c := range []struct {
		text     string
		readings []string
	}{
		{"2026-09-08T10:20", []string{"2026-09-08T10:20Z?"}}, {"2026-09-08 10:20:30", []string{"2026-09-08 10:20:30Z?"}},
		{"2026-09-08T10:20+15:00", nil}, {"2026-09-08T10:20-00:00", nil}, {"2026-02-30T10:20Z", nil}, {"2026-09-08T24:00Z", nil},
		{"2026-09-08T10:60Z", nil}, {"2026-09-08T10:20:60Z", nil}, {"0001-01-01T00:00Z", nil}, {"2026-09-08", nil}, {"", nil},
		{"2026-09-08T10:20 Europe/London", nil},
	} {
		got, p := ParseInstant(c.text)
		if p == nil || !slices.Equal(p.Readings, c.readings) {
			t.Errorf("%q: %v, %+v", c.text, got, p)
		}
	}
}
