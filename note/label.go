package note

import (
	"fmt"
	"strings"

	"graftnote/schema"
)

// Place finds the dictionary row of a path as signed statements write it, with
// the item of a list group counted from 1: "injections[2].gauge". item counts
// from 0.
func Place(path string) (row *schema.Row, item int, ok bool) {
	group, rest, listed := strings.Cut(path, "[")
	if !listed {
		row, ok = schema.Content().Row(path)
		return row, 0, ok
	}
	n, key, closed := strings.Cut(rest, "].")
	if !closed {
		return nil, 0, false
	}
	if _, err := fmt.Sscanf(n, "%d", &item); err != nil || item < 1 {
		return nil, 0, false
	}
	row, ok = schema.Content().Row(group + "." + key)
	return row, item - 1, ok
}

// Label names a path in the words of the note: group, number of the item, field.
// A path that this version does not know is its own label.
func (p *Phrases) Label(path string) string {
	if row, item, ok := Place(path); ok {
		return (&speaker{p: p}).label(row, item)
	}
	if g, ok := schema.Content().Group(path); ok {
		return g.Title
	}
	return path
}

// SayText writes a canonical text as the note says it: words for codes, the text
// itself for the rest.
func (p *Phrases) SayText(path, text string) string {
	row, _, ok := Place(path)
	if !ok || row.ListName() == "" {
		return text
	}
	list := schema.Content().Lists[row.ListName()]
	codes := strings.Split(text, ", ")
	for i, c := range codes {
		words, known := list.Words(c)
		if !known {
			return text // a gap with its reason, or a code of another version
		}
		codes[i] = words
	}
	return strings.Join(codes, ", ")
}

// SayAt writes the recorded answer at a path of an entry; "" when there is none.
func (p *Phrases) SayAt(e *schema.Entry, path string) string {
	row, item, ok := Place(path)
	if !ok {
		return ""
	}
	f := e.At(row.Path())
	if row.Group.Many != "" {
		f = e.Item(row.Path(), item)
	}
	if f == nil || !f.Recorded() {
		return ""
	}
	return p.Say(f)
}
