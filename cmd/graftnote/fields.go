package main

import (
	"strings"

	"github.com/spf13/cobra"

	"graftnote/schema"
)

func (a *app) fieldsCommand() *cobra.Command {
	return &cobra.Command{
		Use:   "fields [PATH|GROUP|LIST]",
		Short: "List the fields of an entry, or explain one",
		Long: `Without an argument lists all fields. With the path of a field (trephination.depth)
it explains that field; with a group it lists its fields; with the name of a code
list it lists the codes.`,
		Example: `  graftnote fields
  graftnote fields trephination
  graftnote fields trephination.depth`,
		Args: needArgs(0, 1, ""),
		RunE: func(_ *cobra.Command, args []string) error {
			if len(args) == 0 {
				for _, g := range schema.Content().Groups {
					a.fieldGroup(g)
				}
				return nil
			}
			d := schema.Content()
			name := strings.ToLower(strings.TrimSpace(args[0]))
			if r, ok := d.Row(name); ok {
				a.fieldPage(r)
				return nil
			}
			if g, ok := d.Group(name); ok && name != "" {
				a.fieldGroup(g)
				return nil
			}
			if l, ok := d.Lists[name]; ok {
				a.codeList(l)
				return nil
			}
			return usage("there is no field, group or code list of this name", a.nearField(name)...)
		},
	}
}

// nearField finds fields of the same last name, else the fields in general.
func (a *app) nearField(name string) []string {
	last := name[strings.LastIndexByte(name, '.')+1:]
	var found []string
	for _, g := range schema.Content().Groups {
		if r, ok := g.Row(last); ok {
			found = append(found, r.Path())
		}
	}
	if len(found) > 0 {
		return []string{"fields of this name: " + strings.Join(found, ", ")}
	}
	return []string{"'graftnote fields' lists all fields"}
}

func (a *app) fieldGroup(g *schema.Group) {
	title := g.Title
	if g.Many != "" {
		title += ", a list; one item is one " + g.Many
	}
	a.print.line("%s", a.print.paint(bold, title))
	for _, r := range g.Fields {
		a.print.line("  %-32s %-14s %s", r.Path(), askedShort(r), r.Title)
	}
	a.print.line("")
}

func askedShort(r *schema.Row) string {
	switch r.Need {
	case "always", "optional":
		return r.Need
	}
	return "conditional"
}

// asked says when a field is asked for.
func asked(r *schema.Row) string {
	if c, ok := schema.Content().Conditions[r.Need]; ok {
		return "when " + c.Title
	}
	if r.Need == "always" && r.Refuse {
		return "always; 'not recorded' is no answer"
	}
	return r.Need
}

// unitOf is the canonical unit of a measured field, with a blank before it.
func unitOf(r *schema.Row) string {
	if dim, ok := r.Dimension(); ok && dim.Canonical().Symbol != "" {
		return " " + dim.Canonical().Symbol
	}
	return ""
}

// span writes a range of the dictionary for a reader.
func span(limits string, r *schema.Row) string {
	lo, hi, ok := strings.Cut(limits, "..")
	switch {
	case !ok:
		return ""
	case hi == "":
		return "from " + lo + unitOf(r)
	case lo == "":
		return "up to " + hi + unitOf(r)
	}
	return lo + " to " + hi + unitOf(r)
}

func (a *app) fieldPage(r *schema.Row) {
	p := a.print
	p.line("%s", p.paint(bold, r.Path()+": "+r.Title))
	if r.Safety {
		p.line("%s", wrap(safetyHelp, textWidth, ""))
	}
	if r.Help != "" {
		p.line("%s", wrap(r.Help, textWidth, ""))
	}
	p.line("")
	fact := func(label, text string) {
		if text != "" {
			pad := strings.Repeat(" ", 18)
			p.line("%-18s%s", label, strings.TrimPrefix(wrap(text, textWidth, pad), pad))
		}
	}
	fact("write", r.Key+": "+r.Form())
	fact("kind", kindOf(r))
	fact("asked for", asked(r))
	fact("usual", span(r.Soft, r))
	fact("possible", span(r.Hard, r))
	fact("limits rest on", basisWords[r.Basis])
	if r.Habit() {
		when := ""
		if c, ok := schema.Content().Conditions[r.When]; ok {
			when = " when " + c.Title
		}
		fact("technique", "may come from the standing technique"+when+", and stays unconfirmed until sign-off")
	}
	fact("registry column", columnOf(r))
	fact("source", schema.Finding{Source: r.Source}.Citations())
	if l, ok := schema.Content().Lists[r.ListName()]; ok && r.ListName() != "" {
		p.line("")
		a.codeList(l)
	}
}

func columnOf(r *schema.Row) string {
	if r.Column == "" {
		return "none; it never leaves in the row"
	}
	if r.As != "" {
		return r.Column + " (as " + r.As + ")"
	}
	return r.Column
}

func kindOf(r *schema.Row) string {
	switch {
	case r.ListName() != "" && r.Type == "codes":
		return "one or more of the words below"
	case r.ListName() != "":
		return "one of the words below"
	case unitOf(r) != "":
		return r.Type + ", a number with its unit; kept in" + unitOf(r)
	}
	return r.Type
}

// basisWords say how far a limit can be trusted.
var basisWords = map[string]string{
	"arithmetic":      "arithmetic; outside blocks",
	"cited":           "a published source; outside blocks",
	"common-practice": "common practice without a source; outside asks to look again, never blocks",
	"memory":          "memory, unverified; outside asks to look again, never blocks",
	"slip":            "a ten-fold slip of the value; outside blocks",
}

func (a *app) codeList(l *schema.CodeList) {
	for _, c := range l.Codes {
		if c.Code == c.Words {
			a.print.line("  %s", c.Code)
			continue
		}
		a.print.line("  %-32s %s", c.Code, c.Words)
	}
}
