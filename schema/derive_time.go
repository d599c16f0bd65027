package schema

import (
	"time"

	"graftnote/schema/quantity"
)

func deriveAge(s *scope) DerivedValue {
	born, day := s.e.Patient.Born, s.e.Episode.Date
	if !born.Recorded() || !day.Recorded() || born.Value().After(day.Value()) {
		return unknown
	}
	return someCount(born.Value().AgeAt(day.Value()))
}

func deriveStatedAgeGap(s *scope) DerivedValue {
	stated, ok := amount(s.e.Patient.StatedAge)
	age, has := known(deriveAge(s))
	if !ok || !has {
		return unknown
	}
	return someNumber(stated.Sub(age).Abs())
}

const minutesPerDay = 24 * 60

// deriveDuration uses the wall clock, as the theatre record does. A change of
// the clocks during the operation is seen by the zoned moments elsewhere.
func deriveDuration(s *scope) DerivedValue {
	e := s.e.Episode
	if !e.Start.Recorded() || !e.End.Recorded() {
		return unknown
	}
	if from, ok := s.e.Started(); ok {
		if to, ok := s.e.Ended(); ok && e.EndDate.Recorded() {
			return someCount(int(to.Sub(from) / time.Minute))
		}
	}
	minutes := minuteOf(e.End.Value()) - minuteOf(e.Start.Value())
	switch {
	case e.EndDate.Recorded() && e.Date.Recorded():
		minutes += minutesPerDay * e.Date.Value().DaysUntil(e.EndDate.Value())
	case minutes < 0:
		minutes += minutesPerDay
	}
	return someCount(minutes)
}

func minuteOf(t quantity.TimeOfDay) int { return t.Hour*60 + t.Minute }

func deriveEndBeforeStart(s *scope) DerivedValue {
	e := s.e.Episode
	if !e.Start.Recorded() || !e.End.Recorded() {
		return unknown
	}
	return someYes(!e.EndDate.Recorded() && minuteOf(e.End.Value()) < minuteOf(e.Start.Value()))
}

// endMoment is the end as a zoned moment; an end before the start without a
// date of its own lies on the next day.
func (s *scope) endMoment() (time.Time, bool) {
	end, ok := s.e.Ended()
	if !ok {
		return time.Time{}, false
	}
	if start, has := s.e.Started(); has && end.Before(start) && !s.e.Episode.EndDate.Recorded() {
		end = end.AddDate(0, 0, 1)
	}
	return end, true
}

func deriveBegunBeforeEnd(s *scope) DerivedValue {
	end, ok := s.endMoment()
	if !ok || !s.e.Episode.Begun.Recorded() {
		return unknown
	}
	return someYes(s.e.Episode.Begun.Value().Before(end))
}

// today is the day of the check where the operation took place.
func (s *scope) today() (quantity.Date, bool) {
	if s.o.Now.IsZero() {
		return quantity.Date{}, false
	}
	now := s.o.Now
	if zone := s.e.Episode.Zone; zone.Recorded() {
		if place, err := time.LoadLocation(zone.Value()); err == nil {
			now = now.In(place)
		}
	}
	return quantity.Date{Year: now.Year(), Month: now.Month(), Day: now.Day()}, true
}

func deriveDaysSinceSurgery(s *scope) DerivedValue {
	today, ok := s.today()
	if !ok || !s.e.Episode.Date.Recorded() {
		return unknown
	}
	return someCount(s.e.Episode.Date.Value().DaysUntil(today))
}

// deriveEndInFuture looks at the hour only; a day in the future has a rule of
// its own.
func deriveEndInFuture(s *scope) DerivedValue {
	end, ok := s.endMoment()
	days, has := known(deriveDaysSinceSurgery(s))
	if !ok || !has {
		return unknown
	}
	return someYes(days.Sign() >= 0 && end.After(s.o.Now))
}

func deriveRecoveryBeforeNote(s *scope) DerivedValue {
	end, ok := s.endMoment()
	left, status, has := s.e.moment(s.e.Episode.Date, s.e.Episode.LeftRecovery)
	if !ok || !has || status != quantity.LocalOK || !s.e.Episode.Begun.Recorded() {
		return unknown
	}
	for left.Before(end) { // left recovery past midnight
		left = left.AddDate(0, 0, 1)
	}
	return someYes(s.e.Episode.Begun.Value().After(left))
}

func deriveDelayToNote(s *scope) DerivedValue {
	begun, day := s.e.Episode.Begun, s.e.Episode.Date
	if !begun.Recorded() || !day.Recorded() {
		return unknown
	}
	at := begun.Value()
	on := quantity.Date{Year: at.Year(), Month: at.Month(), Day: at.Day()}
	return someCount(day.Value().DaysUntil(on))
}

func deriveTraineeOperates(s *scope) DerivedValue {
	for _, p := range s.e.Team {
		if p.Role.Is("surgeon") && p.Grade.Is("trainee") {
			return someYes(true)
		}
	}
	return someYes(false)
}

func deriveSmallSite(s *scope) DerivedValue {
	if s.o.Site == nil {
		return unknown
	}
	return someYes(s.o.Site.Small)
}
