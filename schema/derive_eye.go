package schema

import "graftnote/schema/quantity"

func deriveMeanK(s *scope) DerivedValue {
	b := s.e.Before
	if k, ok := amount(b.KMean); ok {
		return someNumber(k)
	}
	k1, k2, ok := amounts(b.K1, b.K2)
	if !ok {
		return unknown
	}
	return someNumber(k1.Add(k2).Quo(quantity.FromInt(2), quotientDigits))
}

func deriveKMeanOutside(s *scope) DerivedValue {
	b := s.e.Before
	k1, k2, ok := amounts(b.K1, b.K2)
	mean, has := amount(b.KMean)
	if !ok || !has {
		return unknown
	}
	if k1.Cmp(k2) > 0 { // exchanged: another rule says so
		k1, k2 = k2, k1
	}
	return someYes(mean.Cmp(k1) < 0 || mean.Cmp(k2) > 0)
}

func deriveK2AboveKMax(s *scope) DerivedValue {
	k2, most, ok := amounts(s.e.Before.K2, s.e.Before.KMax)
	if !ok {
		return unknown
	}
	return someNumber(k2.Sub(most))
}

func deriveStageByCurvature(s *scope) DerivedValue {
	k, ok := known(deriveMeanK(s))
	if !ok {
		return unknown
	}
	stage := 1
	for _, cut := range stagingTable().Curvature {
		if k.Cmp(quantity.FromInt(cut)) > 0 {
			stage++
		}
	}
	return someCount(stage)
}

// deriveStageByThickness begins at 2, which stands for 1 and 2: the table gives
// no thickness for stage 1.
func deriveStageByThickness(s *scope) DerivedValue {
	thinnest, ok := amount(s.e.Before.Thinnest)
	if !ok {
		return unknown
	}
	stage := 2
	for i, cut := range stagingTable().Thickness {
		c := thinnest.Cmp(quantity.FromInt(cut))
		if i == 0 && c <= 0 || i > 0 && c < 0 {
			stage++
		}
	}
	return someCount(stage)
}

func deriveThicknessRange(s *scope) DerivedValue {
	thickest, thinnest, ok := amounts(s.e.Before.Thickest, s.e.Before.Thinnest)
	if !ok {
		return unknown
	}
	return someNumber(thickest.Sub(thinnest))
}

// logMAR is the acuity to the two places in which it is published: 6/12 is
// 0.30.
func logMAR(a Answer[quantity.Acuity]) (quantity.Decimal, bool) {
	if !a.Recorded() {
		return quantity.Decimal{}, false
	}
	v, ok := a.Value().LogMAR()
	return v.Round(2), ok
}

func deriveCorrectedLogMAR(s *scope) DerivedValue {
	v, ok := logMAR(s.e.Before.Corrected)
	if !ok {
		return unknown
	}
	return someNumber(v)
}

func deriveHydropsAfterSurgery(s *scope) DerivedValue {
	year, day, born := s.e.Indication.HydropsYear, s.e.Episode.Date, s.e.Patient.Born
	if !year.Recorded() || !day.Recorded() {
		return unknown
	}
	return someYes(year.Value() > day.Value().Year || born.Recorded() && year.Value() < born.Value().Year)
}

func deriveDepthPercent(s *scope) DerivedValue {
	depth, ring, ok := amounts(s.e.Trephination.Depth, s.e.Before.Ring)
	if !ok {
		return unknown
	}
	return share(depth, ring)
}

func deriveDepthPercentThinnest(s *scope) DerivedValue {
	depth, thinnest, ok := amounts(s.e.Trephination.Depth, s.e.Before.Thinnest)
	if !ok {
		return unknown
	}
	return share(depth, thinnest)
}

func deriveDepthPercentGap(s *scope) DerivedValue {
	stated, ok := amount(s.e.Trephination.StatedPercent)
	computed, has := known(deriveDepthPercent(s))
	if !ok || !has {
		return unknown
	}
	return someNumber(stated.Sub(computed).Abs())
}

func deriveLimbusDistance(s *scope) DerivedValue {
	t := s.e.Trephination
	cornea, host, ok := amounts(s.e.Before.WhiteToWhite, t.HostDiameter)
	if !ok {
		return unknown
	}
	gap := cornea.Sub(host).Quo(quantity.FromInt(2), quotientDigits)
	if offset, has := amount(t.Offset); has {
		gap = gap.Sub(offset)
	}
	return someNumber(gap)
}

var pi = quantity.MustDecimal("3.141592653589793")

func deriveHostCircumference(s *scope) DerivedValue {
	host, ok := amount(s.e.Trephination.HostDiameter)
	if !ok {
		return unknown
	}
	return someNumber(host.Mul(pi).Round(1))
}

func deriveLaserValues(s *scope) DerivedValue {
	t := s.e.Trephination
	return someCount(recordedAmong(&t.LamellarDepth, &t.LaserResidual, &t.SideCut, &t.SideCutPattern, &t.TunnelHour))
}

func deriveLaserSumGap(s *scope) DerivedValue {
	depth, residual, ok := amounts(s.e.Trephination.LamellarDepth, s.e.Trephination.LaserResidual)
	ring, has := amount(s.e.Before.Ring)
	if !ok || !has {
		return unknown
	}
	return share(depth.Add(residual).Sub(ring).Abs(), ring)
}

// recordedAmong counts the answers that have a value.
func recordedAmong(fields ...Field) int {
	n := 0
	for _, f := range fields {
		if f.Recorded() {
			n++
		}
	}
	return n
}
