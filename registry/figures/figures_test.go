package figures

import (
	"errors"
	"math"
	"math/rand/v2"
	"strings"
	"testing"
)

func about(a, b, within float64) bool { return math.Abs(a-b) <= within }

// Limits of Newcombe, Stat Med 1998;17:857-872, table I (method 3), from memory
// and equal to the formula; 23/60 is the example of vassarstats.net/prop1.html.
func TestWilsonPublished(t *testing.T) {
	for _, c := range []struct {
		r, n         int
		lower, upper float64
	}{
		{81, 263, 0.2553, 0.3662}, {15, 148, 0.0624, 0.1605}, {0, 20, 0, 0.1611}, {1, 29, 0.0061, 0.1718},
		{23, 60, 0.2709, 0.5098}, {10, 10, 0.7225, 1}, {29, 29, 0.8830, 1},
	} {
		i, err := Wilson(c.r, c.n)
		if err != nil || !about(i.Lower, c.lower, 5e-5) || !about(i.Upper, c.upper, 5e-5) {
			t.Errorf("%d/%d: %v %v", c.r, c.n, i, err)
		}
	}
}

// Properties of the score interval (Newcombe 1998, section 2): it holds the
// estimate, stays within 0..1, mirrors when successes and failures change places
// and grows narrower with more cases. The exact interval is no narrower at the
// ends and mirrors too.
func TestIntervalProperties(t *testing.T) {
	for n := 1; n <= 60; n++ {
		for r := 0; r <= n; r++ {
			for _, f := range []func(int, int) (Interval, error){Wilson, Exact} {
				i, err := f(r, n)
				m, _ := f(n-r, n)
				if err != nil || i.Lower < 0 || i.Upper > 1 || i.Lower > i.Estimate || i.Upper < i.Estimate || i.Width() <= 0 {
					t.Fatalf("%d/%d: %+v %v", r, n, i, err)
				}
				if !about(i.Lower, 1-m.Upper, 1e-12) || !about(i.Upper, 1-m.Lower, 1e-12) {
					t.Fatalf("%d/%d does not mirror", r, n)
				}
				if double, _ := f(2*r, 2*n); double.Width() >= i.Width() {
					t.Fatalf("%d/%d is not wider than its double", r, n)
				}
			}
		}
	}
	for _, c := range [][2]int{{1, 0}, {0, 0}, {-1, 5}, {6, 5}, {1, -1}} {
		if _, err := Wilson(c[0], c[1]); !errors.Is(err, ErrProportion) {
			t.Errorf("%v is taken", c)
		}
		if _, err := Exact(c[0], c[1]); !errors.Is(err, ErrProportion) {
			t.Errorf("%v is taken", c)
		}
	}
}

// One conversion in 20 is 5 %, with an exact interval from about 0.1 % to 25 %
// (Clopper and Pearson 1934; the figures are arithmetic).
func TestFewCases(t *testing.T) {
	i, _ := Exact(1, 20)
	if !about(i.Lower, 0.0013, 5e-5) || !about(i.Upper, 0.2487, 5e-5) {
		t.Errorf("%+v", i)
	}
	if Few(1, 20) != Caution("few") || Few(0, 0) != Caution("none") || Few(50, 1000) != "" {
		t.Error("the cautions do not fit the counts")
	}
	for _, key := range []string{"few", "none", "cusum", "survival", "published", "masked"} {
		if Caution(key) == "" {
			t.Errorf("no caution %s", key)
		}
	}
	if Caution("no such key") != "" {
		t.Error("an unknown key has a text")
	}
}

// Greenwood standard errors and survival of R's aml set, maintained arm (Miller
// 1981): from memory; lifelines and statsmodels agree, see the vectors file.
// Medians 31 and 23 as R's survfit prints them (from memory, unverified).
func TestSurvivalOfAML(t *testing.T) {
	c, err := KaplanMeier(observations(t, "161+ 9 13+ 13 18 23 28+ 31 34 45+ 48"))
	if err != nil || c.N != 11 || c.Events != 7 {
		t.Fatal(c, err)
	}
	for _, want := range []struct {
		t, s, se float64
		risk     int
	}{
		{9, .9091, .0867, 11}, {13, .8182, .1163, 10}, {18, .7159, .1397, 8}, {23, .6136, .1526, 7},
		{31, .4909, .1642, 5}, {34, .3682, .1627, 4}, {48, .1841, .1535, 2},
	} {
		s, ok := c.At(want.t)
		if !ok || !about(s.Survival, want.s, 5e-5) || !about(s.SE, want.se, 5e-5) || s.AtRisk != want.risk || s.Events != 1 {
			t.Errorf("at %v: %+v %v", want.t, s, ok)
		}
	}
	if m, ok := c.Median(); !ok || m != 31 {
		t.Errorf("median %v", m)
	}
	other, _ := KaplanMeier(observations(t, "5 5 8 8 12 16+ 23 27 30 33 43 45"))
	if m, ok := other.Median(); !ok || m != 23 {
		t.Errorf("median %v", m)
	}
}

