package disclosure

import (
	"encoding/binary"
	"strings"
)

// View is what a reader knows of one row who has kept every version of it: for
// each column the values that agree with all of them. Two rows with the same view
// are told apart by nothing.
type View string

// Views works out views for the cells that occur.
type Views struct{ columns []viewColumn }

type viewColumn struct {
	of   map[string]uint32 // cell to the code of its set of values
	sets [][]uint64        // by code, a bit for each value
	code map[string]uint32
	meet map[uint64]uint32
}

// none is the code of contradicting cells.
const none = ^uint32(0)

// NewViews prepares columns for the cells that occur in any version, as they are
// or coarsened by any step of the column's ladder; cells has a list for each
// column. A cell that no other one is coarsened into stands for itself.
func NewViews(columns []Column, cells [][]string) (*Views, error) {
	if len(cells) != len(columns) {
		return nil, ErrColumn
	}
	v := &Views{}
	for i, c := range columns {
		if err := c.valid(); err != nil {
			return nil, err
		}
		column, err := c.views(cells[i])
		if err != nil {
			return nil, err
		}
		v.columns = append(v.columns, column)
	}
	return v, nil
}

// forms are all forms that a value of the column can take.
func (c Column) forms(groups []map[string]string, value string) []string {
	out := []string{value}
	for step := 1; step < len(c.Ladder); step++ {
		if word, ok := c.coarsen(value, step, groups[step]); ok && word != value {
			out = append(out, word)
		}
	}
	return out
}

func (c Column) views(cells []string) (viewColumn, error) {
	groups := make([]map[string]string, len(c.Ladder))
	for step := range c.Ladder {
		var ok bool
		if groups[step], ok = c.Ladder[step].byValue(); !ok {
			return viewColumn{}, c.fault(step, "a value is in two groups")
		}
	}
	forms := map[string][]string{}
	coarse := map[string]bool{}
	for _, cell := range cells {
		if forms[cell] != nil {
			continue
		}
		forms[cell] = c.forms(groups, cell)
		for _, f := range forms[cell][1:] {
			coarse[f] = true
		}
	}
	v := viewColumn{of: map[string]uint32{}, code: map[string]uint32{}, meet: map[uint64]uint32{}}
	sets := map[string][]uint64{}
	values := 0
	for cell := range forms {
		if !coarse[cell] {
			values++
		}
	}
	at := 0
	for _, cell := range cells { // in their order, so that codes are the same each time
		if coarse[cell] || sets[cell] != nil {
			continue
		}
		for _, f := range forms[cell] {
			if sets[f] == nil {
				sets[f] = make([]uint64, (values+63)/64)
			}
			sets[f][at/64] |= 1 << (at % 64)
		}
		at++
	}
	for cell := range forms {
		if sets[cell] == nil {
			return v, c.fault(0, "a value is coarser than any other")
		}
	}
	for form, set := range sets { // the codes never leave the program
		v.of[form] = v.number(set)
	}
	return v, nil
}

func (v *viewColumn) number(set []uint64) uint32 {
	var key strings.Builder
	for _, w := range set {
		_ = binary.Write(&key, binary.LittleEndian, w)
	}
	n, known := v.code[key.String()]
	if !known {
		n = uint32(len(v.sets))
		v.code[key.String()] = n
		v.sets = append(v.sets, set)
	}
	return n
}

func (v *viewColumn) join(a, b uint32) uint32 {
	if a == b {
		return a
	}
	pair := uint64(a)<<32 | uint64(b)
	if n, known := v.meet[pair]; known {
		return n
	}
	both, empty := make([]uint64, len(v.sets[a])), true
	for i := range both {
		both[i] = v.sets[a][i] & v.sets[b][i]
		empty = empty && both[i] == 0
	}
	n := none
	if !empty {
		n = v.number(both)
	}
	v.meet[pair] = n
	return n
}

// Of is the view of one version; false when a cell was not prepared for.
func (v *Views) Of(cells []string) (View, bool) {
	if len(cells) != len(v.columns) {
		return "", false
	}
	out := make([]byte, 0, 4*len(cells))
	for i, cell := range cells {
		n, known := v.columns[i].of[cell]
		if !known {
			return "", false
		}
		out = binary.LittleEndian.AppendUint32(out, n)
	}
	return View(out), true
}

// Join is what two views of one row say together; false when they contradict each
// other, so that one of them was corrected.
func (v *Views) Join(a, b View) (View, bool) {
	if a == b {
		return a, true
	}
	out := make([]byte, 0, len(a))
	for i := range v.columns {
		x := binary.LittleEndian.Uint32([]byte(a[4*i : 4*i+4]))
		y := binary.LittleEndian.Uint32([]byte(b[4*i : 4*i+4]))
		n := v.columns[i].join(x, y)
		if n == none {
			return "", false
		}
		out = binary.LittleEndian.AppendUint32(out, n)
	}
	return View(out), true
}
