package schema

import (
	"slices"

	"graftnote/schema/quantity"
)

func deriveFailureRecorded(s *scope) DerivedValue {
	for _, v := range s.e.Visits {
		if v.Status.Is("failed") || v.FailureCause.Recorded() || v.FailureDate.Recorded() {
			return someYes(true)
		}
	}
	return someYes(false)
}

// deriveSuturedAgain: stitches placed later add to those of the operation.
func deriveSuturedAgain(s *scope) DerivedValue {
	return someYes(slices.ContainsFunc(s.e.Visits, func(v Visit) bool { return v.FurtherSurgery.Is("resuture", "regraft") }))
}

// daysPerYear is the mean of the Julian year, used for months since surgery.
var daysPerYear = quantity.MustDecimal("365.25")

func (s *scope) visitMonths(v Visit) (quantity.Decimal, bool) {
	day := s.e.Episode.Date
	if !v.Date.Recorded() || !day.Recorded() {
		return quantity.Decimal{}, false
	}
	return monthsBetween(day.Value(), v.Date.Value()), true
}

// monthsBetween counts months by the mean year, to one place.
func monthsBetween(from, to quantity.Date) quantity.Decimal {
	days := quantity.FromInt(int64(from.DaysUntil(to)))
	return days.Mul(quantity.FromInt(12)).Quo(daysPerYear, quotientDigits).Round(1)
}

func deriveVisitMonths(s *scope) []DerivedValue {
	return perItem(s.e.Visits, func(v Visit) DerivedValue {
		months, ok := s.visitMonths(v)
		if !ok {
			return unknown
		}
		return someNumber(months)
	})
}

func deriveVisitWindowGap(s *scope) []DerivedValue {
	return perItem(s.e.Visits, func(v Visit) DerivedValue {
		months, ok := s.visitMonths(v)
		nominal, has := amount(v.Nominal)
		if !ok || !has {
			return unknown
		}
		return someNumber(months.Sub(nominal).Abs())
	})
}

func deriveVisitInFuture(s *scope) []DerivedValue {
	today, ok := s.today()
	return perItem(s.e.Visits, func(v Visit) DerivedValue {
		if !ok || !v.Date.Recorded() {
			return unknown
		}
		return someYes(v.Date.Value().After(today))
	})
}

func deriveVisitAfterEnd(s *scope) []DerivedValue {
	return s.anyEarlier(func(earlier, _ Visit) bool { return earlier.Status.Is("died") })
}

// deriveSurvivingAfterFailure: a failure can have been called too early, so what
// uses this asks and does not block.
func deriveSurvivingAfterFailure(s *scope) []DerivedValue {
	return s.anyEarlier(func(earlier, v Visit) bool {
		return earlier.Status.Is("failed") && v.Status.Is("surviving") && !s.regraftedBetween(earlier, v)
	})
}

// anyEarlier tells of each visit whether one of the earlier days bears it out;
// unknown for a visit without a date.
func (s *scope) anyEarlier(bears func(earlier, v Visit) bool) []DerivedValue {
	return perItem(s.e.Visits, func(v Visit) DerivedValue {
		if !v.Date.Recorded() {
			return unknown
		}
		return someYes(slices.ContainsFunc(s.e.Visits, func(earlier Visit) bool {
			return earlier.Date.Recorded() && earlier.Date.Value().Before(v.Date.Value()) && bears(earlier, v)
		}))
	})
}

// regraftedBetween reports a new graft from the first visit to the last.
func (s *scope) regraftedBetween(first, last Visit) bool {
	for _, v := range s.e.Visits {
		if !v.Date.Recorded() || v.Date.Value().Before(first.Date.Value()) || v.Date.Value().After(last.Date.Value()) {
			continue
		}
		if v.Status.Is("regrafted") || v.FurtherSurgery.Is("regraft") {
			return true
		}
	}
	return false
}

func deriveMonthsToLastSuture(s *scope) []DerivedValue {
	day := s.e.Episode.Date
	return perItem(s.e.Visits, func(v Visit) DerivedValue {
		if !v.LastSutureOut.Recorded() || !day.Recorded() {
			return unknown
		}
		return someCount(completedMonths(day.Value(), v.LastSutureOut.Value()))
	})
}

// completedMonths counts whole calendar months from one day to another.
func completedMonths(from, to quantity.Date) int {
	n := (to.Year-from.Year)*12 + int(to.Month) - int(from.Month)
	if to.Day < from.Day {
		n--
	}
	return n
}

func deriveCellCountRise(s *scope) []DerivedValue {
	return perItem(s.e.Visits, func(v Visit) DerivedValue {
		now, before, ok := amounts(v.HostECD, s.e.Before.HostECD)
		if !ok {
			return unknown
		}
		return share(now.Sub(before), before)
	})
}

func deriveAcuityChange(s *scope) []DerivedValue {
	before, ok := logMAR(s.e.Before.Corrected)
	return perItem(s.e.Visits, func(v Visit) DerivedValue {
		now, has := logMAR(v.Corrected)
		if !ok || !has {
			return unknown
		}
		return someNumber(now.Sub(before))
	})
}

// notExamined are the answers of a visit that need no examination.
var notExamined = []string{"id", "date", "nominal", "eye", "status", "failure-cause", "failure-date"}

func deriveVisitFindings(s *scope) []DerivedValue {
	out := make([]DerivedValue, len(s.e.Visits))
	for i := range out {
		n := 0
		for _, r := range Content().groups["visits"].Fields {
			if !slices.Contains(notExamined, r.Key) && s.e.slot(r, i).Recorded() {
				n++
			}
		}
		out[i] = someCount(n)
	}
	return out
}
