package quantity

import (
	"slices"
	"strings"
	"testing"
)

func read(t *testing.T, text string) Acuity {
	t.Helper()
	a, p := ParseAcuity(text)
	if p != nil {
		t.Fatalf("%q: %v %q", text, p, p.Readings)
	}
	return a
}

// near compares within a tolerance given as a decimal.
func near(d Decimal, want, tolerance string) bool {
	return d.Sub(MustDecimal(want)).Abs().Cmp(MustDecimal(tolerance)) <= 0
}

// Source: the conversion table of Bach, Visual acuity (web page of the Freiburg
// acuity test), decimal = distance / denominator and logMAR = -log10(decimal);
// third decimals computed from that definition. The table puts 0.63 beside
// 20/30 and 0.32 beside 20/60; those two lines are computed, not moved. Metre
// denominators are rounded on charts, so 6/3.8 is checked to 0.01.
func TestLogMARTable(t *testing.T) {
	for _, c := range []struct{ feet, metres, logMAR, tolerance string }{
		{"20/10", "6/3", "-0.301", "0.001"},
		{"20/12.5", "6/3.8", "-0.204", "0.01"},
		{"20/16", "6/4.8", "-0.097", "0.001"},
		{"20/20", "6/6", "0", "0"},
		{"20/25", "6/7.5", "0.097", "0.001"},
		{"20/30", "6/9", "0.176", "0.001"},
		{"20/32", "6/9.5", "0.204", "0.01"},
		{"20/40", "6/12", "0.301", "0.001"},
		{"20/50", "6/15", "0.398", "0.001"},
		{"20/60", "6/18", "0.477", "0.001"},
		{"20/63", "6/19", "0.498", "0.01"},
		{"20/80", "6/24", "0.602", "0.001"},
		{"20/100", "6/30", "0.699", "0.001"},
		{"20/125", "6/38", "0.796", "0.01"},
		{"20/160", "6/48", "0.903", "0.001"},
		{"20/200", "6/60", "1.000", "0.001"},
		{"20/400", "6/120", "1.301", "0.001"},
	} {
		feet, ok := read(t, c.feet).LogMAR()
		if !ok || !near(feet, c.logMAR, "0.001") {
			t.Errorf("%s is %v logMAR, want %s", c.feet, feet, c.logMAR)
		}
		metres, ok := read(t, c.metres).LogMAR()
		if !ok || !near(metres, c.logMAR, c.tolerance) {
			t.Errorf("%s is %v logMAR, want %s", c.metres, metres, c.logMAR)
		}
	}
	if got, _ := read(t, "20/30").LogMAR(); got.String() != "0.1761" {
		t.Errorf("20/30 is %v: log10(1.5) is 0.17609...", got)
	}
}

// Source: Holladay, J Cataract Refract Surg 2004;30:287: the mean of 20/20 and
// 20/200 is 0.5 logMAR, near 20/63.
func TestMeanInLogMAR(t *testing.T) {
	a, _ := read(t, "20/20").LogMAR()
	b, _ := read(t, "20/200").LogMAR()
	mean := a.Add(b).Quo(FromInt(2), 6)
	line, _ := read(t, "20/63").LogMAR()
	if mean.String() != "0.5" || !near(line, mean.String(), "0.01") {
		t.Errorf("the mean is %v, the 20/63 line %v", mean, line)
	}
}

func TestAcuityForms(t *testing.T) {
	for _, c := range []struct{ text, prints, scale, category string }{
		{"6/36", "6/36", ScaleMetres, ""},
		{"6 / 7.5", "6/7.5", ScaleMetres, ""},
		{"3/60", "3/60", ScaleMetres, ""},
		{"20/80", "20/80", ScaleFeet, ""},
		{"6/9-2", "6/9-2", ScaleMetres, ""},
		{"20/40 +1", "20/40+1", ScaleFeet, ""},
		{"0.5 logMAR", "0.5 logMAR", ScaleLogMAR, ""},
		{"LogMAR -0.10", "-0.10 logMAR", ScaleLogMAR, ""},
		{"0.5 decimal", "0.5 decimal", ScaleDecimal, ""},
		{"70 letters", "70 letters", ScaleLetters, ""},
		{"CF", "CF", ScaleOffChart, "CF"},
		{"CF 1 m", "CF 1 m", ScaleOffChart, "CF"},
		{"counting fingers at 30cm", "CF 30 cm", ScaleOffChart, "CF"},
		{"cf@2ft", "CF 2 ft", ScaleOffChart, "CF"},
		{"HM", "HM", ScaleOffChart, "HM"},
		{"hand movements", "HM", ScaleOffChart, "HM"},
		{"P-L", "LP", ScaleOffChart, "LP"},
		{"P.L.", "LP", ScaleOffChart, "LP"},
		{"NPL", "NLP", ScaleOffChart, "NLP"},
	} {
		a := read(t, c.text)
		if a.String() != c.prints || a.Scale != c.scale || a.Category() != c.category || a.Text != c.text {
			t.Errorf("%q: %s on %s, category %q, text %q", c.text, a, a.Scale, a.Category(), a.Text)
		}
	}
	// One letter is 0.02 only on some charts, so extra letters leave the line's value.
	with, _ := read(t, "6/9-2").LogMAR()
	line, _ := read(t, "6/9").LogMAR()
	if with.Cmp(line) != 0 || read(t, "6/9-2").Extra != -2 {
		t.Errorf("6/9-2 is %v, 6/9 is %v", with, line)
	}
	for _, text := range []string{"70 letters", "CF", "NLP"} {
		if v, ok := read(t, text).LogMAR(); ok {
			t.Errorf("%s was turned into %v logMAR", text, v)
		}
	}
	if got, ok := read(t, "0.50 logMAR").LogMAR(); !ok || got.String() != "0.50" {
		t.Errorf("0.50 logMAR is %v", got)
	}
	if read(t, "CF").Says() != "counting fingers" || read(t, "6/6").Says() != "" || (Acuity{}).String() != "" {
		t.Error("the words for the categories are wrong")
	}
}

