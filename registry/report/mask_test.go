package report

import (
	"fmt"
	"math/big"
	"slices"
	"strings"
	"testing"

	"graftnote/registry/figures"
)

// system is what a reader knows: linear equations among the hidden counts.
type system struct {
	names []string
	at    map[string]int
	rows  [][]*big.Rat // coefficients, then the right side
}

func (s *system) variable(name string) int {
	if i, ok := s.at[name]; ok {
		return i
	}
	s.at[name] = len(s.names)
	s.names = append(s.names, name)
	return s.at[name]
}

// term is a count of an equation: hidden under a name, or shown.
type term struct {
	name string
	cell figures.Cell
}

// equations sets up parts = whole for every table, row and column. Totals of one
// name are one count, and so are a row and the total that it is.
func equations(tables []figures.Table, masked []figures.MaskedTable) (eq [][2][]term) {
	total := func(i int) term {
		name := fmt.Sprint("total of table ", i)
		if tables[i].Total != "" {
			name = "total " + tables[i].Total
		}
		return term{name, masked[i].Grand}
	}
	for i, m := range masked {
		var all []term
		for r := range m.Rows {
			rowName := fmt.Sprint(i, "/", r)
			if p := tables[i].Parts; len(p) > 0 && p[r] != "" {
				rowName = "total " + p[r]
			}
			if len(m.Cols) == 0 {
				all = append(all, term{rowName, m.Cells[r][0]})
				continue
			}
			var cells []term
			for c := range m.Cols {
				cells = append(cells, term{fmt.Sprint(i, "/", r, "/", c), m.Cells[r][c]})
			}
			row := term{rowName, m.RowTotals[r]}
			eq = append(eq, [2][]term{cells, {row}})
			all = append(all, row)
		}
		for c := range m.Cols {
			var cells []term
			for r := range m.Rows {
				cells = append(cells, term{fmt.Sprint(i, "/", r, "/", c), m.Cells[r][c]})
			}
			eq = append(eq, [2][]term{cells, {{fmt.Sprint(i, "//", c), m.ColTotals[c]}}})
		}
		eq = append(eq, [2][]term{all, {total(i)}})
	}
	return eq
}

// determined lists hidden counts that follow from what is shown, by Gaussian
// elimination in exact arithmetic. It knows nothing of networks.
func determined(eq [][2][]term) []string {
	s := &system{at: map[string]int{}}
	for _, e := range eq {
		for _, t := range append(slices.Clone(e[0]), e[1]...) {
			if t.cell.Masked {
				s.variable(t.name)
			}
		}
	}
	n := len(s.names)
	for _, e := range eq {
		row := make([]*big.Rat, n+1)
		for i := range row {
			row[i] = new(big.Rat)
		}
		for side, sign := range []int64{1, -1} {
			for _, t := range e[side] {
				if t.cell.Masked {
					row[s.at[t.name]].Add(row[s.at[t.name]], big.NewRat(sign, 1))
				} else {
					row[n].Sub(row[n], big.NewRat(sign*int64(t.cell.Count), 1))
				}
			}
		}
		s.rows = append(s.rows, row)
	}
	return s.reduce(n)
}

func (s *system) reduce(n int) (out []string) {
	rank := 0
	for col := 0; col < n && rank < len(s.rows); col++ {
		pivot := slices.IndexFunc(s.rows[rank:], func(r []*big.Rat) bool { return r[col].Sign() != 0 })
		if pivot < 0 {
			continue
		}
		s.rows[rank], s.rows[rank+pivot] = s.rows[rank+pivot], s.rows[rank]
		inv := new(big.Rat).Inv(s.rows[rank][col])
		for k := range s.rows[rank] {
			s.rows[rank][k].Mul(s.rows[rank][k], inv)
		}
		for i, r := range s.rows {
			if i == rank || r[col].Sign() == 0 {
				continue
			}
			f := new(big.Rat).Set(r[col])
			for k := range r {
				if s.rows[rank][k].Sign() != 0 {
					r[k].Sub(r[k], new(big.Rat).Mul(f, s.rows[rank][k]))
				}
			}
		}
		rank++
	}
	for _, r := range s.rows[:rank] {
		alone, which := 0, 0
		for k := range n {
			if r[k].Sign() != 0 {
				alone++
				which = k
			}
		}
		if alone == 1 {
			out = append(out, fmt.Sprintf("%s = %s", s.names[which], r[n].RatString()))
		}
	}
	return out
}

