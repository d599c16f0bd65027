package pdf

import (
	"fmt"

	"graftnote/note"
)

const (
	revisionIndent = 9.0  // of everything but the number
	revisionLabel  = 20.0 // width of "Reason" and its like
	revisionLead   = 26.0 // a long revision's start that stays together
)

// Silence before or after a change. "Not recorded" would be the surgeon's own
// answer, with a reason.
const (
	stoodNothing  = "nothing stood here"
	standsNothing = "nothing stands here"
)

var changeType = style{size: 8.5}

// revisionLine is the banner's word on a note with more than one revision.
func revisionLine(rs []note.Revision) string {
	if len(rs) < 2 {
		return ""
	}
	return fmt.Sprintf("Revision %d of %d, see Revisions", rs[len(rs)-1].Number, len(rs))
}

// revisions lists every act on the note, the first one first, so that a
// reader sees what stood before each change.
func (f *flow) revisions(rs []note.Revision) {
	if len(rs) == 0 {
		return
	}
	for i, r := range rs {
		keep := f.measure(func(g *flow) { g.revision(r) })
		if keep > f.third() {
			keep = revisionLead
		}
		if i == 0 {
			f.heading("Revisions", keep)
		} else {
			f.space(1.8)
			if f.need(keep + 1.6); !f.atTop() {
				f.c.rule(bodyLeft, f.y, bodyRight, f.y, 0.1, hair)
				f.y += 1.6
			}
		}
		f.revision(r)
	}
}

func (f *flow) revision(r note.Revision) {
	const timeWidth = 92.0
	x, width := bodyLeft+revisionIndent, bodyWidth-revisionIndent
	kind := f.c.wrap(known(r.Kind, "Kind "+unknown), strongType, width-timeWidth-4)
	when := f.c.wrap(r.When(), bodyType, timeWidth)
	lh := bodyType.lineHeight()
	f.c.text(bodyLeft, f.y+strongType.rise(), fmt.Sprint(r.Number), strongType, black)
	if len(kind) > 8 || len(when) > 8 { // no words of ours are that long
		f.lines(kind, x, strongType, black)
		f.lines(when, x, bodyType, black)
	} else {
		for i, l := range kind {
			f.c.text(x, f.y+strongType.rise()+float64(i)*lh, l, strongType, black)
		}
		for i, l := range when {
			f.c.textRight(bodyRight, f.y+bodyType.rise()+float64(i)*lh, l, bodyType, black)
		}
		f.y += float64(max(len(kind), len(when))) * lh
	}
	outer := f.onTop
	f.onTop = func() {
		f.c.text(bodyLeft, f.y+strongType.rise(), fmt.Sprintf("%d (continued)", r.Number), strongType, black)
		f.y += lh + 0.5
	}
	var items []note.Item
	for _, it := range []note.Item{{Label: "By", Value: known(r.Who, unknown)}, {Label: "Reason", Value: r.Why}, {Label: "Happened", Value: r.EventWhen()}} {
		if it.Value != "" {
			items = append(items, it)
		}
	}
	for _, it := range items {
		lines := f.c.wrap(it.Value, bodyType, width-revisionLabel)
		f.need(float64(min(len(lines), 2)) * lh)
		f.c.text(x, f.y+bodyType.rise(), it.Label, bodyType, soft)
		f.lines(lines, x+revisionLabel, bodyType, black)
	}
	if r.Text != "" {
		f.y += 0.8
		f.begin(&box{x: x, w: width, bar: 0.7})
		f.lines(f.c.wrap(r.Text, bodyType, width-4), x+4, bodyType, black)
		f.end()
	}
	if len(r.Changes) > 0 {
		f.y += 0.6
		f.changes(r.Changes)
	}
	f.onTop = outer
}

// changes sets field by field what stood before and what stands now, always
// in the same columns, so that the eye can run down several revisions.
func (f *flow) changes(cs []note.Change) {
	t := note.Table{Header: []string{"Field", "Before", "Now"}}
	for _, c := range cs {
		t.Rows = append(t.Rows, []string{c.Label, known(c.Old, stoodNothing), known(c.New, standsNothing)})
	}
	sh := &sheet{st: changeType, left: revisionIndent, right: make([]bool, 3)}
	rest := (bodyWidth - revisionIndent) / 10
	sh.widths = []float64{3.4 * rest, 3.3 * rest, 3.3 * rest}
	bold := *sh
	bold.st.bold = true
	sh.head = f.cells(&bold, t.Header)
	f.drawSheet(sh, t)
}
