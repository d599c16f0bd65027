package pdf

import (
	"cmp"
	"fmt"
	"math"

	"graftnote/note"
)

// The drawing's parts on paper, millimetres.
const (
	figureWidth  = 108.0 // drawing; the key stands to its right
	figureHeight = 98.0
	reach        = 32.0 // most distance of a drawn thing from the centre
	labelGap     = 3.4  // from the outermost thing to the ring of labels
	eyeLimit     = 15.0 // millimetres of eye; anything further out is not drawn
)

// ring is how one circle of the eye is drawn.
type ring struct {
	letter, words string
	pen           float64
	grey          int
	dash          []float64
	of            func(*note.Diagram) *note.Circle
}

// rings differ by letter and line, never by grey alone.
var rings = []ring{
	{"L", "limbus", 0.7, hair - 50, nil, func(d *note.Diagram) *note.Circle { return d.Limbus }},
	{"H", "host trephination", 0.45, black, nil, func(d *note.Diagram) *note.Circle { return d.Trephination }},
	{"D", "donor", 0.3, black, []float64{2, 1.2}, func(d *note.Diagram) *note.Circle { return d.Donor }},
	{"S", "separation bubble", 0.35, black, []float64{0.35, 0.9}, func(d *note.Diagram) *note.Circle { return d.BigBubble }},
	{"B", "chamber bubble", 0.25, black, []float64{3, 0.8, 0.5, 0.8}, func(d *note.Diagram) *note.Circle { return d.Bubble }},
}

// eye is a diagram being drawn.
type eye struct {
	f      *flow
	c      *canvas
	d      *note.Diagram
	scale  float64 // paper millimetres for one of the eye
	cx, cy float64
	extent float64 // of the drawn things, paper millimetres
	busy   []float64
	marks  []label
	left   int // things out of range
}

func usable(v ...float64) bool {
	for _, x := range v {
		if math.IsNaN(x) || math.Abs(x) > eyeLimit {
			return false
		}
	}
	return true
}

func (e *eye) at(x, y float64) (float64, float64) { return e.cx + x*e.scale, e.cy - y*e.scale }

// measure sets the scale so that everything fits: a whole or half number of
// paper millimetres for one of the eye.
func (e *eye) measure() {
	far := 5.0
	for _, r := range rings {
		if c := r.of(e.d); c != nil && usable(c.X, c.Y, c.Radius) {
			far = max(far, math.Hypot(c.X, c.Y)+math.Abs(c.Radius))
		}
	}
	for _, m := range e.d.Marks {
		if usable(m.X, m.Y) {
			far = max(far, math.Hypot(m.X, m.Y)+0.3)
		}
	}
	for _, s := range e.d.Stitches {
		if usable(s.X1, s.Y1, s.X2, s.Y2) {
			far = max(far, math.Hypot(s.X1, s.Y1), math.Hypot(s.X2, s.Y2))
		}
	}
	e.scale = math.Floor(2*reach/far) / 2
	e.extent = far * e.scale
}

// diagram draws the eye, its key and its lists.
func (f *flow) diagram(d *note.Diagram) {
	f.waits = false
	e := &eye{f: f, c: f.c, d: d}
	e.measure()
	e.nameMarks()
	f.heading(cmp.Or(d.Title, d.Eye), figureHeight)
	top := f.y
	e.cx, e.cy = bodyLeft+figureWidth/2, top+figureHeight/2-3
	e.dial()
	e.drawRings()
	e.drawStitches()
	e.ringLetters()
	e.drawMarks()
	e.scaleBar(bodyLeft+2, top+figureHeight-2)
	rest := e.key(bodyLeft+figureWidth+4, top)
	f.y = top + figureHeight + 1
	e.below(rest)
}

// dial draws the clock face around the eye and the directions.
func (e *eye) dial() {
	c, r := e.c, e.extent+labelGap+3
	c.circle(e.cx, e.cy, r, 0.15, hair)
	for h := 1; h <= 12; h++ {
		sin, cos := math.Sincos(float64(h) * math.Pi / 6)
		long := 1.0
		if h%3 == 0 {
			long = 2
		}
		c.rule(e.cx+r*sin, e.cy-r*cos, e.cx+(r+long)*sin, e.cy-(r+long)*cos, 0.25, black)
	}
	e.seat(r)
	hour := style{bold: true, size: 10}
	word := style{size: 9}
	out := r + 2.6
	c.textCentre(e.cx, e.cy-out, "12", hour, black)
	c.textCentre(e.cx, e.cy-out-3.8, "superior", word, black)
	c.textCentre(e.cx, e.cy+out+hour.rise(), "6", hour, black)
	c.textCentre(e.cx, e.cy+out+hour.rise()+3.7, "inferior", word, black)
	c.text(e.cx+out, e.cy+hour.rise()/2, "3", hour, black)
	c.textRight(e.cx-out, e.cy+hour.rise()/2, "9", hour, black)
	edge := figureWidth/2 - out
	right := c.fit(e.d.RightLabel, word, edge, 5)
	c.text(e.cx+out, e.cy+hour.rise()/2+4, e.d.RightLabel, right, black)
	left := c.fit(e.d.LeftLabel, word, edge, 5)
	c.textRight(e.cx-out, e.cy+hour.rise()/2+4, e.d.LeftLabel, left, black)
	st := c.fit(e.d.Eye, style{bold: true, size: 10}, 40, 5)
	c.text(bodyLeft, e.cy-figureHeight/2+6, e.d.Eye, st, black)
	c.rule(e.cx-1, e.cy, e.cx+1, e.cy, 0.15, black)
	c.rule(e.cx, e.cy-1, e.cx, e.cy+1, 0.15, black)
}

