package quantity

import (
	"math"
	"slices"
	"strings"
	"testing"
)

// Source: General Decimal Arithmetic Specification (speleotrove.com/decimal),
// examples under add, subtract and multiply: results keep the precision of
// their operands. Minus zero, "-0.0" there, is zero here.
func TestArithmeticIsExact(t *testing.T) {
	for _, c := range []struct {
		op         func(x, y Decimal) Decimal
		x, y, want string
	}{
		{Decimal.Add, "12", "7.00", "19.00"},
		{Decimal.Sub, "1.3", "1.07", "0.23"},
		{Decimal.Sub, "1.3", "1.30", "0.00"},
		{Decimal.Sub, "1.3", "2.07", "-0.77"},
		{Decimal.Mul, "1.20", "3", "3.60"},
		{Decimal.Mul, "7", "3", "21"},
		{Decimal.Mul, "0.9", "0.8", "0.72"},
		{Decimal.Mul, "654321", "654321", "428135971041"},
	} {
		if got := c.op(MustDecimal(c.x), MustDecimal(c.y)).String(); got != c.want {
			t.Errorf("%s and %s: %s, want %s", c.x, c.y, got, c.want)
		}
	}
	if got := MustDecimal("-0.9").Mul(FromInt(0)).String(); got != "0.0" {
		t.Errorf("minus zero prints %q", got)
	}
}

// Source: same specification, examples under divide (nine digits). Trailing
// zeros are dropped here, so values are compared.
func TestQuotient(t *testing.T) {
	for _, c := range [][3]string{
		{"1", "3", "0.333333333"}, {"2", "3", "0.666666667"}, {"5", "2", "2.5"}, {"1", "10", "0.1"},
		{"12", "12", "1"}, {"8.00", "2", "4"}, {"2.400", "2.0", "1.2"}, {"1000", "100", "10"}, {"1000", "1", "1000"},
	} {
		if got := MustDecimal(c[0]).Quo(MustDecimal(c[1]), 9).String(); got != c[2] {
			t.Errorf("%s/%s: %s, want %s", c[0], c[1], got, c[2])
		}
	}
}

// Source: same specification, examples under quantize, and its definition of
// round-half-up for the ties.
func TestRound(t *testing.T) {
	for _, c := range []struct {
		in     string
		places int
		want   string
	}{
		{"2.17", 3, "2.170"}, {"2.17", 2, "2.17"}, {"2.17", 1, "2.2"}, {"2.17", 0, "2"}, {"217", 1, "217.0"},
		{"0.125", 2, "0.13"}, {"-0.125", 2, "-0.13"}, {"9.995", 2, "10.00"}, {"-0.04", 1, "0.0"},
	} {
		if got := MustDecimal(c.in).Round(c.places).String(); got != c.want {
			t.Errorf("%s to %d places: %s, want %s", c.in, c.places, got, c.want)
		}
	}
}

// An entry may hold a zero where a rule divides; the outcome must fail every
// range check and must not stop the program.
func TestUndefined(t *testing.T) {
	u := FromInt(350).Quo(FromInt(0), 4)
	if u.IsDefined() || u.IsZero() || u.String() != "undefined" || u.Float() != 0 || u.Sign() != 0 {
		t.Errorf("350/0 is %v", u)
	}
	for _, d := range []Decimal{u.Add(FromInt(1)), FromInt(1).Sub(u), u.Mul(u), u.Quo(FromInt(2), 3), u.Round(2), u.Neg(), u.Abs()} {
		if d.IsDefined() {
			t.Errorf("arithmetic on an undefined number gives %v", d)
		}
	}
	if u.Cmp(MustDecimal("-999999")) != -1 || FromInt(0).Cmp(u) != 1 || u.Cmp(u) != 0 {
		t.Error("an undefined number does not sort below every number")
	}
	if _, ok := u.Int(); ok {
		t.Error("an undefined number is an integer")
	}
	huge := MustDecimal("999999999999999999")
	for range 20 {
		huge = huge.Mul(huge)
	}
	if huge.IsDefined() {
		t.Error("a result beyond the exponent range is defined")
	}
}

func TestZeroDecimal(t *testing.T) {
	var d Decimal
	if !d.IsZero() || d.String() != "0" || d.Cmp(FromInt(0)) != 0 || d.Add(FromInt(2)).String() != "2" {
		t.Errorf("the zero Decimal is %v", d)
	}
}

