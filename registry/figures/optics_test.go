package figures

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"graftnote/schema/quantity"
)

// Power vectors worked out from the formulas of Thibos and Horner, J Cataract
// Refract Surg 2001;27:80.
func TestPowerVector(t *testing.T) {
	for _, c := range []struct {
		lens          Lens
		m, j0, j45, b float64
	}{
		{Lens{-2, -1, 180}, -2.5, 0.5, 0, 2.550},
		{Lens{-2, -1, 90}, -2.5, -0.5, 0, 2.550},
		{Lens{-2, -1, 45}, -2.5, 0, 0.5, 2.550},
		{Lens{-2, -1, 135}, -2.5, 0, -0.5, 2.550},
		{Lens{1, -2, 30}, 0, 0.5, 0.866, 1},
		{Lens{-1.5, -3, 20}, -3, 1.149, 0.964, 3.354},
		{Lens{2.5, -4, 10}, 0.5, 1.879, 0.684, 2.062},
	} {
		v, err := c.lens.PowerVector()
		if err != nil || !about(v.M, c.m, 5e-4) || !about(v.J0, c.j0, 5e-4) || !about(v.J45, c.j45, 5e-4) || !about(v.Blur(), c.b, 5e-4) {
			t.Errorf("%+v: %+v %v", c.lens, v, err)
		}
		back := v.Lens()
		if !about(back.Sphere, c.lens.Sphere, 1e-9) || !about(back.Cylinder, c.lens.Cylinder, 1e-9) || !about(back.Axis, c.lens.Axis, 1e-9) {
			t.Errorf("%+v comes back as %+v", c.lens, back)
		}
	}
}

// The mean of a lens and the same lens turned by 90 degrees is its spherical
// equivalent, and both forms of a lens are one vector (algebra of the formulas).
// The typed refraction of schema/quantity gives the same vector.
func TestPowerVectorProperties(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 7))
	for range 500 {
		l := Lens{float64(rng.IntN(80)-40) / 4, -float64(rng.IntN(40)+1) / 4, float64(rng.IntN(180) + 1)}
		v, _ := l.PowerVector()
		plus, _ := Lens{l.Sphere + l.Cylinder, -l.Cylinder, l.Axis + 90}.PowerVector()
		if d := v.Sub(plus); d.Blur() > 1e-9 {
			t.Fatalf("%+v: the plus form differs by %v", l, d)
		}
		turned, _ := Lens{l.Sphere, l.Cylinder, l.Axis + 90}.PowerVector()
		mean, _ := MeanVector([]Vector{v, turned})
		if s := mean.Lens(); !about(s.Sphere, l.Sphere+l.Cylinder/2, 1e-9) || !about(s.Cylinder, 0, 1e-9) {
			t.Fatalf("%+v: mean %+v", l, s)
		}
		typed := quantity.Refraction{Sphere: quantity.FromInt(int64(l.Sphere * 4)).Mul(quantity.MustDecimal("0.25")), Cylinder: quantity.FromInt(int64(l.Cylinder * 4)).Mul(quantity.MustDecimal("0.25")), Axis: int(l.Axis)}
		m, j0, j45, b := typed.PowerVector()
		for i, d := range []quantity.Decimal{m, j0, j45, b} {
			if want := []float64{v.M, v.J0, v.J45, v.Blur()}[i]; !about(d.Float(), want, 6e-5) {
				t.Fatalf("%+v: %v, the typed refraction says %v", l, want, d)
			}
		}
	}
	if _, ok := MeanVector(nil); ok {
		t.Error("no eyes have a mean")
	}
	if _, err := (Lens{Sphere: math.NaN()}).PowerVector(); !errors.Is(err, ErrLens) {
		t.Error("NaN is taken")
	}
	if l := (Vector{M: 1}).Lens(); l != (Lens{1, 0, 180}) {
		t.Errorf("%+v", l)
	}
}

