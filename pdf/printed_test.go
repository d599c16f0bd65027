package pdf

import (
	"strings"
	"testing"
)

// What Printed reads is what the reader of the tests, which shares no code with it,
// sees on the pages.
func TestPrinted(t *testing.T) {
	for _, d := range []docOf{simple, worst, signed, revised, withdrawn} {
		raw := render(t, d, Options{Made: made})
		got, err := Printed(raw)
		if err != nil {
			t.Fatal(err)
		}
		want := open(t, raw).words()
		if len(got) != len(want) {
			t.Fatalf("%d pages, want %d", len(got), len(want))
		}
		for i := range got {
			if got[i] != text(want[i]) {
				t.Errorf("page %d: %q\nwant %q", i+1, got[i], text(want[i]))
			}
		}
		if !strings.Contains(got[0], d().Title) {
			t.Errorf("page one lacks the title: %q", got[0])
		}
	}
	if _, err := Printed([]byte("%PDF-1.7\n")); err == nil {
		t.Error("a foreign file is read")
	}
}

// Nothing that stands in a file may stop the program.
func FuzzPrinted(f *testing.F) {
	r, err := NewRenderer()
	if err != nil {
		f.Fatal(err)
	}
	b, err := r.Render(simple(), Options{Made: made})
	if err != nil {
		f.Fatal(err)
	}
	f.Add(b, "BT 1 2 Td (\x00\x01\\)) Tj ET\n")
	f.Fuzz(func(_ *testing.T, file []byte, ops string) {
		_, _ = Printed(file)
		p := &printed{faces: map[string]map[uint16]string{}}
		_ = p.page(ops)
	})
}
