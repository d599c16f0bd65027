package figures

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
	for _, i := range group {
		t := n.tables[i]
		n.laid++
		for _, by := range []string{t.RowsBy, t.ColsBy} {
			if by != "" && split[by] {
				return 0, 0, nil, ErrTableTwice
			}
			split[by] = true
		}
		to := n.node()
		sum, err := n.table(i, from, to)
		if err != nil {
			return 0, 0, nil, err
		}
		if total >= 0 && sum != total {
			return 0, 0, nil, ErrTableTotal
		}
		total, from = sum, to
		at = append(at, place{i, -1, -1})
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
