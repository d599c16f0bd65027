package schema

import (
	"sync"
	"time"
	_ "time/tzdata" // the same zones on every machine, Windows too

	"graftnote/schema/quantity"
)

var zones sync.Map // name to *time.Location: reading one costs more than a check

func loadZone(name string) (*time.Location, error) {
	if z, ok := zones.Load(name); ok {
		return z.(*time.Location), nil
	}
	z, err := time.LoadLocation(name)
	if err == nil {
		zones.Store(name, z)
	}
	return z, err
}

// moment is a time of day of the operation with its zone.
func (e *Entry) moment(day Answer[quantity.Date], at Answer[quantity.TimeOfDay]) (time.Time, quantity.LocalKind, bool) {
	if !day.Recorded() || !at.Recorded() || !e.Episode.Zone.Recorded() {
		return time.Time{}, "", false
	}
	zone, err := loadZone(e.Episode.Zone.Value())
	if err != nil {
		return time.Time{}, "", false
	}
	t, status := quantity.ResolveLocal(day.Value(), at.Value(), zone)
	return t, status.Kind, true
}

// Started is the start of the operation as a zoned moment.
func (e *Entry) Started() (time.Time, bool) { return e.sound(e.Episode.Date, e.Episode.Start) }

// Ended is the end of the operation; it may lie on the day after.
func (e *Entry) Ended() (time.Time, bool) {
	day := e.Episode.Date
	if e.Episode.EndDate.Recorded() {
		day = e.Episode.EndDate
	}
	return e.sound(day, e.Episode.End)
}

func (e *Entry) sound(day Answer[quantity.Date], at Answer[quantity.TimeOfDay]) (time.Time, bool) {
	t, status, ok := e.moment(day, at)
	return t, ok && status == quantity.LocalOK
}

// clock checks the zone and the times that fall into a change of the clocks.
func (c *checker) clock() {
	zone := c.e.Episode.Zone
	if zone.Recorded() {
		name := zone.Value()
		if _, err := loadZone(name); err != nil || name == "Local" || name == "" {
			f := c.finding("zone-unknown", zone.Pos(), "episode.zone")
			f.Excerpt = c.line(zone.Pos())
			c.push(f)
			return
		}
	}
	for _, at := range []Answer[quantity.TimeOfDay]{c.e.Episode.Start, c.e.Episode.End} {
		_, status, ok := c.e.moment(c.e.Episode.Date, at)
		rule := ""
		switch {
		case ok && status == quantity.LocalGap:
			rule = "time-skipped"
		case ok && status == quantity.LocalOverlap:
			rule = "time-doubled"
		default:
			continue
		}
		f := c.finding(rule, at.Pos(), at.Row().Path())
		f.Excerpt = c.line(at.Pos())
		c.push(f)
	}
}
