package figures

import "slices"

func newNetwork(tables []Table) (*network, error) {
	n := &network{tables: tables, groups: map[string][]int{}, part: map[string]bool{}}
	var order [][]int
	for i, t := range tables {
		if t.Total == "" {
			order = append(order, []int{i})
		} else {
			n.groups[t.Total] = append(n.groups[t.Total], i)
		}
		if len(t.Parts) > 0 && len(t.Parts) != len(t.Rows) {
			return nil, ErrTableShape
		}
		for _, name := range t.Parts {
			if name != "" && n.part[name] {
				return nil, ErrTablePart
			}
			n.part[name] = true
		}
	}
	for i, t := range tables {
		if g := n.groups[t.Total]; t.Total != "" && g[0] == i && !n.part[t.Total] {
			order = append(order, g)
		}
	}
	for _, group := range order {
		if err := n.ring(group); err != nil {
			return nil, err
		}
	}
	if n.laid != len(tables) {
		return nil, ErrTablePart
	}
	n.setSums()
	return n, nil
}

// ring lays the tables of one total in series and closes the ring with the
// total itself.
func (n *network) ring(group []int) error {
	first := n.node()
	last, total, at, err := n.series(group, first)
	if err != nil {
		return err
	}
	n.arc(last, first, total, 1000*len(group), at...)
	return nil
}

// series lays tables of one total one behind the other and returns the node
// behind them, their sum and where it is printed.
func (n *network) series(group []int, from int) (last, total int, at []place, err error) {
	split := map[string]bool{}
	total = -1
	for k, i := range group {
		t := n.tables[i]
		twin := n.twin(group, k)
		if twin < 0 {
			continue // laid with the one that it is the twin of
		}
		by := []string{t.RowsBy, t.ColsBy}
		if twin != i {
			by = append(by, n.tables[twin].ColsBy)
		}
		for _, by := range by {
			if by != "" && split[by] {
				return 0, 0, nil, ErrTableTwice
			}
			split[by] = true
		}
		n.laid++
		at = append(at, place{i, -1, -1})
		to := n.node()
		var sum int
		if twin == i {
			sum, err = n.table(i, from, to)
		} else {
			n.laid++
			at = append(at, place{twin, -1, -1})
			sum, err = n.twins(i, twin, from, to)
		}
		if err != nil {
			return 0, 0, nil, err
		}
		if total >= 0 && sum != total {
			return 0, 0, nil, ErrTableTotal
		}
		total, from = sum, to
	}
	return from, total, at, nil
}

// rowArc is the arc of one row's count and, where the row is a total of its
// own, the tables that split it behind the arc.
func (n *network) rowArc(i, r, from, to, count, weight int, at place) error {
	var group []int
	if parts := n.tables[i].Parts; len(parts) > 0 && parts[r] != "" {
		group = n.groups[parts[r]]
	}
	if len(group) == 0 {
		n.arc(from, to, count, weight, at)
		return nil
	}
	// The arc leads out of the last table, so the row's node stays where it is.
	last, total, more, err := n.series(group, from)
	if err != nil {
		return err
	}
	if total != count {
		return ErrTableTotal
	}
	n.arc(last, to, count, 100, append([]place{at}, more...)...)
	return nil
}

// table adds the arcs of one table and returns its sum.
func (n *network) table(i, from, to int) (int, error) {
	t := n.tables[i]
	width := max(len(t.Cols), 1)
	if len(t.Counts) != len(t.Rows) || len(t.Rows) == 0 {
		return 0, ErrTableShape
	}
	sum := 0
	cols, ends := make([]int, width), make([]int, width)
	for j := range ends {
		if len(t.Cols) > 0 {
			ends[j] = n.node()
		}
	}
	for r, row := range t.Counts {
		if len(row) != width {
			return 0, ErrTableShape
		}
		rowSum := 0
		for j, c := range row {
			if c < 0 || c > largestCount {
				return 0, ErrTableCount
			}
			rowSum += c
			cols[j] += c
		}
		sum += rowSum
		if sum > largestCount {
			return 0, ErrTableCount
		}
		if len(t.Cols) == 0 {
			if err := n.rowArc(i, r, from, to, row[0], 1, place{i, r, 0}); err != nil {
				return 0, err
			}
			continue
		}
		start := n.node()
		if err := n.rowArc(i, r, from, start, rowSum, 10, place{i, r, -1}); err != nil {
			return 0, err
		}
		for j, c := range row {
			n.arc(start, ends[j], c, 1, place{i, r, j})
		}
	}
	if len(t.Cols) > 0 {
		for j, c := range cols {
			n.arc(ends[j], to, c, 10, place{i, -1, j})
		}
	}
	return sum, nil
}

// twin is the other table of the group with the same rows, where two have
// columns and share them: the later one for the earlier, -1 for the later. A table
// without one is its own.
func (n *network) twin(group []int, k int) int {
	i := group[k]
	var same []int
	for _, j := range group {
		if a, b := n.tables[i], n.tables[j]; a.RowsBy != "" && a.RowsBy == b.RowsBy && len(b.Cols) > 0 && len(b.Parts) == 0 {
			same = append(same, j)
		}
	}
	switch {
	case len(same) != 2 || !slices.Contains(same, i):
		return i
	case same[0] == i:
		return same[1]
	}
	return -1
}

// twins adds the arcs of two tables with the same rows: columns, cells and then
// the rows of the one, which lead to cells and columns of the other.
func (n *network) twins(i, k, from, to int) (int, error) {
	a, b := n.tables[i], n.tables[k]
	if !slices.Equal(a.Rows, b.Rows) || len(a.Counts) != len(a.Rows) || len(b.Counts) != len(b.Rows) || len(a.Rows) == 0 {
		return 0, ErrTableShape
	}
	starts, ends := make([]int, len(a.Rows)), make([]int, len(a.Rows))
	sum := 0
	for r := range a.Rows {
		starts[r], ends[r] = n.node(), n.node()
		one, err := rowSum(a.Counts[r], len(a.Cols))
		if err != nil {
			return 0, err
		}
		two, err := rowSum(b.Counts[r], len(b.Cols))
		if err != nil {
			return 0, err
		}
		if one != two {
			return 0, ErrTableTotal
		}
		if sum += one; sum > largestCount {
			return 0, ErrTableCount
		}
		n.arc(starts[r], ends[r], one, 10, place{i, r, -1}, place{k, r, -1})
	}
	for j := range a.Cols {
		node, all := n.node(), 0
		for r := range a.Rows {
			n.arc(node, starts[r], a.Counts[r][j], 1, place{i, r, j})
			all += a.Counts[r][j]
		}
		n.arc(from, node, all, 10, place{i, -1, j})
	}
	for j := range b.Cols {
		node, all := n.node(), 0
		for r := range b.Rows {
			n.arc(ends[r], node, b.Counts[r][j], 1, place{k, r, j})
			all += b.Counts[r][j]
		}
		n.arc(node, to, all, 10, place{k, -1, j})
	}
	return sum, nil
}

// rowSum adds the counts of one row of a table with so many columns.
func rowSum(row []int, cols int) (sum int, err error) {
	if len(row) != cols {
		return 0, ErrTableShape
	}
	for _, c := range row {
		if c < 0 || c > largestCount {
			return 0, ErrTableCount
		}
		sum += c
	}
	return sum, nil
}
