package note

import (
	"fmt"
	"slices"
	"strings"
	"unicode/utf8"
)

// textWidth is the line length of the plain form, in characters.
const textWidth = 78

// Text writes the note as plain text: for a terminal, for golden tests and for
// whoever has no PDF reader. It has the same words as the pages.
func (d Document) Text() string {
	var b strings.Builder
	line := func(s string) { b.WriteString(wrap(s, textWidth, "") + "\n") }
	line(strings.ToUpper(d.Title) + "  " + d.Subtitle)
	line(d.Status)
	b.WriteString("\n")
	for _, i := range d.Banner.items() {
		line(i.Label + ": " + i.Value)
	}
	for _, i := range append(slices.Clone(d.Timeline), d.Standing...) {
		line(i.Label + ": " + i.Value)
	}
	line("Case: " + d.ID)
	for _, a := range slices.Concat(d.Notices, d.Alerts) {
		line("! " + a)
	}
	list := func(title string, lines []string) {
		if len(lines) == 0 {
			return
		}
		b.WriteString("\n" + strings.ToUpper(title) + "\n")
		for _, l := range lines {
			b.WriteString("- " + wrap(l, textWidth-2, "  ") + "\n")
		}
	}
	list("Stands in the way of signing", d.Gaps)
	whole := d.Words != nil // it is put before a signer, who sees all that is signed
	if whole {
		list("In brief", lines(d.Brief))
	}
	for _, s := range d.Sections {
		b.WriteString("\n" + strings.ToUpper(s.Title) + "\n")
		for _, block := range s.Blocks {
			b.WriteString(block.text())
		}
	}
	if g := d.Diagram; g != nil && whole {
		list("Drawn to scale", g.Legend)
		list("Not drawn", g.NotDrawn)
	}
	list("From the standing technique, unconfirmed", lines(d.Unconfirmed))
	list("From the standing technique, confirmed by the signature", lines(d.Confirmed))
	list("Looked at again, with the signer's reason", lines(d.Answers))
	b.WriteString("\n")
	for _, c := range d.Cautions {
		line(c)
	}
	return b.String()
}

// lines are items on a line each; one without a value, as an answer before it is
// given, is left out.
func lines(items []Item) []string {
	var out []string
	for _, i := range items {
		if i.Value != "" {
			out = append(out, i.Label+": "+i.Value)
		}
	}
	return out
}

func (b Banner) items() []Item {
	all := []Item{{"Eye", b.Eye}, {"Patient", b.Patient}, {"In Latin letters", b.LatinName}, {"Hospital number", b.PatientID},
		{"Second identifier", b.SecondID}, {"Born", b.Born}, {"Site", b.Site}, {"Surgeon", b.Surgeon}}
	var out []Item
	for _, i := range all {
		if i.Value != "" {
			out = append(out, i)
		}
	}
	return out
}

func (b Block) text() string {
	var out strings.Builder
	switch {
	case b.Paragraph != "":
		out.WriteString(wrap(b.Paragraph, textWidth, "") + "\n")
	case b.Quote != "":
		for _, l := range strings.Split(b.Quote, "\n") {
			out.WriteString("> " + wrap(l, textWidth-2, "> ") + "\n")
		}
	case b.Table != nil:
		for _, row := range b.Table.Rows {
			var cells []string
			for i, c := range row {
				if c == "" {
					continue
				}
				if i > 0 && b.Table.Header[i] != "" && len(b.Table.Header) > 2 {
					c = b.Table.Header[i] + ": " + c
				}
				cells = append(cells, c)
			}
			out.WriteString("  " + wrap(strings.Join(cells, " | "), textWidth-2, "    ") + "\n")
		}
	case b.Events != nil:
		for n, e := range b.Events {
			fmt.Fprintf(&out, "%d. %s\n", n+1, e.Title)
			for _, f := range e.Facts {
				out.WriteString("   " + wrap(f.Label+": "+f.Value, textWidth-3, "   ") + "\n")
			}
			if e.Text != "" {
				out.WriteString("   " + wrap(e.Text, textWidth-3, "   ") + "\n")
			}
		}
	case b.List != nil:
		for _, l := range b.List {
			out.WriteString("- " + wrap(l, textWidth-2, "  ") + "\n")
		}
	}
	return out.String()
}

// wrap breaks at blanks; a longer word stands alone.
func wrap(s string, width int, indent string) string {
	var b strings.Builder
	n := 0
	for i, w := range strings.Fields(s) {
		l := utf8.RuneCountInString(w)
		switch {
		case i == 0:
		case n+1+l > width:
			b.WriteString("\n" + indent)
			n = 0
		default:
			b.WriteString(" ")
			n++
		}
		b.WriteString(w)
		n += l
	}
	return b.String()
}