// Axes must not be averaged: 1 x 179 and 1 x 1 are almost the same lens, and
// their mean is x 180, not x 90 (the reason for the double angle, Thibos 1997).
// cos 2 degrees is 0.99939.
func TestAxesAreNotAveraged(t *testing.T) {
	a, _ := Lens{0, -1, 179}.PowerVector()
	b, _ := Lens{0, -1, 1}.PowerVector()
	mean, _ := MeanVector([]Vector{a, b})
	if l := mean.Lens(); !about(math.Mod(l.Axis, 180), 0, 1e-9) || !about(l.Cylinder, -0.99939, 1e-5) {
		t.Errorf("%+v", l)
	}
	c, ok := DoubleAngle([]Vector{a, b})
	// The plus cylinder of a lens x 180 lies at 90.
	if !ok || !about(c.Axis, 90, 1e-9) || !about(c.Size, 0.99939, 1e-5) || !about(c.MeanSize, 1, 1e-12) || !about(c.SDX, 0, 1e-12) {
		t.Errorf("%+v", c)
	}
	if _, ok := DoubleAngle(nil); ok {
		t.Error("no eyes have a centroid")
	}
	// Two eyes at right angles cancel: the centroid is 0 though each eye has 2 D.
	x, _ := CornealVector(43, 45, 90)
	y, _ := CornealVector(43, 45, 180)
	if c, _ := DoubleAngle([]Vector{x, y}); !about(c.Size, 0, 1e-12) || c.MeanSize != 2 {
		t.Errorf("%+v", c)
	}
}

// With the rule: a cornea steep at 90 is corrected by a minus cylinder at 180,
// and the centroid lies at the steep meridian (trade convention, no source).
func TestCornealVector(t *testing.T) {
	for _, steep := range []float64{90, 180, 20, 137} {
		v, err := CornealVector(42, 46, steep)
		c, _ := DoubleAngle([]Vector{v})
		if err != nil || v.M != 44 || !about(c.Axis, steep, 1e-9) || !about(c.Size, 4, 1e-12) {
			t.Errorf("steep at %v: %+v %+v %v", steep, v, c, err)
		}
		if l := v.Lens(); !about(math.Mod(l.Axis+90-steep, 180), 0, 1e-9) {
			t.Errorf("steep at %v: corrected at %v", steep, l.Axis)
		}
	}
	if v, _ := CornealVector(42, 46, 90); v.J0 != 2 {
		t.Errorf("with the rule has J0 %v", v.J0)
	}
	if _, err := CornealVector(46, 42, 90); !errors.Is(err, ErrLens) {
		t.Error("the steeper power is the smaller")
	}
}

// 20/20 and 20/200 average to logMAR 0.5, about 20/63 (Holladay 2004, J Cataract
// Refract Surg 30:287). 20/40 is exactly 0.30103 and counts as 0.3; 20/50
// (0.39794) does not. Chart values by -log10 of the decimal acuity.
func TestAcuity(t *testing.T) {
	s := SummariseAcuity([]Acuity{{LogMAR: 0}, {LogMAR: 1}}, 0.3)
	if !s.Any || s.OnChart.Mean != 0.5 || s.Reached != 1 || s.Of != 2 {
		t.Errorf("%+v", s)
	}
	s = SummariseAcuity([]Acuity{
		{LogMAR: -math.Log10(20.0 / 40)}, {LogMAR: -math.Log10(20.0 / 50)}, {LogMAR: -math.Log10(20.0 / 16)},
		{Apart: "HM", Seen: true}, {Apart: "CF", Seen: true}, {Apart: "CF", Seen: true}, {Apart: "letters"}, {LogMAR: math.NaN()},
	}, 0.3)
	if s.OnChart.N != 3 || s.Reached != 2 || s.Of != 6 || len(s.Apart) != 4 || s.Apart[0] != (Category{"CF", 2}) {
		t.Errorf("%+v", s)
	}
	if s := SummariseAcuity([]Acuity{{Apart: "LP", Seen: true}}, 0.3); s.Any || s.Of != 1 || s.Reached != 0 {
		t.Errorf("%+v", s)
	}
	if one, ok := Describe([]float64{0.2}); !ok || one.SD != 0 || one.Median != 0.2 || one.Q3 != 0.2 {
		t.Errorf("%+v", one)
	}
	if _, ok := Describe([]float64{1, math.Inf(1)}); ok {
		t.Error("infinity is described")
	}
}
