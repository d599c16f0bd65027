package quantity

import (
	"fmt"
	"slices"
	"strings"
	"testing"
)

func dimension(t testing.TB, name string) Dimension {
	t.Helper()
	d, ok := DimensionByName(name)
	if !ok {
		t.Fatalf("no dimension %s", name)
	}
	return d
}

// Factors: BIPM, The International System of Units, 9th edition, tables 7 and 8
// (milli, micro, litre, minute, hour, day); a week has 7 days and a year 12
// months by the calendar; "cc" is the cubic centimetre, 1 mL. Canonical numbers
// are exact, with the precision that the exact factor gives.
func TestReadQuantity(t *testing.T) {
	for _, c := range []struct{ dim, text, prints, canonical, ucum string }{
		{"length", "8.0 mm", "8.0 mm", "8.0", "mm"},
		{"length", "350um", "350 µm", "0.350", "um"},
		{"length", "+0.25 mm", "0.25 mm", "0.25", "mm"},
		{"length", "-0.25 mm", "-0.25 mm", "-0.25", "mm"},
		{"depth", "350 \u00b5m", "350 µm", "350", "um"},
		{"depth", "350 \u03bcm", "350 µm", "350", "um"},
		{"depth", "350\u00a0microns", "350 µm", "350", "um"},
		{"depth", "350\u202fum", "350 µm", "350", "um"},
		{"depth", "0.54 mm", "0.54 mm", "540", "mm"},
		{"volume", "0.08 mL", "0.08 mL", "0.08", "mL"},
		{"volume", "0.5 cc", "0.5 mL", "0.5", "mL"},
		{"volume", "80 uL", "80 µL", "0.08", "uL"},
		{"gauge", "27 G", "27 G", "27", "1"},
		{"gauge", "27 gauge", "27 G", "27", "1"},
		{"percent", "0.06 %", "0.06 %", "0.06", "%"},
		{"percent", "90%", "90 %", "90", "%"},
		{"power", "-3.00 D", "-3.00 D", "-3.00", "[diop]"},
		{"power", "+45 dioptres", "45 D", "45", "[diop]"},
		{"power", "45 [diop]", "45 D", "45", "[diop]"},
		{"degrees", "110°", "110 °", "110", "deg"},
		{"degrees", "15 deg", "15 °", "15", "deg"},
		{"pressure", "14 mm Hg", "14 mmHg", "14", "mm[Hg]"},
		{"cell-density", "2500 cells/mm²", "2500 cells/mm²", "2500", "/mm2"},
		{"cell-density", "2500 /mm2", "2500 cells/mm²", "2500", "/mm2"},
		{"cell-density", "2500 cells/mm^2", "2500 cells/mm²", "2500", "/mm2"},
		{"minutes", "1.5 h", "1.5 h", "90", "h"},
		{"hours", "48 h", "48 h", "48", "h"},
		{"hours", "2 days", "2 d", "48", "d"},
		{"days", "2 wk", "2 wk", "14", "wk"},
		{"months", "18 mo", "18 months", "18", "mo"},
		{"months", "1.5 years", "1.5 years", "18", "a"},
		{"years", "63 y", "63 years", "63", "a"},
		{"count", "16", "16", "16", "1"},
	} {
		q, p := ParseQuantity("  "+c.text+" ", dimension(t, c.dim))
		if p != nil {
			t.Errorf("%s %q: %v %q", c.dim, c.text, p, p.Readings)
			continue
		}
		if q.String() != c.prints || q.UCUM() != c.ucum || q.In().Cmp(MustDecimal(c.canonical)) != 0 || q.Dimension != c.dim {
			t.Errorf("%s %q: %v, %v canonical, %s", c.dim, c.text, q, q.In(), q.UCUM())
		}
	}
}

// Source of the pairs donor/host and of the missing units: dictation habit,
// common practice, no source.
func TestRefusedQuantities(t *testing.T) {
	for _, c := range []struct {
		dim, text, what string
		readings        []string
	}{
		{"depth", "350", "number without its unit", []string{"350 µm?", "350 mm?"}},
		{"length", "8", "number without its unit", []string{"8 mm?", "8 µm?"}},
		{"gauge", "27", "number without its unit", []string{"27 G?"}},
		{"gauge", "0.27 G", "whole number", []string{"27 G?"}},
		{"gauge", "-27 G", "below zero", []string{"27 G?"}},
		{"count", "1.5", "whole number", []string{"1?", "15?"}},
		{"count", "-1", "below zero", []string{"1?"}},
		{"count", "16 mm", "no unit", []string{"16"}},
		{"length", "7,75 mm", "comma", []string{"7.75 mm", "7 and 75"}},
		{"volume", ".08 ml", "zero before the point", []string{"0.08 ml"}},
		{"length", "8.25/8.0", "two values", []string{"donor 8.25, host 8.0", "host 8.25, donor 8.0"}},
		{"length", "8.25 on 8.0 mm", "two values", []string{"donor 8.25 mm, host 8.0 mm", "host 8.25 mm, donor 8.0 mm"}},
		{"length", "8.25mm/8.0mm", "two values", []string{"donor 8.25 mm, host 8.0 mm", "host 8.25 mm, donor 8.0 mm"}},
		{"depth", "350/400 um", "two values", []string{"350 um", "400 um"}},
		{"length", "3-4 mm", "range", []string{"3 mm", "4 mm"}},
		{"length", "3 mm to 4 mm", "range", []string{"3 mm", "4 mm"}},
		{"length", "about 3 mm", "approximate", []string{"3 mm"}},
		{"length", "8 0 mm", "blank", []string{"80 mm", "8.0 mm"}},
		{"length", "8 MM", "capitals", []string{"8 mm"}},
		{"length", "٨ mm", "another script", []string{"8 mm"}},
		{"depth", "+350 um", "plus sign", []string{"350 um"}},
		{"length", "8 mL", "a unit of volume stands where length is wanted", nil},
		{"pressure", "14 kPa", "not one of this value", nil},
		{"length", "1e308 mm", "exponent", nil},
		{"length", "mm 8", "begin with a number", nil},
		{"length", "NaN mm", "begin with a number", nil},
		{"length", "8 mm\x07", "control", nil},
		{"length", "8 mm\tx", "control", nil},
	} {
		q, p := ParseQuantity(c.text, dimension(t, c.dim))
		if p == nil {
			t.Errorf("%s %q was read as %v", c.dim, c.text, q)
			continue
		}
		if !strings.Contains(p.What, c.what) || !slices.Equal(p.Readings, c.readings) {
			t.Errorf("%s %q: %q with readings %q", c.dim, c.text, p.What, p.Readings)
		}
	}
}

