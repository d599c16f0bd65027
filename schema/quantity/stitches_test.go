package quantity

import (
	"slices"
	"testing"
)

// Forms in operation notes and the confusions of the size: dictation habit,
// common practice, no source.
func TestStitches(t *testing.T) {
	for text, want := range map[string]Stitches{
		"16 x 10-0 nylon":        {Count: 16, Gauge: "10-0", Material: "nylon"},
		"16x10-0 nylon":          {Count: 16, Gauge: "10-0", Material: "nylon"},
		"16 × 10-0":              {Count: 16, Gauge: "10-0"},
		"16":                     {Count: 16},
		"0":                      {},
		"64":                     {Count: 64},
		"16 x polyester":         {Count: 16, Material: "polyester"},
		"16-bite 10-0 nylon":     {Count: 16, Bites: true, Gauge: "10-0", Material: "nylon"},
		"16 bites 10-0":          {Count: 16, Bites: true, Gauge: "10-0"},
		"16 bites of 11-0 nylon": {Count: 16, Bites: true, Gauge: "11-0", Material: "nylon"},
		"24 bites":               {Count: 24, Bites: true},
		"4 x 9-0 monofilament nylon": {Count: 4, Gauge: "9-0",
			Material: "monofilament nylon"},
	} {
		got, p := ParseStitches(text)
		if p != nil || got != want {
			t.Errorf("%q: %+v, %v", text, got, p)
			continue
		}
		if back, p := ParseStitches(got.String()); p != nil || back != got {
			t.Errorf("%q prints %q, which is read as %+v", text, got, back)
		}
	}
}

func TestRefusedStitches(t *testing.T) {
	for _, c := range []struct {
		text     string
		readings []string
	}{
		{"10 0", []string{"10-0"}},
		{"10/0", []string{"10-0"}},
		{"10-O", []string{"10-0"}},
		{"100", []string{"100 stitches", "10-0 suture"}},
		{"90", []string{"90 stitches", "9-0 suture"}},
		{"16 x 10 0 nylon", []string{"16 x 10-0 nylon"}},
		{"16 x 100 nylon", []string{"16 x 10-0 nylon"}},
		{"16 x 10/0", []string{"16 x 10-0"}},
		{"16-bite 10-O nylon", []string{"16-bite 10-0 nylon"}},
		{"16 x 10\u20130 nylon", []string{"16 x 10-0 nylon"}},
		{"16 10-0 nylon", []string{"16 x 10-0 nylon"}},
		{"8 x 10-0 nylon + 16-bite 10-0 nylon", []string{"8 x 10-0 nylon", "16-bite 10-0 nylon"}},
		{"8 + 16", []string{"8", "16"}},
		{"016", []string{"16"}},
		{"16 x", []string{"16"}},
		{"10-0 nylon", nil}, {"16 x 13-0", nil}, {"16 x 1000", nil}, {"1000", nil}, {"-16", nil}, {"16.5", nil}, {"16,5", nil},
		{"nylon", nil}, {"sixteen", nil}, {"", nil}, {"16 x 10-0 <b>", nil}, {"16 x 10-0\nnylon", nil},
	} {
		got, p := ParseStitches(c.text)
		if p == nil || !slices.Equal(p.Readings, c.readings) {
			t.Errorf("%q: %+v, %+v", c.text, got, p)
		}
	}
}
