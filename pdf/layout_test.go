package pdf

import (
	"fmt"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"graftnote/note"
)

// sliding makes notes whose page breaks fall everywhere: n lines come first.
func sliding(n int) note.Document {
	d := simple()
	d.Diagram = nil
	two := strings.Repeat("a list item of two lines ", 6)
	d.Sections = append([]note.Section{{Title: "Shift", Blocks: []note.Block{{Paragraph: strings.TrimSpace(strings.Repeat("line\n", n))},
		{Paragraph: "Second part,\nline two,\nline three,\nline four,\nend."}}},
		{Title: "Two", Blocks: []note.Block{{List: []string{two, two}}}},
		{Title: "Words", Blocks: []note.Block{{Quote: "one\ntwo\nthree\nfour\nfive"}}},
		{Title: "Rows", Blocks: []note.Block{{Table: &note.Table{Header: []string{"Column head", "Long"}, Rows: [][]string{{"x", two + two}, {"y", two + two}}}}}},
	}, d.Sections...)
	d.Unconfirmed = []note.Item{{Label: "Standing", Value: strings.Repeat(two, 3)}}
	return d
}

// body returns the words between header and foot, in drawing order.
func body(p []word) []word {
	var out []word
	foot := 0.0
	for _, w := range p {
		if strings.HasPrefix(w.text, "Note GN-") {
			foot = w.y + 24 // two caution lines above it
		}
	}
	for _, w := range p {
		if w.y > foot && w.y < 841.9-42-60 && w.text != "DRAFT" && w.text != "\u2013" {
			out = append(out, w)
		}
	}
	return out
}

// Typographic rule (The Chicago Manual of Style, 17th edition, 2.116, from
// memory, unverified): no heading ends a page, no last line of a paragraph
// or list begins one.
func TestNoWidows(t *testing.T) {
	for n := 1; n < 60; n++ {
		d := sliding(n)
		heads := map[string]bool{}
		for _, s := range d.Sections {
			heads[s.Title] = true
		}
		pages := open(t, render(t, func() note.Document { return d }, Options{})).words()
		for i, p := range pages {
			b := body(p)
			if len(b) == 0 {
				t.Fatalf("%d: page %d is empty", n, i+1)
			}
			low, high := b[0], b[0]
			for _, w := range b {
				if w.y < low.y {
					low = w
				}
				if w.y > high.y {
					high = w
				}
			}
			if (heads[low.text] || strings.HasPrefix(low.text, "From the standing") || low.text == "Column head" || low.text == "Attempt") && low.bold {
				t.Errorf("%d: heading %q ends page %d", n, low.text, i+1)
			}
			for _, s := range []string{"tomorrow.", "Pad and shield.", "Subconjunctival", "and removed down", "end.", "Would use the blunt"} {
				if strings.HasPrefix(high.text, s) {
					t.Errorf("%d: page %d begins with %q", n, i+1, high.text)
				}
			}
			if low.text == "Second part," {
				t.Errorf("%d: page %d ends with the first line of a paragraph", n, i+1)
			}
			if rows := strings.Count(text(b), "Trephination floor\n"); rows == 1 {
				t.Errorf("%d: page %d has one of the table's two rows", n, i+1)
			}
		}
	}
}

// House rule: each page that a table reaches repeats its header.
func TestTableHeaderRepeats(t *testing.T) {
	rows := 0
	for i, p := range open(t, render(t, worst, Options{})).words() {
		attempts := 0
		headed := false
		for _, w := range p {
			if w.text == "Attempt" && w.bold {
				headed = true
			}
			if w.text == "Trephination floor," {
				attempts++
			}
		}
		rows += attempts
		if attempts > 0 && !headed {
			t.Errorf("page %d has %d attempts without a header", i+1, attempts)
		}
	}
	if rows != 25 {
		t.Errorf("%d attempts on paper", rows)
	}
}