// The worked example "Kaplan-Meier survival estimates" of Kleinman and Horton,
// SAS and R (example 7.38): S(1) = 16/18, S(2) = 15/16 of it, and S(3) = 13/14 of
// that, because one of the 15 left at 2 was censored there.
func TestSurvivalWorkedExample(t *testing.T) {
	c, err := KaplanMeier(observations(t, "0.5+ 1 1 2 2+ 3 4 5+ 6 7+ 8 9 10+ 12 14+ 14 17+ 20 21+"))
	if err != nil {
		t.Fatal(err)
	}
	want := map[float64]float64{0.5: 1, 1: 16.0 / 18, 2: 16.0 / 18 * 15 / 16, 3: 16.0 / 18 * 15 / 16 * 13 / 14}
	for at, s := range want {
		if got, ok := c.At(at); !ok || !about(got.Survival, s, 1e-12) {
			t.Errorf("at %v: %v, want %v", at, got.Survival, s)
		}
	}
	if c.AtRisk(0) != 19 || c.AtRisk(1) != 18 || c.AtRisk(2) != 16 || c.AtRisk(3) != 14 || c.AtRisk(21) != 1 || c.AtRisk(22) != 0 {
		t.Error("numbers at risk")
	}
}

// Own contract: nothing is said beyond the last follow-up, and a curve at zero
// stays there.
func TestSurvivalEnds(t *testing.T) {
	c, _ := KaplanMeier(observations(t, "2 5+"))
	if _, ok := c.At(5.1); ok {
		t.Error("survival is given beyond the last visit")
	}
	if s, ok := c.At(0); !ok || s.Survival != 1 || s.AtRisk != 2 || s.Limits {
		t.Errorf("%+v", s)
	}
	if _, ok := c.Median(); !ok {
		t.Error("half have failed")
	}
	c, _ = KaplanMeier(observations(t, "2 5"))
	if s, ok := c.At(9); !ok || s.Survival != 0 || s.AtRisk != 0 || s.Events != 0 {
		t.Errorf("%+v", s)
	}
	if _, ok := (Curve{}).At(0); ok {
		t.Error("an empty curve has a value")
	}
	for _, bad := range []float64{-1, math.NaN(), math.Inf(1)} {
		if _, err := KaplanMeier([]Observation{{Time: bad}}); !errors.Is(err, ErrTime) {
			t.Errorf("%v is taken", bad)
		}
	}
}

// The running sum by hand: target 0.2, S(i) = S(i-1) + (X - 0.2) as the review of
// Biau and others (Qual Saf Health Care 2007;16:203) defines the plain chart.
func TestCumulativeSum(t *testing.T) {
	outcomes := []bool{false, false, true, false, false, false, false, true}
	got, err := CumulativeSum(outcomes, 0.2)
	want := []float64{-0.2, -0.4, 0.4, 0.2, 0, -0.2, -0.4, 0.4}
	if err != nil || len(got) != len(want) {
		t.Fatal(got, err)
	}
	for i := range want {
		if !about(got[i], want[i], 1e-12) {
			t.Errorf("case %d: %v, want %v", i+1, got[i], want[i])
		}
	}
	for _, bad := range []float64{0, 1, -1, math.NaN()} {
		if _, err := CumulativeSum(nil, bad); !errors.Is(err, ErrRate) {
			t.Errorf("target %v is taken", bad)
		}
	}
	if !strings.Contains(Caution("cusum"), "no certificate of competence") {
		t.Error("the chart may be read as competence")
	}
}

// Every published percentage is what its counts give, at the places printed; the
// counts stand in the sources named.
func TestPublishedFigures(t *testing.T) {
	counted := 0
	for _, m := range Published() {
		if m.ID == "" || m.Title == "" {
			t.Error("a measure without a name")
		}
		for _, f := range m.Figures {
			if f.Text == "" || f.Population == "" || f.Citation == "" {
				t.Errorf("%s: %+v is incomplete", m.ID, f)
			}
			if f.Low != nil && (f.High == nil || *f.Low >= *f.High) {
				t.Errorf("%s: limits", m.ID)
			}
			if f.Events == nil {
				continue
			}
			counted++
			if f.Percent == nil || !about(*f.Percent, 100*float64(*f.Events)/float64(f.Of), 0.5) {
				t.Errorf("%s: %s does not follow from its counts", m.ID, f.Text)
			}
			// 113/155 is published as 72.9 %: one place, so 0.05.
			if f.Percent != nil && *f.Percent != math.Trunc(*f.Percent) && !about(*f.Percent, 100*float64(*f.Events)/float64(f.Of), 0.06) {
				t.Errorf("%s: %s is rounded otherwise", m.ID, f.Text)
			}
		}
	}
	if counted < 25 {
		t.Errorf("only %d figures have counts", counted)
	}
	Published()[0].Figures[0].Text = "changed"
	if Published()[0].Figures[0].Text == "changed" {
		t.Error("a caller can change the published figures")
	}
}

func BenchmarkKaplanMeier100000(b *testing.B) {
	rng := rand.New(rand.NewPCG(1, 2))
	obs := make([]Observation, 100_000)
	for i := range obs {
		obs[i] = Observation{Time: float64(rng.IntN(240)), Event: rng.IntN(20) == 0}
	}
	b.ReportAllocs()
	for b.Loop() {
		if _, err := KaplanMeier(obs); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkExactInterval(b *testing.B) {
	for b.Loop() {
		if _, err := Exact(50_000, 100_000); err != nil {
			b.Fatal(err)
		}
	}
}
