package main

import (
	"fmt"
	"io"
	"strings"
	"time"

	"graftnote/schema"
)

// caseLetters are the letters and digits of a case identifier: those of base 32
// without the ones that are read for another (i, l, o, u).
const caseLetters = "0123456789abcdefghjkmnpqrstvwxyz"

// newCaseID makes a random identifier of 60 bits. It is never made from patient
// data, because it names files.
func newCaseID(random io.Reader) (string, error) {
	var b [12]byte
	if _, err := io.ReadFull(random, b[:]); err != nil {
		return "", err
	}
	for i := range b {
		b[i] = caseLetters[int(b[i])%len(caseLetters)]
	}
	return fmt.Sprintf("%s-%s-%s", b[:4], b[4:8], b[8:]), nil
}

// form writes a blank entry from the rows of the dictionary.
type form struct {
	strings.Builder
	filled map[string]string // path: value that is known already
	habits bool              // only what the standing technique may hold
	shared map[string]bool   // groups whose common part stands in the head of the list
	head   bool              // the head of the list is being written
}

const entryHead = `# graftnote entry, one operated eye. Fill in the lines; what is meant and the words,
# or the form, of a value stand behind the #. Take away the # before a line to use it. A field that must be
# answered and cannot be: write  not recorded: <reason>  as its value.
# 'graftnote fields PATH' explains a field; 'graftnote check FILE' shows what is
# missing.
`

// blankEntry writes one entry, or an operating list whose cases share day and
// team.
func blankEntry(n int, list bool, now time.Time, random io.Reader) (string, error) {
	f := &form{filled: map[string]string{"episode.begun": `"` + now.Format("2006-01-02T15:04-07:00") + `"`}, shared: map[string]bool{}}
	f.WriteString(entryHead)
	if !list {
		id, err := newCaseID(random)
		if err != nil {
			return "", err
		}
		f.filled["case"] = id
		f.groups("", "")
		return f.String(), nil
	}
	f.WriteString("\n# What all cases of the list share. A case may say it again, differently.\nlist:\n")
	f.head = true
	for _, key := range []string{"episode", "team"} {
		g, _ := schema.Content().Group(key)
		f.group(g, "  ")
		f.shared[key] = true
	}
	f.head = false
	f.WriteString("\ncases:\n")
	for i := range n {
		id, err := newCaseID(random)
		if err != nil {
			return "", err
		}
		f.filled["case"] = id
		fmt.Fprintf(f, "\n  # Case %d of %d: begin each case with a dash.\n", i+1, n)
		f.groups("  - ", "    ")
	}
	return f.String(), nil
}

const techniqueHead = `# Standing technique of one surgeon: habits only. Take away the # of the lines that
# are true of every case; a case that says something else always wins. What comes
# from here stays marked as unconfirmed until the note is signed. Identity, eye,
# measurements, tissue, outcomes and events can never stand here.
`

func blankTechnique() string {
	f := &form{habits: true}
	f.WriteString(techniqueHead)
	f.groups("", "")
	return f.String()
}

// groups writes all groups. The first line of a list item has a dash.
func (f *form) groups(first, indent string) {
	for _, g := range schema.Content().Groups {
		switch {
		case g.Key == "":
			f.top(g, first, indent)
		default:
			f.group(g, indent)
		}
	}
}

// top writes the fields that stand in no group: the identifier comes first.
func (f *form) top(g *schema.Group, first, indent string) {
	for _, r := range g.Fields {
		switch {
		case f.habits, r.Key == "graftnote", r.Key == "from-technique":
		case r.Key == "case":
			f.row(r, first, "", false)
		default:
			f.row(r, indent, "", false)
		}
	}
}

// group writes a heading and its fields. A list holds one blank item.
func (f *form) group(g *schema.Group, indent string) {
	var rows []*schema.Row
	for _, r := range g.Fields {
		if f.belongs(r) {
			rows = append(rows, r)
		}
	}
	if len(rows) == 0 {
		return
	}
	off := f.habits || g.Many != "" && !alwaysListed(g)
	fmt.Fprintf(f, "\n%s# %s\n", indent, groupNote(g, f.habits))
	switch {
	case g.MayBeNone && !f.habits:
		fmt.Fprintf(f, "%s%s:\n", indent, g.Key)
	case off:
		fmt.Fprintf(f, "%s# %s:\n", indent, g.Key)
	default:
		fmt.Fprintf(f, "%s%s:\n", indent, g.Key)
	}
	for i, r := range rows {
		switch {
		case g.Many == "":
			f.row(r, indent+"  ", "", off)
		case i == 0:
			f.row(r, indent+"  ", "- ", off)
		default:
			f.row(r, indent+"  ", "  ", off)
		}
	}
}

// belongs tells whether a field stands in this part of the form. In an operating
// list times and numbers differ from case to case, and the rest is shared.
func (f *form) belongs(r *schema.Row) bool {
	if f.habits {
		return r.Habit()
	}
	own := r.Group.Many == "" && !r.Habit() && (r.Type == "time" || r.Type == "instant" || r.Type == "id")
	switch {
	case f.head:
		return !own
	case f.shared[r.Group.Key]:
		return own
	}
	return true
}

// alwaysListed tells the lists of which a published list of contents asks for an
// item, whatever was done.
func alwaysListed(g *schema.Group) bool {
	if g.MayBeNone || g.OptionalLst {
		return false
	}
	for _, e := range schema.Content().Elements {
		for _, p := range e.Paths {
			if p == g.Key || strings.HasPrefix(p, g.Key+".") {
				return true
			}
		}
	}
	return false
}

func groupNote(g *schema.Group, habits bool) string {
	switch {
	case habits:
		return g.Title
	case g.MayBeNone:
		return g.Title + ": write none behind the colon, or take away the # for each " + g.Many
	case g.OptionalLst:
		return g.Title + ", when there is any"
	case g.Many != "":
		return g.Title + ": one dash for each " + g.Many
	}
	return g.Title
}

// row writes one field. The mark of a line that may stay silent stands after its
// indentation, so that the line is right once "# " is taken away.
func (f *form) row(r *schema.Row, indent, dash string, off bool) {
	cond, conditional := schema.Content().Conditions[r.Need]
	value, known := f.filled[r.Path()]
	text := indent + dash + r.Key + ":"
	if off || !known && r.Need != "always" && !conditional {
		text = indent + "# " + dash + r.Key + ":"
		if !off { // beside live lines of the same list item
			text = indent + strings.ReplaceAll(dash, "-", " ") + "# " + r.Key + ":"
		}
	}
	note := r.Title
	if known {
		text += " " + value
	} else {
		note += ": " + r.FormWords()
	}
	if conditional {
		note += "; asked for when " + cond.Title
	}
	fmt.Fprintf(f, "%-34s # %s\n", text, note)
}
