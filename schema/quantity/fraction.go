package quantity

import (
	"regexp"
	"strings"
)

// Fraction is an exact part of a whole, such as the share of stroma removed:
// "2/3", "0.66" or "66 %". Two thirds stays two thirds and is not 0.6667.
type Fraction struct {
	// Num and Den are the exact ratio Num/Den; Den is above zero.
	Num, Den Decimal
	// Text is what was typed, cleaned: "2/3", "0.66", "66 %".
	Text string
}

var (
	vulgarFraction  = regexp.MustCompile(`^([0-9]+) ?[/⁄] ?([0-9]+)$`)
	percentFraction = regexp.MustCompile(`^(.+?) ?(?:%|per ?cent|pct)$`)
)

const fixFraction = "write a fraction such as 2/3, a decimal such as 0.66 or a percentage such as 66 %"

// ParseFraction reads "2/3", a decimal from 0 to below 1, or a percentage. A
// bare number of 1 or more is a Problem: it may be a percentage without its sign.
func ParseFraction(text string) (Fraction, *Problem) {
	t, p := clean(text)
	if p != nil {
		return Fraction{}, p
	}
	if m := vulgarFraction.FindStringSubmatch(t); m != nil {
		return fraction(m[1], m[2], m[1]+"/"+m[2])
	}
	if m := percentFraction.FindStringSubmatch(t); m != nil {
		return fraction(m[1], "100", m[1]+" %")
	}
	n, p := parseNumber(t)
	if p != nil {
		return Fraction{}, problem(p.What, p.Why, fixFraction, p.Readings...)
	}
	if n.Cmp(FromInt(1)) >= 0 {
		return Fraction{}, problem("a number of 1 or more stands where a fraction is wanted",
			"it may be a percentage without its sign, or a number with a lost point", fixFraction, t+" %?")
	}
	return fraction(t, "1", t)
}

func fraction(num, den, text string) (Fraction, *Problem) {
	n, p := parseNumber(num)
	if p != nil {
		return Fraction{}, problem(p.What, p.Why, fixFraction)
	}
	d, p := parseNumber(den)
	if p != nil {
		return Fraction{}, problem(p.What, p.Why, fixFraction)
	}
	if d.IsZero() {
		return Fraction{}, problem("the lower part of the fraction is zero", "no part of a whole is written so", fixFraction)
	}
	if n.Sign() < 0 {
		return Fraction{}, problem("the fraction is below zero", "a part of a whole is never below zero", fixFraction,
			strings.TrimPrefix(text, "-"))
	}
	return Fraction{Num: n, Den: d, Text: text}, nil
}

// String prints the fraction as it was typed.
func (f Fraction) String() string { return f.Text }

// Decimal returns the ratio to the given number of significant digits. The
// zero Fraction is 0.
func (f Fraction) Decimal(digits int) Decimal {
	if f.Den.IsZero() {
		return Decimal{}
	}
	return f.Num.Quo(f.Den, digits)
}

// Cmp compares the exact ratio with d: 2/3 is above 0.6667 minus a little, and
// never equal to it.
func (f Fraction) Cmp(d Decimal) int {
	if f.Den.IsZero() {
		return Decimal{}.Cmp(d)
	}
	return f.Num.Cmp(d.Mul(f.Den))
}
