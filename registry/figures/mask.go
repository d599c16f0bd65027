package figures

import (
	"errors"
	"slices"
)

// DefaultMinimum is the smallest count that is shown unless the site chooses
// otherwise: no count from 1 to 10, and none that can be worked out (CMS cell
// size suppression policy, resdac.org/node/1506).
const DefaultMinimum = 11

// Minimums are the customary smallest shown counts: 11 as above, 8 (England's
// hospital statistics since 2018 hide 1 to 7) and 5.
func Minimums() []int { return []int{5, 8, 11} }

// Faults of tables given to Mask.
var (
	ErrTableShape  = errors.New("the counts of a table do not fit its row and column names")
	ErrTableCount  = errors.New("a count is negative or above a thousand million")
	ErrTableTotal  = errors.New("tables of the same total add up to different sums")
	ErrTableTwice  = errors.New("one total is split in the same way by two tables")
	ErrTablePart   = errors.New("a total is a part of two rows, or of itself")
	ErrMaskMinimum = errors.New("the smallest shown count must be 3 or more")
)

// Table is a list of counts, or a table of counts by rows and columns. Its
// totals are not given: they are the sums, and are published with it.
type Table struct {
	// Name is for the reader.
	Name string
	// Total names what the grand total counts, for example "operations". Tables
	// of the same Total publish one and the same grand total. Empty: the total is
	// this table's own.
	Total string
	// RowsBy and ColsBy say what splits the total, for example "indication". One
	// total may be split by a classification only once: its counts would be
	// published twice and could be masked in one place only. Two tables with
	// columns may have the same rows: then a row total is one count of both.
	RowsBy, ColsBy string
	// Rows names the rows; Cols the columns, empty for a list.
	Rows, Cols []string
	// Parts names, row by row, the total that the row itself is, so that tables of
	// that Total split it further: of "operations" the row "seen again" may be the
	// Total "eyes seen". Empty, or "" for a row that nothing splits.
	Parts []string
	// Counts has a row for each of Rows, with a count for each of Cols, or one
	// count in a list.
	Counts [][]int
	// Sums are further counts that are published of the table, or that follow from
	// one: the denominator of a rate, say, and what remains of it.
	Sums []Sum
}

// Sum is a count made of others of its table, by row and column; "" stands for the
// total in that direction, and for the column of a list. What the table does not
// name adds nothing.
type Sum struct {
	Name string
	Of   [][2]string
	// Dear is a sum that the reader needs most: its parts are hidden only where
	// everything else costs more.
	Dear bool
}

// Block is the sum of the cells where rows and columns meet. Without columns it is
// made of the rows' totals, without rows of the columns'.
func Block(name string, rows, cols []string) Sum {
	if len(rows) == 0 {
		rows = []string{""}
	}
	if len(cols) == 0 {
		cols = []string{""}
	}
	s := Sum{Name: name}
	for _, r := range rows {
		for _, c := range cols {
			s.Of = append(s.Of, [2]string{r, c})
		}
	}
	return s
}

// Cell is a count as it may be published.
type Cell struct {
	// Count is zero when the cell is masked: the number is gone.
	Count  int
	Masked bool
}

// MaskedTable is a table as it may be published.
type MaskedTable struct {
	Name, Total    string
	RowsBy, ColsBy string
	Rows, Cols     []string
	Cells          [][]Cell
	// RowTotals and ColTotals are empty for a list.
	RowTotals, ColTotals []Cell
	Grand                Cell
	// Sums are those of the table, in its order.
	Sums []Cell
}

// Masking says how counts are masked. The zero value stands for
// DefaultMinimum and two possible values.
type Masking struct {
	// Minimum is the smallest count above zero that is shown; 0 is DefaultMinimum.
	Minimum int
	// Width is how many values each masked count must be able to have for someone
	// who knows everything published, at least 2; 0 is 2.
	Width int
}

