package figures

import (
	"math"
	"slices"
)

// Summary describes a list of numbers.
type Summary struct {
	N    int
	Mean float64
	// SD is the standard deviation with divisor N-1; zero below two values.
	SD float64
	// Quartiles by linear interpolation between the sorted values, at position
	// (N-1)·p: definition 7 of Hyndman and Fan, Am Stat 1996;50:361-365.
	Q1, Median, Q3 float64
	Min, Max       float64
}

// Describe summarises the numbers. It is false for none, or when one of them is
// no finite number.
func Describe(values []float64) (Summary, bool) {
	if len(values) == 0 || !finite(values...) {
		return Summary{}, false
	}
	sorted := slices.Clone(values)
	slices.Sort(sorted)
	n := float64(len(sorted))
	s := Summary{N: len(sorted), Min: sorted[0], Max: sorted[len(sorted)-1]}
	// Summed in sorted order, so the order of the rows cannot change a digit.
	for _, v := range sorted {
		s.Mean += v / n
	}
	if len(sorted) > 1 {
		var sum float64
		for _, v := range sorted {
			sum += (v - s.Mean) * (v - s.Mean)
		}
		s.SD = math.Sqrt(sum / (n - 1))
	}
	quantile := func(p float64) float64 {
		at := (n - 1) * p
		low := int(at)
		if low == len(sorted)-1 {
			return sorted[low]
		}
		return sorted[low] + (at-float64(low))*(sorted[low+1]-sorted[low])
	}
	s.Q1, s.Median, s.Q3 = quantile(0.25), quantile(0.5), quantile(0.75)
	return s, true
}