// The equivalents in the readings follow from the definition of logMAR above:
// 6 × 10^0.3 = 11.97 and 6 / 0.3 = 20.
func TestRefusedAcuity(t *testing.T) {
	for _, c := range []struct {
		text     string
		readings []string
	}{
		{"0.3", []string{"0.3 logMAR (6/12)", "0.3 decimal (about 6/20)"}},
		{"1.0", []string{"1.0 logMAR (6/60)", "1.0 decimal (about 6/6)"}},
		{"-0.1", []string{"-0.1 logMAR (6/4.8)"}},
		{"70", []string{"70 letters"}},
		{"612", []string{"6/12"}},
		{"66", []string{"6/6", "66 letters"}},
		{"2040", []string{"20/40"}},
		{"0,3", []string{"0.3", "0 and 3"}},
		{"CF 1", []string{"CF 1 m?", "CF 1 cm?", "CF 1 ft?"}},
		{"CF 1 km", nil}, {"CF 0 m", nil}, {"LP 1 m", nil}, {"6/0", nil}, {"9/6", nil}, {"0/6", nil}, {"6/-6", nil},
		{"0 decimal", nil}, {"-0.5 decimal", nil}, {"101 letters", nil}, {"70.5 letters", nil}, {".3 logMAR", []string{"0.3 logMAR"}},
		{"NaN logMAR", nil}, {"logMAR", nil}, {"good", nil}, {"", nil}, {"6/1e308", nil}, {"50 %", nil},
	} {
		a, p := ParseAcuity(c.text)
		if p == nil || !slices.Equal(p.Readings, c.readings) {
			t.Errorf("%q: %v, %+v", c.text, a, p)
		}
	}
}

// Sources: Schulze-Bonsel et al., IOVS 2006;47:1236 (decimal 0.014 and 0.005,
// whose -log10 is 1.85 and 2.30); Lange et al., Graefes 2009;247:137 (1.98,
// 2.28); Bach, web page (1.9, 2.3, and 2.7 and 3.0 imputed).
func TestConventions(t *testing.T) {
	for _, c := range [][3]string{
		{"CF", "schulze-bonsel-2006", "1.85"}, {"HM", "schulze-bonsel-2006", "2.30"}, {"LP", "schulze-bonsel-2006", ""},
		{"CF", "lange-2009", "1.98"}, {"HM", "lange-2009", "2.28"}, {"NLP", "lange-2009", ""},
		{"CF", "bach", "1.9"}, {"HM", "bach", "2.3"}, {"LP", "bach", "2.7"}, {"NLP", "bach", "3.0"},
		{"CF", "nobody", ""}, {"6/6", "bach", ""},
	} {
		v, ok := read(t, c[0]).Convention(c[1])
		if ok != (c[2] != "") || (ok && v.String() != c[2]) {
			t.Errorf("%s by %s: %v, %v", c[0], c[1], v, ok)
		}
	}
	for decimal, want := range map[string]string{"0.014 decimal": "1.85", "0.005 decimal": "2.30"} {
		if v, ok := read(t, decimal).LogMAR(); !ok || v.Round(2).String() != want {
			t.Errorf("%s is %v logMAR", decimal, v)
		}
	}
	for _, c := range acuityData().Conventions {
		if c.Source == "" || len(c.Values) == 0 {
			t.Errorf("%s has no source or no values", c.Author)
		}
		if c.Author == "bach" && strings.Join(c.Imputed, " ") != "LP NLP" {
			t.Errorf("%s: imputed %v", c.Author, c.Imputed)
		}
	}
}
