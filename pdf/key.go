package pdf

import (
	"fmt"
	"strconv"
	"strings"

	"graftnote/note"
)

// keyRow is one line beside the drawing.
type keyRow struct {
	sample func(x, y float64) // draws the sign, nil for plain text
	name   string             // its letter
	text   string
}

var keyType = style{size: 8}

// key draws what the signs mean and as many of the lists as fit beside the
// drawing. It returns the lists that did not fit.
func (e *eye) key(x, y float64) (rest []list) {
	width := bodyRight - x
	floor := y + figureHeight + 1
	for _, r := range e.keyRows() {
		lines, _ := e.c.limit(r.text, keyType, width-14, 2)
		h := float64(len(lines))*keyType.lineHeight() + 0.3
		if y+h > floor {
			break
		}
		r.sample(x, y+keyType.lineHeight()/2-0.3)
		e.c.text(x+10, y+keyType.rise(), r.name, style{bold: true, size: keyType.size}, black)
		for i, l := range lines {
			e.c.text(x+14, y+keyType.rise()+float64(i)*keyType.lineHeight(), l, keyType, black)
		}
		y += h
	}
	for i, l := range e.lists() {
		if len(l.lines) == 0 {
			continue
		}
		var rows [][]string
		h := 2 + keyType.lineHeight()
		for _, s := range l.lines {
			w := e.c.wrap(s, keyType, width-2.5)
			rows = append(rows, w)
			h += float64(len(w)) * keyType.lineHeight()
		}
		if y+h > floor {
			rest = append(rest, e.lists()[i])
			continue
		}
		y += 2
		e.c.text(x, y+keyType.rise(), l.title, style{bold: true, size: keyType.size}, black)
		y += keyType.lineHeight()
		for _, row := range rows {
			for j, s := range row {
				in := 0.0
				if j > 0 {
					in = 2.5
				}
				e.c.text(x+in, y+keyType.rise(), s, keyType, black)
				y += keyType.lineHeight()
			}
		}
	}
	return rest
}

// list is a titled list beside or below the drawing.
type list struct {
	title string
	lines []string
	marks bool
}

func (e *eye) lists() []list {
	var marks []string
	said := map[string]bool{}
	for _, l := range e.marks {
		said[l.mark.Text] = true
		s := l.name + "  " + l.mark.Text
		if hour := clock(l.mark.Hour); !strings.Contains(l.mark.Text, hour) && !strings.Contains(l.mark.Text, strings.TrimSuffix(hour, ":00")+" o'clock") {
			s = strings.TrimSuffix(l.name+"  "+hour+", "+l.mark.Text, ", ")
		}
		marks = append(marks, s)
	}
	var measures []string // a line that a mark already says is not said twice
	for _, s := range e.d.Legend {
		if !said[s] {
			measures = append(measures, s)
		}
	}
	not := append([]string(nil), e.d.NotDrawn...)
	if e.left > 0 {
		not = append(not, fmt.Sprintf("%d out of range for an eye", e.left))
	}
	drawn := 0
	for _, l := range e.marks {
		if l.drawn {
			drawn++
		}
	}
	if n := drawn - labelMost; n > 0 {
		not = append(not, fmt.Sprintf("the labels of %d marks, for want of room", n))
	}
	return []list{{title: "Measures", lines: measures}, {title: "Not drawn", lines: not},
		{title: "Marks, with clock hour", lines: marks, marks: true}}
}

// below sets the lists that found no room beside the drawing.
func (e *eye) below(rest []list) {
	for _, l := range rest {
		e.f.space(1)
		e.f.need(4 * bodyType.lineHeight())
		e.c.text(bodyLeft, e.f.y+strongType.rise(), l.title, strongType, black)
		e.f.y += strongType.lineHeight() + 0.5
		if !l.marks {
			e.f.list(l.lines, "dash")
			continue
		}
		// Two marks to a row, read across, so that the table may break anywhere.
		t := note.Table{Header: []string{"Mark", "Detail", "Mark", "Detail"}}
		for i, s := range l.lines {
			name, detail, _ := strings.Cut(s, "  ")
			if i%2 == 0 {
				t.Rows = append(t.Rows, nil)
			}
			t.Rows[i/2] = append(t.Rows[i/2], name, detail)
		}
		e.f.table(t)
	}
}

func (e *eye) keyRows() []keyRow {
	var rows []keyRow
	for _, r := range rings {
		if r.of(e.d) == nil {
			continue
		}
		rows = append(rows, keyRow{name: r.letter, text: r.words, sample: func(x, y float64) {
			e.c.rule(x, y, x+8, y, r.pen, r.grey, r.dash...)
		}})
	}
	count := map[int]int{} // -1 interrupted, else by running suture
	order := []int{}
	for _, s := range e.d.Stitches {
		k := -1
		if s.Running {
			k = s.Suture
		}
		if count[k] == 0 {
			order = append(order, k)
		}
		count[k]++
	}
	for _, k := range order[:min(len(order), 4)] {
		words := strconv.Itoa(count[k]) + " interrupted stitches"
		if k >= 0 {
			words = "running suture " + strconv.Itoa(k+1)
		} else if count[k] == 1 {
			words = "1 interrupted stitch"
		}
		rows = append(rows, keyRow{text: words, sample: func(x, y float64) {
			e.stitch(x+1, y, x+7, y, k >= 0, k)
		}})
	}
	for _, kind := range e.usedKinds() {
		letter, words := kindOf(kind)
		rows = append(rows, keyRow{name: letter, text: words, sample: func(x, y float64) {
			e.symbol(kind, x+4, y, 0, 0)
		}})
	}
	return append(rows, keyRow{text: "centre of the limbus", sample: func(x, y float64) {
		e.c.rule(x+3, y, x+5, y, 0.15, black)
		e.c.rule(x+4, y-1, x+4, y+1, 0.15, black)
	}})
}
