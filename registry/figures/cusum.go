package figures

import "errors"

// ErrRate: the target of a cumulative sum is out of range.
var ErrRate = errors.New("the target of a cumulative sum must lie between 0 and 1")

// CumulativeSum is the running sum of observed minus target: after each case
// it grows by 1-target for a failure and falls by target for a success. It
// drifts up where failures are commoner than the target and down where they are
// rarer. failures holds the cases in the order of operation. The form is the
// plain plot described by Biau and others, Qual Saf Health Care 2007;16:203-207.
// The error is ErrRate.
func CumulativeSum(failures []bool, target float64) ([]float64, error) {
	if !(target > 0 && target < 1) {
		return nil, ErrRate
	}
	out := make([]float64, len(failures))
	failed := 0
	for i, f := range failures {
		if f {
			failed++
		}
		// From the counts, so that no rounding error adds up.
		out[i] = float64(failed) - float64(i+1)*target
	}
	return out, nil
}
