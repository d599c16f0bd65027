package figures

import (
	"errors"
	"math"
)

// Lenses and their vectors in floating point, apart from those of schema/quantity
// that make the columns: the tests of means and centroids begin and end with lenses.

// ErrLens: a lens or a keratometry holds something that is no finite number.
var ErrLens = errors.New("a lens needs finite dioptres and a finite axis")

// Lens is a sphero-cylinder in dioptres, the axis in degrees above 0 up to 180.
type Lens struct{ Sphere, Cylinder, Axis float64 }

// PowerVector returns M = S + C/2, J0 = -(C/2)·cos 2a, J45 = -(C/2)·sin 2a. Both
// ways of writing a lens, with minus or plus cylinder, give the same vector. The
// error is ErrLens.
func (l Lens) PowerVector() (Vector, error) {
	if !finite(l.Sphere, l.Cylinder, l.Axis) {
		return Vector{}, ErrLens
	}
	x, y := doubled(l.Axis)
	return Vector{M: l.Sphere + l.Cylinder/2, J0: -l.Cylinder / 2 * x, J45: -l.Cylinder / 2 * y}, nil
}

// CornealVector returns the power vector of a keratometry in the sense of the
// correcting lens, so that with-the-rule astigmatism (steep at 90) has a
// positive J0 as its minus cylinder at 180 has. M is the mean corneal power.
// steep is the meridian of the steeper power in degrees; the other lies 90 from
// it. The powers may come in either order as long as steep belongs to the
// larger. The error is ErrLens.
func CornealVector(flatter, steeper, steep float64) (Vector, error) {
	if steeper < flatter {
		return Vector{}, ErrLens
	}
	v, err := Lens{Cylinder: flatter - steeper, Axis: steep + 90}.PowerVector()
	v.M = flatter + (steeper-flatter)/2
	return v, err
}

// Blur is the length B of the vector: sqrt(M² + J0² + J45²).
func (v Vector) Blur() float64 { return math.Hypot(math.Hypot(v.M, v.J0), v.J45) }

// Sub is the change from w to v, by plain subtraction: the surgical change is
// after minus before.
func (v Vector) Sub(w Vector) Vector { return Vector{v.M - w.M, v.J0 - w.J0, v.J45 - w.J45} }

// Lens returns the vector in minus-cylinder form: C = -2·sqrt(J0² + J45²),
// S = M - C/2, axis = half of atan2(J45, J0). A vector without astigmatism has
// cylinder 0 and axis 180.
func (v Vector) Lens() Lens {
	c := -v.Astigmatism()
	if c == 0 {
		return Lens{Sphere: v.M, Axis: 180}
	}
	return Lens{Sphere: v.M - c/2, Cylinder: c, Axis: axisOf(math.Atan2(v.J45, v.J0) * 90 / math.Pi)}
}

// doubled returns cos 2a and sin 2a, exact at multiples of 45 degrees, where
// axes are commonest and rounding would show as -0.00.
func doubled(a float64) (x, y float64) {
	a = math.Mod(2*a, 360)
	if a < 0 {
		a += 360
	}
	switch a {
	case 0, 360:
		return 1, 0
	case 90:
		return 0, 1
	case 180:
		return -1, 0
	case 270:
		return 0, -1
	}
	s, c := math.Sincos(a * math.Pi / 180)
	return c, s
}
