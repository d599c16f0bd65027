package quantity

import (
	"fmt"
	"slices"
	"testing"
)

func lens(t *testing.T, text string) Refraction {
	t.Helper()
	r, p := ParseRefraction(text)
	if p != nil {
		t.Fatalf("%q: %v %q", text, p, p.Readings)
	}
	return r
}

// Forms in clinical use, and axis 0 written as 180: trade convention, no source.
func TestRefractionForms(t *testing.T) {
	for text, want := range map[string]string{
		"-3.00/-4.00 x 90": "-3.00/-4.00 x 90", "-3.00 -4.00 x 90": "-3.00/-4.00 x 90", "-3.00-4.00x90": "-3.00/-4.00 x 90",
		"\u22123.00/\u22124.00 × 90°": "-3.00/-4.00 x 90", "-3.00 DS / -4.00 DC x 90": "-3.00/-4.00 x 90",
		"-3.00 / -4.00 axis 90": "-3.00/-4.00 x 90", "+1.5/-0.75 x 5": "+1.5/-0.75 x 5",
		"plano/-1.00 x 180": "plano/-1.00 x 180", "Plano -1.00 x 180": "plano/-1.00 x 180", "0.00/-1.00 x 0": "plano/-1.00 x 180",
		"-2.00 sph": "-2.00 sph", "-2.00 DS": "-2.00 sph", "+2.00sph": "+2.00 sph", "plano": "plano", "plano sph": "plano",
	} {
		r := lens(t, text)
		if r.String() != want {
			t.Errorf("%q prints %s, want %s", text, r, want)
		}
	}
	if r := lens(t, "-3.00/-4.00 x 0"); r.Axis != 180 || r.Text != "-3.00/-4.00 x 0" {
		t.Errorf("axis 0 became %d and the text %q", r.Axis, r.Text)
	}
}

func TestRefusedRefraction(t *testing.T) {
	for _, c := range []struct {
		text     string
		readings []string
	}{
		{"3.00/-4.00 x 90", []string{"+3.00", "-3.00"}},
		{"-3.00/4.00 x 90", []string{"+4.00", "-4.00"}},
		{"-3.00", []string{"-3.00 sph"}},
		{"-3.00/-4.00 90", []string{"-3.00/-4.00 x 90"}},
		{"-3.00/-4.00 x 200", []string{"20"}},
		{"-3,00/-4,00 x 90", []string{"-3.00"}},
		{"-3.00/-4.00", nil}, {"-3.00/-4.00 x 90.5", nil}, {"-3.00/-4.00 x 361", nil}, {"-3.00/-4.00 x -90", nil},
		{"--3.00/-4.00 x 90", nil}, {"+-3.00", nil}, {"--3.00", nil}, {"-3.00/-4.00 x", nil}, {"x 90", nil}, {"-3.00 cyl", nil}, {"NaN/-1.00 x 90", nil},
		{"-1e308/-4.00 x 90", nil}, {"", nil}, {"clear", nil}, {"-3.00 AX/-4.00 x 90", nil},
	} {
		r, p := ParseRefraction(c.text)
		if p == nil || !slices.Equal(p.Readings, c.readings) {
			t.Errorf("%q: %v, %+v", c.text, r, p)
		}
	}
}

