package figures

import (
	"errors"
	"math"
	"slices"
)

// ErrTime: a follow-up time is negative or no number.
var ErrTime = errors.New("a follow-up time must be a number of zero or more")

// Observation is one graft followed from its operation.
type Observation struct {
	// Time is the interval from operation to failure, or to the last visit at
	// which the graft was known to survive. Its unit is the caller's.
	Time float64
	// Event is true for a failure, false for a graft still surviving at Time.
	Event bool
}

// Step is the state of a survival curve at one observed time.
type Step struct {
	Time float64
	// AtRisk counts grafts followed up to just before Time. Events and Censored
	// count what happened at Time.
	AtRisk, Events, Censored int
	// Survival is the product-limit estimate just after Time, SE its standard
	// error by Greenwood's formula.
	Survival, SE float64
	// Lower and Upper are the 95 % limits; they exist only when Limits is true.
	// There are none while nothing has failed or once nothing survives.
	Lower, Upper float64
	Limits       bool
}

// Curve is a product-limit (Kaplan-Meier) survival curve.
type Curve struct {
	// N grafts with Events failures.
	N, Events int
	// Steps holds every distinct observed time in rising order.
	Steps []Step
	times []float64
}

// KaplanMeier returns the product-limit estimate of survival
//
//	S(t) = product over failure times u <= t of (1 - d/n)
//
// with d failures among n at risk (Kaplan and Meier, J Am Stat Assoc
// 1958;53:457-481), the standard error by Greenwood's formula
//
//	SE(t) = S(t) · sqrt( sum of d / (n(n-d)) )
//
// and 95 % limits on the log-log scale, S^exp(±z·SE/(S·ln S)), which stay
// within 0..1 (Kalbfleisch and Prentice, The Statistical Analysis of Failure
// Time Data, 1980). Events come before censorings at the same time: a graft
// censored at the time of a failure was at risk of it. The order of the
// observations does not matter. The error is ErrTime.
func KaplanMeier(observations []Observation) (Curve, error) {
	sorted := slices.Clone(observations)
	for _, o := range sorted {
		if !(o.Time >= 0) || math.IsInf(o.Time, 1) {
			return Curve{}, ErrTime
		}
	}
	slices.SortFunc(sorted, func(a, b Observation) int {
		switch {
		case a.Time < b.Time:
			return -1
		case a.Time > b.Time:
			return 1
		}
		return 0
	})
	c := Curve{N: len(sorted), times: make([]float64, len(sorted))}
	for i, o := range sorted {
		c.times[i] = o.Time
	}
	survival, sum := 1.0, 0.0
	for i := 0; i < len(sorted); {
		s := Step{Time: sorted[i].Time, AtRisk: len(sorted) - i}
		for ; i < len(sorted) && sorted[i].Time == s.Time; i++ {
			if sorted[i].Event {
				s.Events++
			} else {
				s.Censored++
			}
		}
		n, d := float64(s.AtRisk), float64(s.Events)
		if s.Events > 0 {
			survival *= (n - d) / n
			if s.Events < s.AtRisk {
				sum += d / (n * (n - d))
			}
		}
		s.Survival = survival
		s.SE = survival * math.Sqrt(sum)
		if survival > 0 && survival < 1 {
			spread := math.Exp(z95 * math.Sqrt(sum) / math.Log(survival))
			// The exponent above is negative, so spread is the one below 1.
			s.Lower, s.Upper, s.Limits = math.Pow(survival, 1/spread), math.Pow(survival, spread), true
		}
		c.Events += s.Events
		c.Steps = append(c.Steps, s)
	}
	return c, nil
}

// AtRisk counts grafts followed for at least t: what is printed below a curve.
// A graft that fails or is censored at t itself is counted.
func (c Curve) AtRisk(t float64) int {
	at, _ := slices.BinarySearch(c.times, t)
	return len(c.times) - at
}

// At returns the curve at t: the last step at or before it, with AtRisk for t
// itself. It is false beyond the last observed time, unless no graft survives
// there: what nobody was followed for is not known.
func (c Curve) At(t float64) (Step, bool) {
	if c.N == 0 || !(t >= 0) {
		return Step{}, false
	}
	s := Step{Survival: 1}
	for _, step := range c.Steps {
		if step.Time > t {
			break
		}
		s = step
	}
	if last := c.Steps[len(c.Steps)-1]; t > last.Time && last.Survival > 0 {
		return Step{}, false
	}
	if s.Time != t {
		s.Events, s.Censored = 0, 0
	}
	s.Time, s.AtRisk = t, c.AtRisk(t)
	return s, true
}
