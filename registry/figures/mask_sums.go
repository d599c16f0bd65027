package figures

import "slices"

// sum is a Sum as arcs of the network. Every ring of the circulation runs through
// a table once, so through one arc of a sum at most.
type sum struct {
	table, count int
	arcs         map[int]bool
}

// setSums finds the arcs of every sum.
func (n *network) setSums() {
	at := map[place]int{}
	for i, a := range n.arcs {
		for _, p := range a.places {
			at[p] = i
		}
	}
	for i, t := range n.tables {
		for _, s := range t.Sums {
			out := sum{table: i, arcs: map[int]bool{}}
			for _, p := range s.places(i, t) {
				if a, ok := at[p]; ok && !out.arcs[a] {
					out.arcs[a] = true
					out.count += n.arcs[a].count
				}
			}
			for a := range out.arcs {
				if s.Dear {
					n.arcs[a].weight = max(n.arcs[a].weight, 50)
				}
			}
			n.sums = append(n.sums, out)
		}
	}
}

// places lists where the parts of a sum stand in table i.
func (s Sum) places(i int, t Table) (out []place) {
	for _, part := range s.Of {
		p := place{i, -1, -1}
		if part[0] != "" {
			if p.row = slices.Index(t.Rows, part[0]); p.row < 0 {
				continue
			}
		}
		if part[1] != "" {
			if p.col = slices.Index(t.Cols, part[1]); p.col < 0 {
				continue
			}
		}
		if len(t.Cols) == 0 && p.row >= 0 {
			p.col = 0
		}
		out = append(out, p)
	}
	return out
}

// follows says whether a sum follows from what is shown. It does when no ring of
// hidden arcs changes it: when every node can be given a level such that a hidden
// arc of the sum rises by one and any other hidden arc stays level.
func (n *network) follows(s sum) bool {
	level, seen := make([]int, len(n.out)), make([]bool, len(n.out))
	for start := range n.out {
		if seen[start] {
			continue
		}
		seen[start] = true
		for queue := []int{start}; len(queue) > 0; queue = queue[1:] {
			for _, m := range n.moves(queue[0]) {
				if !n.arcs[m.arc].hidden {
					continue
				}
				to, is := n.end(m), level[queue[0]]
				switch {
				case s.arcs[m.arc] && m.with:
					is++
				case s.arcs[m.arc]:
					is--
				}
				if seen[to] && level[to] != is {
					return false
				}
				if !seen[to] {
					seen[to], level[to] = true, is
					queue = append(queue, to)
				}
			}
		}
	}
	return true
}

// told says whether a small sum follows from what is shown.
func (n *network) told(s sum, minimum int) bool {
	return s.count > 0 && s.count < minimum && n.follows(s)
}

func (n *network) anyTold(minimum int) bool {
	return slices.ContainsFunc(n.sums, func(s sum) bool { return n.told(s, minimum) })
}

// loosen hides the cheapest ring through a part of a small sum that touches no
// other part, and returns what it hid. All parts above zero are hidden before.
func (n *network) loosen(s sum) []int {
	for i, a := range n.arcs {
		if s.arcs[i] && a.hidden {
			return n.hide(n.cheapest(flow{}, i, s.arcs))
		}
	}
	return nil
}
