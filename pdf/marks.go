package pdf

import (
	"fmt"
	"math"
	"slices"
	"sort"
	"strconv"

	"github.com/go-pdf/fpdf"

	"graftnote/note"
)

// labelMost is how many labels the ring around the eye holds; further marks
// are drawn and listed, without a label on the drawing.
const labelMost = 48

// label is one mark with its short name and the angle of that name on the
// ring, radians clockwise from 12 o'clock.
type label struct {
	mark  note.Mark
	name  string
	words string
	angle float64
	drawn bool
}

// kinds gives each kind of mark a letter; the shape is drawn by symbol.
var kinds = []struct{ kind, letter, words string }{
	{"paracentesis", "P", "paracentesis"},
	{"injection", "I", "injection entry"},
	{"perforation", "X", "perforation"},
	{"trephine-entry", "E", "trephine entry"},
	{"tunnel", "T", "tunnel"},
}

// kindOf returns the letter and words of a kind; an unknown one is named by
// its own word.
func kindOf(kind string) (letter, words string) {
	for _, k := range kinds {
		if k.kind == kind {
			return k.letter, k.words
		}
	}
	return "O", kind
}

// nameMarks numbers the marks of each kind in the order given.
func (e *eye) nameMarks() {
	count := map[string]int{}
	for _, m := range e.d.Marks {
		letter, words := kindOf(m.Kind)
		count[letter]++
		l := label{mark: m, name: letter + strconv.Itoa(count[letter]), words: words}
		if usable(m.X, m.Y) {
			l.drawn = true
			l.angle = math.Mod(math.Atan2(m.X, m.Y)+2*math.Pi, 2*math.Pi)
			e.busy = append(e.busy, l.angle*6/math.Pi)
		} else {
			e.left++
		}
		e.marks = append(e.marks, l)
	}
}

func (e *eye) drawMarks() {
	var ringed []*label
	for i := range e.marks {
		l := &e.marks[i]
		if l.drawn && len(ringed) < labelMost {
			ringed = append(ringed, l)
		}
	}
	r := e.extent + labelGap
	at := spreadAngles(ringed, 4.4/r)
	st := style{bold: true, size: 7}
	for i, l := range ringed {
		x, y := e.at(l.mark.X, l.mark.Y)
		sin, cos := math.Sincos(at[i])
		lx, ly := e.cx+r*sin, e.cy-r*cos
		if d := math.Hypot(lx-x, ly-y); d > 3.2 { // a leader, kept clear of both ends
			ux, uy := (lx-x)/d, (ly-y)/d
			e.c.rule(x+1.3*ux, y+1.3*uy, lx-1.7*ux, ly-1.7*uy, 0.12, soft)
		}
		e.c.textCentre(lx, ly+st.rise()/2, l.name, st, black)
	}
	for _, l := range e.marks {
		if l.drawn {
			x, y := e.at(l.mark.X, l.mark.Y)
			size := 0.0
			if usable(l.mark.Size) {
				size = l.mark.Size * e.scale
			}
			e.symbol(l.mark.Kind, x, y, math.Atan2(l.mark.X, l.mark.Y), size)
		}
	}
}

