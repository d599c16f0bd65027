package pdf

import (
	"strings"

	"graftnote/note"
)

// section draws one headed part.
func (f *flow) section(s note.Section) {
	next := 0.0
	if len(s.Blocks) > 0 {
		next = f.lead(s.Blocks[0])
	}
	f.heading(s.Title, next)
	for i, b := range s.Blocks {
		if i > 0 {
			f.space(2)
		}
		f.blockOf(b)
	}
}

func (f *flow) blockOf(b note.Block) {
	switch {
	case b.Table != nil:
		f.table(*b.Table)
	case len(b.Events) > 0:
		for i, e := range b.Events {
			if i > 0 {
				f.space(2.5)
			}
			f.event(e, i+1, len(b.Events))
		}
	case len(b.List) > 0:
		f.list(b.List, "dash")
	case b.Quote != "":
		f.quote(b.Quote)
	case b.Paragraph != "":
		f.lines(f.c.wrap(b.Paragraph, bodyType, bodyWidth), bodyLeft, bodyType, black)
	}
}

// lead is the height of the part of a block that a heading must not leave;
// it is never less than what the block asks for at its start.
func (f *flow) lead(b note.Block) float64 {
	lh := bodyType.lineHeight()
	switch {
	case b.Table != nil:
		return f.tableLead(*b.Table)
	case len(b.Events) > 0:
		return f.eventKeep(b.Events[0], 1, len(b.Events))
	case len(b.List) > 0:
		return f.listStart(b.List, bodyWidth, bodyType)
	case b.Quote != "":
		return labelType.lineHeight() + 3*lh
	}
	return f.leadLines(b.Paragraph, bodyWidth)
}

// leadItem is the same for the first of labelled items.
func (f *flow) leadItem(items []note.Item) float64 {
	return f.measure(func(g *flow) { g.itemList(items[:1], true) })
}

// leadLines is the height of two lines, or of all when there are up to three.
func (f *flow) leadLines(text string, width float64) float64 {
	n := 2
	if len(text) < 600 {
		if n = len(f.c.wrap(text, bodyType, width)); n > 3 {
			n = 2
		}
	}
	return float64(n) * bodyType.lineHeight()
}

// quote sets the surgeon's own words apart, unchanged.
func (f *flow) quote(text string) {
	lines := f.c.wrap(strings.Trim(text, "\n"), bodyType, bodyWidth-6)
	f.need(labelType.lineHeight() + float64(min(3, len(lines)))*bodyType.lineHeight())
	f.begin(&box{x: bodyLeft, w: bodyWidth, bar: 0.7})
	f.c.text(bodyLeft+4, f.y+labelType.rise(), "In the surgeon's words", labelType, soft)
	f.y += labelType.lineHeight()
	f.lines(lines, bodyLeft+4, bodyType, black)
	f.end()
}

// list sets short lines, each behind a dash or a tick square.
func (f *flow) list(items []string, mark string) {
	f.listIn(items, mark, bodyLeft, bodyWidth, bodyType)
}

// listStart is the height of what stands together at a list's start: two
// lines of it, or all three.
func (f *flow) listStart(items []string, width float64, st style) float64 {
	n := min(len(items), 2)
	if len(items) == 3 {
		n = 3
	}
	h := 0.0
	for _, it := range items[:n] {
		h += float64(len(f.c.wrap(it, st, width-5)))*st.lineHeight() + 0.5
	}
	return min(h, f.third())
}

func (f *flow) listIn(items []string, mark string, x, width float64, st style) {
	for i, it := range items {
		lines := f.c.wrap(it, st, width-5)
		keep := float64(min(len(lines), 2)) * st.lineHeight()
		if i == 0 {
			keep = f.listStart(items, width, st)
		} else if i == len(items)-2 && len(lines) <= 3 { // the last line does not go over alone
			keep = float64(len(lines)+1)*st.lineHeight() + 0.5
		}
		f.need(keep)
		if mark == "square" {
			f.c.frame(x+0.3, f.y+st.rise()-2.3, 2.3, 2.3, 0.2, black)
		} else {
			f.c.text(x+0.5, f.y+st.rise(), "\u2013", st, black)
		}
		f.lines(lines, x+5, st, black)
		f.y += 0.5
	}
}

// itemList sets labels in one column and values in the next. With squares to
// tick, the labels are longer and get more room.
func (f *flow) itemList(items []note.Item, square bool) {
	if square {
		f.itemsIn(items, bodyLeft+5, 72, true)
	} else {
		f.itemsIn(items, bodyLeft, 46, false)
	}
}

func (f *flow) itemsIn(items []note.Item, x, label float64, square bool) {
	lh := bodyType.lineHeight()
	for _, it := range items {
		names := f.c.wrap(it.Label, bodyType, label-2)
		values := f.c.wrap(it.Value, strongType, bodyRight-x-label)
		whole := max(len(names), len(values))
		f.need(float64(min(whole, 8)) * lh)
		if square {
			f.c.frame(bodyLeft+0.3, f.y+bodyType.rise()-2.3, 2.3, 2.3, 0.2, black)
		}
		if len(names) > 8 { // a label like a paragraph: its value goes below
			f.lines(names, x, bodyType, soft)
			f.lines(values, x+label, strongType, black)
			f.y += 0.7
			continue
		}
		from, page := f.y, f.pages
		for i, l := range names {
			f.c.text(x, from+bodyType.rise()+float64(i)*lh, l, bodyType, soft)
		}
		f.lines(values, x+label, strongType, black)
		if f.pages == page {
			f.y = max(f.y, from+float64(len(names))*lh)
		}
		f.y += 0.7
	}
}

// grid sets items in columns, the label small above its value. Rows stay
// whole unless a value is very long; such a value takes the full width.
func (f *flow) grid(items []note.Item, columns int, x, width float64) {
	const gap = 4.0
	w := (width - gap*float64(columns-1)) / float64(columns)
	for len(items) > 0 {
		row := items[:min(columns, len(items))]
		cells := make([][]string, 0, columns)
		tall := 1
		for i, it := range row {
			lines := f.c.wrap(it.Value, strongType, w)
			if len(lines) > 4 {
				row = row[:i]
				break
			}
			cells = append(cells, lines)
			tall = max(tall, len(lines))
		}
		if len(row) == 0 { // a long value: on its own over the full width
			it := items[0]
			f.need(labelType.lineHeight() + 3*strongType.lineHeight())
			f.lines(f.c.wrap(it.Label, labelType, width), x, labelType, soft)
			f.lines(f.c.wrap(it.Value, bodyType, width), x, bodyType, black)
			f.y += 1
			items = items[1:]
			continue
		}
		labels := make([][]string, len(row))
		up := 1
		for i, it := range row {
			labels[i], _ = f.c.limit(it.Label, labelType, w, 3)
			up = max(up, len(labels[i]))
		}
		h := float64(up)*labelType.lineHeight() + float64(tall)*strongType.lineHeight() + 1
		f.need(h)
		for i := range row {
			cx := x + float64(i)*(w+gap)
			// Labels stand on the line above the values, whatever their height.
			y := f.y + float64(up-len(labels[i]))*labelType.lineHeight()
			for _, l := range labels[i] {
				f.c.text(cx, y+labelType.rise(), l, labelType, soft)
				y += labelType.lineHeight()
			}
			for _, l := range cells[i] {
				f.c.text(cx, y+strongType.rise(), l, strongType, black)
				y += strongType.lineHeight()
			}
		}
		f.y += h
		items = items[len(row):]
	}
}
