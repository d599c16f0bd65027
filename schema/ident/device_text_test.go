package ident

import "testing"

// Reading what was printed gives the same identifier. Invented items around the
// published number of GS1 India.
func TestDeviceString(t *testing.T) {
	for _, d := range []DeviceIdentifier{
		{GTIN: "08904000210037"},
		{GTIN: "08904000210037", Lot: "LOT7", Serial: "SN9", Production: "2024-02-29", Expiry: "2026-12-31"},
		{GTIN: "08904000210037", Lot: "A(10)B", Serial: "x(17)y", Expiry: "2026-12-31"},
		{GTIN: "08904000210037", Lot: "A(10)B"},
	} {
		again, p := ParseDeviceIdentifier(d.String(), year)
		if p != nil || again != d {
			t.Errorf("%q read as %+v, %v", d.String(), again, p)
		}
	}
	want := "(01)08904000210037(17)261231(10)LOT7(21)SN9"
	if d := (DeviceIdentifier{GTIN: "08904000210037", Lot: "LOT7", Serial: "SN9", Expiry: "2026-12-31"}); d.String() != want {
		t.Errorf("printed as %q", d.String())
	}
	if s := (DeviceIdentifier{}).String(); s != "" {
		t.Errorf("the empty identifier prints %q", s)
	}
}
