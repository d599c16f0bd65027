package ident

import (
	"fmt"
	"strings"
	"testing"
)

// Worked by the published rule (weights 10 to 2, mod 11); 943 476 5870 and
// 943 476 5871 are also doc tests of python-stdnum, gb.nhs.
func TestNHSNumber(t *testing.T) {
	for _, c := range []struct {
		text  string
		shown string // "" when refused
	}{
		{"943 476 5919", "943 476 5919"},
		{"943-476-5870", "943 476 5870"}, // 11 becomes 0
		{"4010232137", "401 023 2137"},
		{" 999\u00a0000\u20100018 ", "999 000 0018"},
		{"943 476 5871", ""},
		{"943 476 5991", ""}, // two neighbours exchanged
		{"943 476 591", ""},
		{"943 476 59190", ""},
		{"943 476 591O", ""},
		{"٩٤٣٤٧٦٥٩١٩", ""},
		{"", ""},
	} {
		n, p := ParseNHSNumber(c.text)
		if (p == nil) != (c.shown != "") || n.String() != c.shown {
			t.Errorf("%q: %q, %v", c.text, n, p)
		}
		if n.Digits() != strings.ReplaceAll(c.shown, " ", "") {
			t.Errorf("%q: digits %q", c.text, n.Digits())
		}
	}
}

// The trap: ten equal digits pass mod 11, since 54 = 10 mod 11 (arithmetic; the
// committed library file leaves them out because the library accepts them).
func TestNHSRepeatedDigit(t *testing.T) {
	for d := range 10 {
		sum := 0
		for weight := 2; weight <= 10; weight++ {
			sum += weight * d
		}
		if (11-sum%11)%11 != d {
			t.Errorf("digit %d does not pass mod 11: the trap is not one", d)
		}
		p := second(ParseNHSNumber(strings.Repeat(fmt.Sprint(d), 10)))
		if p == nil || !strings.Contains(p.What, "repeated digit") {
			t.Errorf("ten times %d: %v", d, p)
		}
	}
}

// A result of 10 is never issued (published rule). 100000001: weights 10 and 2,
// sum 12, r 1, check 10.
func TestNHSCheckTen(t *testing.T) {
	for d := range 10 {
		p := second(ParseNHSNumber(fmt.Sprintf("100000001%d", d)))
		if p == nil || !strings.Contains(p.What, "begins with these nine digits") {
			t.Errorf("last digit %d: %v", d, p)
		}
	}
}

// Mod 11 theory: every single change and every exchange of neighbours is found,
// the check digit's place included. Every place, every pair of digits.
func TestNHSDetectsChangesAndSwaps(t *testing.T) {
	tried := 0
	for _, stem := range []string{"943476591", "401023213", "999000001"} {
		for i := range nhsLength {
			for a := byte('0'); a <= '9'; a++ {
				for b := byte('0'); b <= '9'; b++ {
					number := completeNHS(replace(stem, i%9, a))
					if number == "" {
						continue
					}
					if number[i] != b {
						tried++
						if _, p := ParseNHSNumber(replace(number, i, b)); p == nil {
							t.Errorf("place %d: change to %c not found", i+1, b)
						}
					}
					if i < 9 && number[i] != number[i+1] {
						tried++
						swapped := replace(replace(number, i, number[i+1]), i+1, number[i])
						if _, p := ParseNHSNumber(swapped); p == nil {
							t.Errorf("exchange of places %d and %d not found", i+1, i+2)
						}
					}
				}
			}
		}
	}
	if tried < 3000 {
		t.Errorf("only %d changes tried", tried)
	}
}

// completeNHS finds the check digit by trial, so that it does not repeat the
// formula under test; "" where none fits.
func completeNHS(stem string) string {
	for d := byte('0'); d <= '9'; d++ {
		if _, p := ParseNHSNumber(stem + string(d)); p == nil {
			return stem + string(d)
		}
	}
	return ""
}

// 890400021003: GS1 India, check digit calculation. 73513537, 9780471117094 and
// 98412345678908: doc tests of python-stdnum, ean. 07032069804988: public tests
// of a GS1 reader. 629104150021: worked by hand, sum 57.
func TestGS1CheckDigit(t *testing.T) {
	for _, number := range []string{
		"8904000210037", "73513537", "9780471117094", "98412345678908", "07032069804988", "6291041500213",
	} {
		last := len(number) - 1
		c, err := GS1CheckDigit(number[:last])
		if err != nil || c != number[last] {
			t.Errorf("%s: %c, %v", number, c, err)
		}
		g, p := ParseGTIN(number)
		if p != nil || g.String() != strings.Repeat("0", 14-len(number))+number {
			t.Errorf("%s: %s, %v", number, g, p)
		}
	}
	for _, s := range []string{"", "12a", "１２"} {
		if _, err := GS1CheckDigit(s); err == nil {
			t.Errorf("%q accepted", s)
		}
	}
}

func TestGTINRefused(t *testing.T) {
	for _, c := range []struct{ text, what string }{
		{"8904000210038", "check digit"},
		{"890400021003", "check digit"},
		{"89040002100", "has 11 digits"},
		{"", "has 0 digits"},
		{"89O4000210037", "not a digit"},
		{"00000000", "all zeros"},
		{"00000000000000", "all zeros"},
	} {
		g, p := ParseGTIN(c.text)
		if p == nil || !strings.Contains(p.What, c.what) || g.String() != "" {
			t.Errorf("%q: %s, %v", c.text, g, p)
		}
	}
	if g, p := ParseGTIN("978-0-471-11709-4"); p != nil || g.String() != "09780471117094" {
		t.Errorf("hyphens (python-stdnum ean doc test): %s, %v", g, p)
	}
}

// Known theory of weights 3 and 1: every single change is found; an exchange of
// neighbours is missed exactly when the digits differ by 5. Every place and pair.
func TestGS1DetectsChangesAndMissesFives(t *testing.T) {
	const base = "0890400021003"
	digit := func(s string) byte {
		c, err := GS1CheckDigit(s)
		if err != nil {
			t.Fatal(err)
		}
		return c
	}
	for i := range len(base) {
		for a := byte('0'); a <= '9'; a++ {
			for b := byte('0'); b <= '9'; b++ {
				if a != b && digit(replace(base, i, a)) == digit(replace(base, i, b)) {
					t.Errorf("place %d: %c for %c not found", i+1, b, a)
				}
				if i+1 == len(base) {
					continue
				}
				was := replace(replace(base, i, a), i+1, b)
				swapped := replace(replace(base, i, b), i+1, a)
				gap := int(a) - int(b)
				if missed := digit(was) == digit(swapped); missed != (gap%5 == 0) {
					t.Errorf("places %d and %d: exchange of %c and %c missed = %v", i+1, i+2, a, b, missed)
				}
			}
		}
	}
}