// Source: the method of Thibos and Horner, J Cataract Refract Surg 2001;27:80;
// M = S + C/2, J0 = -(C/2) cos 2a, J45 = -(C/2) sin 2a, B the length. Values
// computed from these formulas by hand to three places.
func TestPowerVectors(t *testing.T) {
	for _, c := range []struct{ text, m, j0, j45, b string }{
		{"-2.00/-1.00 x 180", "-2.50", "0.500", "0.000", "2.550"},
		{"-2.00/-1.00 x 90", "-2.50", "-0.500", "0.000", "2.550"},
		{"-2.00/-1.00 x 45", "-2.50", "0.000", "0.500", "2.550"},
		{"-2.00/-1.00 x 135", "-2.50", "0.000", "-0.500", "2.550"},
		{"+1.00/-2.00 x 30", "0.00", "0.500", "0.866", "1.000"},
		{"-1.50/-3.00 x 20", "-3.00", "1.149", "0.964", "3.354"},
		{"+2.50/-4.00 x 10", "0.50", "1.879", "0.684", "2.062"},
		{"-2.00 sph", "-2.00", "0.000", "0.000", "2.000"},
	} {
		m, j0, j45, b := lens(t, c.text).PowerVector()
		got := [4]string{m.String(), j0.Round(3).String(), j45.Round(3).String(), b.Round(3).String()}
		if want := [4]string{c.m, c.j0, c.j45, c.b}; got != want {
			t.Errorf("%s: %v, want %v", c.text, got, want)
		}
	}
}

// Both forms of one lens have one power vector (Thibos, Wheeler and Horner,
// Optom Vis Sci 1997;74:367), and transposing twice gives the lens back.
func TestTransposeKeepsTheLens(t *testing.T) {
	for axis := 1; axis <= 180; axis++ {
		for _, powers := range []string{"-3.00/-4.00", "+1.25/-0.37", "plano/+2.75", "-0.50/+0.50"} {
			r := lens(t, fmt.Sprintf("%s x %d", powers, axis))
			other := r.Transpose()
			if other.Axis < 1 || other.Axis > 180 {
				t.Fatalf("%s transposes to axis %d", r, other.Axis)
			}
			m, j0, j45, b := r.PowerVector()
			m2, j2, j452, b2 := other.PowerVector()
			if m.Cmp(m2) != 0 || j0.Cmp(j2) != 0 || j45.Cmp(j452) != 0 || b.Cmp(b2) != 0 {
				t.Fatalf("%s is %v %v %v %v and %s is %v %v %v %v", r, m, j0, j45, b, other, m2, j2, j452, b2)
			}
			if back := other.Transpose(); back.String() != r.String() {
				t.Fatalf("%s comes back as %s", r, back)
			}
		}
	}
	if r := lens(t, "-2.00 sph"); r.Transpose().String() != "-2.00 sph" {
		t.Error("a sphere changed when transposed")
	}
}

// Arithmetic: the spherical equivalent is sphere plus half the cylinder, exact.
func TestSphericalEquivalent(t *testing.T) {
	for text, want := range map[string]string{"-3.00/-4.00 x 90": "-5.00", "-3.00/-1.25 x 90": "-3.625", "plano": "0.00", "+1/-1 x 5": "0.50"} {
		if got := lens(t, text).SphericalEquivalent().String(); got != want {
			t.Errorf("%s: %s, want %s", text, got, want)
		}
	}
}

// Source: V = pi d^3 / 6 (geometry); the rounded volumes of bubbles of these
// diameters computed apart: 3 mm 0.014 mL, 4 mm 0.034 mL, 5.3 mm about 0.08 mL,
// 5.8 mm about 0.10 mL. A sphere of 10 mm is pi/6 mL.
func TestSphereVolume(t *testing.T) {
	for _, c := range []struct {
		mm     string
		places int
		want   string
	}{
		{"3", 3, "0.014"}, {"4", 3, "0.034"}, {"5.3", 2, "0.08"}, {"5.8", 2, "0.10"}, {"10", 4, "0.5236"}, {"0", 0, "0"},
	} {
		if got := SphereVolume(MustDecimal(c.mm)).Round(c.places).String(); got != c.want {
			t.Errorf("%s mm: %s mL, want %s", c.mm, got, c.want)
		}
	}
	if got := SphereVolume(FromInt(3)).String(); got != "0.01414" {
		t.Errorf("3 mm: %s mL, want four significant digits 0.01414", got)
	}
	if SphereVolume(FromInt(-1)).IsDefined() {
		t.Error("a negative diameter has a volume")
	}
}
