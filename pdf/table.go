package pdf

import (
	"strings"

	"graftnote/note"
)

const (
	cellPad  = 1.7  // left and right of a cell
	rowPad   = 0.65 // above and below a row's text
	wordRoom = 30.0 // a longer word is broken before it takes more width
)

// sheet is a table as laid out.
type sheet struct {
	head   [][]string
	widths []float64
	right  []bool
	left   float64 // indent of the whole table
	st     style
	whole  float64 // height of a table that must stay on one page, else 0
}

// table draws rows under a header that every further page repeats. A table
// with more columns than the page can hold is set row by row instead.
func (f *flow) table(t note.Table) {
	cols := len(t.Header)
	for _, r := range t.Rows {
		cols = max(cols, len(r))
	}
	if cols == 0 {
		return
	}
	sh, ok := f.layPairs(&t, cols)
	if !ok {
		sh, ok = f.layTable(t, cols)
	}
	if !ok {
		f.records(t, cols)
		return
	}
	f.drawSheet(sh, t)
}

// drawSheet draws a table as laid out.
func (f *flow) drawSheet(sh *sheet, t note.Table) {
	headH := sh.height(sh.head)
	f.need(f.sheetLead(sh, t))
	draw := func() {
		if headH > f.third() {
			return // a header this tall is shown once
		}
		f.drawRow(sh, sh.head, 0, len(longest(sh.head)), true)
	}
	if headH > f.third() {
		f.row(sh, sh.head, true)
	}
	draw()
	outer := f.onTop
	f.onTop = func() {
		if outer != nil {
			outer()
		}
		draw()
	}
	var cells, next [][]string
	for i := range t.Rows {
		if i == 0 {
			cells = f.cells(sh, t.Rows[0])
		}
		if i+1 < len(t.Rows) {
			next = f.cells(sh, t.Rows[i+1])
		}
		if i == len(t.Rows)-2 { // the last row does not go over alone
			f.need(min(sh.height(cells)+sh.height(next), f.third()))
		}
		f.row(sh, cells, false)
		cells = next
	}
	f.onTop = outer
	f.y += 1
}

// tableLead is the height that must be free for the table to start.
func (f *flow) tableLead(t note.Table) float64 {
	cols := len(t.Header)
	for _, r := range t.Rows {
		cols = max(cols, len(r))
	}
	if cols == 0 {
		return 0
	}
	if sh, ok := f.layPairs(&t, cols); ok {
		return f.sheetLead(sh, t)
	}
	if sh, ok := f.layTable(t, cols); ok {
		return f.sheetLead(sh, t)
	}
	return 30
}

// sheetLead is the header with the first row, or with two when there are no
// more, so that a header never stands alone.
func (f *flow) sheetLead(sh *sheet, t note.Table) float64 {
	h := sh.height(sh.head)
	if sh.whole > 0 {
		return sh.whole
	}
	if len(t.Rows) > 0 {
		rows := sh.height(f.cells(sh, t.Rows[0]))
		if len(t.Rows) == 2 {
			rows += sh.height(f.cells(sh, t.Rows[1]))
		}
		h += min(rows, f.third())
	}
	return h
}

// layTable chooses a type size and column widths.
func (f *flow) layTable(t note.Table, cols int) (*sheet, bool) {
	natural, least := make([]float64, cols), make([]float64, cols)
	sh := &sheet{right: make([]bool, cols), widths: make([]float64, cols)}
	for _, size := range []float64{9, 8, 7} {
		sh.st = style{size: size}
		clear(natural)
		clear(least)
		measure := func(row []string, st style, wish []float64) {
			for i, cell := range row {
				for line := range strings.SplitSeq(f.c.set.clean(cell), "\n") {
					wish[i] = max(wish[i], f.c.set.width(line, st)+2*cellPad)
					for at := 0; at < len(line); {
						end := nextBreak(line, at)
						w := f.c.set.width(strings.TrimRight(line[at:end], " "), st)
						least[i] = max(least[i], min(w, wordRoom)+2*cellPad+0.1)
						at = end
					}
				}
			}
		}
		for _, r := range t.Rows {
			measure(r, sh.st, natural)
		}
		// Header words may stand on several lines when space is short.
		head := append([]float64(nil), natural...)
		measure(t.Header, style{bold: true, size: size}, head)
		if sum(head) <= bodyWidth {
			copy(natural, head)
		}
		if spread(sh.widths, natural, least) {
			break
		}
		if size == 7 {
			return nil, false
		}
	}
	for i := range cols {
		sh.right[i] = numeric(t.Rows, i)
	}
	bold := *sh
	bold.st.bold = true
	sh.head = f.cells(&bold, t.Header)
	return sh, true
}

