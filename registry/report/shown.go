package report

import (
	"fmt"
	"slices"
	"strconv"

	"graftnote/registry/figures"
)

// mark stands for a hidden count.
const mark = "*"

// count is a number that may be shown, or a hidden one. What is made of a hidden
// count is hidden.
type count struct {
	n      int
	hidden bool
}

func (c count) String() string {
	if c.hidden {
		return mark
	}
	return strconv.Itoa(c.n)
}

func plus(all ...count) (sum count) {
	for _, c := range all {
		sum.n += c.n
		sum.hidden = sum.hidden || c.hidden
	}
	if sum.hidden {
		sum.n = 0
	}
	return sum
}

// shown are all counts as they may be shown.
type shown struct {
	tables []figures.MaskedTable
	sums   map[[2]string]count // by table and sum
	at     map[string]int
}

// hide masks all tables together, or none.
func hide(tables []figures.Table, o Options) (*shown, error) {
	var masked []figures.MaskedTable
	if o.Unmasked {
		for _, t := range tables {
			masked = append(masked, open(t))
		}
	} else {
		var err error
		if masked, err = figures.Mask(tables, figures.Masking{Minimum: o.Minimum}); err != nil {
			return nil, err
		}
	}
	s := &shown{tables: masked, at: map[string]int{}, sums: map[[2]string]count{}}
	for i, t := range masked {
		if _, twice := s.at[t.Name]; twice {
			return nil, fmt.Errorf("report: two tables are named %s", t.Name)
		}
		s.at[t.Name] = i
		for k, sum := range tables[i].Sums {
			s.sums[[2]string{t.Name, sum.Name}] = of(t.Sums[k])
		}
	}
	return s, nil
}

// open is a table with nothing hidden.
func open(t figures.Table) figures.MaskedTable {
	o := figures.MaskedTable{Name: t.Name, Total: t.Total, RowsBy: t.RowsBy, ColsBy: t.ColsBy, Rows: t.Rows, Cols: t.Cols, ColTotals: make([]figures.Cell, len(t.Cols))}
	for _, row := range t.Counts {
		var cells []figures.Cell
		sum := 0
		for j, n := range row {
			cells = append(cells, figures.Cell{Count: n})
			sum += n
			if len(t.Cols) > 0 {
				o.ColTotals[j].Count += n
			}
		}
		o.Cells = append(o.Cells, cells)
		if len(t.Cols) > 0 {
			o.RowTotals = append(o.RowTotals, figures.Cell{Count: sum})
		}
		o.Grand.Count += sum
	}
	for _, s := range t.Sums {
		var sum figures.Cell
		for _, part := range s.Of {
			sum.Count += cellAt(&o, part[0], part[1]).n
		}
		o.Sums = append(o.Sums, sum)
	}
	return o
}

func of(c figures.Cell) count { return count{c.Count, c.Masked} }

// get is one count; "" stands for the total in that direction. What a table does
// not name is zero, and zero is shown.
func (s *shown) get(table, row, col string) count {
	i, ok := s.at[table]
	if !ok {
		return count{}
	}
	return cellAt(&s.tables[i], row, col)
}

// sum is a sum of a table, zero when there is none.
func (s *shown) sum(table, name string) count { return s.sums[[2]string{table, name}] }

func cellAt(t *figures.MaskedTable, row, col string) count {
	r, c := slices.Index(t.Rows, row), slices.Index(t.Cols, col)
	switch {
	case row == "" && col == "":
		return of(t.Grand)
	case row != "" && r < 0 || col != "" && c < 0:
		return count{}
	case len(t.Cols) == 0: // a list, where col is ""
		return of(t.Cells[r][0])
	case col == "":
		return of(t.RowTotals[r])
	case row == "":
		return of(t.ColTotals[c])
	}
	return of(t.Cells[r][c])
}

// table is a masked table by name; nil when nothing was counted.
func (s *shown) table(name string) *figures.MaskedTable {
	if i, ok := s.at[name]; ok {
		return &s.tables[i]
	}
	return nil
}

// apart says whether two counts differ by nothing or by enough to be shown.
func apart(a, b, minimum int) bool {
	d := a - b
	if d < 0 {
		d = -d
	}
	return d == 0 || d >= minimum
}
