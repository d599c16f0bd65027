package note

import (
	"fmt"
	"math"
	"strings"

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
	case e.Eye.Operated.Is("right"): // facing the patient, the nose is on the right of a right eye
		d.Eye, d.LeftLabel, d.RightLabel = "RIGHT EYE", "temporal", "nasal"
	case e.Eye.Operated.Is("left"):
		d.Eye, d.LeftLabel, d.RightLabel = "LEFT EYE", "nasal", "temporal"
	default:
		return nil
	}
	d.Title = s.p.words["diagram-"+e.Eye.Operated.Text()]
	x, y, centred := s.offset()
	d.Limbus = s.circle(d, e.Before.WhiteToWhite, "Limbus (white-to-white)", "", 0, 0)
	d.Trephination = s.circle(d, e.Trephination.HostDiameter, "Host trephination", centred, x, y)
	if d.Limbus == nil && d.Trephination == nil {
		return nil
	}
	for i, t := range e.Tissues {
		if t.Outcome.Is("grafted") && d.Donor == nil {
			d.Donor = s.circle(d, t.Diameter, fmt.Sprintf("Donor (tissue %d)", i+1), "", x, y)
		}
	}
	s.bubbles(d, x, y)
	s.misplaced(d)
	s.marks(d)
	s.stitches(d)
	if at, ok := e.SeatHour(); ok {
		h := at.Hours().Float()
		d.Seat = &h
		d.Legend = append(d.Legend, s.word("seat", "{hour}", at.String()))
	}
	return d
}

// circle from a recorded diameter, with its line in the legend; how says by what
// convention it was placed, "" when its place is recorded.
func (s *speaker) circle(d *Diagram, diameter schema.Answer[quantity.Quantity], name, how string, x, y float64) *Circle {
	if !diameter.Recorded() {
		d.omit(name, s.lack("", diameter))
		return nil
	}
	d.Legend = append(d.Legend, name+" "+diameter.Text()+how)
	return &Circle{x, y, diameter.Value().In().Float() / 2}
}

// omit lists what cannot be placed, with the reason.
func (d *Diagram) omit(what, why string) { d.NotDrawn = append(d.NotDrawn, what+": "+why) }

// offset of the trephination from the centre of the limbus, when both its size
// and its direction are recorded. Without them its place is recorded only where
// it was centred on the cornea itself; else how says where it is drawn.
func (s *speaker) offset() (x, y float64, how string) {
	t := s.e.Trephination
	switch {
	case t.Offset.Recorded() && t.OffsetHour.Recorded():
		x, y = at(t.OffsetHour.Value().Hours().Float(), t.Offset.Value().In().Float(), 0, 0)
	case !t.Centration.Is("geometric") || t.Offset.Recorded() || t.OffsetHour.Recorded():
		how = ", drawn on the centre of the limbus"
	}
	return x, y, how
}

// misplaced says of an offset why the circle does not show it.
func (s *speaker) misplaced(d *Diagram) {
	t := s.e.Trephination
	switch {
	case d.Trephination == nil:
	case t.Offset.Recorded() && !t.OffsetHour.Recorded() && t.Offset.Value().In().Float() > 0:
		d.omit("Offset of the trephination by "+t.Offset.Text(), s.lack("its direction", t.OffsetHour))
	case t.OffsetHour.Recorded() && !t.Offset.Recorded():
		d.omit("Offset of the trephination towards "+t.OffsetHour.Text(), s.lack("how far", t.Offset))
	}
}

// bubbles: the chamber bubble is drawn only where it is recorded to have lain in
// the centre. The separation bubble has no recorded place; its line says so.
func (s *speaker) bubbles(d *Diagram, x, y float64) {
	if c := s.e.ChamberBubble; c.Diameter.Recorded() {
		const name = "Chamber bubble at its widest"
		switch {
		case c.Position.Is("central"):
			d.Bubble = s.circle(d, c.Diameter, name, "", 0, 0)
		case c.Position.Recorded():
			d.omit(name+" "+c.Diameter.Text(), "it lay "+c.Position.Words()+", where is not recorded")
		default:
			d.omit(name+" "+c.Diameter.Text(), s.lack("its position", c.Position))
		}
	}
	if size := s.e.Separation.BubbleDiameter; size.Recorded() {
		if d.Trephination == nil {
			d.omit("Separation bubble "+size.Text(), s.lack("the trephination", s.e.Trephination.HostDiameter))
			return
		}
		d.BigBubble = s.circle(d, size, "Separation bubble", ", drawn on the centre of the trephination", x, y)
	}
}

// at is the point at a clock hour and distance from a centre, y upwards.
func at(hour, radius, x, y float64) (float64, float64) {
	a := hour / 12 * 2 * math.Pi
	return x + radius*math.Sin(a), y + radius*math.Cos(a)
}

