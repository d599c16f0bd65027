package pdf

import "graftnote/note"

// pairsLeast is the number of rows from which a table of two columns is set
// in two halves side by side.
const pairsLeast = 6

// halves sets the second half of the rows beside the first.
func halves(t note.Table) note.Table {
	n := (len(t.Rows) + 1) / 2
	out := note.Table{Header: append(append([]string(nil), t.Header...), t.Header...)}
	for i, r := range t.Rows[:n] {
		row := append([]string(nil), r...)
		if n+i < len(t.Rows) {
			row = append(row, t.Rows[n+i]...)
		}
		out.Rows = append(out.Rows, row)
	}
	return out
}

// layPairs lays out a list of names and values in two halves when all of it
// fits on single lines and on one page, where reading down and then across
// is plain. It then replaces the table.
func (f *flow) layPairs(t *note.Table, cols int) (*sheet, bool) {
	if cols != 2 || len(t.Header) != 2 || len(t.Rows) < pairsLeast {
		return nil, false
	}
	sh := &sheet{st: style{size: 9}, right: make([]bool, 4), widths: make([]float64, 4)}
	bold := *sh
	bold.st.bold = true
	var wide [2]float64
	measure := func(row []string, st style) bool {
		for i, cell := range row {
			wide[i] = max(wide[i], f.c.set.width(f.c.set.clean(cell), st)+2*cellPad+0.1)
		}
		return len(row) == 2
	}
	ok := measure(t.Header, bold.st)
	for _, r := range t.Rows {
		ok = ok && measure(r, sh.st)
	}
	spare := bodyWidth/2 - wide[0] - wide[1]
	if !ok || spare < 0 {
		return nil, false
	}
	first := wide[0] + 0.4*spare
	for i := range sh.widths {
		if sh.widths[i] = first; i%2 == 1 {
			sh.widths[i] = bodyWidth/2 - first
		}
	}
	two := halves(*t)
	bold.widths = sh.widths
	sh.head = f.cells(&bold, two.Header)
	sh.whole = sh.height(sh.head)
	for _, r := range two.Rows {
		sh.whole += sh.height(f.cells(sh, r))
	}
	if sh.whole > f.third()*1.5 {
		return nil, false
	}
	*t = two
	return sh, true
}
