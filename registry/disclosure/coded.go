package disclosure

import (
	"math"
	"slices"
)

// coded is a set with its values as numbers.
type coded struct {
	rows int
	// persons lists the rows of each person, in the order of first rows.
	persons [][]int32
	// ladders has one entry for each quasi-identifier; base the code of each
	// distinct combination of base values, vector the combination of each row.
	ladders []*ladder
	base    [][]uint32
	vector  []int32
	// sensitive names the sensitive columns; values has their codes by row.
	sensitive []string
	values    [][]uint32
}

// grouping is a partition of the rows into classes.
type grouping struct {
	of      []int32
	classes int
}

func newCoded(set Set, quasi []Column, sensitive []string) (*coded, error) {
	c := &coded{rows: len(set.Rows), sensitive: sensitive}
	at := map[string]int{}
	for i, name := range set.Columns {
		if _, twice := at[name]; twice {
			return nil, ErrColumn
		}
		at[name] = i
	}
	persons := make(map[string]int32, len(set.Rows))
	for i, row := range set.Rows {
		if len(row.Values) != len(set.Columns) {
			return nil, ErrRow
		}
		if row.Person == "" {
			return nil, ErrPerson
		}
		p, known := persons[row.Person]
		if !known {
			p = int32(len(c.persons))
			persons[row.Person] = p
			c.persons = append(c.persons, nil)
		}
		c.persons[p] = append(c.persons[p], int32(i))
	}
	used := map[string]bool{}
	codes := make([][]uint32, len(quasi))
	for i, q := range quasi {
		column, known := at[q.Name]
		if !known || used[q.Name] {
			return nil, ErrColumn
		}
		used[q.Name] = true
		var words []string
		codes[i], words = encode(set, column)
		l, err := newLadder(q, words)
		if err != nil {
			return nil, err
		}
		c.ladders = append(c.ladders, l)
	}
	for _, name := range sensitive {
		column, known := at[name]
		if !known || used[name] {
			return nil, ErrColumn
		}
		used[name] = true
		values, _ := encode(set, column)
		c.values = append(c.values, values)
	}
	// Rows with equal base values stay together in every class, so the search
	// groups combinations instead of rows.
	cards := make([]int, len(quasi))
	for i, l := range c.ladders {
		cards[i] = len(l.words[0])
	}
	vectors := combine(len(set.Rows), len(quasi), cards, func(row, column int) uint32 { return codes[column][row] })
	c.vector = vectors.of
	c.base = make([][]uint32, vectors.classes)
	for row, v := range c.vector {
		if c.base[v] != nil {
			continue
		}
		c.base[v] = make([]uint32, len(quasi))
		for i := range quasi {
			c.base[v][i] = codes[i][row]
		}
	}
	c.order()
	return c, nil
}

// order numbers the combinations in the order of their values, so that sums over
// them do not depend on the order of the rows.
func (c *coded) order() {
	old := make([]int32, len(c.base))
	for i := range old {
		old[i] = int32(i)
	}
	slices.SortFunc(old, func(a, b int32) int { return slices.Compare(c.base[a], c.base[b]) })
	base, number := make([][]uint32, len(old)), make([]int32, len(old))
	for i, o := range old {
		base[i], number[o] = c.base[o], int32(i)
	}
	for row, v := range c.vector {
		c.vector[row] = number[v]
	}
	c.base = base
}

// encode numbers the values of a column in their sorted order.
func encode(set Set, column int) ([]uint32, []string) {
	seen := map[string]uint32{}
	for _, row := range set.Rows {
		seen[row.Values[column]] = 0
	}
	words := make([]string, 0, len(seen))
	for w := range seen {
		words = append(words, w)
	}
	slices.Sort(words)
	for i, w := range words {
		seen[w] = uint32(i)
	}
	codes := make([]uint32, len(set.Rows))
	for i, row := range set.Rows {
		codes[i] = seen[row.Values[column]]
	}
	return codes, words
}

// combine groups items by all their columns. The number of the class is in the
// order in which classes first come.
func combine(items, columns int, cards []int, code func(item, column int) uint32) grouping {
	key := make([]uint64, items)
	g := grouping{of: make([]int32, items)}
	number := func() {
		at := make(map[uint64]int32, 1024)
		for i, k := range key {
			n, known := at[k]
			if !known {
				n = int32(len(at))
				at[k] = n
			}
			g.of[i], key[i] = n, uint64(n)
		}
		g.classes = len(at)
	}
	room := uint64(1)
	for column := range columns {
		card := uint64(max(cards[column], 1))
		if room > math.MaxUint64/card {
			number()
			room = uint64(max(g.classes, 1))
		}
		room *= card
		for i := range key {
			key[i] = key[i]*card + uint64(code(i, column))
		}
	}
	number()
	return g
}

// groupVectors groups the combinations of base values at a vector of steps.
func (c *coded) groupVectors(steps []int) grouping {
	cards := make([]int, len(steps))
	for i, l := range c.ladders {
		cards[i] = len(l.words[steps[i]])
	}
	return combine(len(c.base), len(steps), cards, func(v, column int) uint32 {
		return c.ladders[column].code[steps[column]][c.base[v][column]]
	})
}

// group groups the rows at a vector of steps.
func (c *coded) group(steps []int) grouping { return c.toRows(c.groupVectors(steps)) }

func (c *coded) toRows(vectors grouping) grouping {
	g := grouping{of: make([]int32, c.rows), classes: vectors.classes}
	for row, v := range c.vector {
		g.of[row] = vectors.of[v]
	}
	return g
}

// distinct lists the different classes of a person's kept rows.
func (g grouping) distinct(rows []int32, kept func(int) bool) []int32 {
	if len(rows) == 1 {
		if !kept(int(rows[0])) {
			return nil
		}
		return g.of[rows[0] : rows[0]+1]
	}
	var out []int32
	for _, row := range rows {
		if kept(int(row)) {
			out = append(out, g.of[row])
		}
	}
	slices.Sort(out)
	return slices.Compact(out)
}