// marks are things at a clock hour. Where only the hour is recorded, the legend
// says that the distance is not.
func (s *speaker) marks(d *Diagram) {
	e := s.e
	hourOnly := false
	mark := func(kind string, on *Circle, missing string, share float64, hour quantity.ClockHour, size float64, text string) {
		if on == nil {
			d.omit(text, missing)
			return
		}
		m := Mark{Kind: kind, Hour: hour.Hours().Float(), Size: size, Text: text}
		m.X, m.Y = at(m.Hour, on.Radius*share, on.X, on.Y)
		d.Marks = append(d.Marks, m)
		d.Legend = append(d.Legend, text)
	}
	onRim := func(kind string, share float64, hour quantity.ClockHour, size float64, text string) {
		mark(kind, d.Trephination, s.lack("the trephination", e.Trephination.HostDiameter), share, hour, size, text)
	}
	for _, h := range e.Paracentesis.Hours.Value() {
		switch text := "Paracentesis, " + h.String(); {
		case e.Paracentesis.Made.Is("yes"):
			mark("paracentesis", d.Limbus, s.lack("the limbus", e.Before.WhiteToWhite), 1, h, 0, text)
		case e.Paracentesis.Made.Recorded():
			d.omit(text, "it is recorded that none was made")
		default:
			d.omit(text, s.lack("whether it was made", e.Paracentesis.Made))
		}
	}
	if h := e.Trephination.TunnelHour; h.Recorded() {
		onRim("tunnel", 1, h.Value(), 0, "Laser tunnel, "+h.Text())
	}
	for i, a := range e.Injections {
		text := fmt.Sprintf("Attempt %d, ", i+1)
		if a.Medium.Recorded() {
			text += a.Medium.Words() + ", "
		}
		switch {
		case !a.Hour.Recorded():
			d.omit(strings.TrimSuffix(text, ", "), s.lack("clock hour", a.Hour))
		case a.Site.Recorded() && !a.Site.Is("in-groove"):
			d.omit(text+a.Hour.Text(), "entered "+a.Site.Words()+", how far out is not recorded")
		default:
			hourOnly = hourOnly || !a.Site.Recorded()
			onRim("injection", 1, a.Hour.Value(), 0, text+a.Hour.Text())
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
			d.omit(ev.Kind.Words(), s.lack("clock hour", ev.Hour))
			continue
		}
		size := 0.0
		text := ev.Kind.Words() + ", " + ev.Hour.Text()
		if ev.Size.Recorded() {
			size = ev.Size.Value().In().Float()
			text += ", " + ev.Size.Text()
		}
		hourOnly = hourOnly || kind == "perforation"
		onRim(kind, share, ev.Hour.Value(), size, text)
	}
	if hourOnly && d.Trephination != nil {
		d.Legend = append(d.Legend, "Of perforations, and of entries without a site, only the clock hour is recorded, not how far out")
	}
}

// stitches spaces every stitch and bite evenly, for their single places are not
// recorded; the legend says so.
func (s *speaker) stitches(d *Diagram) {
	su := s.e.Sutures
	rim := d.Trephination
	if su.Interrupted.Recorded() {
		n := su.Interrupted.Value().Count
		words := fmt.Sprintf("%d interrupted stitches", n)
		if rim == nil {
			d.omit(words, s.lack("the trephination", s.e.Trephination.HostDiameter))
		} else {
			for i := range n {
				d.Stitches = append(d.Stitches, radial(*rim, 12*float64(i)/float64(n)))
			}
			d.Legend = append(d.Legend, words+", drawn evenly spaced")
		}
	}
	for k, r := range su.Running.Value() {
		words := fmt.Sprintf("Running suture of %d bites", r.Count)
		if rim == nil {
			d.omit(words, s.lack("the trephination", s.e.Trephination.HostDiameter))
			continue
		}
		shift := 0.5 + 0.25*float64(k) // beside the interrupted ones, and beside each other
		for i := range r.Count {
			bite := radial(*rim, 12*(float64(i)+shift)/float64(r.Count))
			bite.Running, bite.Suture = true, k
			back := Stitch{X1: bite.X2, Y1: bite.Y2, Running: true, Suture: k}
			back.X2, back.Y2 = at(12*(float64(i+1)+shift)/float64(r.Count), rim.Radius-biteLength, rim.X, rim.Y)
			d.Stitches = append(d.Stitches, bite, back)
		}
		d.Legend = append(d.Legend, words+", drawn evenly spaced")
	}
}

func radial(rim Circle, hour float64) Stitch {
	var st Stitch
	st.X1, st.Y1 = at(hour, rim.Radius-biteLength, rim.X, rim.Y)
	st.X2, st.Y2 = at(hour, rim.Radius+biteLength, rim.X, rim.Y)
	return st
}
