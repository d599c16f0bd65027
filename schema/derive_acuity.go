package schema

import "graftnote/schema/quantity"

// correctionLoss is how much worse the corrected acuity is than the unaided one,
// in logMAR; unknown off the chart and between two kinds of scale.
func correctionLoss(unaided, corrected Answer[quantity.Acuity]) DerivedValue {
	if !unaided.Recorded() || !corrected.Recorded() {
		return unknown
	}
	if u, c := unaided.Value(), corrected.Value(); u.Scale == quantity.ScaleLetters && c.Scale == quantity.ScaleLetters {
		return someNumber(u.Value.Sub(c.Value).Quo(quantity.FromInt(quantity.LettersPerLogMAR), quotientDigits))
	}
	without, ok := logMAR(unaided)
	with, has := logMAR(corrected)
	if !ok || !has {
		return unknown
	}
	return someNumber(with.Sub(without))
}

// offChartByCorrection reports a corrected acuity off the chart beside an unaided
// one that was read from it.
func offChartByCorrection(unaided, corrected Answer[quantity.Acuity]) DerivedValue {
	if !unaided.Recorded() || !corrected.Recorded() {
		return unknown
	}
	return someYes(corrected.Value().Category() != "" && unaided.Value().Category() == "")
}

func deriveCorrectionLoss(s *scope) DerivedValue {
	return correctionLoss(s.e.Before.Unaided, s.e.Before.Corrected)
}

func deriveCorrectedOffChart(s *scope) DerivedValue {
	return offChartByCorrection(s.e.Before.Unaided, s.e.Before.Corrected)
}

func deriveFewestLetters(s *scope) DerivedValue {
	least := unknown
	for _, a := range []Answer[quantity.Acuity]{s.e.Before.Unaided, s.e.Before.Corrected} {
		if !a.Recorded() || a.Value().Scale != quantity.ScaleLetters {
			continue
		}
		if n, ok := known(least); !ok || a.Value().Value.Cmp(n) < 0 {
			least = someNumber(a.Value().Value)
		}
	}
	return least
}

func deriveVisitCorrectionLoss(s *scope) []DerivedValue {
	return perItem(s.e.Visits, func(v Visit) DerivedValue { return correctionLoss(v.Unaided, v.Corrected) })
}

func deriveVisitCorrectedOffChart(s *scope) []DerivedValue {
	return perItem(s.e.Visits, func(v Visit) DerivedValue { return offChartByCorrection(v.Unaided, v.Corrected) })
}
