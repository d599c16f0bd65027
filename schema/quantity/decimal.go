package quantity

import (
	"strconv"

	"github.com/cockroachdb/apd/v3"
)

// Decimal is an exact decimal number that keeps the precision it was typed
// with: "8.50" prints "8.50" and compares equal to "8.5". It is immutable and
// safe to copy. The zero Decimal is 0.
//
// Compare with Cmp, never with ==. Division by zero gives the undefined
// Decimal; see Quo.
type Decimal struct {
	// n is never written after it is set. A nil n is zero.
	n *apd.Decimal
}

// exact computes without rounding: apd reads precision 0 as unlimited.
var exact = apd.BaseContext

var zero = apd.New(0, 0)

// undefined is the result of an operation that has no value.
func undefined() Decimal { return Decimal{n: &apd.Decimal{Form: apd.NaN}} }

func (d Decimal) val() *apd.Decimal {
	if d.n == nil {
		return zero
	}
	return d.n
}

// wrap keeps n as a Decimal. Minus zero becomes zero: no measure of the trade
// tells them apart.
func wrap(n *apd.Decimal) Decimal {
	if n.Form != apd.Finite {
		return undefined()
	}
	if n.Negative && n.IsZero() {
		n.Negative = false
	}
	return Decimal{n: n}
}

// FromInt returns n as a Decimal.
func FromInt(n int64) Decimal { return wrap(apd.New(n, 0)) }

// MustDecimal is ParseDecimal for constants in code and tests. It panics when
// s is not a number, so it must never see entered text.
func MustDecimal(s string) Decimal {
	d, p := ParseDecimal(s)
	if p != nil {
		panic("quantity: MustDecimal: " + p.Error())
	}
	return d
}

// IsDefined reports whether d is a number. Only Quo by zero, and arithmetic on
// its result, gives a Decimal that is not.
func (d Decimal) IsDefined() bool { return d.val().Form == apd.Finite }

// String prints the number with the precision it was typed or computed with,
// always with a leading zero and never with an exponent. The undefined Decimal
// prints "undefined".
func (d Decimal) String() string {
	if !d.IsDefined() {
		return "undefined"
	}
	return d.val().Text('f')
}

// MarshalText writes String, so that a Decimal inside a larger value is never
// silently written as an empty object.
func (d Decimal) MarshalText() ([]byte, error) { return []byte(d.String()), nil }

// UnmarshalText reads with ParseDecimal; the error is a *Problem.
func (d *Decimal) UnmarshalText(text []byte) error {
	v, p := ParseDecimal(string(text))
	if p != nil {
		return p
	}
	*d = v
	return nil
}

// Cmp returns -1, 0 or +1 as d is below, equal to or above e. The undefined
// Decimal sorts below every number, so a check against a lower limit fails on
// it instead of letting it through.
func (d Decimal) Cmp(e Decimal) int {
	switch dd, ed := d.IsDefined(), e.IsDefined(); {
	case dd && ed:
		return d.val().Cmp(e.val())
	case dd:
		return 1
	case ed:
		return -1
	}
	return 0
}

// Sign returns -1, 0 or +1. It is 0 for the undefined Decimal.
func (d Decimal) Sign() int {
	if !d.IsDefined() {
		return 0
	}
	return d.val().Sign()
}

// IsZero reports whether d is the number 0.
func (d Decimal) IsZero() bool { return d.IsDefined() && d.val().IsZero() }

// Add returns d + e, exact.
func (d Decimal) Add(e Decimal) Decimal { return d.with(exact.Add, e) }

// Sub returns d - e, exact.
func (d Decimal) Sub(e Decimal) Decimal { return d.with(exact.Sub, e) }

// Mul returns d × e, exact.
func (d Decimal) Mul(e Decimal) Decimal { return d.with(exact.Mul, e) }

// Quo returns d / e to the given number of significant digits (at least 1, at
// most 100), the last digit rounded half away from zero, without trailing
// zeros. Division by zero gives the undefined Decimal: a pachymetry of 0 µm in
// an entry must become a finding, not a crash.
func (d Decimal) Quo(e Decimal, digits int) Decimal {
	if e.IsZero() {
		return undefined()
	}
	digits = min(max(digits, 1), 100)
	q := d.with(exact.WithPrecision(uint32(digits)).Quo, e)
	return q.reduce(0)
}

// Round returns d with exactly the given number of decimal places (0 to 50),
// rounded half away from zero; missing places are filled with zeros.
func (d Decimal) Round(places int) Decimal {
	if !d.IsDefined() {
		return d
	}
	places = min(max(places, 0), 50)
	n := d.val()
	// Room for every digit before the point, the places, and one carry.
	prec := n.NumDigits() + int64(places) + 2
	if n.Exponent > 0 {
		prec += int64(n.Exponent)
	}
	out := new(apd.Decimal)
	if _, err := exact.WithPrecision(uint32(prec)).Quantize(out, n, int32(-places)); err != nil {
		return undefined()
	}
	return wrap(out)
}

// Abs returns d without its sign.
func (d Decimal) Abs() Decimal {
	if d.Sign() < 0 {
		return d.Neg()
	}
	return d
}

// Neg returns -d.
func (d Decimal) Neg() Decimal { return Decimal{}.Sub(d) }

// Float returns the nearest float64, for drawing only. It is 0 for the
// undefined Decimal.
func (d Decimal) Float() float64 {
	if !d.IsDefined() {
		return 0
	}
	f, err := d.val().Float64()
	if err != nil {
		return 0
	}
	return f
}

// Int returns d as an int64 and whether it is a whole number that fits.
func (d Decimal) Int() (int64, bool) {
	if !d.IsDefined() {
		return 0, false
	}
	n := new(apd.Decimal).Set(d.val())
	i, err := n.Int64()
	return i, err == nil
}

// reduce drops trailing zeros but keeps at least the given decimal places.
func (d Decimal) reduce(places int) Decimal {
	if !d.IsDefined() {
		return d
	}
	n, _ := new(apd.Decimal).Reduce(d.val())
	if kept := int(-n.Exponent); kept > places {
		return wrap(n)
	}
	return d.Round(places)
}

// fromFloat is for results of trigonometry only: it keeps 15 decimal places.
func fromFloat(f float64) Decimal {
	n, _, err := apd.NewFromString(strconv.FormatFloat(f, 'f', 15, 64))
	if err != nil {
		return undefined()
	}
	return wrap(n)
}

type operation func(d, x, y *apd.Decimal) (apd.Condition, error)

// with applies op. apd reports an error only outside its exponent range of
// 100 000 digits, which is not a number of the trade: the result is undefined.
func (d Decimal) with(op operation, e Decimal) Decimal {
	if !d.IsDefined() || !e.IsDefined() {
		return undefined()
	}
	out := new(apd.Decimal)
	if _, err := op(out, d.val(), e.val()); err != nil {
		return undefined()
	}
	return wrap(out)
}
