package fhir

import (
	"strings"

	"graftnote/note"
)

// xmlText makes a text safe inside XHTML: the five marks are escaped, what XML
// 1.0 (section 2.2) does not allow is left out, a line feed is a break.
func xmlText(s string) string {
	var out strings.Builder
	for _, r := range s {
		switch {
		case r == '&':
			out.WriteString("&amp;")
		case r == '<':
			out.WriteString("&lt;")
		case r == '>':
			out.WriteString("&gt;")
		case r == '"':
			out.WriteString("&quot;")
		case r == '\n':
			out.WriteString("<br/>")
		case r == '\t', r >= ' ' && r <= 0xD7FF && r != 0x7F, r >= 0xE000 && r <= 0xFFFD, r >= 0x10000 && r <= 0x10FFFF:
			out.WriteRune(r)
		}
	}
	return out.String()
}

func div(inner string) string {
	return `<div xmlns="http://www.w3.org/1999/xhtml">` + inner + `</div>`
}

func element(name, inner string) string { return "<" + name + ">" + inner + "</" + name + ">" }

// paragraph is "" for a text without a visible word.
func paragraph(s string) string {
	if strings.TrimSpace(s) == "" {
		return ""
	}
	return element("p", xmlText(s))
}

// narrative writes the blocks of a section as XHTML. own reports that words of
// the surgeon's own are among them.
func narrative(blocks []note.Block) (xhtml string, own bool) {
	var out strings.Builder
	for _, b := range blocks {
		out.WriteString(paragraph(b.Paragraph))
		if q := paragraph(b.Quote); q != "" {
			own = true
			out.WriteString(element("blockquote", q))
		}
		if b.Table != nil {
			out.WriteString(table(*b.Table))
		}
		for _, e := range b.Events {
			out.WriteString(event(e))
		}
		out.WriteString(list(b.List))
	}
	return out.String(), own
}

func list(lines []string) string {
	var out strings.Builder
	for _, l := range lines {
		if strings.TrimSpace(l) != "" {
			out.WriteString(element("li", xmlText(l)))
		}
	}
	if out.Len() == 0 {
		return ""
	}
	return element("ul", out.String())
}

func table(t note.Table) string {
	var rows strings.Builder
	for i, r := range append([][]string{t.Header}, t.Rows...) {
		cell := "td"
		if i == 0 {
			cell = "th"
		}
		var cells strings.Builder
		for _, c := range r {
			cells.WriteString(element(cell, xmlText(c)))
		}
		if cells.Len() > 0 {
			rows.WriteString(element("tr", cells.String()))
		}
	}
	if rows.Len() == 0 {
		return ""
	}
	return element("table", element("tbody", rows.String()))
}

func event(e note.Event) string {
	out := ""
	if strings.TrimSpace(e.Title) != "" {
		out = element("p", element("b", xmlText(e.Title)))
	}
	var facts []string
	for _, f := range e.Facts {
		facts = append(facts, f.Label+": "+f.Value)
	}
	return out + list(facts) + paragraph(e.Text)
}