// Geometry: five paper millimetres for one of the eye, as the scale bar says.
// A circle is a path of Bezier curves; its width is that of their end points.
func TestDiagramToScale(t *testing.T) {
	d := simple()
	raw := render(t, simple, Options{})
	page := open(t, raw).contents()[0]
	if !strings.Contains(text(open(t, raw).words()[0]), "5 to 1") {
		t.Fatal("no scale on the page")
	}
	number := regexp.MustCompile(`(-?[0-9.]+) -?[0-9.]+ [mc]$`)
	var widths []float64
	lo, hi := math.Inf(1), math.Inf(-1)
	for line := range strings.SplitSeq(page, "\n") {
		if strings.HasSuffix(line, " m") {
			lo, hi = math.Inf(1), math.Inf(-1)
		}
		if m := number.FindStringSubmatch(line); m != nil {
			x, _ := strconv.ParseFloat(m[1], 64)
			lo, hi = min(lo, x), max(hi, x)
		} else if strings.TrimSpace(line) == "S" {
			widths = append(widths, (hi-lo)*25.4/72)
		}
	}
	g := d.Diagram
	for name, c := range map[string]*note.Circle{"limbus": g.Limbus, "trephination": g.Trephination, "donor": g.Donor, "separation": g.BigBubble, "chamber": g.Bubble} {
		found := false
		for _, w := range widths {
			found = found || math.Abs(w-2*5*c.Radius) < 0.02
		}
		if !found {
			t.Errorf("%s: no circle of %v mm among %.2f", name, 10*c.Radius, widths)
		}
	}
}

// Clock face (common practice, no source): 12 above, 3 to
// the right. The document says which side is nasal and the page agrees.
func TestDiagramDirections(t *testing.T) {
	for _, d := range []docOf{simple, worst} {
		g := d().Diagram
		for _, p := range open(t, render(t, d, Options{})).words() {
			at := map[string]word{}
			for _, w := range p {
				if w.size <= 10 && at[w.text].text == "" {
					at[w.text] = w
				}
			}
			if at["superior"].text == "" {
				continue
			}
			if at[g.LeftLabel].x > at[g.RightLabel].x || at["superior"].y < at["inferior"].y || at["9"].x > at["3"].x || at["12"].y < at["6"].y {
				t.Errorf("%s: %v", g.Eye, at)
			}
		}
	}
}

// House rule: kinds differ by letter; a mark or circle out of any eye's range
// is counted, not drawn off the page.
func TestDiagramKey(t *testing.T) {
	d := simple()
	d.Diagram.Donor = &note.Circle{Radius: 900}
	d.Diagram.Marks = append(d.Diagram.Marks, note.Mark{Kind: "perforation", X: math.NaN()}, mark("vent", 5, 3, "unknown kind"))
	var got string
	for _, p := range open(t, render(t, func() note.Document { return d }, Options{})).words() {
		got += text(p)
	}
	for _, s := range []string{"host trephination", "8 interrupted stitches", "running suture 1", "2 out of range for an eye", "vent", "O1"} {
		if !strings.Contains(got, s) {
			t.Errorf("no %q", s)
		}
	}
}

func TestClock(t *testing.T) {
	for h, want := range map[float64]string{12: "12:00", 0.5: "12:30", 10.5: "10:30", 3.999: "4:00", 1: "1:00", math.NaN(): "\u2013", -1: "\u2013"} {
		if got := clock(h); got != want {
			t.Errorf("%v: %s", h, got)
		}
	}
}

// Geometry: labels keep their order around the eye and stand apart, also
// across 12 o'clock.
func TestSpreadAngles(t *testing.T) {
	const gap = 0.12
	for _, n := range []int{0, 1, 2, 5, 40, 48} {
		for _, step := range []float64{0, 0.001, 0.1, 0.13} {
			for _, first := range []float64{0.1, 3, 6.2} {
				var ls []*label
				for i := range n {
					ls = append(ls, &label{name: fmt.Sprint(i), angle: math.Mod(first+float64(i)*step, 2*math.Pi)})
				}
				at := spreadAngles(ls, gap)
				for i := 1; i < n; i++ {
					if at[i]-at[i-1] < gap-1e-9 {
						t.Fatalf("%d labels from %v by %v: %v", n, first, step, at)
					}
				}
				if n > 1 && at[0]+2*math.Pi-at[n-1] < gap-1e-9 {
					t.Errorf("%d labels from %v by %v: the ends meet, %v", n, first, step, at)
				}
			}
		}
	}
}

// Labels with room enough stay at their own angle.
func TestSpreadKeeps(t *testing.T) {
	at := spreadAngles([]*label{{angle: 3}, {angle: 1}, {angle: 5}}, 0.1)
	got := []float64{math.Mod(at[0]+7, 2*math.Pi), math.Mod(at[1]+7, 2*math.Pi), math.Mod(at[2]+7, 2*math.Pi)}
	for _, want := range []float64{1, 3, 5} {
		if !slices.ContainsFunc(got, func(g float64) bool { return math.Abs(g-math.Mod(want+7, 2*math.Pi)) < 1e-9 }) {
			t.Errorf("%v moved: %v", want, at)
		}
	}
}
