package figures

import (
	"math"
)

// Vector is a sphero-cylinder as a power vector, in dioptres: M the spherical
// equivalent, J0 the crossed cylinder at 180 and 90, J45 the one at 45 and 135.
// Vectors may be added, subtracted and averaged; axes and cylinders may not.
// Thibos, Wheeler and Horner, Optom Vis Sci 1997;74:367-375; Thibos and Horner,
// J Cataract Refract Surg 2001;27:80-85.
type Vector struct{ M, J0, J45 float64 }

// Astigmatism is the size of the cylinder: 2·sqrt(J0² + J45²).
func (v Vector) Astigmatism() float64 { return 2 * math.Hypot(v.J0, v.J45) }

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
