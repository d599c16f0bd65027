package quantity

import (
	"testing"
	"time"
	_ "time/tzdata"
)

// Source: IANA time zone database. Europe changes at 01:00 UTC on the last
// Sundays of March and October (Directive 2000/84/EC); Samoa left out 30
// December 2011; Lord Howe Island moves by half an hour.
func TestResolveLocal(t *testing.T) {
	for _, c := range []struct {
		zone, date, tod string
		kind            LocalKind
		at              string // the instant, or "earlier later"
		later           string
	}{
		{"Europe/London", "2026-09-08", "10:20", LocalOK, "2026-09-08T09:20:00Z", ""},
		{"Europe/London", "2026-03-29", "01:30", LocalGap, "2026-03-29T00:30:00Z", "2026-03-29T01:30:00Z"},
		{"Europe/London", "2026-03-29", "02:00", LocalOK, "2026-03-29T01:00:00Z", ""},
		{"Europe/London", "2026-10-25", "01:30", LocalOverlap, "2026-10-25T00:30:00Z", "2026-10-25T01:30:00Z"},
		{"Europe/London", "2026-10-25", "01:30Z", LocalOK, "2026-10-25T01:30:00Z", ""},
		{"Europe/London", "2026-10-25", "01:30+01:00", LocalOK, "2026-10-25T00:30:00Z", ""},
		{"Europe/London", "2026-10-25", "01:30+02:00", LocalOffsetMismatch, "2026-10-24T23:30:00Z", ""},
		{"Europe/London", "2026-03-29", "01:30Z", LocalOffsetMismatch, "2026-03-29T01:30:00Z", ""},
		{"Europe/Berlin", "2026-03-29", "02:30", LocalGap, "2026-03-29T00:30:00Z", "2026-03-29T01:30:00Z"},
		{"Europe/Berlin", "2026-10-25", "02:30", LocalOverlap, "2026-10-25T00:30:00Z", "2026-10-25T01:30:00Z"},
		{"Europe/Berlin", "2026-10-25", "03:00", LocalOK, "2026-10-25T02:00:00Z", ""},
		{"Australia/Lord_Howe", "2026-04-05", "01:45", LocalOverlap, "2026-04-04T14:45:00Z", "2026-04-04T15:15:00Z"},
		{"Pacific/Apia", "2011-12-30", "12:00", LocalGap, "2011-12-29T22:00:00Z", "2011-12-30T22:00:00Z"},
		{"Pacific/Kiritimati", "2026-01-01", "00:10", LocalOK, "2025-12-31T10:10:00Z", ""},
		{"UTC", "2026-03-29", "01:30", LocalOK, "2026-03-29T01:30:00Z", ""},
	} {
		loc, err := time.LoadLocation(c.zone)
		if err != nil {
			t.Fatal(err)
		}
		tod, p := ParseTimeOfDay(c.tod)
		if p != nil {
			t.Fatal(p)
		}
		at, status := ResolveLocal(day(t, c.date), tod, loc)
		if status.Kind != c.kind {
			t.Errorf("%s %s %s: %s, want %s", c.zone, c.date, c.tod, status.Kind, c.kind)
			continue
		}
		if c.later != "" {
			if !at.IsZero() || utc(status.Earlier) != c.at || utc(status.Later) != c.later {
				t.Errorf("%s %s %s: %v, %s and %s", c.zone, c.date, c.tod, at, utc(status.Earlier), utc(status.Later))
			}
		} else if utc(at) != c.at {
			t.Errorf("%s %s %s: %s, want %s", c.zone, c.date, c.tod, utc(at), c.at)
		}
	}
	at, status := ResolveLocal(day(t, "2026-03-29"), TimeOfDay{Hour: 1, Minute: 30}, nil)
	if status.Kind != LocalOK || utc(at) != "2026-03-29T01:30:00Z" {
		t.Errorf("no location: %v, %v", at, status)
	}
}

func utc(t time.Time) string { return t.UTC().Format(time.RFC3339) }

// Go's time.Date is the reference for times that exist once: every quarter hour
// of the two days around each change, apart from the gap and the overlap.
func TestResolveLocalAgainstGo(t *testing.T) {
	loc, err := time.LoadLocation("Europe/London")
	if err != nil {
		t.Fatal(err)
	}
	for _, start := range []string{"2026-03-28", "2026-10-24"} {
		for n := range 3 * 96 {
			d := day(t, start).AddDays(n / 96)
			tod := TimeOfDay{Hour: n % 96 / 4, Minute: n % 4 * 15}
			at, status := ResolveLocal(d, tod, loc)
			if tod.Hour == 1 && n/96 == 1 {
				if status.Kind == LocalOK {
					t.Errorf("%v %v is said to be one instant", d, tod)
				}
				continue
			}
			if want := time.Date(d.Year, d.Month, d.Day, tod.Hour, tod.Minute, 0, 0, loc); status.Kind != LocalOK || !at.Equal(want) {
				t.Errorf("%v %v: %v %s, want %v", d, tod, at, status.Kind, want)
			}
		}
	}
}
