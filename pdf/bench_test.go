package pdf

import (
	"bytes"
	"testing"

	"github.com/go-fonts/liberation/liberationsansbold"
	"github.com/go-fonts/liberation/liberationsansregular"
	"github.com/go-pdf/fpdf"

	"graftnote/note"
)

// twoPages is an ordinary note that fills two pages.
func twoPages() note.Document {
	d := simple()
	d.Sections = d.Sections[:5]
	return d
}

// BenchmarkRender draws two-page notes on all processors, one Renderer each.
func BenchmarkRender(b *testing.B) {
	d := twoPages()
	b.ReportAllocs()
	b.RunParallel(func(p *testing.PB) {
		r, err := NewRenderer()
		if err != nil {
			b.Error(err)
			return
		}
		for p.Next() {
			if _, err := r.Render(d, Options{Made: made}); err != nil {
				b.Error(err)
				return
			}
		}
	})
	b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "notes/s")
}

// BenchmarkRenderSigned draws the same note signed, with checkpoint and code.
func BenchmarkRenderSigned(b *testing.B) {
	d := signed()
	d.Sections = d.Sections[:5]
	r, err := NewRenderer()
	if err != nil {
		b.Fatal(err)
	}
	b.ReportAllocs()
	for b.Loop() {
		if _, err := r.Render(d, Options{Made: made}); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkAttachments reads the files of a signed note back.
func BenchmarkAttachments(b *testing.B) {
	var file bytes.Buffer
	if err := Render(&file, revised(), Options{Made: made}); err != nil {
		b.Fatal(err)
	}
	b.SetBytes(int64(file.Len()))
	for b.Loop() {
		if _, err := Attachments(file.Bytes()); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkPlainFpdfFullFonts is what the page library does by itself: the
// same words, two whole font files added to every document, no diagram.
func BenchmarkPlainFpdfFullFonts(b *testing.B) {
	words := allText(twoPages())
	b.ReportAllocs()
	b.RunParallel(func(p *testing.PB) {
		for p.Next() {
			f := fpdf.New("P", "mm", "A4", "")
			f.AddUTF8FontFromBytes("sans", "", liberationsansregular.TTF)
			f.AddUTF8FontFromBytes("sans", "B", liberationsansbold.TTF)
			f.AddPage()
			for i, w := range words {
				style := ""
				if i%3 == 0 {
					style = "B"
				}
				f.SetFont("sans", style, 9.5)
				f.MultiCell(0, 4.4, w, "", "L", false)
			}
			var out bytes.Buffer
			if err := f.Output(&out); err != nil {
				b.Error(err)
				return
			}
		}
	})
	b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "notes/s")
}

// allText lists the words of a note in order.
func allText(d note.Document) []string {
	out := []string{d.Banner.Patient, d.Banner.PatientID, d.Banner.Eye, d.Title, d.Subtitle, d.Status}
	for _, it := range append(append([]note.Item(nil), d.Timeline...), d.Brief...) {
		out = append(out, it.Label, it.Value)
	}
	out = append(append(out, d.Alerts...), d.Cautions...)
	for _, s := range d.Sections {
		out = append(out, s.Title)
		for _, bl := range s.Blocks {
			out = append(out, bl.Paragraph, bl.Quote)
			out = append(out, bl.List...)
			if bl.Table != nil {
				out = append(out, bl.Table.Header...)
				for _, r := range bl.Table.Rows {
					out = append(out, r...)
				}
			}
			for _, e := range bl.Events {
				out = append(out, e.Title, e.Text)
				for _, it := range e.Facts {
					out = append(out, it.Label, it.Value)
				}
			}
		}
	}
	if d.Diagram != nil {
		out = append(append(out, d.Diagram.Legend...), d.Diagram.NotDrawn...)
	}
	for _, s := range d.Signatures {
		out = append(out, s.Name, s.Role, s.Meaning, s.When(), s.Key)
	}
	for _, it := range append(append([]note.Item(nil), d.Answers...), d.Confirmed...) {
		out = append(out, it.Label, it.Value)
	}
	for _, r := range d.Revisions {
		out = append(out, r.Kind, r.Who, r.When(), r.Why, r.Text, r.EventWhen())
		for _, c := range r.Changes {
			out = append(out, c.Label, c.Old, c.New)
		}
	}
	out = append(append(out, d.Checkpoint...), d.Code)
	kept := out[:0]
	for _, s := range out {
		if s != "" {
			kept = append(kept, s)
		}
	}
	return kept
}