// seat thickens the clock face where the surgeon sat: half an hour to each side.
func (e *eye) seat(r float64) {
	if e.d.Seat == nil || !usable(*e.d.Seat) {
		return
	}
	const steps = 12
	x, y := 0.0, 0.0
	for i := range steps + 1 {
		sin, cos := math.Sincos((*e.d.Seat + float64(i)/steps - 0.5) * math.Pi / 6)
		nx, ny := e.cx+r*sin, e.cy-r*cos
		if i > 0 {
			e.c.rule(x, y, nx, ny, 1, black)
		}
		x, y = nx, ny
	}
}

func (e *eye) drawRings() {
	for _, r := range rings {
		c := r.of(e.d)
		if c == nil {
			continue
		}
		if !usable(c.X, c.Y, c.Radius) || c.Radius <= 0 {
			e.left++
			continue
		}
		x, y := e.at(c.X, c.Y)
		e.c.circle(x, y, c.Radius*e.scale, r.pen, r.grey, r.dash...)
	}
}

// ringLetters puts each circle's letter on its line, away from stitches.
func (e *eye) ringLetters() {
	st := style{bold: true, size: 8}
	for i, r := range rings {
		c := r.of(e.d)
		if c == nil || !usable(c.X, c.Y, c.Radius) || c.Radius <= 0 {
			continue
		}
		hour := e.freeHour(1.4 + 2.4*float64(i))
		e.busy = append(e.busy, hour)
		sin, cos := math.Sincos(hour * math.Pi / 6)
		x, y := e.at(c.X+c.Radius*sin, c.Y+c.Radius*cos)
		w := e.c.set.width(r.letter, st) + 0.8
		e.c.block(x-w/2, y-1.5, w, 3, white)
		e.c.textCentre(x, y+st.rise()/2, r.letter, st, black)
	}
}

// freeHour returns the clock hour near wish that lies furthest from stitches
// and marks.
func (e *eye) freeHour(wish float64) float64 {
	best, far := wish, -1.0
	for step := range 25 {
		h := wish + float64(step-12)*0.1
		gap := 6.0
		for _, b := range e.busy {
			d := math.Abs(math.Mod(h-b+18, 12) - 6)
			gap = min(gap, d)
		}
		if gap = min(gap, 0.5); gap > far+1e-9 {
			best, far = h, gap
		}
	}
	return best
}

func (e *eye) drawStitches() {
	for _, s := range e.d.Stitches {
		if !usable(s.X1, s.Y1, s.X2, s.Y2) {
			e.left++
			continue
		}
		x1, y1 := e.at(s.X1, s.Y1)
		x2, y2 := e.at(s.X2, s.Y2)
		e.busy = append(e.busy, math.Mod(math.Atan2(s.X1+s.X2, s.Y1+s.Y2)*6/math.Pi+12, 12))
		e.stitch(x1, y1, x2, y2, s.Running, s.Suture)
	}
}

// stitch draws an interrupted stitch as a bar, a running bite as a thin line
// between two dots; a second running suture has rings in place of dots.
func (e *eye) stitch(x1, y1, x2, y2 float64, running bool, suture int) {
	if !running {
		e.c.rule(x1, y1, x2, y2, 0.55, black)
		return
	}
	e.c.rule(x1, y1, x2, y2, 0.22, black)
	for _, p := range [][2]float64{{x1, y1}, {x2, y2}} {
		if suture%2 == 0 {
			e.c.setFill(black)
			e.c.f.Circle(p[0], p[1], 0.38, "F")
		} else {
			e.c.setFill(white)
			e.c.setPen(0.2, black)
			e.c.f.Circle(p[0], p[1], 0.42, "FD")
		}
	}
}

// scaleBar draws five millimetres of eye with a tick at each.
func (e *eye) scaleBar(x, y float64) {
	w := 5 * e.scale
	e.c.rule(x, y, x+w, y, 0.35, black)
	for i := range 6 {
		t := x + float64(i)*e.scale
		long := 1.2
		if i == 0 || i == 5 {
			long = 2
		}
		e.c.rule(t, y, t, y-long, 0.25, black)
	}
	e.c.text(x+w+2, y, fmt.Sprintf("5 mm of eye; %g to 1 when printed at actual size", e.scale), smallType, black)
}
