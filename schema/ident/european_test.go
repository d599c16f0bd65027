package ident

import (
	"strings"
	"testing"
)

// The specimen of "ISBT 128 and the Single European Code" (ST-012), figure 2, as
// quoted by public readers and by the FHIR BiologicallyDerivedProduct example.
const publishedCode = "PL001499Z549917123456 A00T041600320171231"

func TestPublishedEuropeanCode(t *testing.T) {
	c, p := ParseEuropeanCode("SEC: " + publishedCode)
	if p != nil {
		t.Fatal(p)
	}
	// Field by field: Directive 2006/86/EC, Annex VII.
	want := EuropeanCode{"PL", "001499", "Z549917123456", "A", "00T0416", "003", "20171231"}
	if c != want {
		t.Errorf("read as %+v, want %+v", c, want)
	}
	if y, m, d, ok := c.ExpiryDate(); y != 2017 || m != 12 || d != 31 || !ok {
		t.Errorf("expiry %d-%d-%d %v", y, m, d, ok)
	}
	if _, p := ParseDonationNumber(c.Donation); p != nil {
		t.Errorf("its donation number is refused: %v", p)
	}
}

// A constructed specimen by the layout of Annex VII, obviously invented; its
// donation number is the Red Book example.
func TestEuropeanCodeSpellings(t *testing.T) {
	const first, last = "GB000001G123498654321", "A012345600020261231"
	for _, text := range []string{
		"SEC " + first + " " + last,
		"SEC" + first + last,
		"SEC:" + first + " " + last,
		"sec " + strings.ToLower(first) + "\n" + strings.ToLower(last),
		first + " " + last,
		first + "\r\n" + last + "\r\n",
		first + last,
		"&,4" + first + last, // ISBT 128 data structure 038, as scanned
		"  SEC\n" + first + "\u00a0" + last,
	} {
		c, p := ParseEuropeanCode(text)
		if p != nil {
			t.Errorf("%q refused: %v", text, p)
			continue
		}
		if c.String() != first+" "+last {
			t.Errorf("%q read as %s", text, c)
		}
		d, p := ParseDonationNumber(c.Donation)
		if p != nil || d.CheckCharacter() != 'H' {
			t.Errorf("%q: donation check %c, %v", text, d.CheckCharacter(), p)
		}
	}
}

// The letters SEC may be the code itself: Sweden, establishment C....
func TestEuropeanCodeBeginningWithItsPrefix(t *testing.T) {
	const code = "SEC00001G123498654321 E012345600000000000"
	for _, text := range []string{code, "SEC " + code, "SEC" + code, "SEC: " + code, strings.ReplaceAll(code, " ", "")} {
		c, p := ParseEuropeanCode(text)
		if p != nil {
			t.Errorf("%q refused: %v", text, p)
		} else if c.Country != "SE" || c.Establishment != "C00001" {
			t.Errorf("%q read as %+v", text, c)
		}
	}
}

// Directive 2006/86/EC, Article 10b: 00000000 where no expiry is defined. Other
// impossible dates are errors (own rule; Gregorian calendar).
func TestEuropeanCodeExpiry(t *testing.T) {
	const stem = "GB000001G123498654321 A0123456000"
	for _, c := range []struct {
		expiry string
		reads  bool
		dated  bool
	}{
		{"00000000", true, false},
		{"20280229", true, true},
		{"20270229", false, false},
		{"21000229", false, false},
		{"20000229", true, true},
		{"20261301", false, false},
		{"20260001", false, false},
		{"20260100", false, false},
		{"20260431", false, false},
		{"00000101", false, false},
		{"2026123O", false, false},
	} {
		code, p := ParseEuropeanCode(stem + c.expiry)
		if (p == nil) != c.reads {
			t.Errorf("%s: problem %v", c.expiry, p)
		}
		if _, _, _, ok := code.ExpiryDate(); ok != c.dated {
			t.Errorf("%s: dated %v", c.expiry, ok)
		}
	}
	p := second(ParseEuropeanCode(stem + "2O261231"))
	if p == nil || len(p.Readings) != 1 || !strings.Contains(p.Readings[0], "20261231") {
		t.Errorf("letter O in the expiry: %+v", p)
	}
	if _, _, _, ok := (EuropeanCode{Expiry: "soon"}).ExpiryDate(); ok {
		t.Error("a hand-made code with text for a date has a date")
	}
}

func TestEuropeanCodeRefused(t *testing.T) {
	const first, last = "GB000001G123498654321", "A012345600020261231"
	for _, c := range []struct{ text, what string }{
		{"", "has 0 characters"},
		{"SEC", "has 0 characters"},
		{"SEC " + first, "product sequence of 19 characters is missing"},
		{last, "donation sequence of 21 characters is missing"},
		{first + " " + last[:18], "has 39 characters"},
		{first + "0 " + last, "has 41 characters"},
		{first[:20] + " " + first[20:] + last, "blank inside"},
		{first[:20] + " 1" + last, "blank inside"},
		{"GB 000001 G123498654321 " + last, "blank inside"},
		{"G8" + first[2:] + " " + last, "country code"},
		{first + " D" + last[1:], "coding system"},
		{first + " 0" + last[1:], "coding system"},
		{first + " " + last[:17] + "X1", "must be digits"},
		{first + "-" + last[1:], "neither a digit nor"},
		{"ÉB" + first[3:] + last, "neither a digit nor"},
	} {
		code, p := ParseEuropeanCode(c.text)
		if p == nil {
			t.Errorf("%q accepted as %s", c.text, code)
		} else if !strings.Contains(p.What, c.what) {
			t.Errorf("%q: what = %q, want %q", c.text, p.What, c.what)
		}
	}
}
