package figures

import (
	"errors"
	"math"
)

// z95 is the 97.5 % point of the standard normal distribution: two-sided 95 %
// limits. Published tables round it to 1.959964.
const z95 = 1.959963984540054

// ErrProportion: a proportion needs 0 <= events <= of and of > 0.
var ErrProportion = errors.New("a proportion needs a denominator above zero and a count between zero and the denominator")

// Interval is a proportion with its two-sided 95 % limits, all between 0 and 1.
type Interval struct {
	// Events of Of, as counted.
	Events, Of int
	// Estimate is Events/Of.
	Estimate float64
	// Lower and Upper are the 95 % limits.
	Lower, Upper float64
	// Method is "wilson" or "exact".
	Method string
}

// Width is Upper minus Lower.
func (i Interval) Width() float64 { return i.Upper - i.Lower }

// Wilson returns the score interval without continuity correction:
//
//	(2np + z² ± z·sqrt(z² + 4npq)) / (2(n + z²))
//
// with p = events/n, q = 1-p and z = 1.959964. It lies within 0..1, never has
// zero width, and is method 3 of Newcombe, Stat Med 1998;17:857-872; first given
// by Wilson, J Am Stat Assoc 1927;22:209-212. The error is ErrProportion.
func Wilson(events, of int) (Interval, error) {
	if of <= 0 || events < 0 || events > of {
		return Interval{}, ErrProportion
	}
	n, r := float64(of), float64(events)
	const z2 = z95 * z95
	middle := (2*r + z2) / (2 * (n + z2))
	half := z95 * math.Sqrt(z2+4*r*(n-r)/n) / (2 * (n + z2))
	i := Interval{Events: events, Of: of, Estimate: r / n, Lower: math.Max(0, middle-half), Upper: math.Min(1, middle+half), Method: "wilson"}
	// At the ends the limit is 0 or 1 in exact arithmetic.
	if events == 0 {
		i.Lower = 0
	}
	if events == of {
		i.Upper = 1
	}
	return i, nil
}

// Exact returns the exact binomial interval: the lower limit is the p at which
// events or more have the probability 2.5 %, the upper the p at which events or
// fewer have it. Clopper and Pearson, Biometrika 1934;26:404-413. It is wider
// than Wilson and serves where a caution should not understate the doubt. The
// error is ErrProportion.
func Exact(events, of int) (Interval, error) {
	if of <= 0 || events < 0 || events > of {
		return Interval{}, ErrProportion
	}
	p := float64(events) / float64(of)
	i := Interval{Events: events, Of: of, Estimate: p, Lower: 0, Upper: 1, Method: "exact"}
	if events > 0 {
		i.Lower = exactLower(events, of)
	}
	if events < of {
		i.Upper = 1 - exactLower(of-events, of)
	}
	return i, nil
}

// exactLower is the p at which events or more of n have the probability 2.5 %.
// It lies below events/n, and there the terms fall from events upwards.
func exactLower(events, n int) float64 {
	low, high := 0.0, float64(events)/float64(n)
	for range 200 {
		p := low + (high-low)/2
		if p == low || p == high {
			break
		}
		if upperTail(events, n, p) < 0.025 {
			low = p
		} else {
			high = p
		}
	}
	return low + (high-low)/2
}

// upperTail is P(X >= events) of a binomial X with 0 < p <= events/n.
func upperTail(events, n int, p float64) float64 {
	choose := func(n, k int) float64 {
		a, _ := math.Lgamma(float64(n + 1))
		b, _ := math.Lgamma(float64(k + 1))
		c, _ := math.Lgamma(float64(n - k + 1))
		return a - b - c
	}
	term := choose(n, events) + float64(events)*math.Log(p) + float64(n-events)*math.Log1p(-p)
	if events == n {
		return math.Exp(float64(n) * math.Log(p))
	}
	// The ratio of neighbours needs no further logarithms.
	t := math.Exp(term)
	sum, odds := t, p/(1-p)
	for k := events; k < n; k++ {
		t *= float64(n-k) / float64(k+1) * odds
		sum += t
		if t < sum*1e-17 {
			break
		}
	}
	return sum
}
