package quantity

import (
	"slices"
	"strings"
	"testing"
)

// Readings of dictated clock hours: common practice, no source. The two
// meanings of "half five" are those of British English (half past) and of
// German and Dutch (half before).
func TestClockHour(t *testing.T) {
	for _, c := range []struct{ text, prints, hours, degrees string }{
		{"11 o'clock", "11 o'clock", "11", "330"},
		{"11 O’Clock", "11 o'clock", "11", "330"},
		{"11", "11 o'clock", "11", "330"},
		{"eleven", "11 o'clock", "11", "330"},
		{"12:00", "12 o'clock", "12", "0"},
		{"5:30", "5:30", "5.5", "165"},
		{"5.5", "5:30", "5.5", "165"},
		{"5.50", "5:30", "5.5", "165"},
		{"half past 5", "5:30", "5.5", "165"},
		{"half past five", "5:30", "5.5", "165"},
		{"12:30", "12:30", "0.5", "15"},
		{"0:30", "12:30", "0.5", "15"},
		{"12.5", "12:30", "0.5", "15"},
		{"0.5", "12:30", "0.5", "15"},
		{"3", "3 o'clock", "3", "90"},
		{"3.0", "3 o'clock", "3", "90"},
	} {
		h, p := ParseClockHour(c.text)
		if p != nil {
			t.Errorf("%q: %v", c.text, p)
			continue
		}
		if h.String() != c.prints || h.Hours().String() != c.hours || h.Degrees().String() != c.degrees {
			t.Errorf("%q: %s, %v hours, %v degrees", c.text, h, h.Hours(), h.Degrees())
		}
	}
}

func TestRefusedClockHour(t *testing.T) {
	for _, c := range []struct {
		text     string
		readings []string
	}{
		{"half five", []string{"5:30", "4:30"}},
		{"half one", []string{"1:30", "12:30"}},
		{"2:15", []string{"2 o'clock", "2:30"}},
		{"2.75", []string{"2:30", "3 o'clock"}},
		{"12:45", []string{"12:30", "1 o'clock"}},
		{"0:15", []string{"12 o'clock", "12:30"}},
		{"quarter to 1", []string{"12:30", "1 o'clock"}},
		{"quarter past 2", []string{"2 o'clock", "2:30"}},
		{"5.30", []string{"5:30", "5.3 hours"}},
		{"5,5", []string{"5.5", "5 and 5"}},
		{"between one and two", []string{"1:30"}},
		{"between twelve and one", []string{"12:30"}},
		{"between 2 and 5", nil},
		{"10-2", nil}, {"10 to 2", nil}, {"0", nil}, {"0:00", nil}, {"13", nil}, {"13.5", nil}, {"-1", nil},
		{"5:60", nil}, {"half thirteen", nil}, {"half 0", nil}, {"", nil}, {"o'clock", nil}, {"noon", nil}, {"NaN", nil},
	} {
		h, p := ParseClockHour(c.text)
		if p == nil || !slices.Equal(p.Readings, c.readings) {
			t.Errorf("%q: %v, %+v", c.text, h, p)
		}
	}
}

// The face is a circle of twelve hours (geometry): no gap is above six hours,
// it is the same both ways, and it is zero only to the same place.
func TestClockGap(t *testing.T) {
	for _, c := range [][3]string{
		{"11", "1", "2"}, {"12:30", "11:30", "1"}, {"12", "6", "6"}, {"5:30", "11", "5.5"}, {"3", "3", "0"}, {"12", "12:30", "0.5"},
	} {
		a, _ := ParseClockHour(c[0])
		b, _ := ParseClockHour(c[1])
		if got := a.Gap(b).String(); got != c[2] || b.Gap(a).String() != c[2] {
			t.Errorf("from %s to %s: %s, want %s", a, b, got, c[2])
		}
	}
	for i := 1; i <= facesHalves; i++ {
		for j := 1; j <= facesHalves; j++ {
			gap := ClockHour{i}.Gap(ClockHour{j})
			if gap.Cmp(FromInt(6)) > 0 || gap.IsZero() != (i == j) {
				t.Errorf("from %v to %v: %v", ClockHour{i}, ClockHour{j}, gap)
			}
		}
	}
	if !(ClockHour{}).IsZero() || (ClockHour{}).String() != "" {
		t.Error("the zero ClockHour is a place")
	}
}

func TestClockHours(t *testing.T) {
	for text, want := range map[string]string{
		"10, 2": "10 o'clock, 2 o'clock", "10 and 2": "10 o'clock, 2 o'clock", "10,2": "10 o'clock, 2 o'clock",
		"11; 5:30": "11 o'clock, 5:30", "1, 2, and half past five": "1 o'clock, 2 o'clock, 5:30", "10": "10 o'clock",
	} {
		list, p := ParseClockHours(text)
		var said []string
		for _, h := range list {
			said = append(said, h.String())
		}
		if p != nil || strings.Join(said, ", ") != want {
			t.Errorf("%q: %q, %v", text, said, p)
		}
	}
	for text, readings := range map[string][]string{
		"12,5": {"12:30", "12 and 5"}, "2 and 2": nil, "10,,2": nil, ",": nil, "between one and two": {"1:30"},
		"10 and half five": {"5:30", "4:30"}, "": nil,
	} {
		if list, p := ParseClockHours(text); p == nil || !slices.Equal(p.Readings, readings) {
			t.Errorf("%q: %v, %+v", text, list, p)
		}
	}
}
