package figures

import (
	"container/heap"
	"slices"
)

const (
	largestCount = 1_000_000_000
	unbounded    = 1 << 60
)

// place is where an arc's count is printed; -1 is the total in that direction.
type place struct{ table, row, col int }

// arc is one published count.
type arc struct {
	from, to int
	count    int
	hidden   bool
	// weight is 1 for a cell, more for a total.
	weight int
	places []place
}

// network is the circulation of all counts; see Mask.
type network struct {
	tables []Table
	groups map[string][]int // tables by the name of their total
	part   map[string]bool  // totals that are a row of another table
	laid   int              // tables in the network so far
	arcs   []arc
	sums   []sum
	// out and in list the arcs at each node.
	out, in [][]int
}

func (n *network) node() int {
	n.out, n.in = append(n.out, nil), append(n.in, nil)
	return len(n.out) - 1
}

func (n *network) arc(from, to, count, weight int, at ...place) {
	n.out[from] = append(n.out[from], len(n.arcs))
	n.in[to] = append(n.in[to], len(n.arcs))
	n.arcs = append(n.arcs, arc{from: from, to: to, count: count, weight: weight, places: at})
}

// cost is what hiding an arc costs the reader.
func (n *network) cost(a int) int {
	return n.arcs[a].weight * (1000 + min(n.arcs[a].count, 999))
}

// move is one step of a path: an arc whose count grows (with the arc) or falls
// (against it).
type move struct {
	arc  int
	with bool
}

// flow is how far each arc has been changed by augmenting paths.
type flow map[int]int

// room is how much further an arc may be changed in a direction.
func (n *network) room(f flow, m move) int {
	if m.with {
		return unbounded
	}
	return n.arcs[m.arc].count + f[m.arc] - 1
}

// moves lists the steps away from a node.
func (n *network) moves(node int) []move {
	out := make([]move, 0, len(n.out[node])+len(n.in[node]))
	for _, a := range n.out[node] {
		out = append(out, move{a, true})
	}
	for _, a := range n.in[node] {
		out = append(out, move{a, false})
	}
	return out
}

// end is the node that a step leads to.
func (n *network) end(m move) int {
	if m.with {
		return n.arcs[m.arc].to
	}
	return n.arcs[m.arc].from
}

// slack is how far the count of a hidden arc can grow (or fall) when other
// hidden arcs give way, at most limit; open when there is no bound.
func (n *network) slack(a int, grow bool, limit int) (total int, open bool) {
	total, open, _ = n.augment(a, grow, limit)
	return total, open
}

// augment returns also the flow that reaches the slack.
func (n *network) augment(a int, grow bool, limit int) (total int, open bool, f flow) {
	source, sink := n.arcs[a].to, n.arcs[a].from
	if !grow {
		source, sink = sink, source
		limit = min(limit, n.arcs[a].count-1)
	}
	f = flow{}
	for total < limit {
		path := n.breadthFirst(f, a, source, sink)
		if path == nil {
			break
		}
		room := limit - total
		bounded := false
		for _, m := range path {
			if r := n.room(f, m); r < unbounded {
				bounded = true
				room = min(room, r)
			}
		}
		if grow && !bounded {
			return limit, true, f
		}
		for _, m := range path {
			if m.with {
				f[m.arc] += room
			} else {
				f[m.arc] -= room
			}
		}
		total += room
	}
	return total, false, f
}

// breadthFirst finds a shortest path through hidden arcs other than a.
func (n *network) breadthFirst(f flow, a, source, sink int) []move {
	if source == sink {
		return nil
	}
	came := make([]move, len(n.out))
	seen := make([]bool, len(n.out))
	seen[source] = true
	queue := []int{source}
	for len(queue) > 0 && !seen[sink] {
		at := queue[0]
		queue = queue[1:]
		for _, m := range n.moves(at) {
			to := n.end(m)
			if m.arc == a || !n.arcs[m.arc].hidden || seen[to] || n.room(f, m) < 1 {
				continue
			}
			seen[to], came[to] = true, m
			queue = append(queue, to)
		}
	}
	if !seen[sink] {
		return nil
	}
	return n.trace(came, source, sink)
}