// Mask hides every count and every total from 1 to Minimum-1, and as many
// further ones as it takes that no hidden count can be worked out from what is
// shown. Zero is always shown. All tables of one publication go in together,
// because they may share totals.
//
// The rule. The counts of a publication are a circulation in a network: the
// total flows through each table in turn, in a table through a row total, a
// cell and a column total, and a row that is a total of its own flows through the
// tables of that total on its way. What flows into a node flows out. The reader
// knows the shown arcs, and that a hidden one is 1 or more. What he can work out
// for a hidden arc is exactly its least and greatest flow, found by augmenting
// paths through hidden arcs. As long as a hidden arc has fewer than Width values,
// the cheapest path that widens it is hidden as well. A cell costs less than a
// row or column total, that less than a grand total, and a small count less than
// a large one. In the end each additional mask is lifted again, dearest first,
// if the others protect enough without it. Ties go to the first in order, so
// equal tables are masked equally. The least possible number of masks is not
// sought: that problem is NP-hard (Fischetti and Salazar, Math Program
// 1999;84:283-312, from memory, unverified).
//
// A Sum of the tables is shown when it follows from what is shown, which then
// tells nothing new, and hidden otherwise. One from 1 to Minimum-1 must not
// follow: it does exactly when no ring of hidden arcs changes it, and then such a
// ring is hidden.
//
// What it does not do: it does not know other publications. The same series a
// month later, or other splits of the same patients, can be compared with this
// one. Sums of hidden counts that no table names may be worked out. Figures
// derived from a hidden count (percentage, interval, remainder) must not be
// printed.
func Mask(tables []Table, m Masking) ([]MaskedTable, error) {
	if m.Minimum == 0 {
		m.Minimum = DefaultMinimum
	}
	if m.Minimum < 3 {
		return nil, ErrMaskMinimum
	}
	m.Width = max(m.Width, 2)
	n, err := newNetwork(tables)
	if err != nil {
		return nil, err
	}
	var extra []int
	for i := range n.arcs {
		n.arcs[i].hidden = n.arcs[i].count > 0 && n.arcs[i].count < m.Minimum
	}
	// A path hides arcs before and after the one it protects, so go round until
	// nothing is left to do. Each turn hides at least one arc more.
	for again := true; again; {
		again = false
		for i := range n.arcs {
			for n.arcs[i].hidden && !n.protected(i, m.Width) {
				extra = append(extra, n.widen(i, m.Width)...)
				again = true
			}
		}
		for _, s := range n.sums {
			if n.told(s, m.Minimum) {
				extra = append(extra, n.loosen(s)...)
				again = true
			}
		}
	}
	slices.SortStableFunc(extra, func(a, b int) int { return n.cost(b) - n.cost(a) })
	for _, a := range extra {
		n.arcs[a].hidden = false
		if n.anyTold(m.Minimum) || !n.allProtected(m.Width) {
			n.arcs[a].hidden = true
		}
	}
	return n.publish(), nil
}

// Range is what a reader can work out about one hidden count.
type Range struct {
	// Table is the index of the table; Row and Col are the indices in it, -1 for
	// the total in that direction. The grand total of a list has Row -1.
	Table, Row, Col int
	// Low and High are the least and greatest possible count; High is not
	// bounded, and 0, when Open is true.
	Low, High int
	Open      bool
}

// Ranges works out what a reader of the masked tables can learn: for each hidden
// count the least and greatest value that agrees with everything shown and with
// a hidden count being 1 or more. tables are the true counts of the same tables.
// No command needs it: it is what the tests of masking here and of the report
// judge the masks by, and outside vectors hold it to a linear program.
func Ranges(tables []Table, masked []MaskedTable) ([]Range, error) {
	n, err := newNetwork(tables)
	if err != nil {
		return nil, err
	}
	if len(masked) != len(tables) {
		return nil, ErrTableShape
	}
	for i := range n.arcs {
		a := &n.arcs[i]
		for _, place := range a.places {
			cell := masked[place.table].at(place.row, place.col)
			if cell == nil {
				return nil, ErrTableShape
			}
			a.hidden = cell.Masked
		}
		// Masked zeros would change what the reader knows of the others.
		if a.hidden && a.count == 0 {
			return nil, ErrTableCount
		}
	}
	var out []Range
	for i, a := range n.arcs {
		if !a.hidden {
			continue
		}
		for _, p := range a.places {
			r := Range{Table: p.table, Row: p.row, Col: p.col}
			up, open := n.slack(i, true, unbounded)
			down, _ := n.slack(i, false, unbounded)
			r.Low, r.Open = a.count-down, open
			if !open {
				r.High = a.count + up
			}
			out = append(out, r)
		}
	}
	return out, nil
}

// at is a cell of the table by indices, -1 meaning the total; nil outside.
func (t *MaskedTable) at(row, col int) *Cell {
	switch {
	case row < 0 && col < 0:
		return &t.Grand
	case row < 0 && col < len(t.ColTotals):
		return &t.ColTotals[col]
	case col < 0 && row >= 0 && row < len(t.RowTotals):
		return &t.RowTotals[row]
	case row >= 0 && col >= 0 && row < len(t.Cells) && col < len(t.Cells[row]):
		return &t.Cells[row][col]
	}
	return nil
}
