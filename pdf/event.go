package pdf

import (
	"fmt"

	"graftnote/note"
)

// eventLead keeps a long event's title with its first facts.
const eventLead = 24.0

// eventKeep is the height that must be free for an event to start: all of it
// when it is short.
func (f *flow) eventKeep(e note.Event, n, of int) float64 {
	if h := f.measure(func(g *flow) { g.drawEvent(e, n, of) }); h <= f.third() {
		return h
	}
	return eventLead
}

const (
	eventBar = 1.4
	eventPad = 2.6
)

// event draws something that went other than planned in a box of its own.
// The box may run on; each further page repeats the title.
func (f *flow) event(e note.Event, n, of int) {
	f.need(f.eventKeep(e, n, of))
	f.drawEvent(e, n, of)
}

func (f *flow) drawEvent(e note.Event, n, of int) {
	f.begin(&box{x: bodyLeft, w: bodyWidth, bar: eventBar, frame: 0.3})
	outer := f.onTop
	x, width := bodyLeft+eventBar+eventPad, bodyWidth-eventBar-2*eventPad
	title := func(more string) {
		count := fmt.Sprintf("%d of %d", n, of)
		room := width
		if of > 1 {
			room -= 20
			f.c.textRight(bodyRight-eventPad, f.y+headType.rise(), count, labelType, soft)
		}
		st := style{bold: true, size: 10}
		lines, _ := f.c.limit(e.Title+more, st, room, 3)
		if more == "" {
			lines = f.c.wrap(e.Title, st, room)
		}
		for _, l := range lines {
			if f.room() < st.lineHeight() && more == "" {
				f.newPage()
			}
			f.c.text(x, f.y+st.rise(), l, st, black)
			f.y += st.lineHeight()
		}
		f.y += 1
	}
	f.y += 2
	title("")
	f.onTop = func() { title(" (continued)") }
	f.grid(e.Facts, 3, x, width)
	if e.Text != "" {
		f.lines(f.c.wrap(e.Text, bodyType, width), x, bodyType, black)
		f.y += 1
	}
	f.y += 0.8
	f.onTop = outer
	f.end()
}

// alerts draws what a reader must see first.
func (f *flow) alerts(lines []string) {
	if len(lines) == 0 {
		return
	}
	f.space(2.5)
	// Its first line never stands on another page than its heading.
	f.need(14 + f.listStart(lines[:1], bodyWidth-7, bodyType))
	f.begin(&box{x: bodyLeft, w: bodyWidth, frame: 0.9})
	f.y += 2.2
	st := style{bold: true, size: 10}
	f.c.text(bodyLeft+3.5, f.y+st.rise(), "READ FIRST", st, black)
	f.y += st.lineHeight() + 0.6
	f.listIn(lines, "dash", bodyLeft+3.5, bodyWidth-7, bodyType)
	f.y += 1.2
	f.end()
}
