package ident

import (
	"strings"
	"testing"
)

const year = 2026

func TestDeviceIdentifier(t *testing.T) {
	// Invented item around the published number of GS1 India.
	want := DeviceIdentifier{GTIN: "08904000210037", Lot: "LOT7", Serial: "SN9", Expiry: "2026-12-31"}
	for _, text := range []string{
		"(01)08904000210037(17)261231(10)LOT7(21)SN9",
		"(01) 08904000210037 (17) 261231\n(10) LOT7 (21) SN9 ",
		"(21)SN9(10)LOT7(17)261231(01)08904000210037",
		"01089040002100371726123110LOT7\x1d21SN9",
		"]d201089040002100371726123110LOT7\x1d21SN9",
		"]C1\x1d01089040002100371726123110LOT7\x1d21SN9\x1d",
		"]d2\x1d010890400021003721SN9\x1d10LOT7\x1d17261231",
		// A separator after a fixed element is needless but harmless.
		"0108904000210037\x1d17261231\x1d10LOT7\x1d21SN9",
		// Elements that the note does not keep.
		"(01)08904000210037(17)261231(10)LOT7(21)SN9(240)A-1(30)2",
		"010890400021003730" + "2\x1d240A-1\x1d1726123110LOT7\x1d21SN9",
		// The same element twice with the same data.
		"(01)08904000210037(01)08904000210037(17)261231(10)LOT7(21)SN9",
	} {
		d, p := ParseDeviceIdentifier(text, year)
		if p != nil {
			t.Errorf("%q refused: %v", text, p)
		} else if d != want {
			t.Errorf("%q read as %+v", text, d)
		}
	}
}

// What no reader can tell: without its separator the lot takes the rest, up to
// 20 characters (GS1 General Specifications, variable elements). Pinned so that
// nobody mistakes it for a check.
func TestDeviceLostSeparator(t *testing.T) {
	d, p := ParseDeviceIdentifier("01089040002100371726123110LOT721SN9", year)
	if p != nil || d.Lot != "LOT721SN9" || d.Serial != "" {
		t.Errorf("%+v, %v", d, p)
	}
	p = second(ParseDeviceIdentifier("010890400021003710LOT721SERIAL00000000000009", year))
	if p == nil || !strings.Contains(p.What, "a separator may be lost") {
		t.Errorf("a lot of more than 20 characters: %v", p)
	}
}

// Day 00 is the last day of the month: 200200, 210200 and 211200 are public
// tests of a GS1 reader. 99 years around the reading: century rule from memory
// of GS1 General Specifications 7.12, unverified; that reader's tests agree for
// 49 years back and 50 ahead.
func TestDeviceDates(t *testing.T) {
	for _, c := range []struct {
		digits string
		now    int
		want   string
	}{
		{"200200", 2026, "2020-02-29"},
		{"210200", 2026, "2021-02-28"},
		{"211200", 2026, "2021-12-31"},
		{"280229", 2026, "2028-02-29"},
		{"760526", 2026, "2076-05-26"}, // 50 ahead
		{"770526", 2026, "1977-05-26"}, // 51 ahead: 49 years ago
		{"990526", 2026, "1999-05-26"},
		{"000526", 2026, "2000-05-26"},
		{"100526", 2060, "2110-05-26"}, // 50 behind: next century
		{"110526", 2060, "2011-05-26"}, // 49 behind
		{"000200", 2060, "2100-02-28"}, // 2100 is no leap year
		{"270229", 2026, ""},
		{"261301", 2026, ""},
		{"260001", 2026, ""},
		{"260000", 2026, ""},
		{"260431", 2026, ""},
		{"260432", 2026, ""},
		{"990101", 9999, "9999-01-01"},
		{"000101", 9999, ""}, // the year 10000 has no four-digit form
	} {
		d, p := ParseDeviceIdentifier("(01)08904000210037(17)"+c.digits, c.now)
		if (p == nil) != (c.want != "") || d.Expiry != c.want {
			t.Errorf("%s read in %d: %q, %v; want %q", c.digits, c.now, d.Expiry, p, c.want)
		}
	}
}

func TestDeviceRefused(t *testing.T) {
	const item = "(01)08904000210037"
	for _, c := range []struct{ text, what string }{
		{"", "no item number"},
		{"(10)LOT7", "no item number"},
		{"(01)08904000210038", "check digit of the GTIN"},
		{"(01)8904000210037", "has 13 characters, not 14"},
		{"(01)0890400021003O", "not a digit"},
		{"(01)", "has 0 characters, not 14"},
		{"()08904000210037", "does not begin with"},
		{"(", "does not begin with"},
		{"(one)08904000210037", "does not begin with"},
		{item + "(99)x", "element 2"},
		{"0108904000210037" + "99x", "element 2"},
		{"hello", "element 1"},
		{"0", "element 1"},
		{"010890400021003", "has 13 characters, not 14"},
		{item + "(17)2612", "has 4 characters, not 6"},
		{item + "(10)", "has 0 characters, not 1 to 20"},
		{item + "(10)" + strings.Repeat("A", 21), "has 21 characters, not 1 to 20"},
		{item + "(10)LOT 7", "data character set"},
		{item + "(10)LÖT", "data character set"},
		{item + "(10)A(10)B", "twice with different data"},
		{item + "(11)261231(17)260101", "before its production date"},
		{item + "(30)two", "not a digit"},
	} {
		d, p := ParseDeviceIdentifier(c.text, year)
		if p == nil {
			t.Errorf("%q accepted as %+v", c.text, d)
		} else if !strings.Contains(p.What, c.what) {
			t.Errorf("%q: what = %q, want %q", c.text, p.What, c.what)
		}
	}
}
