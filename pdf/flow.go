package pdf

import (
	"errors"
	"math"

	"graftnote/note"
)

// Type sizes of the note, points.
var (
	titleType   = style{bold: true, size: 17}
	subType     = style{size: 11.5}
	headType    = style{bold: true, size: 11}
	bodyType    = style{size: 9.5}
	strongType  = style{bold: true, size: 9.5}
	labelType   = style{size: 8}
	smallType   = style{size: 7.5}
	smallStrong = style{bold: true, size: 7.5}
)

// maxPages stops an entry that would print without end.
const maxPages = 400

// ErrTooLong says that the note would fill more than 400 pages.
var ErrTooLong = errors.New("pdf: note runs past 400 pages")

// flow places blocks down the page and breaks pages.
type flow struct {
	c      *canvas
	d      *note.Document
	y      float64
	top    float64 // of the area between header and foot
	bottom float64
	start  float64 // where this page's text starts, below repeated titles
	pages  int
	open   []*box // boxes that the current place is inside, outermost first
	onTop  func() // repeats a table header or a box title on a new page
	waits  bool   // the diagram is not drawn yet
}

// box is a frame that may run over several pages.
type box struct {
	x, w  float64
	from  float64 // where its part on this page starts
	first bool    // this part is the first
	bar   float64 // width of the bar on its left, 0 for none
	frame float64 // line width of the frame, 0 for none
}

func (f *flow) newPage() {
	for _, b := range f.open {
		f.drawBox(b, f.y, false)
	}
	if f.pages++; f.pages > maxPages {
		panic(ErrTooLong)
	}
	f.c.addPage()
	f.watermark()
	f.y = f.top
	for _, b := range f.open {
		b.from, b.first = f.y, false
		f.y += 1.5
	}
	if f.onTop != nil {
		f.onTop()
	}
	f.start = f.y
}

func (f *flow) room() float64 { return f.bottom - f.y }

// atTop tells whether a page break would gain nothing.
func (f *flow) atTop() bool { return f.y < f.start+0.01 }

// need breaks the page unless h millimetres are left.
func (f *flow) need(h float64) {
	if h > f.room() && !f.atTop() {
		f.newPage()
	}
}

func (f *flow) space(h float64) {
	if !f.atTop() {
		f.y += h
	}
}

func (f *flow) begin(b *box) {
	b.from, b.first = f.y, true
	f.open = append(f.open, b)
}

func (f *flow) end() {
	b := f.open[len(f.open)-1]
	f.open = f.open[:len(f.open)-1]
	f.drawBox(b, f.y, true)
}

// drawBox draws the part of a box on this page. A side where the box goes on
// over the page break stays open.
func (f *flow) drawBox(b *box, to float64, last bool) {
	if b.bar > 0 {
		f.c.block(b.x, b.from, b.bar, to-b.from, black)
	}
	if b.frame == 0 {
		return
	}
	x2 := b.x + b.w
	f.c.rule(b.x, b.from, b.x, to, b.frame, black)
	f.c.rule(x2, b.from, x2, to, b.frame, black)
	half := b.frame / 2 // makes the corners square
	if b.first {
		f.c.rule(b.x-half, b.from, x2+half, b.from, b.frame, black)
	}
	if last {
		f.c.rule(b.x-half, to, x2+half, to, b.frame, black)
	}
}

// measure returns the height that draw would take on one endless page.
func (f *flow) measure(draw func(*flow)) float64 {
	trial := *f
	trial.bottom, trial.open, trial.onTop = math.Inf(1), nil, nil
	f.c.trial = true
	defer func() { f.c.trial = false }()
	draw(&trial)
	return trial.y - f.y
}

// third is the height up to which a part is kept whole.
func (f *flow) third() float64 { return (f.bottom - f.top) / 3 }

// lines sets text lines and avoids leaving one line alone at the foot or
// taking one line alone to the next page.
func (f *flow) lines(lines []string, x float64, st style, grey int) {
	lh := st.lineHeight()
	for len(lines) > 0 {
		n := len(lines)
		if fit := (f.room() + 0.01) / lh; fit < float64(n) {
			n = int(fit)
		}
		if n < len(lines) {
			if len(lines)-n == 1 && n > 2 {
				n--
			}
			if n < 2 && !f.atTop() {
				f.newPage()
				continue
			}
		}
		for _, l := range lines[:max(n, 1)] {
			f.c.text(x, f.y+st.rise(), l, st, grey)
			f.y += lh
		}
		lines = lines[max(n, 1):]
		if len(lines) > 0 {
			f.newPage()
		}
	}
}

// heading starts a part; next is the height that must stay with it.
func (f *flow) heading(title string, next float64) {
	lines := f.c.wrap(title, headType, bodyWidth)
	h := float64(len(lines))*headType.lineHeight() + 2.4
	if !f.atTop() {
		f.space(3.4)
	}
	f.need(h + min(next, (f.bottom-f.top)*0.6))
	for _, l := range lines {
		f.c.text(bodyLeft, f.y+headType.rise(), l, headType, black)
		f.y += headType.lineHeight()
	}
	f.c.rule(bodyLeft, f.y, bodyRight, f.y, 0.2, black)
	f.y += 1.7
}