// math.Float64 values are compared with the bits the Go compiler gives the same
// literal (Go specification, "Constants").
func TestFloatAndInt(t *testing.T) {
	if got := MustDecimal("7.75").Float(); got != 7.75 {
		t.Errorf("7.75 draws at %v", got)
	}
	if got := MustDecimal("0.1").Float(); math.Float64bits(got) != math.Float64bits(0.1) {
		t.Errorf("0.1 draws at %v", got)
	}
	if n, ok := MustDecimal("16.0").Int(); !ok || n != 16 {
		t.Errorf("16.0 is %d, %v", n, ok)
	}
	if _, ok := MustDecimal("16.5").Int(); ok {
		t.Error("16.5 is an integer")
	}
}

// The typed precision is part of the value: ISO 80000-1, annex B, keeps
// significant zeros; FHIR R4 decimal ("precision of the decimal value has
// significance") asks for the same.
func TestTypedPrecision(t *testing.T) {
	for _, s := range []string{"8.50", "8.5", "0.080", "0", "0.00", "-3.00", "380", "123456789.123456789"} {
		d, p := ParseDecimal(s)
		if p != nil {
			t.Fatalf("%s: %v", s, p)
		}
		if d.String() != s {
			t.Errorf("%s prints %s", s, d)
		}
		text, err := d.MarshalText()
		var back Decimal
		if err != nil || back.UnmarshalText(text) != nil || back.String() != s {
			t.Errorf("%s comes back as %v", s, back)
		}
	}
	if MustDecimal("8.50").Cmp(MustDecimal("8.5")) != 0 {
		t.Error("8.50 and 8.5 differ")
	}
	var d Decimal
	if err := d.UnmarshalText([]byte("7,75")); err == nil {
		t.Error("a decimal comma was read from text")
	}
}

// Common practice, no source, for which texts are refused; the leading zero is
// the ISMP list of error-prone abbreviations ("naked decimal point").
func TestRefusedNumbers(t *testing.T) {
	for _, c := range []struct {
		text     string
		readings []string
	}{
		{"7,75", []string{"7.75", "7 and 75"}},
		{",75", []string{"0.75"}},
		{"1,000", []string{"1.000", "1000"}},
		{"1,000,000", []string{"1000000"}},
		{"1_000", []string{"1000"}},
		{"1 000", []string{"1000"}},
		{"1'000.5", []string{"1000.5"}},
		{".08", []string{"0.08"}},
		{"-.5", []string{"-0.5"}},
		{"8.", []string{"8"}},
		{"007", []string{"7"}},
		{"00.8", []string{"0.8"}},
		{"+3", []string{"3"}},
		{"-0", []string{"0"}},
		{"-0.00", []string{"0.00"}},
		{"٨٫٢٥", []string{"8.25"}},
		{"８．２", []string{"8.2"}},
		{"৭৫", []string{"75"}},
		{"\U0001d7ea.\U0001d7db", []string{"8.3"}}, // mathematical sans-serif 8, double-struck 3
		{"8.25/8.0", []string{"8.25", "8.0"}},
		{"3 to 4", []string{"3", "4"}},
		{"1e308", nil}, {"1E5", nil}, {"NaN", nil}, {"Inf", nil}, {"-Infinity", nil}, {"0x1F", nil}, {"~", nil},
		{"", nil}, {"   ", nil}, {"--3", nil}, {"1.2.3", nil}, {"½", nil}, {"8\x00", nil}, {"8\u200b", nil},
		{"8\u202e", nil}, {"\xff", nil}, {"1234567890123456789", nil}, {strings.Repeat("9", 201), nil},
		{strings.Repeat("9", 1<<20), nil},
	} {
		d, p := ParseDecimal(c.text)
		if p == nil {
			t.Errorf("%.20q was read as %v", c.text, d)
			continue
		}
		if !slices.Equal(p.Readings, c.readings) {
			t.Errorf("%.20q: readings %q, want %q", c.text, p.Readings, c.readings)
		}
	}
}

// U+2212 is the minus sign of the Unicode Standard (Mathematical Operators).
func TestMinusSign(t *testing.T) {
	if d, p := ParseDecimal("\u22123.00"); p != nil || d.String() != "-3.00" {
		t.Errorf("minus sign: %v, %v", d, p)
	}
}
