package report

import (
	"slices"

	"graftnote/registry/figures"
)

// tally counts one split of a total.
type tally struct {
	name, total string
	rowsBy      string   // another table with the same rows; empty for its own
	rows, cols  []string // fixed ones first; further ones are added as they come
	counts      map[[2]string]int
	list        bool
	parts       map[string]string
	sums        []figures.Sum // what is shown as a sum of counts
	answers     []int         // sides, 0 rows and 1 columns, that are the answers to a field
}

func newList(name, total string, rows ...string) *tally {
	return &tally{name: name, total: total, rows: rows, counts: map[[2]string]int{}, list: true}
}

func newGrid(name string, rows, cols []string) *tally {
	return &tally{name: name, total: operations, rows: rows, cols: cols, counts: map[[2]string]int{}}
}

func (t *tally) add(row, col string) { t.counts[[2]string{row, col}]++ }

// table orders the counts: fixed names, others by alphabet, missing ones last.
func (t *tally) table() figures.Table {
	out := figures.Table{Name: t.name, Total: t.total, RowsBy: t.name, Rows: t.order(t.rows, 0), Sums: slices.Clone(t.sums)}
	if t.rowsBy != "" {
		out.RowsBy = t.rowsBy
	}
	if !t.list {
		out.ColsBy, out.Cols = t.name+", across", t.order(t.cols, 1)
	}
	for _, r := range out.Rows {
		if t.parts != nil {
			out.Parts = append(out.Parts, t.parts[r])
		}
		var counts []int
		for _, c := range out.Cols {
			counts = append(counts, t.counts[[2]string{r, c}])
		}
		if t.list {
			counts = []int{t.counts[[2]string{r, ""}]}
		}
		out.Counts = append(out.Counts, counts)
	}
	for _, side := range t.answers {
		names := [][]string{out.Rows, out.Cols}[side]
		given := slices.DeleteFunc(slices.Clone(names), func(name string) bool { return name == states[reasoned] || name == states[silent] })
		asked := slices.DeleteFunc(slices.Clone(given), func(name string) bool { return name == states[notAsked] })
		out.Sums = append(out.Sums, along(side, sumGiven, given...), along(side, sumAsked, asked...), along(side, sumOpen, states[reasoned], states[silent]))
	}
	return out
}

// along sums rows, or columns for side 1.
func along(side int, name string, of ...string) figures.Sum {
	name += []string{byRow, byColumn}[side]
	if side == 1 {
		return figures.Block(name, nil, of)
	}
	return figures.Block(name, of, nil)
}

func (t *tally) order(fixed []string, side int) []string {
	out := slices.Clone(fixed)
	var more, last []string
	for key := range t.counts {
		name := key[side]
		switch {
		case slices.Contains(out, name) || slices.Contains(more, name) || slices.Contains(last, name):
		case name == states[reasoned] || name == states[silent] || name == states[notAsked] || name == states[withheld] || name == unknown:
			last = append(last, name)
		default:
			more = append(more, name)
		}
	}
	slices.Sort(more)
	slices.Sort(last)
	return append(append(out, more...), last...)
}
