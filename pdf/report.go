package pdf

import (
	"io"

	"graftnote/note"
)

// RenderReport draws a report and writes the file to w. The bytes depend on the
// arguments only. Errors: ErrPaper, ErrTooLong, ErrDrawing, and those of w.
func RenderReport(w io.Writer, p note.Report, o Options) error {
	r, err := NewRenderer()
	if err != nil {
		return err
	}
	b, err := r.RenderReport(p, o)
	if err != nil {
		return err
	}
	_, err = w.Write(b)
	return err
}

// RenderReport draws a report and returns the file.
func (r *Renderer) RenderReport(p note.Report, o Options) ([]byte, error) {
	return r.render(o, func(c *canvas) { layReport(c, &p) }, func() meta {
		return newMeta(r.set, p.Name, p.Language, o)
	}, nil)
}

// layReport draws all pages, then the foot, which needs the page count.
func layReport(c *canvas, p *note.Report) {
	foot, cut := c.layFoot(p.Cautions)
	f := &flow{c: c, d: &note.Document{}, top: pageTop, bottom: pageFoot - footHeight(foot) - 3}
	f.newPage()
	f.lines(c.wrap(p.Title, titleType, bodyWidth), bodyLeft, titleType, black)
	if p.Subtitle != "" {
		f.lines(c.wrap(p.Subtitle, subType, bodyWidth), bodyLeft, subType, black)
	}
	f.y += 2
	if len(p.Facts) > 0 {
		c.rule(bodyLeft, f.y, bodyRight, f.y, 0.2, hair)
		f.y += 1.2
		f.grid(p.Facts, min(4, len(p.Facts)), bodyLeft, bodyWidth)
		c.rule(bodyLeft, f.y, bodyRight, f.y, 0.2, hair)
	}
	f.alerts(p.Alerts)
	for _, s := range p.Sections {
		f.reportSection(s)
	}
	if cut {
		f.heading("Cautions in full", f.lead(note.Block{List: p.Cautions}))
		f.list(p.Cautions, "dash")
	}
	f.space(3)
	f.need(6)
	c.rule(bodyLeft, f.y, bodyRight, f.y, 0.2, hair)
	f.y += 1.2
	f.lines(c.wrap("End of report", labelType, bodyWidth), bodyLeft, labelType, soft)
	for n := 1; n <= f.pages; n++ {
		c.f.SetPage(n)
		c.forget()
		c.footLines(foot, p.Name, n, f.pages)
	}
}

var captionType = style{bold: true, size: 8.5}

func (f *flow) reportSection(s note.ReportSection) {
	next := 0.0
	for i, b := range s.Blocks {
		next += f.reportLead(b)
		if b.Paragraph == "" || i == len(s.Blocks)-1 {
			break
		}
		// Words that introduce a table or a chart stay with its start.
		next += f.measure(func(g *flow) { g.reportBlock(b) }) - f.reportLead(b) + 2.6
	}
	f.heading(s.Title, next)
	for i, b := range s.Blocks {
		if i > 0 {
			f.space(2.6)
		}
		f.reportBlock(b)
	}
}

// reportLead is the height that a heading must not leave.
func (f *flow) reportLead(b note.ReportBlock) float64 {
	switch {
	case b.Table != nil:
		lead := captionType.lineHeight() + 1 + f.tableLead(plainTable(b.Table))
		// A table that would start a page takes its heading along.
		if whole := f.tableHeight(b.Table); whole < f.bottom-f.top {
			lead = max(lead, min(whole, f.third()))
		}
		return lead
	case b.Chart != nil:
		return f.chartHeight(b.Chart)
	case len(b.List) > 0:
		return f.listStart(b.List, bodyWidth, bodyType)
	case b.Caution != "":
		return f.measure(func(g *flow) { g.caution(b.Caution) })
	}
	return f.leadLines(b.Paragraph, bodyWidth)
}

func (f *flow) reportBlock(b note.ReportBlock) {
	switch {
	case b.Table != nil:
		f.reportTable(b.Table)
	case b.Chart != nil:
		f.chart(b.Chart)
	case len(b.List) > 0:
		f.list(b.List, "dash")
	case b.Caution != "":
		f.need(min(f.measure(func(g *flow) { g.caution(b.Caution) }), f.third()))
		f.caution(b.Caution)
	case b.Paragraph != "":
		f.lines(f.c.wrap(b.Paragraph, bodyType, bodyWidth), bodyLeft, bodyType, black)
	}
}

// caution sets a warning apart by a bar.
func (f *flow) caution(text string) {
	f.begin(&box{x: bodyLeft, w: bodyWidth, bar: 1.2})
	f.lines(f.c.wrap(text, strongType, bodyWidth-4), bodyLeft+4, strongType, black)
	f.end()
}

func plainTable(t *note.ReportTable) note.Table { return note.Table{Header: t.Header, Rows: t.Rows} }

// tableHeight is the height of a whole table with its caption.
func (f *flow) tableHeight(t *note.ReportTable) float64 {
	caption := float64(len(f.c.wrap(t.Caption, captionType, bodyWidth)))*captionType.lineHeight() + 1
	return f.measure(func(g *flow) { g.table(plainTable(t)) }) + caption
}

func (f *flow) reportTable(t *note.ReportTable) {
	plain := plainTable(t)
	lines := f.c.wrap(t.Caption, captionType, bodyWidth)
	h := float64(len(lines))*captionType.lineHeight() + 1
	// A table that fits on one page but not on this one starts a page, when that
	// leaves no large hole.
	if whole := f.tableHeight(t); whole > f.room() && whole < f.bottom-f.top && f.room() < f.third() {
		f.newPage()
	}
	f.need(h + f.tableLead(plain))
	f.lines(lines, bodyLeft, captionType, black)
	f.y += 1
	f.table(plain)
	for _, n := range t.Notes {
		f.lines(f.c.wrap(n, labelType, bodyWidth), bodyLeft, labelType, black)
	}
}
