package schema

import (
	"slices"

	"graftnote/schema/quantity"
)

func deriveChamberBubbleValues(s *scope) DerivedValue {
	b := s.e.ChamberBubble
	return someCount(recordedAmong(&b.Placed, &b.Diameter, &b.Volume, &b.Gas, &b.Position))
}

func deriveSphereVolume(s *scope) DerivedValue {
	d, ok := amount(s.e.ChamberBubble.Diameter)
	if !ok {
		return unknown
	}
	v := quantity.SphereVolume(d)
	if !v.IsDefined() {
		return unknown
	}
	return someNumber(v)
}

func deriveChamberVolumeRatio(s *scope) DerivedValue {
	volume, ok := amount(s.e.ChamberBubble.Volume)
	sphere, has := known(deriveSphereVolume(s))
	if !ok || !has {
		return unknown
	}
	q := volume.Quo(sphere, quotientDigits)
	if !q.IsDefined() {
		return unknown
	}
	return someNumber(q.Round(2))
}

func deriveAttempts(s *scope) DerivedValue { return someCount(len(s.e.Injections)) }

// attemptsWith counts the attempts with one of the media. A silent list counts
// none: a manual operation has no attempts.
func attemptsWith(media ...Code) func(*scope) DerivedValue {
	return func(s *scope) DerivedValue {
		n := 0
		for _, a := range s.e.Injections {
			if !a.Medium.Recorded() {
				return unknown
			}
			if a.Medium.Is(media...) {
				n++
			}
		}
		return someCount(n)
	}
}

func deriveFailedAirAttempts(s *scope) DerivedValue {
	tried := false
	for _, a := range s.e.Injections {
		if !a.Medium.Is("air") {
			continue
		}
		if !a.Result.Recorded() {
			return unknown
		}
		if a.Result.Is("full-bubble", "partial-bubble") {
			return someYes(false)
		}
		tried = true
	}
	return someYes(tried)
}

func deriveEntryParacentesisGap(s *scope) []DerivedValue {
	hours := s.e.Paracentesis.Hours
	return perItem(s.e.Injections, func(a Attempt) DerivedValue {
		if !a.Hour.Recorded() || !hours.Recorded() || len(hours.Value()) == 0 {
			return unknown
		}
		gaps := make([]quantity.Decimal, 0, len(hours.Value()))
		for _, h := range hours.Value() {
			gaps = append(gaps, a.Hour.Value().Gap(h))
		}
		return someNumber(slices.MinFunc(gaps, quantity.Decimal.Cmp))
	})
}

func deriveNoComplications(s *scope) DerivedValue {
	state := s.e.List("events")
	if !state.Stated || state.Reason != "" || state.unread {
		return unknown
	}
	for _, ev := range s.e.Events {
		if !ev.Kind.Is("none") {
			return someYes(false)
		}
	}
	return someYes(true)
}

func deriveConverted(s *scope) DerivedValue {
	p := s.e.Procedure.Performed
	if !p.Recorded() {
		return unknown
	}
	return someYes(p.Is("converted-penetrating"))
}

// eventsOf counts the events of the given kinds; unknown while the list of
// events is silent.
func eventsOf(kinds ...Code) func(*scope) DerivedValue {
	return func(s *scope) DerivedValue {
		if !s.e.List("events").Stated {
			return unknown
		}
		n := 0
		for _, ev := range s.e.Events {
			if ev.Kind.Is(kinds...) {
				n++
			}
		}
		return someCount(n)
	}
}

func deriveLargestTear(s *scope) DerivedValue {
	largest := unknown
	for _, ev := range s.e.Events {
		size, ok := amount(ev.Size)
		if ok && ev.Kind.Is("microperforation", "macroperforation") && (!largest.Known || size.Cmp(largest.Number) > 0) {
			largest = someNumber(size)
		}
	}
	return largest
}

func deriveEventTold(s *scope) []DerivedValue {
	return perItem(s.e.Events, func(ev Event) DerivedValue {
		return someYes(ev.ManagedBy.Is("closed", "converted") || ev.Consequence.Is("converted", "staged") || ev.Detail.Recorded())
	})
}

func deriveSeenOutsideOperation(s *scope) []DerivedValue {
	day := s.e.Episode
	return perItem(s.e.Events, func(ev Event) DerivedValue {
		if !ev.SeenAt.Recorded() || !day.Start.Recorded() || !day.End.Recorded() {
			return unknown
		}
		seen, from, to := minuteOf(ev.SeenAt.Value()), minuteOf(day.Start.Value()), minuteOf(day.End.Value())
		if to < from { // past midnight
			return someYes(seen > to && seen < from)
		}
		return someYes(seen < from || seen > to)
	})
}

func deriveInterruptedOdd(s *scope) DerivedValue {
	i := s.e.Sutures.Interrupted
	if !i.Recorded() {
		return unknown
	}
	return someYes(i.Value().Count%2 != 0)
}

func deriveStitchesTotal(s *scope) DerivedValue {
	t := s.e.Sutures
	stitches, bites := t.Pattern.Is("interrupted", "interrupted-and-running"), t.Pattern.Is("single-running", "double-running", "interrupted-and-running")
	if !t.Pattern.Recorded() || stitches && !t.Interrupted.Recorded() || bites && !t.Running.Recorded() {
		return unknown
	}
	n := t.Interrupted.Value().Count
	for _, r := range t.Running.Value() {
		n += r.Count
	}
	return someCount(n)
}

// deriveSutureSizeDiffers looks only at a size typed in its own field: a size
// taken over from the count agrees with it by making.
func deriveSutureSizeDiffers(s *scope) DerivedValue {
	t := s.e.Sutures
	if !t.Gauge.Recorded() || t.Gauge.Pos() == t.Interrupted.Pos() || t.Gauge.Pos() == t.Running.Pos() {
		return unknown
	}
	groups := t.Running.Value()
	if t.Interrupted.Recorded() {
		groups = append([]quantity.Stitches{t.Interrupted.Value()}, groups...)
	}
	for _, g := range groups {
		if g.Gauge != "" && Code(g.Gauge) != t.Gauge.Value() {
			return someYes(true)
		}
	}
	return someYes(false)
}
