package quantity

import (
	"math"

	"github.com/cockroachdb/apd/v3"
)

// PowerVector returns the lens as a power vector in dioptres: M the spherical
// equivalent (exact), J0 and J45 the two crossed cylinders and B the length of
// the vector, each rounded to four places. Both forms of one lens, see
// Transpose, have the same vector. Method: Thibos and Horner, J Cataract
// Refract Surg 2001;27:80.
func (r Refraction) PowerVector() (m, j0, j45, b Decimal) {
	m = r.SphericalEquivalent()
	half := r.Cylinder.Mul(MustDecimal("-0.5"))
	x := half.Mul(fromFloat(cosDegrees(2 * r.Axis)))
	y := half.Mul(fromFloat(cosDegrees(2*r.Axis - 90)))
	sum := m.Mul(m).Add(x.Mul(x)).Add(y.Mul(y))
	return m, x.Round(4), y.Round(4), sum.sqrt().Round(4)
}

// cosDegrees reduces the angle to the first quadrant in whole degrees first, so
// that opposite directions give exactly opposite values.
func cosDegrees(a int) float64 {
	a = ((a % 360) + 360) % 360
	sign := 1.0
	if a > 180 {
		a = 360 - a
	}
	if a > 90 {
		a, sign = 180-a, -1
	}
	if a == 90 {
		return 0
	}
	return sign * math.Cos(float64(a)*math.Pi/180)
}

func (d Decimal) sqrt() Decimal {
	return d.with(func(out, x, _ *apd.Decimal) (apd.Condition, error) {
		return exact.WithPrecision(40).Sqrt(out, x)
	}, Decimal{})
}

// piOver6000 is pi/6 for a sphere, over 1000 for cubic millimetres in a millilitre.
var piOver6000 = MustDecimal("3.1415926535897932").Quo(FromInt(6000), 17)

// SphereVolume returns the volume in millilitres, to four significant digits,
// of a sphere with the given diameter in millimetres: what a bubble of that
// size holds. A negative diameter gives the undefined Decimal.
func SphereVolume(diameter Decimal) Decimal {
	if diameter.Sign() < 0 || !diameter.IsDefined() {
		return undefined()
	}
	if diameter.IsZero() {
		return FromInt(0)
	}
	return diameter.Mul(diameter).Mul(diameter).Mul(piOver6000).Quo(FromInt(1), 4)
}