// No count below the minimum is shown, and none follows from everything shown:
// CMS cell size suppression policy, resdac.org/node/1506. Tried on series of many
// sizes by elimination, and with the bounds of figures.Ranges.
func TestNothingHiddenCanBeRecovered(t *testing.T) {
	hidden := 0
	for seed := range uint64(24) {
		for _, minimum := range figures.Minimums() {
			d := sample(seed, 8+int(seed)*9)
			o, err := Options{Minimum: minimum}.ready()
			if err != nil {
				t.Fatal(err)
			}
			all, _, err := eyes(d, nil)
			if err != nil {
				t.Fatal(err)
			}
			var tables []figures.Table
			tallied, _ := tallies(all, fieldsOf(all).asked, o)
			for _, one := range tallied {
				tables = append(tables, one.table())
			}
			s, err := hide(tables, o)
			if err != nil {
				t.Fatal(err)
			}
			eq := equations(tables, s.tables)
			for _, e := range eq {
				for _, x := range append(slices.Clone(e[0]), e[1]...) {
					if !x.cell.Masked && x.cell.Count > 0 && x.cell.Count < minimum {
						t.Fatalf("seed %d, minimum %d: %s shows %d", seed, minimum, x.name, x.cell.Count)
					}
				}
			}
			if got := determined(eq); len(got) > 0 {
				t.Fatalf("seed %d, minimum %d: %v", seed, minimum, got)
			}
			ranges, err := figures.Ranges(tables, s.tables)
			if err != nil {
				t.Fatal(err)
			}
			for _, r := range ranges {
				hidden++
				if !r.Open && r.Low == r.High {
					t.Fatalf("seed %d, minimum %d: %+v", seed, minimum, r)
				}
			}
		}
	}
	if hidden < 1000 {
		t.Errorf("only %d hidden counts were tried", hidden)
	}
}

// The elimination finds what it is meant to find: 3 | 20 | 23 with only the 3
// hidden.
func TestEliminationFindsALeak(t *testing.T) {
	tables := []figures.Table{{Rows: []string{"a", "b"}, Counts: [][]int{{3}, {20}}}}
	masked := []figures.MaskedTable{open(tables[0])}
	masked[0].Cells[0][0] = figures.Cell{Masked: true}
	if got := determined(equations(tables, masked)); !slices.Equal(got, []string{"0/0 = 3"}) {
		t.Errorf("%v", got)
	}
}

// A figure derived from a hidden count gives it away (the policy above: "nor
// derivable from percentages"): no row with a hidden count of eyes has one.
func TestNothingIsDerivedFromHiddenCounts(t *testing.T) {
	for seed := range uint64(12) {
		d := sample(seed, 12+int(seed)*12)
		table, err := Series(d, Options{Minimum: 5})
		if err != nil {
			t.Fatal(err)
		}
		some := false
		for _, row := range table.Rows {
			if row[2] != mark && row[3] != mark {
				continue
			}
			some = true
			for _, cell := range row[4:8] {
				if strings.Trim(cell, mark) != "" {
					t.Errorf("seed %d: %v", seed, row)
				}
			}
		}
		if !some && seed < 6 {
			t.Errorf("seed %d hides nothing", seed)
		}
		for _, s := range build(t, d, Options{Minimum: 5}).Sections {
			for _, b := range s.Blocks {
				if b.Table == nil || len(b.Table.Header) != 5 || b.Table.Header[1] != "Eyes" || b.Table.Header[2] != "Of" {
					continue
				}
				for _, row := range b.Table.Rows {
					if (row[1] == mark || row[2] == mark) && (row[3] != mark || row[4] != mark) {
						t.Errorf("seed %d: %v", seed, row)
					}
				}
			}
		}
	}
}

// Between two points of a curve, and behind the last, neither outcome is a small
// count: otherwise the steps of the curve would tell it.
func TestCurveStepsAreNotSmall(t *testing.T) {
	drawn := 0
	for seed := range uint64(20) {
		d := sample(seed, 60+int(seed)*40)
		r, err := work(d, Options{Minimum: 8})
		if err != nil {
			t.Fatal(err)
		}
		var failures []bool
		for _, row := range d.Rows {
			if air := row.Cell("attempts_air"); air != "0" {
				failures = append(failures, row.Cell("separation") == "none" || row.Cell("attempts") != air)
			}
		}
		from := 0
		for _, to := range append(slices.Clone(r.curve.at), len(failures)) {
			if len(r.curve.at) == 0 {
				break
			}
			drawn++
			var n [2]int
			for _, f := range failures[from:to] {
				n[map[bool]int{true: 1}[f]]++
			}
			for _, k := range n {
				if k > 0 && k < 8 {
					t.Errorf("seed %d: %d of one outcome between operations %d and %d", seed, k, from, to)
				}
			}
			from = to
		}
	}
	if drawn < 20 {
		t.Errorf("only %d points were drawn", drawn)
	}
}

// Counts of the period: what is held back can't be had by subtraction.
func TestDenominatorHidesSmallRemainders(t *testing.T) {
	d := sample(2, 60)
	d.Counts = &Counts{Theatre: 64, Operated: 63, Signed: 61, Sent: 60, Held: []Held{{"unsigned", 2}, {"consent", 1}}}
	r := build(t, d, Options{})
	for first, want := range map[string]string{"Sent": "60", "Entered, signed or not": mark, "Signed": mark, "Counted by the theatre": mark, "Held back: unsigned": mark, "Held back: consent": mark} {
		if row := find(t, r, "denominator", first); row[1] != want {
			t.Errorf("%v, want %s", row, want)
		}
	}
	d.Counts = &Counts{Theatre: -1, Operated: 85, Signed: 72, Sent: 60, Held: []Held{{"unsigned", 13}, {"consent", 12}}}
	r = build(t, d, Options{})
	for first, want := range map[string]string{"Sent": "60", "Entered, signed or not": "85", "Signed": "72", "Held back: unsigned": "13", "Held back: consent": "12"} {
		if row := find(t, r, "denominator", first); row[1] != want {
			t.Errorf("%v, want %s", row, want)
		}
	}
}
