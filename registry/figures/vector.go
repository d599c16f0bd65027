package figures

import (
	"errors"
	"math"
)

// ErrLens: a lens or a keratometry holds something that is no finite number.
var ErrLens = errors.New("a lens needs finite dioptres and a finite axis")

// Vector is a sphero-cylinder as a power vector, in dioptres: M the spherical
// equivalent, J0 the crossed cylinder at 180 and 90, J45 the one at 45 and 135.
// Vectors may be added, subtracted and averaged; axes and cylinders may not.
// Thibos, Wheeler and Horner, Optom Vis Sci 1997;74:367-375; Thibos and Horner,
// J Cataract Refract Surg 2001;27:80-85.
type Vector struct{ M, J0, J45 float64 }

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

// Astigmatism is the size of the cylinder: 2·sqrt(J0² + J45²).
func (v Vector) Astigmatism() float64 { return 2 * math.Hypot(v.J0, v.J45) }

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

// MeanVector is the mean of each component: the average refraction. It is false
// for no vectors.
func MeanVector(vectors []Vector) (Vector, bool) {
	if len(vectors) == 0 {
		return Vector{}, false
	}
	var sum Vector
	for _, v := range vectors {
		sum.M, sum.J0, sum.J45 = sum.M+v.M, sum.J0+v.J0, sum.J45+v.J45
	}
	n := float64(len(vectors))
	return Vector{sum.M / n, sum.J0 / n, sum.J45 / n}, true
}

// Centroid is the mean astigmatism of a double-angle plot.
type Centroid struct {
	N int
	// X and Y are the means of C·cos 2a and C·sin 2a, with the astigmatism as a
	// plus cylinder C at its axis a: for a keratometry the steep meridian.
	X, Y float64
	// SDX and SDY are the standard deviations (divisor N-1); zero below two eyes.
	SDX, SDY float64
	// Size and Axis are the centroid as a plus cylinder: its size says how far
	// the eyes agree in direction, not how much astigmatism an eye has. Axis is
	// above 0 up to 180, and 0 when the size is 0.
	Size, Axis float64
	// MeanSize is the mean of the sizes without direction, the figure that series
	// usually print as mean astigmatism.
	MeanSize float64
}

// DoubleAngle returns the centroid of the eyes' astigmatism: the angle is
// doubled because 180 degrees are the same meridian as 0. In power vectors the
// plus cylinder has X = -2·J0 and Y = -2·J45 with J0, J45 taken at its lens axis;
// for a correcting lens that axis is the corneal steep meridian. Holladay,
// Moran and Kezirian, J Cataract Refract Surg 2001;27:61-79 (from memory,
// unverified). It is false for no vectors.
func DoubleAngle(vectors []Vector) (Centroid, bool) {
	n := len(vectors)
	if n == 0 {
		return Centroid{}, false
	}
	xs, ys, sizes := make([]float64, n), make([]float64, n), make([]float64, n)
	for i, v := range vectors {
		xs[i], ys[i], sizes[i] = -2*v.J0, -2*v.J45, v.Astigmatism()
	}
	x, _ := Describe(xs)
	y, _ := Describe(ys)
	s, _ := Describe(sizes)
	c := Centroid{N: n, X: x.Mean, Y: y.Mean, SDX: x.SD, SDY: y.SD, MeanSize: s.Mean, Size: math.Hypot(x.Mean, y.Mean)}
	if c.Size > 0 {
		c.Axis = axisOf(math.Atan2(c.Y, c.X) * 90 / math.Pi)
	}
	return c, true
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

// axisOf brings an axis into 0 < a <= 180: axis 0 is written 180.
func axisOf(a float64) float64 {
	a = math.Mod(a, 180)
	if a <= 0 {
		a += 180
	}
	return a
}

func finite(values ...float64) bool {
	for _, v := range values {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return false
		}
	}
	return true
}
