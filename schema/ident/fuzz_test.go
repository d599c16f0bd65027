package ident

import (
	"strings"
	"testing"
)

// Common to all readers: never a panic, always a value or a whole problem, and
// the canonical form reads back to the same canonical form.
func checkReading(t *testing.T, text, canonical string, p *Problem, again func(string) (string, *Problem)) {
	t.Helper()
	if p != nil {
		if p.What == "" || p.Why == "" || p.Fix == "" || p.Error() != p.What {
			t.Errorf("%q: problem with a part missing: %+v", text, *p)
		}
		return
	}
	if !allOf(canonical, func(c byte) bool { return c >= ' ' && c < 0x7f }) {
		t.Errorf("%q: canonical form %q is not printable ASCII", text, canonical)
	}
	got, p := again(canonical)
	if p != nil || got != canonical {
		t.Errorf("%q: canonical form %q reads back as %q, %v", text, canonical, got, p)
	}
}

func fuzzReader(f *testing.F, seeds []string, read func(string) (string, *Problem)) {
	for _, s := range append(seeds, "", "\xff", "\x00", "(", "=", "SEC", "OIl-–١") {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		canonical, p := read(text)
		checkReading(t, text, canonical, p, read)
	})
}

func FuzzParseDonationNumber(f *testing.F) {
	fuzzReader(f, []string{"=G1234 98 654321 00 H", "g123489654321y", "A9999 15 O00001 M"},
		func(s string) (string, *Problem) {
			d, p := ParseDonationNumber(s)
			return d.String() + d.Flags + d.Check, p
		})
}

func FuzzParseEuropeanCode(f *testing.F) {
	fuzzReader(f, []string{"SEC: " + publishedCode, "SEC00001G123498654321 E012345600000000000", "&,4GB000001"},
		func(s string) (string, *Problem) {
			c, p := ParseEuropeanCode(s)
			return c.String(), p
		})
}

func FuzzParseNHSNumber(f *testing.F) {
	fuzzReader(f, []string{"943 476 5919", "943-476-5870", "1111111111"},
		func(s string) (string, *Problem) {
			n, p := ParseNHSNumber(s)
			return n.String(), p
		})
}

func FuzzParseGTIN(f *testing.F) {
	fuzzReader(f, []string{"8904000210037", "73513537", "978-0-471-11709-4"},
		func(s string) (string, *Problem) {
			g, p := ParseGTIN(s)
			return g.String(), p
		})
}

func FuzzParseDeviceIdentifier(f *testing.F) {
	for _, s := range []string{
		"(01)08904000210037(17)261231(10)LOT7(21)SN9", "]d201089040002100371726120010LOT7\x1d21SN9", "(01)(10", "24", "240", "(0001)",
	} {
		f.Add(s, year)
	}
	f.Fuzz(func(t *testing.T, text string, now int) {
		d, p := ParseDeviceIdentifier(text, now)
		if p != nil {
			checkReading(t, text, "", p, nil)
			if d != (DeviceIdentifier{}) {
				t.Errorf("%q: refused but returned %+v", text, d)
			}
			return
		}
		// What was kept, written as a scanner sends it, reads back the same.
		scanned := "01" + d.GTIN
		if d.Lot != "" {
			scanned += "10" + d.Lot + groupSeparator
		}
		if d.Serial != "" {
			scanned += "21" + d.Serial
		}
		kept := DeviceIdentifier{GTIN: d.GTIN, Lot: d.Lot, Serial: d.Serial}
		if again, p := ParseDeviceIdentifier(scanned, now); p != nil || again != kept {
			t.Errorf("%q: %+v reads back as %+v, %v", text, kept, again, p)
		}
		for _, date := range []string{d.Production, d.Expiry} {
			if date != "" && len(date) != len("2026-12-31") {
				t.Errorf("%q: date %q", text, date)
			}
		}
	})
}

// String returns the number in 14 digits, the shorter kinds with zeros in front,
// so that one item compares equal however it was typed; "" for the zero value.
// Zeros in front do not change the check digit.
func (g GTIN) String() string {
	if g.digits == "" {
		return ""
	}
	return strings.Repeat("0", gtinLength-len(g.digits)) + g.digits
}
