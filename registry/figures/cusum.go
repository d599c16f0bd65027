package figures

import (
	"errors"
	"math"
)

// ErrRate: the rates of a cumulative sum are out of order or out of range.
var ErrRate = errors.New("a rate must lie between 0 and 1, and the acceptable failure rate below the unacceptable one")

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

// SequentialTest is the design of a sequential probability ratio test of a
// failure rate, drawn as a cumulative sum with two limits.
type SequentialTest struct {
	// Acceptable and Unacceptable failure rates, p0 < p1.
	Acceptable, Unacceptable float64
	// Alpha is the chance of crossing the upper limit though the rate is p0,
	// Beta of crossing the lower limit though it is p1.
	Alpha, Beta float64
}

// Limits are the step and the decision limits of a sequential test.
type Limits struct {
	// Success is s, taken off for a success; a failure adds 1-s.
	Success float64
	// Lower is -h0 and Upper is h1.
	Lower, Upper float64
}

// Crossing says which limit a case lies beyond.
type Crossing string

const (
	// Between the limits: no decision yet.
	Between Crossing = "between"
	// AboveUpper: the data speak for the unacceptable rate.
	AboveUpper Crossing = "above the upper limit"
	// BelowLower: the data speak for the acceptable rate.
	BelowLower Crossing = "below the lower limit"
)

// Score is one point of a sequential test.
type Score struct {
	Value float64
	// At says where the point itself lies. The sum is not reset after a limit is
	// crossed; what follows the first crossing is a picture, not a test.
	At Crossing
	// First is true at the first point beyond a limit.
	First bool
}

// Limits returns, with P = ln(p1/p0) and Q = ln((1-p0)/(1-p1)),
//
//	s = Q/(P+Q)   h0 = ln((1-α)/β)/(P+Q)   h1 = ln((1-β)/α)/(P+Q)
//
// Formulas from memory, unverified; they are Wald's sequential test (Sequential
// Analysis, 1947) scaled so that one failure counts one. The error is ErrRate.
func (t SequentialTest) Limits() (Limits, error) {
	p0, p1, a, b := t.Acceptable, t.Unacceptable, t.Alpha, t.Beta
	if !(p0 > 0 && p0 < p1 && p1 < 1 && a > 0 && b > 0 && a+b < 1) {
		return Limits{}, ErrRate
	}
	p, q := math.Log(p1/p0), math.Log((1-p0)/(1-p1))
	return Limits{Success: q / (p + q), Lower: -math.Log((1-a)/b) / (p + q), Upper: math.Log((1-b)/a) / (p + q)}, nil
}

// Run scores the cases in the order of operation. The error is ErrRate.
//
// A chart below its lower limit is not a certificate of competence: it asks
// whether a process left control, not whether somebody has learned. Print
// Caution("cusum") beside it.
func (t SequentialTest) Run(failures []bool) ([]Score, error) {
	l, err := t.Limits()
	if err != nil {
		return nil, err
	}
	out := make([]Score, len(failures))
	failed, crossed := 0, false
	for i, f := range failures {
		if f {
			failed++
		}
		s := Score{Value: float64(failed) - float64(i+1)*l.Success, At: Between}
		switch {
		case s.Value >= l.Upper:
			s.At = AboveUpper
		case s.Value <= l.Lower:
			s.At = BelowLower
		}
		s.First = s.At != Between && !crossed
		crossed = crossed || s.First
		out[i] = s
	}
	return out, nil
}
