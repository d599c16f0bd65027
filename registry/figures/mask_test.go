package figures

import (
	"errors"
	"fmt"
	"math/rand/v2"
	"reflect"
	"slices"
	"testing"
)

func list(counts ...int) Table {
	t := Table{Name: "list"}
	for i, c := range counts {
		t.Rows = append(t.Rows, fmt.Sprint("r", i))
		t.Counts = append(t.Counts, []int{c})
	}
	return t
}

func grid(counts ...[]int) Table {
	t := Table{Name: "grid", Counts: counts}
	for i := range counts {
		t.Rows = append(t.Rows, fmt.Sprint("r", i))
	}
	for j := range counts[0] {
		t.Cols = append(t.Cols, fmt.Sprint("c", j))
	}
	return t
}

func mustMask(t testing.TB, minimum int, tables ...Table) []MaskedTable {
	t.Helper()
	m, err := Mask(tables, Masking{Minimum: minimum})
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// No count from 1 to 10 is shown or can be worked out from totals, and zero is
// shown: CMS cell size suppression policy, resdac.org/node/1506, 26 Jan 2024.
// With 3 | 20 | total 23 either 20 or 23 must go as well; "12 of 15" leaks 3.
func TestMaskPublishedExamples(t *testing.T) {
	m := mustMask(t, 0, list(3, 20))[0]
	if !m.Cells[0][0].Masked || !m.Cells[1][0].Masked || m.Grand != (Cell{Count: 23}) {
		t.Errorf("%+v", m)
	}
	m = mustMask(t, 0, list(12, 3))[0]
	if !m.Cells[0][0].Masked || !m.Cells[1][0].Masked || m.Grand.Count != 15 {
		t.Errorf("%+v", m)
	}
	// Only the small cell and zeros: the total has to go, zero stays.
	m = mustMask(t, 0, list(7, 0))[0]
	if !m.Cells[0][0].Masked || m.Cells[1][0] != (Cell{}) || !m.Grand.Masked {
		t.Errorf("%+v", m)
	}
	// England's statistics until 2018 hid 1 to 5 with a second cell
	// (digital.nhs.uk disclosure control page); other thresholds are options.
	for _, minimum := range Minimums() {
		m = mustMask(t, minimum, list(minimum-1, minimum, minimum+30, 0))[0]
		if !m.Cells[0][0].Masked || !m.Cells[1][0].Masked || m.Cells[2][0].Masked || m.Cells[3][0].Masked || m.Grand.Masked {
			t.Errorf("%d: %+v", minimum, m)
		}
		m = mustMask(t, minimum, list(minimum, minimum+30))[0]
		if m.Cells[0][0].Masked || m.Cells[1][0].Masked {
			t.Errorf("%d: %+v", minimum, m)
		}
	}
	if DefaultMinimum != 11 {
		t.Error("the default shows counts below 11")
	}
	// Two small counts beside 50 of 52 are 1 and 1, whatever is hidden of them.
	m = mustMask(t, 0, list(1, 1, 50))[0]
	if !m.Cells[2][0].Masked && !m.Grand.Masked {
		t.Errorf("%+v", m)
	}
}

// feasible counts, by trying all, the values each hidden cell can have: every
// hidden count is 1 or more, everything shown holds. It knows nothing of
// networks. Values are tried up to most.
func feasible(m MaskedTable, most int) map[[2]int]map[int]bool {
	out := map[[2]int]map[int]bool{}
	rows, cols := len(m.Cells), len(m.Cells[0])
	values := make([][]int, rows)
	for i := range values {
		values[i] = make([]int, cols)
	}
	fits := func(c Cell, n int) bool { return c.Masked && n >= 1 || !c.Masked && c.Count == n }
	note := func(c Cell, i, j, n int) {
		if c.Masked {
			if out[[2]int{i, j}] == nil {
				out[[2]int{i, j}] = map[int]bool{}
			}
			out[[2]int{i, j}][n] = true
		}
	}
	sums := func(visit func(c Cell, i, j, n int) bool) bool {
		total := 0
		for i := range values {
			sum := 0
			for _, n := range values[i] {
				sum += n
			}
			total += sum
			if len(m.RowTotals) > 0 && !visit(m.RowTotals[i], i, -1, sum) {
				return false
			}
		}
		for j := range m.ColTotals {
			sum := 0
			for i := range values {
				sum += values[i][j]
			}
			if !visit(m.ColTotals[j], -1, j, sum) {
				return false
			}
		}
		return visit(m.Grand, -1, -1, total)
	}
	var try func(at int)
	try = func(at int) {
		if at == rows*cols {
			if sums(func(c Cell, _, _, n int) bool { return fits(c, n) }) {
				sums(func(c Cell, i, j, n int) bool { note(c, i, j, n); return true })
				for i := range values {
					for j, n := range values[i] {
						note(m.Cells[i][j], i, j, n)
					}
				}
			}
			return
		}
		i, j := at/cols, at%cols
		if c := m.Cells[i][j]; !c.Masked {
			values[i][j] = c.Count
			try(at + 1)
			return
		}
		for n := 1; n <= most; n++ {
			values[i][j] = n
			try(at + 1)
		}
	}
	try(0)
	return out
}

// checkMask holds the promise of Mask against every possible table.
func checkMask(t *testing.T, table Table, minimum, most int) {
	t.Helper()
	m := mustMask(t, minimum, table)[0]
	can := feasible(m, most)
	look := func(c Cell, i, j, n int) {
		switch {
		case n == 0 && c != (Cell{}):
			t.Fatalf("%v: a zero is not shown", table.Counts)
		case n > 0 && n < minimum && !c.Masked:
			t.Fatalf("%v: %d is shown", table.Counts, n)
		case c.Masked && c.Count != 0:
			t.Fatalf("%v: a masked cell holds its count", table.Counts)
		case !c.Masked && c.Count != n:
			t.Fatalf("%v: a shown count is wrong", table.Counts)
		case c.Masked && (len(can[[2]int{i, j}]) < 2 || !can[[2]int{i, j}][n]):
			t.Fatalf("%v: cell %d,%d can only be %v\n%+v", table.Counts, i, j, can[[2]int{i, j}], m)
		}
	}
	total := 0
	cols := make([]int, len(table.Counts[0]))
	for i, row := range table.Counts {
		sum := 0
		for j, n := range row {
			look(m.Cells[i][j], i, j, n)
			sum += n
			cols[j] += n
		}
		total += sum
		if len(table.Cols) > 0 {
			look(m.RowTotals[i], i, -1, sum)
		}
	}
	for j, n := range cols {
		if len(table.Cols) > 0 {
			look(m.ColTotals[j], -1, j, n)
		}
	}
	look(m.Grand, -1, -1, total)
}

// Exhaustive: every list of up to four counts 0..5 and every table of two by two
// counts 0..4 and two by three counts 0..2.
func TestMaskEverySmallTable(t *testing.T) {
	var each func(n, most int, so []int, do func([]int))
	each = func(n, most int, so []int, do func([]int)) {
		if n == 0 {
			do(so)
			return
		}
		for c := 0; c <= most; c++ {
			each(n-1, most, append(slices.Clone(so), c), do)
		}
	}
	for n := 1; n <= 4; n++ {
		each(n, 5, nil, func(c []int) { checkMask(t, list(c...), 3, 8) })
	}
	each(4, 4, nil, func(c []int) { checkMask(t, grid(c[:2], c[2:]), 3, 7) })
	each(6, 2, nil, func(c []int) { checkMask(t, grid(c[:3], c[3:]), 3, 4) })
}

// Larger tables, several on one total, judged by Ranges, which itself is held
// against an integer-programming solver in the vectors file.
func TestMaskRandomTables(t *testing.T) {
	rng := rand.New(rand.NewPCG(11, 5))
	for range 300 {
		counts := make([][]int, 1+rng.IntN(7))
		cols, total := 1+rng.IntN(6), 0
		for i := range counts {
			for range cols {
				n := rng.IntN([]int{4, 15, 60}[rng.IntN(3)])
				counts[i] = append(counts[i], n)
				total += n
			}
		}
		a := grid(counts...)
		a.Total, a.RowsBy, a.ColsBy = "eyes", "indication", "technique"
		cut := rng.IntN(total + 1)
		b, c := list(cut, total-cut), list(total)
		b.Total, c.Total = "eyes", "eyes"
		tables := []Table{a, b, c, list(4, 40, 2)}
		minimum, width := Minimums()[rng.IntN(3)], 2+rng.IntN(4)
		m, err := Mask(tables, Masking{Minimum: minimum, Width: width})
		if err != nil {
			t.Fatal(err)
		}
		again, _ := Mask(tables, Masking{Minimum: minimum, Width: width})
		if !reflect.DeepEqual(m, again) {
			t.Fatal("the same tables are masked in two ways")
		}
		ranges, err := Ranges(tables, m)
		if err != nil {
			t.Fatal(err)
		}
		hidden := map[[3]int]bool{}
		for _, r := range ranges {
			hidden[[3]int{r.Table, r.Row, r.Col}] = true
			if !r.Open && r.High-r.Low+1 < width {
				t.Fatalf("%v: %+v can be worked out", counts, r)
			}
		}
		for k, table := range tables {
			for i, row := range table.Counts {
				for j, n := range row {
					if n > 0 && n < minimum && !hidden[[3]int{k, i, j}] {
						t.Fatalf("%v: %d is shown", counts, n)
					}
				}
			}
		}
		if m[0].Grand != m[1].Grand || m[1].Grand != m[2].Grand {
			t.Fatal("one total is shown in two ways")
		}
	}
}

func TestMaskRefuses(t *testing.T) {
	named := func(x Table, total, by string) Table { x.Total, x.RowsBy = total, by; return x }
	for _, c := range []struct {
		tables []Table
		m      Masking
		want   error
	}{
		{[]Table{list(-1)}, Masking{}, ErrTableCount},
		{[]Table{list(1 << 40)}, Masking{}, ErrTableCount},
		{[]Table{{Rows: []string{"a"}}}, Masking{}, ErrTableShape},
		{[]Table{{}}, Masking{}, ErrTableShape},
		{[]Table{{Rows: []string{"a"}, Counts: [][]int{{1, 2}}}}, Masking{}, ErrTableShape},
		{[]Table{named(list(1, 2), "n", ""), named(list(4), "n", "")}, Masking{}, ErrTableTotal},
		{[]Table{named(list(1, 2), "n", "sex"), named(list(3), "n", "sex")}, Masking{}, ErrTableTwice},
		{[]Table{list(1)}, Masking{Minimum: 2}, ErrMaskMinimum},
	} {
		if _, err := Mask(c.tables, c.m); !errors.Is(err, c.want) {
			t.Errorf("%v: %v, want %v", c.tables, err, c.want)
		}
	}
	if m, err := Mask(nil, Masking{}); err != nil || len(m) != 0 {
		t.Error("no tables are refused")
	}
	if _, err := Ranges([]Table{list(1)}, nil); !errors.Is(err, ErrTableShape) {
		t.Error("missing masks are taken")
	}
}

func BenchmarkMask12x10(b *testing.B) { benchmarkMask(b, 12, 10) }
func BenchmarkMask30x20(b *testing.B) { benchmarkMask(b, 30, 20) }

func benchmarkMask(b *testing.B, rows, cols int) {
	rng := rand.New(rand.NewPCG(4, 4))
	counts := make([][]int, rows)
	for i := range counts {
		for range cols {
			counts[i] = append(counts[i], rng.IntN(40))
		}
	}
	for b.Loop() {
		mustMask(b, 0, grid(counts...))
	}
}
