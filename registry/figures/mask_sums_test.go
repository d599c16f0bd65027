package figures

import (
	"errors"
	"math/rand/v2"
	"slices"
	"testing"
)

// sumsCan counts, by trying all, what the sums of two lists over one total can be
// for a reader of the masked tables. Values are tried up to most.
func sumsCan(tables []Table, m []MaskedTable, most int) []map[int]bool {
	var out []map[int]bool
	for _, t := range tables {
		for range t.Sums {
			out = append(out, map[int]bool{})
		}
	}
	eachList(m, most, func(lists [][]int, t int) bool {
		total, first := sumOf(lists[t]), sumOf(lists[0])
		return total == first && (m[t].Grand.Masked || total == m[t].Grand.Count)
	}, func(lists [][]int) {
		k := 0
		for i, one := range tables {
			for _, s := range one.Sums {
				sum := 0
				for j, name := range one.Rows {
					if slices.Contains(s.Of, [2]string{name, ""}) {
						sum += lists[i][j]
					}
				}
				out[k][sum] = true
				k++
			}
		}
	})
	return out
}

// A sum is shown when it has one value for the reader, and a small one never has:
// "12 of 15 leaks 3" (CMS cell size suppression policy, resdac.org/node/1506),
// also when the 3 are 2 of one kind and 1 of another.
func TestMaskSums(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 8))
	small, shown, hidden := 0, 0, 0
	for range 300 {
		a := list(r.IntN(6), r.IntN(6), r.IntN(6))
		total := a.Counts[0][0] + a.Counts[1][0] + a.Counts[2][0]
		cut := r.IntN(total + 1)
		b := list(cut, total-cut)
		a.Total, b.Total = "eyes", "eyes"
		a.Sums = []Sum{Block("of", []string{"r0", "r1"}, nil), Block("rest", []string{"r1", "r2"}, nil)}
		tables := []Table{a, b}
		m := mustMask(t, 3, tables...)
		for k, can := range sumsCan(tables, m, 15) {
			n := a.Counts[k][0] + a.Counts[k+1][0]
			c := m[0].Sums[k]
			switch {
			case !can[n] || c.Masked == (len(can) == 1) || !c.Masked && c.Count != n:
				t.Fatalf("%v: sum %d of %d is shown as %+v and can be %v: %+v", tables, k, n, c, can, m)
			case n > 0 && n < 3:
				small++
				if !c.Masked {
					t.Fatalf("%v: the sum %d is told: %+v", tables, n, m)
				}
			case c.Masked:
				hidden++
			default:
				shown++
			}
		}
	}
	if small < 20 || hidden < 20 || shown < 20 {
		t.Errorf("tried %d small, %d hidden and %d shown sums", small, hidden, shown)
	}
}

// The grid of acuity that gave the number of eyes seen away: 37 eyes, 31 without
// a visit, so the others are 6.
func TestMaskSumOfColumns(t *testing.T) {
	g := grid([]int{2, 1, 14}, []int{1, 2, 17})
	g.Sums = []Sum{Block("seen", nil, []string{"c0", "c1"})}
	m := mustMask(t, 11, g)[0]
	if !m.Sums[0].Masked || !m.Grand.Masked && !m.ColTotals[2].Masked {
		t.Errorf("%+v", m)
	}
	g.Sums = nil
	if m := mustMask(t, 11, g)[0]; m.Grand.Masked || m.ColTotals[2].Masked {
		t.Errorf("more is hidden than without the sum: %+v", m)
	}
}

// Two tables with the same rows share the row totals: what is hidden in the one
// is hidden in the other, and neither gives the other away.
func TestMaskSharedRows(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 6))
	for range 200 {
		rows := 2 + r.IntN(3)
		one, two := make([][]int, rows), make([][]int, rows)
		for i := range rows {
			one[i] = []int{r.IntN(15), r.IntN(15)}
			sum := one[i][0] + one[i][1]
			a := r.IntN(sum + 1)
			b := r.IntN(sum - a + 1)
			two[i] = []int{a, b, sum - a - b}
		}
		a, b := grid(one...), grid(two...)
		a.Total, a.RowsBy, a.ColsBy = "eyes", "separation", "type"
		b.Total, b.RowsBy, b.ColsBy = "eyes", "separation", "medium"
		tables := []Table{a, list(0), b}
		m, err := Mask(tables, Masking{Minimum: 5})
		if err != nil {
			t.Fatal(err)
		}
		if m[0].Grand != m[2].Grand || !slices.Equal(m[0].RowTotals, m[2].RowTotals) {
			t.Fatalf("one count is shown in two ways: %+v", m)
		}
		for i, table := range []MaskedTable{0: m[0], 1: m[2]} {
			for j, row := range table.Cells {
				for k, c := range row {
					if n := [][][]int{one, two}[i][j][k]; c.Masked == (n == 0) && n < 5 || !c.Masked && c.Count != n {
						t.Fatalf("%d is shown as %+v", n, c)
					}
				}
			}
		}
		ranges, err := Ranges(tables, m)
		if err != nil {
			t.Fatal(err)
		}
		for _, x := range ranges {
			if !x.Open && x.Low == x.High {
				t.Fatalf("%+v of %v %v can be worked out", x, one, two)
			}
		}
	}
	a, b := grid([]int{1, 2}), grid([]int{2, 2})
	a.Total, a.RowsBy, b.Total, b.RowsBy = "n", "sex", "n", "sex"
	if _, err := Mask([]Table{a, b}, Masking{}); !errors.Is(err, ErrTableTotal) {
		t.Errorf("rows that differ are taken: %v", err)
	}
	b.Rows[0], b.Counts = "other", a.Counts
	if _, err := Mask([]Table{a, b}, Masking{}); !errors.Is(err, ErrTableShape) {
		t.Errorf("other rows are taken: %v", err)
	}
	b.Rows[0] = a.Rows[0]
	if _, err := Mask([]Table{a, b, b}, Masking{}); !errors.Is(err, ErrTableTwice) {
		t.Errorf("three tables share their rows: %v", err)
	}
}
