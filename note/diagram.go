package note

import (
	"fmt"
	"math"

	"graftnote/schema"
	"graftnote/schema/quantity"
)

// biteLength is how long a stitch is drawn on each side of the graft edge, in
// millimetres. Only its place on the circle has a meaning; the legend says so.
const biteLength = 0.75

// diagram draws only what is recorded. It is nil when there is no circle to
// draw at all.
func (s *speaker) diagram() *Diagram {
	e := s.e
	d := &Diagram{}
	switch {
	case s.eyeOpen(): // noDiagram says so
		return nil
	case e.Eye.Operated.Is("right"): // seen by the surgeon: the nose is on the right of a right eye
		d.Eye, d.LeftLabel, d.RightLabel = "RIGHT EYE", "temporal", "nasal"
	case e.Eye.Operated.Is("left"):
		d.Eye, d.LeftLabel, d.RightLabel = "LEFT EYE", "nasal", "temporal"
	default:
		return nil
	}
	x, y := s.offset()
	d.Limbus = s.circle(d, e.Before.WhiteToWhite, "Limbus (white-to-white)", 0, 0)
	d.Trephination = s.circle(d, e.Trephination.HostDiameter, "Host trephination", x, y)
	if d.Limbus == nil && d.Trephination == nil {
		return nil
	}
	for i, t := range e.Tissues {
		if t.Outcome.Is("grafted") && d.Donor == nil {
			d.Donor = s.circle(d, t.Diameter, fmt.Sprintf("Donor (tissue %d)", i+1), x, y)
		}
	}
	if e.ChamberBubble.Diameter.Recorded() {
		d.Bubble = s.circle(d, e.ChamberBubble.Diameter, "Chamber bubble at its widest", 0, 0)
	}
	if e.Separation.BubbleDiameter.Recorded() {
		d.BigBubble = s.circle(d, e.Separation.BubbleDiameter, "Separation bubble", x, y)
	}
	s.marks(d)
	s.stitches(d)
	return d
}

// circle from a recorded diameter, with its line in the legend.
func (s *speaker) circle(d *Diagram, diameter schema.Answer[quantity.Quantity], name string, x, y float64) *Circle {
	if !diameter.Recorded() {
		d.NotDrawn = append(d.NotDrawn, name+": not recorded")
		return nil
	}
	d.Legend = append(d.Legend, name+" "+diameter.Text())
	return &Circle{x, y, diameter.Value().In().Float() / 2}
}

// offset of the trephination from the centre of the limbus, when both its size
// and its direction are recorded.
func (s *speaker) offset() (x, y float64) {
	t := s.e.Trephination
	if !t.Offset.Recorded() || !t.OffsetHour.Recorded() {
		return 0, 0
	}
	return at(t.OffsetHour.Value().Hours().Float(), t.Offset.Value().In().Float(), 0, 0)
}

// at is the point at a clock hour and distance from a centre, y upwards.
func at(hour, radius, x, y float64) (float64, float64) {
	a := hour / 12 * 2 * math.Pi
	return x + radius*math.Sin(a), y + radius*math.Cos(a)
}

// rim is the circle on which things without a recorded distance are drawn.
func (d *Diagram) rim() Circle {
	if d.Trephination != nil {
		return *d.Trephination
	}
	return *d.Limbus
}

func (s *speaker) marks(d *Diagram) {
	e := s.e
	mark := func(kind string, on Circle, share float64, hour quantity.ClockHour, size float64, text string) {
		m := Mark{Kind: kind, Hour: hour.Hours().Float(), Size: size, Text: text}
		m.X, m.Y = at(m.Hour, on.Radius*share, on.X, on.Y)
		d.Marks = append(d.Marks, m)
		d.Legend = append(d.Legend, text)
	}
	limbus := d.rim()
	if d.Limbus != nil {
		limbus = *d.Limbus
	}
	for _, h := range e.Paracentesis.Hours.Value() {
		mark("paracentesis", limbus, 1, h, 0, "Paracentesis, "+h.String())
	}
	if h := e.Trephination.TunnelHour; h.Recorded() {
		mark("tunnel", d.rim(), 1, h.Value(), 0, "Laser tunnel, "+h.Text())
	}
	for i, a := range e.Injections {
		if a.Hour.Recorded() {
			mark("injection", d.rim(), 1, a.Hour.Value(), 0, fmt.Sprintf("Attempt %d, %s, %s", i+1, a.Medium.Words(), a.Hour.Text()))
		}
	}
	for _, ev := range e.Events {
		kind, share := "perforation", 0.8
		switch {
		case ev.Kind.Is("trephine-entry"):
			kind, share = "trephine-entry", 1
		case !ev.Kind.Is("microperforation", "macroperforation"):
			continue
		}
		if !ev.Hour.Recorded() {
			d.NotDrawn = append(d.NotDrawn, ev.Kind.Words()+": clock hour not recorded")
			continue
		}
		size := 0.0
		text := ev.Kind.Words() + ", " + ev.Hour.Text()
		if ev.Size.Recorded() {
			size = ev.Size.Value().In().Float()
			text += ", " + ev.Size.Text()
		}
		mark(kind, d.rim(), share, ev.Hour.Value(), size, text)
	}
}

// stitches spaces every stitch and bite evenly, for their single places are not
// recorded; the legend says so.
func (s *speaker) stitches(d *Diagram) {
	su := s.e.Sutures
	rim := d.rim()
	if su.Interrupted.Recorded() {
		n := su.Interrupted.Value().Count
		for i := range n {
			d.Stitches = append(d.Stitches, radial(rim, 12*float64(i)/float64(n)))
		}
		d.Legend = append(d.Legend, fmt.Sprintf("%d interrupted stitches, drawn evenly spaced", n))
	}
	for k, r := range su.Running.Value() {
		shift := 0.5 + 0.25*float64(k) // beside the interrupted ones, and beside each other
		for i := range r.Count {
			bite := radial(rim, 12*(float64(i)+shift)/float64(r.Count))
			bite.Running, bite.Suture = true, k
			back := Stitch{X1: bite.X2, Y1: bite.Y2, Running: true, Suture: k}
			back.X2, back.Y2 = at(12*(float64(i+1)+shift)/float64(r.Count), rim.Radius-biteLength, rim.X, rim.Y)
			d.Stitches = append(d.Stitches, bite, back)
		}
		d.Legend = append(d.Legend, fmt.Sprintf("Running suture of %d bites, drawn evenly spaced", r.Count))
	}
}

func radial(rim Circle, hour float64) Stitch {
	var st Stitch
	st.X1, st.Y1 = at(hour, rim.Radius-biteLength, rim.X, rim.Y)
	st.X2, st.Y2 = at(hour, rim.Radius+biteLength, rim.X, rim.Y)
	return st
}
