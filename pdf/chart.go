package pdf

import (
	"math"

	"graftnote/note"
)

// chartScale is paper millimetres for one point of a chart that fits the page.
func (f *flow) chartScale(c *note.Chart) float64 {
	scale := pointMM
	if c.Width > 0 {
		scale = math.Min(scale, bodyWidth/c.Width)
	}
	if c.Height > 0 {
		scale = math.Min(scale, (f.bottom-f.top)*0.85/c.Height)
	}
	return scale
}

func (f *flow) chartHeight(c *note.Chart) float64 {
	caption := f.c.wrap(c.Caption, labelType, bodyWidth)
	return c.Height*f.chartScale(c) + 1.5 + float64(len(caption))*labelType.lineHeight()
}

// chart draws a finished drawing, kept whole with its caption below.
func (f *flow) chart(c *note.Chart) {
	f.need(f.chartHeight(c))
	scale := f.chartScale(c)
	left := bodyLeft + (bodyWidth-c.Width*scale)/2
	if !f.c.trial {
		for _, s := range c.Shapes {
			f.c.shape(s, left, f.y, scale)
		}
	}
	f.y += c.Height*scale + 1.5
	f.lines(f.c.wrap(c.Caption, labelType, bodyWidth), bodyLeft, labelType, black)
}

func (c *canvas) shape(s note.Shape, left, top, scale float64) {
	if !drawable(s) {
		return
	}
	at := func(p note.Point) (float64, float64) { return left + p.X*scale, top + p.Y*scale }
	if s.Text != "" {
		x, y := at(s.At)
		st := style{bold: s.Bold, size: s.Size * scale / pointMM}
		if s.Turn == 0 {
			c.text(x, y, s.Text, st, s.Grey)
			return
		}
		c.f.TransformBegin()
		c.f.TransformRotate(s.Turn, x, y)
		c.forget() // the turned part starts from the page's state
		c.text(x, y, s.Text, st, s.Grey)
		c.f.TransformEnd()
		c.forget()
		return
	}
	if len(s.Points) < 2 {
		return
	}
	if s.Filled {
		c.setFill(s.Grey)
	} else {
		dash := make([]float64, len(s.Dash))
		for i, d := range s.Dash {
			dash[i] = d * scale
		}
		c.setPen(s.Width*scale, s.Grey, dash...)
	}
	for i, p := range s.Points {
		x, y := at(p)
		if i == 0 {
			c.f.MoveTo(x, y)
		} else {
			c.f.LineTo(x, y)
		}
	}
	if s.Closed || s.Filled {
		c.f.ClosePath()
	}
	how := "D"
	if s.Filled {
		how = "F"
	}
	c.f.DrawPath(how)
}

// drawable refuses what a page cannot hold: a number that is none, or lies miles
// away, would spoil the whole file.
func drawable(s note.Shape) bool {
	const far = 1e5
	fine := func(v ...float64) bool {
		for _, x := range v {
			if !(math.Abs(x) < far) {
				return false
			}
		}
		return true
	}
	for _, p := range s.Points {
		if !fine(p.X, p.Y) {
			return false
		}
	}
	return fine(s.At.X, s.At.Y, s.Turn, s.Size, s.Width) && fine(s.Dash...)
}