// The codes that NLM's validator (npm @lhncbc/ucum-lhc 7.1.10) accepts for
// these quantities; D, diop, [Diop] and mm[Hg are among those it rejects.
func TestUCUMCodes(t *testing.T) {
	valid := []string{"mm", "um", "mL", "uL", "[diop]", "deg", "%", "s", "min", "h", "d", "wk", "mo", "a",
		"/mm2", "mm[Hg]", "1"}
	for _, d := range Dimensions() {
		for _, u := range d.Units {
			if !slices.Contains(valid, u.UCUM) {
				t.Errorf("%s: %q is not a code the validator accepts", d.Name, u.UCUM)
			}
		}
	}
	// Test vector of the same validator: 0.54 mm = 540 um.
	q, _ := ParseQuantity("0.54 mm", dimension(t, "depth"))
	if q.In().Cmp(FromInt(540)) != 0 {
		t.Errorf("0.54 mm is %v um", q.In())
	}
}

// Every unit and spelling in the data file must be read back as its own unit,
// so that no row is dead and no spelling is claimed twice in a dimension.
func TestUnitTable(t *testing.T) {
	names := map[string]bool{}
	for _, d := range Dimensions() {
		if names[d.Name] || d.Says == "" {
			t.Errorf("dimension %q is listed twice or has no words", d.Name)
		}
		names[d.Name] = true
		if d.Canonical().Factor.Cmp(FromInt(1)) != 0 {
			t.Errorf("%s: the canonical factor is %v", d.Name, d.Canonical().Factor)
		}
		for spelling, i := range d.spellings {
			q, p := ParseQuantity("20 "+spelling, d)
			if p != nil || q.Unit.Symbol != d.Units[i].Symbol {
				t.Errorf("%s: 20 %s is %v, %v", d.Name, spelling, q, p)
			}
		}
	}
	if _, ok := DimensionByName("weight"); ok {
		t.Error("an unknown dimension was found")
	}
}

func TestZeroValues(t *testing.T) {
	var q Quantity
	if q.String() != "0" || q.UCUM() != "1" || !q.In().IsZero() {
		t.Errorf("the zero Quantity is %q %s", q, q.UCUM())
	}
	if _, p := ParseQuantity("8 mm", Dimension{}); p == nil {
		t.Error("a value was read without a dimension")
	}
	d := dimension(t, "length").Of(MustDecimal("8.25").Sub(MustDecimal("8.00")))
	if d.String() != "0.25 mm" {
		t.Errorf("the disparity prints %q", d)
	}
}

// Fractions: a third has no finite decimal (elementary arithmetic), so the
// exact ratio must differ from its decimals.
func TestFraction(t *testing.T) {
	f, p := ParseFraction("2/3")
	if p != nil || f.String() != "2/3" || f.Cmp(MustDecimal("0.6666666667")) != -1 ||
		f.Cmp(MustDecimal("0.6666666666")) != 1 || f.Decimal(4).String() != "0.6667" {
		t.Errorf("2/3 is %v, %v", f, p)
	}
	for _, c := range [][2]string{{"0.66", "0.66"}, {"66 %", "0.66"}, {"66%", "0.66"}, {"33/50", "0.66"}} {
		f, p := ParseFraction(c[0])
		if p != nil || f.Cmp(MustDecimal(c[1])) != 0 {
			t.Errorf("%s is %v, %v", c[0], f.Decimal(6), p)
		}
	}
	for text, readings := range map[string][]string{
		"66": {"66 %?"}, "1": {"1 %?"}, ".5": {"0.5"}, "-5 %": {"5 %"}, "3/0": nil, "a half": nil, "2/3/4": nil, "1,5 %": nil,
	} {
		if f, p := ParseFraction(text); p == nil || !slices.Equal(p.Readings, readings) {
			t.Errorf("%q: %v, %+v", text, f, p)
		}
	}
	if (Fraction{}).Decimal(3).Sign() != 0 || (Fraction{}).Cmp(FromInt(1)) != -1 {
		t.Error("the zero Fraction is not 0")
	}
}

func ExampleParseQuantity() {
	depth, _ := DimensionByName("depth")
	q, _ := ParseQuantity("0.35 mm", depth)
	fmt.Println(q, "is", q.In().Round(0), depth.Canonical().Symbol)

	_, p := ParseQuantity("350", depth)
	fmt.Println(p)
	fmt.Println(p.Readings)
	// Output:
	// 0.35 mm is 350 µm
	// number without its unit. the same number in another unit is another operation. write the number and then its unit: µm or mm
	// [350 µm? 350 mm?]
}

func BenchmarkParseQuantity(b *testing.B) {
	d := dimension(b, "depth")
	b.ReportAllocs()
	for b.Loop() {
		if _, p := ParseQuantity("350 µm", d); p != nil {
			b.Fatal(p)
		}
	}
}
