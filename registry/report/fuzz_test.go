package report

import (
	"bytes"
	"math"
	"strings"
	"testing"

	"graftnote/note"
)

// Whatever stands in the cells, a report and a table are made, no number of a
// chart is none, and a report that hides small counts shows none.
func FuzzReport(f *testing.F) {
	f.Add("keratoconus,double-bubble,complete,1,type-1,1,0,12,failed,0.30,-1.00,0.50\nNR,NA,none,0,NA,0,1,3,surviving,NC,1e300,-7", true)
	f.Add("=1,,,NaN,,-1,9e99,1e6,,-Inf,0x1p3,1_0\n\n\n", false)
	f.Fuzz(func(t *testing.T, cells string, ordered bool) {
		d := Data{Ordered: ordered}
		for i, line := range strings.Split(cells, "\n") {
			c := strings.Split(line, ",")
			for len(c) < 12 {
				c = append(c, "")
			}
			if i > 40 {
				break
			}
			key := strings.Repeat("k", i+1)
			d.Rows = append(d.Rows, Cells{"row_key": key, "indication": c[0], "procedure_performed": c[1], "separation": c[2], "attempts": c[3], "bubble_type": c[4], "microperforations": c[5],
				"macroperforations": c[6], "corrected_before_logmar": c[9], "refraction_before_se": c[10], "refraction_before_j0_d": c[11], "refraction_before_j45_d": c[10]})
			d.FollowUps = append(d.FollowUps, Cells{"row_key": key, "months": c[7], "graft_status": c[8], "failure_months": c[5], "corrected_logmar": c[9], "late_events": c[0],
				"refraction_se": c[10], "refraction_j0_d": c[11], "refraction_j45_d": c[10]})
		}
		for _, o := range []Options{{}, {Unmasked: true}} {
			r, err := Build(d, o)
			if err != nil {
				t.Fatal(err)
			}
			for _, s := range r.Sections {
				for _, b := range s.Blocks {
					if b.Chart != nil {
						sound(t, b.Chart)
					}
				}
			}
			if err := HTML(&bytes.Buffer{}, r); err != nil {
				t.Fatal(err)
			}
			table, err := Series(d, o)
			if err != nil {
				t.Fatal(err)
			}
			for _, row := range table.Rows {
				if n := row[2]; !o.Unmasked && len(n) == 1 && n >= "1" && n <= "9" {
					t.Errorf("a small count is shown: %v", row)
				}
			}
		}
	})
}

func sound(t *testing.T, c *note.Chart) {
	fine := func(v float64) bool { return math.Abs(v) < 1e9 }
	for _, s := range c.Shapes {
		for _, p := range append([]note.Point{s.At}, s.Points...) {
			if !fine(p.X) || !fine(p.Y) {
				t.Fatalf("a point of the chart is %v", p)
			}
		}
	}
	if !fine(c.Width) || !fine(c.Height) || c.Width <= 0 || c.Height <= 0 {
		t.Fatalf("the chart is %g by %g", c.Width, c.Height)
	}
}