// spreadAngles sorts the labels by angle and moves them as little as needed
// (least squares) to stand at least gap radians apart. It returns the angles
// in the new order.
func spreadAngles(ls []*label, gap float64) []float64 {
	n := len(ls)
	at := make([]float64, n)
	if n == 0 {
		return at
	}
	sort.SliceStable(ls, func(i, j int) bool { return ls[i].angle < ls[j].angle })
	gap = min(gap, 2*math.Pi/float64(n))
	// Cut the circle where the widest free arc ends.
	cut, widest := 0, ls[0].angle+2*math.Pi-ls[n-1].angle
	for i := 1; i < n; i++ {
		if free := ls[i].angle - ls[i-1].angle; free > widest {
			cut, widest = i, free
		}
	}
	turned := slices.Concat(ls[cut:], ls[:cut])
	copy(ls, turned)
	// Less its place in line, each angle must not fall below the one before:
	// pool neighbours that do and give them their mean.
	type pool struct {
		sum   float64
		count int
	}
	var pools []pool
	for i, l := range ls {
		a := l.angle
		if i >= n-cut {
			a += 2 * math.Pi
		}
		pools = append(pools, pool{a - gap*float64(i), 1})
		for k := len(pools) - 1; k > 0 && pools[k].sum/float64(pools[k].count) < pools[k-1].sum/float64(pools[k-1].count); k-- {
			pools[k-1].sum += pools[k].sum
			pools[k-1].count += pools[k].count
			pools = pools[:k]
		}
	}
	i := 0
	for _, p := range pools {
		for range p.count {
			at[i] = p.sum/float64(p.count) + gap*float64(i)
			i++
		}
	}
	if at[n-1]-at[0] > 2*math.Pi-gap+1e-9 { // the ends met: stand evenly
		for i := range at {
			at[i] = at[0] + 2*math.Pi/float64(n)*float64(i)
		}
	}
	return at
}

// symbol draws one kind's shape at x, y; angle is its direction from the
// centre, size its length along the circumference on paper.
func (e *eye) symbol(kind string, x, y, angle, size float64) {
	c := e.c
	sin, cos := math.Sincos(angle)
	out := func(r, t float64) (float64, float64) { // r outward, t clockwise
		return x + r*sin + t*cos, y - r*cos + t*sin
	}
	if size > 0.8 {
		x1, y1 := out(0, -size/2)
		x2, y2 := out(0, size/2)
		c.rule(x1, y1, x2, y2, 0.5, black)
	}
	shape := func(style string, points ...float64) {
		var p []fpdf.PointType
		for i := 0; i < len(points); i += 2 {
			px, py := out(points[i], points[i+1])
			p = append(p, fpdf.PointType{X: px, Y: py})
		}
		c.setPen(0.25, black)
		c.setFill(map[string]int{"F": black, "FD": white}[style])
		c.f.Polygon(p, style)
	}
	switch kind {
	case "paracentesis":
		shape("F", -1.2, 0, 1, -0.9, 1, 0.9)
	case "injection":
		x1, y1 := out(0.8, 0)
		x2, y2 := out(2.2, 0)
		c.rule(x1, y1, x2, y2, 0.3, black)
		c.setFill(white)
		c.setPen(0.3, black)
		c.f.Circle(x, y, 0.8, "FD")
	case "perforation":
		for _, t := range []float64{-1, 1} {
			x1, y1 := out(-1, t)
			x2, y2 := out(1, -t)
			c.rule(x1, y1, x2, y2, 0.5, black)
		}
	case "trephine-entry":
		shape("FD", -0.8, -0.8, -0.8, 0.8, 0.8, 0.8, 0.8, -0.8)
	case "tunnel":
		t := max(size/2, 1.1)
		shape("F", -0.45, -t, -0.45, t, 0.45, t, 0.45, -t)
	default:
		shape("FD", -1.1, 0, 0, 1.1, 1.1, 0, 0, -1.1)
	}
}

// clock writes an hour as on a clock face: 10.5 is "10:30".
func clock(hour float64) string {
	if math.IsNaN(hour) || hour <= 0 || hour > 13 {
		return "\u2013"
	}
	m := int(math.Round(hour * 60))
	h := m / 60 % 12
	if h == 0 {
		h = 12
	}
	return fmt.Sprintf("%d:%02d", h, m%60)
}

// usedKinds lists the kinds on the diagram, in the table's order, unknown
// ones last.
func (e *eye) usedKinds() []string {
	var out []string
	for _, k := range kinds {
		if slices.ContainsFunc(e.marks, func(l label) bool { return l.mark.Kind == k.kind }) {
			out = append(out, k.kind)
		}
	}
	for _, l := range e.marks {
		if letter, _ := kindOf(l.mark.Kind); letter == "O" && !slices.Contains(out, l.mark.Kind) && len(out) < 10 {
			out = append(out, l.mark.Kind)
		}
	}
	return out
}