// trace walks back from sink to source.
func (n *network) trace(came []move, source, sink int) []move {
	var path []move
	for at := sink; at != source; {
		m := came[at]
		path = append(path, m)
		at = n.end(move{m.arc, !m.with})
	}
	slices.Reverse(path)
	return path
}

// protected says whether a hidden arc has at least width possible values.
func (n *network) protected(a, width int) bool {
	up, _ := n.slack(a, true, width-1)
	if up >= width-1 {
		return true
	}
	down, _ := n.slack(a, false, width-1-up)
	return up+down >= width-1
}

func (n *network) allProtected(width int) bool {
	for i, a := range n.arcs {
		if a.hidden && !n.protected(i, width) {
			return false
		}
	}
	return true
}

// widen hides the cheapest path along which arc a can grow further, and returns
// what it hid. There always is one: a circulation with a count above zero on a
// runs in a ring of counts above zero, and all of them may grow.
func (n *network) widen(a, width int) []int {
	_, _, f := n.augment(a, true, width-1)
	return n.hide(n.cheapest(f, a, nil))
}

// hide hides the arcs of a path and returns those that were shown before.
func (n *network) hide(path []move) (hid []int) {
	for _, m := range path {
		if !n.arcs[m.arc].hidden {
			n.arcs[m.arc].hidden = true
			hid = append(hid, m.arc)
		}
	}
	return hid
}

// cheapest finds the path from the head of a to its tail that hides least, by
// Dijkstra's algorithm with the node number as tie-break. It keeps off the arcs
// in not.
func (n *network) cheapest(f flow, a int, not map[int]bool) []move {
	source, sink := n.arcs[a].to, n.arcs[a].from
	far := make([]int, len(n.out))
	for i := range far {
		far[i] = unbounded
	}
	came := make([]move, len(n.out))
	done := make([]bool, len(n.out))
	far[source] = 0
	open := &distances{{source, 0}}
	for open.Len() > 0 {
		at := heap.Pop(open).(distance).node
		if done[at] {
			continue
		}
		done[at] = true
		for _, m := range n.moves(at) {
			to := n.end(m)
			if m.arc == a || not[m.arc] || n.arcs[m.arc].count == 0 || n.room(f, m) < 1 {
				continue
			}
			step := 0
			if !n.arcs[m.arc].hidden {
				step = n.cost(m.arc)
			}
			if d := far[at] + step; d < far[to] {
				far[to], came[to] = d, m
				heap.Push(open, distance{to, d})
			}
		}
	}
	return n.trace(came, source, sink)
}

type distance struct{ node, far int }

type distances []distance

func (d distances) Len() int { return len(d) }
func (d distances) Less(i, j int) bool {
	return d[i].far < d[j].far || d[i].far == d[j].far && d[i].node < d[j].node
}
func (d distances) Swap(i, j int) { d[i], d[j] = d[j], d[i] }

// Push and Pop are for container/heap.
func (d *distances) Push(x any) { *d = append(*d, x.(distance)) }

func (d *distances) Pop() any {
	old := *d
	x := old[len(old)-1]
	*d = old[:len(old)-1]
	return x
}

// publish fills the tables with what may be shown.
func (n *network) publish() []MaskedTable {
	out := make([]MaskedTable, len(n.tables))
	for i, t := range n.tables {
		o := MaskedTable{Name: t.Name, Total: t.Total, RowsBy: t.RowsBy, ColsBy: t.ColsBy, Rows: slices.Clone(t.Rows), Cols: slices.Clone(t.Cols), Cells: make([][]Cell, len(t.Rows))}
		for r := range o.Cells {
			o.Cells[r] = make([]Cell, max(len(t.Cols), 1))
		}
		if len(t.Cols) > 0 {
			o.RowTotals, o.ColTotals = make([]Cell, len(t.Rows)), make([]Cell, len(t.Cols))
		}
		out[i] = o
	}
	for _, a := range n.arcs {
		cell := Cell{Count: a.count}
		if a.hidden {
			cell = Cell{Masked: true}
		}
		for _, p := range a.places {
			*out[p.table].at(p.row, p.col) = cell
		}
	}
	for _, s := range n.sums {
		cell := Cell{Masked: true}
		if n.follows(s) {
			cell = Cell{Count: s.count}
		}
		out[s.table].Sums = append(out[s.table].Sums, cell)
	}
	return out
}
