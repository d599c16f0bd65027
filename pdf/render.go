package pdf

import (
	"errors"
	"fmt"
	"slices"
	"time"

	"graftnote/note"
)

// Options are the facts about the file that the note does not hold.
type Options struct {
	Paper    Paper     // the zero value means A4
	Made     time.Time // creation date in the file; the zero value writes none
	Producer string    // program name in the file, "" means "graftnote"
}

// ErrDrawing says that the note could not be drawn. It names no entered text.
var ErrDrawing = errors.New("pdf: note could not be drawn")

// Renderer draws one note after another and keeps its buffers between them.
// It serves one goroutine at a time; use one for each worker.
type Renderer struct {
	set           *faceSet
	regular, bold *usage
	raw, out      buffer
	program       []byte // font file
	pack          packer
}

// NewRenderer prepares the built-in faces on first use.
func NewRenderer() (*Renderer, error) {
	set, err := loadFaces()
	if err != nil {
		return nil, err
	}
	return &Renderer{set: set, regular: newUsage(set.regular), bold: newUsage(set.bold)}, nil
}

// Render draws the note and returns the file. The bytes are the caller's and
// depend on the arguments only.
func (r *Renderer) Render(d note.Document, o Options) (file []byte, err error) {
	return r.render(o, func(c *canvas) { layNote(c, &d) }, func() meta {
		return newMeta(r.set, "Operative note "+d.ID, d.Language, o)
	}, d.Sources)
}

// render draws pages and makes the file of them.
func (r *Renderer) render(o Options, lay func(*canvas), about func() meta, sources []note.Attachment) (file []byte, err error) {
	defer func() {
		if p := recover(); p != nil {
			// The cause may quote entered text, so only its kind is passed on.
			file, err = nil, fmt.Errorf("%w (%T)", ErrDrawing, p)
			if p == ErrTooLong {
				err = ErrTooLong
			}
			r.raw, r.out, r.pack = buffer{}, buffer{}, packer{}
		}
	}()
	if o.Paper == (Paper{}) {
		o.Paper = A4
	}
	if o.Paper != A4 && o.Paper != Letter {
		return nil, ErrPaper
	}
	r.regular.reset()
	r.bold.reset()
	c := newCanvas(r.set, o.Paper, r.regular, r.bold)
	lay(c)
	r.raw.b = r.raw.b[:0]
	if err := c.f.Output(&r.raw); err != nil {
		return nil, ErrDrawing
	}
	return r.finish(about(), sources, o)
}

// layNote draws all pages, then header and foot, which need the page count.
func layNote(c *canvas, d *note.Document) {
	b := c.layBanner(d)
	f := &flow{c: c, d: d, waits: d.Diagram != nil}
	foot, footCut := c.layFoot(d.Cautions)
	f.top = pageTop + b.height + 4
	f.bottom = pageFoot - footHeight(foot) - 3
	f.newPage()
	f.firstPage(b)
	for _, s := range d.Sections {
		f.place(false)
		f.section(s)
	}
	f.place(true)
	f.closing(footCut)
	for p := 1; p <= f.pages; p++ {
		c.f.SetPage(p)
		c.forget()
		c.drawBanner(b)
		c.drawFoot(d, foot, p, f.pages)
	}
}

// place draws the waiting diagram where a page has room for it, so that it
// leaves no hole; must ends the waiting.
func (f *flow) place(must bool) {
	if f.waits && (must || f.room() > figureHeight+14) {
		f.diagram(f.d.Diagram)
	}
}

// firstPage sets what identifies and sums up the operation.
func (f *flow) firstPage(b *banner) {
	d, c := f.d, f.c
	if len(d.Signatures) > 0 {
		f.facts(append([]note.Item{{Label: "Status", Value: d.Status}}, d.Standing...))
		f.signatures(d.Signatures)
		f.alerts(d.Notices)
		f.beginSigned()
	}
	f.lines(c.wrap(d.Title, titleType, bodyWidth), bodyLeft, titleType, black)
	if d.Subtitle != "" {
		f.lines(c.wrap(d.Subtitle, subType, bodyWidth), bodyLeft, subType, black)
	}
	f.y += 2
	if len(d.Signatures) > 0 {
		f.facts(d.Timeline)
	} else {
		f.facts(slices.Concat([]note.Item{{Label: "Status", Value: d.Status}}, d.Timeline, d.Standing))
	}
	f.alerts(d.Alerts)
	if len(b.cut) > 0 {
		f.heading("In full, as cut in the page's header and foot", f.leadItem(b.cut))
		f.itemList(b.cut, false)
	}
	if d.Draft && len(d.Gaps) > 0 {
		f.heading("Before this note can be signed", f.lead(note.Block{List: d.Gaps}))
		f.list(d.Gaps, "square")
	}
	if len(d.Brief) > 0 {
		f.heading("In brief", f.leadItem(d.Brief))
		f.itemList(d.Brief, false)
	}
}

// facts sets labelled facts side by side between two rules.
func (f *flow) facts(items []note.Item) {
	items = slices.DeleteFunc(items, func(i note.Item) bool { return i.Value == "" })
	if len(items) == 0 {
		return
	}
	f.c.rule(bodyLeft, f.y, bodyRight, f.y, 0.2, hair)
	f.y += 1.2
	f.grid(items, min(4, len(items)), bodyLeft, bodyWidth)
	f.c.rule(bodyLeft, f.y, bodyRight, f.y, 0.2, hair)
}

// closing sets what belongs to the whole note.
func (f *flow) closing(footCut bool) {
	d := f.d
	if len(d.Unconfirmed) > 0 {
		f.heading("From the standing technique, not yet confirmed", f.leadItem(d.Unconfirmed))
		f.itemList(d.Unconfirmed, true)
	}
	f.confirmations()
	if footCut {
		f.heading("Cautions in full", f.lead(note.Block{List: d.Cautions}))
		f.list(d.Cautions, "dash")
	}
	f.endSigned()
	f.laterSignatures(d.Signatures)
	f.revisions(d.Revisions)
	if len(d.Sources) > 0 {
		t := note.Table{Header: []string{"File", "Content", "Bytes", "SHA-256"}}
		for _, s := range d.Sources {
			t.Rows = append(t.Rows, []string{s.Name, s.Description, fmt.Sprint(len(s.Data)), digest(s.Data)})
		}
		f.heading("Files carried inside this PDF", f.tableLead(t))
		f.table(t)
	}
	f.checkpoint()
	f.space(3)
	f.need(6)
	st := labelType
	f.c.rule(bodyLeft, f.y, bodyRight, f.y, 0.2, hair)
	f.y += 1.2
	end := "End of note " + d.ID
	if d.Status != "" {
		end += ". " + d.Status
	}
	f.lines(f.c.wrap(end, st, bodyWidth), bodyLeft, st, soft)
}
