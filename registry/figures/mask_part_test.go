package figures

import (
	"errors"
	"math/rand/v2"
	"testing"
)

// values counts, by trying all, what each hidden count of an outer list with one
// split row can be. It knows nothing of networks: every hidden count is 1 or
// more, everything shown holds, and values are tried up to most.
func values(m []MaskedTable, partRow, most int) map[[3]int]map[int]bool {
	out := map[[3]int]map[int]bool{}
	fits := func(c Cell, n int) bool { return c.Masked && n >= 1 && n <= most || !c.Masked && c.Count == n }
	check := func(lists [][]int) {
		sums := make([]int, len(m))
		for t := range lists {
			sums[t] = sumOf(lists[t])
			if !fits(m[t].Grand, sums[t]) || t > 0 && sums[t] != lists[0][partRow] {
				return
			}
		}
		add := func(k [3]int, c Cell, n int) {
			if c.Masked {
				if out[k] == nil {
					out[k] = map[int]bool{}
				}
				out[k][n] = true
			}
		}
		for t := range lists {
			for r, n := range lists[t] {
				add([3]int{t, r, 0}, m[t].Cells[r][0], n)
			}
			add([3]int{t, -1, -1}, m[t].Grand, sums[t])
		}
	}
	eachList(m, most, func([][]int, int) bool { return true }, check)
	return out
}

// eachList tries all values of the hidden counts of tables of one column, 1 to
// most; the shown ones hold. whole is asked when the table t is filled, and found
// gets what passed for all tables.
func eachList(m []MaskedTable, most int, whole func(lists [][]int, t int) bool, found func(lists [][]int)) {
	lists := make([][]int, len(m))
	for t := range lists {
		lists[t] = make([]int, len(m[t].Cells))
	}
	var fill func(t, r int)
	fill = func(t, r int) {
		if t == len(m) {
			found(lists)
			return
		}
		if r == len(m[t].Cells) {
			if whole(lists, t) {
				fill(t+1, 0)
			}
			return
		}
		if c := m[t].Cells[r][0]; !c.Masked {
			lists[t][r] = c.Count
			fill(t, r+1)
			return
		}
		for n := 1; n <= most; n++ {
			lists[t][r] = n
			fill(t, r+1)
		}
	}
	fill(0, 0)
}

func sumOf(list []int) (total int) {
	for _, n := range list {
		total += n
	}
	return total
}

// A row that further tables split is one count wherever it is printed, and no
// hidden count can be worked out across the tables: at least two values each
// (CMS cell size suppression policy, resdac.org/node/1506).
func TestMaskParts(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 1))
	hidden := 0
	for range 150 {
		first := func() Table { return list(r.IntN(6), r.IntN(6)) }
		inner, second := first(), first()
		sum := inner.Counts[0][0] + inner.Counts[1][0]
		second.Counts[0][0] = min(second.Counts[0][0], sum)
		second.Counts[1][0] = sum - second.Counts[0][0]
		inner.Total, second.Total = "seen", "seen"
		outer := list(sum, r.IntN(6))
		outer.Parts = []string{"seen", ""}
		tables := []Table{outer, inner, second}
		m := mustMask(t, 3, tables...)
		if m[0].Cells[0][0] != m[1].Grand || m[1].Grand != m[2].Grand {
			t.Fatalf("one count is shown in two ways: %+v", m)
		}
		for k, v := range values(m, 0, 12) {
			hidden++
			if len(v) < 2 {
				t.Fatalf("%v of %v can only be %v: %+v", k, tables, v, m)
			}
		}
		for _, c := range m[1].Cells {
			if !c[0].Masked && c[0].Count > 0 && c[0].Count < 3 {
				t.Fatalf("%+v", m)
			}
		}
	}
	if hidden < 100 {
		t.Errorf("only %d hidden counts were tried", hidden)
	}
}

func TestMaskPartFaults(t *testing.T) {
	outer, inner := list(5, 4), list(2, 3)
	outer.Parts, inner.Total = []string{"seen", ""}, "seen"
	wrong := inner
	wrong.Counts = [][]int{{2}, {4}}
	loop := inner
	loop.Parts = []string{"seen", ""}
	short := outer
	short.Parts = []string{"seen"}
	twice := outer
	twice.Parts = []string{"seen", "seen"}
	for name, c := range map[string]struct {
		tables []Table
		want   error
	}{
		"a part that adds up to something else": {[]Table{outer, wrong}, ErrTableTotal},
		"a part of itself":                      {[]Table{loop}, ErrTablePart},
		"names that do not fit the rows":        {[]Table{short, inner}, ErrTableShape},
		"a part of two rows":                    {[]Table{twice, inner}, ErrTablePart},
	} {
		if _, err := Mask(c.tables, Masking{}); !errors.Is(err, c.want) {
			t.Errorf("%s: %v", name, err)
		}
	}
}
