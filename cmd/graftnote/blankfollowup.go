package main

import (
	"fmt"

	"graftnote/schema"
)

const followupHead = `# graftnote follow-up of one operated eye. Type hospital number, date of birth and
# eye from the chart in hand, not from the operation's note: they are compared.
# Take away the # before a line to use it. A field that must be answered and cannot
# be: write  not recorded: <reason>  as its value.
# 'graftnote followup FILE --as KEYFILE --show' shows what is missing.
`

// blankFollowup writes a follow-up document with one visit. The case must have the
// form of an identifier: anything else would stand in the file as it was typed.
func blankFollowup(caseID string) (string, error) {
	r := schema.ReadFollowup(schema.Source{Name: "case", Data: []byte("followup: \"" + schema.Visible(caseID) + "\"\n")}, schema.Options{})
	if len(r.Documents) != 1 || r.Documents[0].Case.Text() != caseID {
		return "", usage("--followup takes the case identifier of an operation", "it stands in the foot of the note and in 'graftnote casebook list'")
	}
	f := &form{filled: map[string]string{"followup": caseID}}
	f.WriteString(followupHead)
	for _, g := range schema.Content().FollowupForm() {
		switch {
		case g.Key == "":
			for _, r := range g.Fields {
				if r.Key != "graftnote" {
					f.row(r, "", "", false)
				}
			}
		case g.Many != "":
			f.visitGroup(g)
		default:
			f.followupGroup(g)
		}
	}
	return f.String(), nil
}

// followupGroup writes a group; one that may stay silent is commented out.
func (f *form) followupGroup(g *schema.Group) {
	off := true
	for _, r := range g.Fields {
		off = off && r.Need == "optional"
	}
	mark := ""
	if off {
		mark = "# "
	}
	fmt.Fprintf(f, "\n# %s\n%s%s:\n", g.Title, mark, g.Key)
	for _, r := range g.Fields {
		f.row(r, "  ", "", off)
	}
}

func (f *form) visitGroup(g *schema.Group) {
	fmt.Fprintf(f, "\n# %s: one dash for each %s\n%s:\n", g.Title, g.Many, g.Key)
	for i, r := range g.Fields {
		dash := "  "
		if i == 0 {
			dash = "- "
		}
		f.row(r, "  ", dash, false)
	}
}