// spread gives each column at least its longest word and shares the rest by
// what the columns would like.
func spread(widths, natural, least []float64) bool {
	for i := range natural {
		least[i] = max(least[i], 2*cellPad+2)
		natural[i] = max(natural[i], least[i])
	}
	sumN, sumL := sum(natural), sum(least)
	if sumL > bodyWidth {
		return false
	}
	for i := range natural {
		if sumN <= bodyWidth {
			widths[i] = natural[i] + (bodyWidth-sumN)*natural[i]/sumN
		} else {
			widths[i] = least[i] + (bodyWidth-sumL)*(natural[i]-least[i])/(sumN-sumL)
		}
	}
	return true
}

func sum(v []float64) (s float64) {
	for _, x := range v {
		s += x
	}
	return s
}

// numeric tells whether all filled cells of a column are plain numbers or hidden
// ones, *; such a column is set to the right so that digits line up.
func numeric(rows [][]string, col int) bool {
	any := false
	for _, r := range rows {
		if col >= len(r) || r[col] == "" || r[col] == "-" || r[col] == "\u2013" || r[col] == "*" {
			continue
		}
		if strings.Trim(r[col], "0123456789.,+-\u2212") != "" {
			return false
		}
		any = true
	}
	return any
}

func (f *flow) cells(sh *sheet, row []string) [][]string {
	out := make([][]string, len(sh.widths))
	for i := range out {
		if i < len(row) {
			out[i] = f.c.wrap(row[i], sh.st, sh.widths[i]-2*cellPad)
		}
	}
	return out
}

func longest(cells [][]string) []string {
	var l []string
	for _, c := range cells {
		if len(c) > len(l) {
			l = c
		}
	}
	return l
}

func (sh *sheet) height(cells [][]string) float64 {
	return float64(len(longest(cells)))*sh.st.lineHeight() + 2*rowPad
}

// row keeps a row whole, except one taller than a third of the page.
func (f *flow) row(sh *sheet, cells [][]string, head bool) {
	h := sh.height(cells)
	n := len(longest(cells))
	if h <= f.third() {
		f.need(h)
		f.drawRow(sh, cells, 0, n, head)
		return
	}
	for from := 0; from < n; {
		fit := int((f.room() - 2*rowPad) / sh.st.lineHeight())
		if fit < 3 && !f.atTop() {
			f.newPage()
			continue
		}
		to := min(n, from+max(fit, 1))
		f.drawRow(sh, cells, from, to, head)
		from = to
	}
}

func (f *flow) drawRow(sh *sheet, cells [][]string, from, to int, head bool) {
	st := sh.st
	st.bold = head
	base := (st.lineHeight() + st.rise()) / 2 // text stands in the middle of its line
	h := float64(to-from)*st.lineHeight() + 2*rowPad
	x := bodyLeft + sh.left
	for i, c := range cells {
		y := f.y + rowPad
		skip := 0
		if head { // header words stand on the rule
			skip = to - from - len(c)
			y += float64(max(skip, 0)) * st.lineHeight()
		}
		for _, l := range c[min(from, len(c)):min(to, len(c))] {
			if sh.right[i] {
				f.c.textRight(x+sh.widths[i]-cellPad, y+base, l, st, black)
			} else {
				f.c.text(x+cellPad, y+base, l, st, black)
			}
			y += st.lineHeight()
		}
		x += sh.widths[i]
	}
	f.y += h
	if head {
		f.c.rule(bodyLeft+sh.left, f.y, bodyRight, f.y, 0.35, black)
	} else {
		f.c.rule(bodyLeft+sh.left, f.y, bodyRight, f.y, 0.1, hair)
	}
}

// records sets each row as labelled facts.
func (f *flow) records(t note.Table, cols int) {
	for n, r := range t.Rows {
		items := make([]note.Item, 0, cols)
		for i, v := range r {
			it := note.Item{Value: v}
			if i < len(t.Header) {
				it.Label = t.Header[i]
			}
			items = append(items, it)
		}
		if n > 0 {
			f.space(1.2)
		}
		f.need(12)
		f.grid(items, 4, bodyLeft, bodyWidth)
		f.c.rule(bodyLeft, f.y, bodyRight, f.y, 0.1, hair)
	}
}
