package report

import (
	"image"
	"image/color"
	"math"

	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/vg"

	"graftnote/note"
)

// recorder is a canvas of the plotting library that keeps what is drawn as
// shapes of a chart. The library draws from the bottom left; a chart is measured
// from the top left.
type recorder struct {
	chart *note.Chart
	now   pen
	kept  []pen
}

// pen is the state that the library may push and pop. The transformation maps
// the library's x, y to a·x+c·y+e, b·x+d·y+f.
type pen struct {
	width            float64
	dash             []float64
	grey             int
	a, b, c, d, e, f float64
}

func newRecorder(width, height float64) *recorder {
	return &recorder{chart: &note.Chart{Width: width, Height: height}, now: pen{width: 1, a: 1, d: 1}}
}

func (r *recorder) SetLineWidth(w vg.Length) { r.now.width = w.Points() }

func (r *recorder) SetLineDash(pattern []vg.Length, _ vg.Length) {
	r.now.dash = nil
	for _, l := range pattern {
		r.now.dash = append(r.now.dash, tidy(l.Points()))
	}
}

// SetColor keeps the brightness alone (ITU-R BT.601 luma, as image/color has it).
func (r *recorder) SetColor(c color.Color) {
	r.now.grey = 0
	if c != nil {
		r.now.grey = int(color.GrayModel.Convert(c).(color.Gray).Y)
	}
}

func (r *recorder) Rotate(angle float64) {
	sin, cos := math.Sincos(angle)
	p := r.now
	r.now.a, r.now.b = p.a*cos+p.c*sin, p.b*cos+p.d*sin
	r.now.c, r.now.d = p.c*cos-p.a*sin, p.d*cos-p.b*sin
}

func (r *recorder) Translate(pt vg.Point) {
	x, y := pt.X.Points(), pt.Y.Points()
	r.now.e += r.now.a*x + r.now.c*y
	r.now.f += r.now.b*x + r.now.d*y
}

func (r *recorder) Scale(x, y float64) {
	r.now.a, r.now.b = r.now.a*x, r.now.b*x
	r.now.c, r.now.d = r.now.c*y, r.now.d*y
}

func (r *recorder) Push() { r.kept = append(r.kept, r.now) }

func (r *recorder) Pop() {
	last := len(r.kept) - 1
	r.now, r.kept = r.kept[last], r.kept[:last]
}

// tidy rounds to hundredths of a point, which no print resolves; it also keeps
// the last digit of a processor's arithmetic out of the file.
func tidy(v float64) float64 { return math.Round(v*100)/100 + 0 }

func (r *recorder) point(x, y float64) note.Point {
	p := r.now
	return note.Point{X: tidy(p.a*x + p.c*y + p.e), Y: tidy(r.chart.Height - (p.b*x + p.d*y + p.f))}
}

func (r *recorder) Stroke(path vg.Path) {
	if r.now.width > 0 {
		r.add(path, false)
	}
}

func (r *recorder) Fill(path vg.Path) { r.add(path, true) }

// arcStep is the longest part of an arc drawn as a straight line, radians.
const arcStep = math.Pi / 12

func (r *recorder) add(path vg.Path, fill bool) {
	s := note.Shape{Filled: fill, Grey: r.now.grey, Width: tidy(r.now.width), Dash: r.now.dash}
	if fill {
		s.Width, s.Dash = 0, nil
	}
	flush := func() {
		if len(s.Points) > 1 {
			r.chart.Shapes = append(r.chart.Shapes, s)
		}
		s.Points, s.Closed = nil, false
	}
	var x, y float64
	to := func(px, py float64) {
		p := r.point(px, py)
		if n := len(s.Points); n == 0 || s.Points[n-1] != p {
			s.Points = append(s.Points, p)
		}
		x, y = px, py
	}
	for _, c := range path {
		px, py := c.Pos.X.Points(), c.Pos.Y.Points()
		switch c.Type {
		case vg.MoveComp:
			flush()
			to(px, py)
		case vg.LineComp:
			to(px, py)
		case vg.ArcComp:
			n := int(math.Ceil(math.Abs(c.Angle) / arcStep))
			for i := 0; i <= n; i++ {
				sin, cos := math.Sincos(c.Start + c.Angle*float64(i)/float64(max(n, 1)))
				to(px+c.Radius.Points()*cos, py+c.Radius.Points()*sin)
			}
		case vg.CurveComp:
			r.curve(c, x, y, to)
		case vg.CloseComp:
			if n := len(s.Points); n > 2 && s.Points[0] == s.Points[n-1] {
				s.Points = s.Points[:n-1]
			}
			s.Closed = true
			flush()
		}
	}
	flush()
}

// curve draws a quadratic or cubic curve as short lines.
func (r *recorder) curve(c vg.PathComp, x, y float64, to func(x, y float64)) {
	px, py := c.Pos.X.Points(), c.Pos.Y.Points()
	if len(c.Control) == 0 {
		to(px, py)
		return
	}
	first, last := c.Control[0], c.Control[len(c.Control)-1]
	x1, y1, x2, y2 := first.X.Points(), first.Y.Points(), last.X.Points(), last.Y.Points()
	if len(c.Control) == 1 { // a quadratic as the cubic of the same shape
		x1, y1 = x+(x1-x)*2/3, y+(y1-y)*2/3
		x2, y2 = px+(x2-px)*2/3, py+(y2-py)*2/3
	}
	const steps = 12
	for i := 1; i <= steps; i++ {
		t := float64(i) / steps
		u := 1 - t
		to(u*u*u*x+3*u*u*t*x1+3*u*t*t*x2+t*t*t*px, u*u*u*y+3*u*u*t*y1+3*u*t*t*y2+t*t*t*py)
	}
}

func (r *recorder) FillString(f font.Face, pt vg.Point, text string) {
	if text == "" || f.Font.Size <= 0 {
		return
	}
	r.chart.Shapes = append(r.chart.Shapes, note.Shape{Text: text, At: r.point(pt.X.Points(), pt.Y.Points()), Grey: r.now.grey,
		Turn: tidy(math.Atan2(r.now.b, r.now.a) * 180 / math.Pi), Size: f.Font.Size.Points(), Length: tidy(f.Width(text).Points()),
		Bold: f.Font.Weight > 0})
}

// DrawImage is not asked for: our charts hold lines, areas and texts.
func (r *recorder) DrawImage(vg.Rectangle, image.Image) {}
