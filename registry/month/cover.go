package month

import (
	"fmt"
	"strings"
)

// Exception is an operation that was left out.
type Exception struct {
	Key    string // row key; nothing else is known outside
	Which  string // this or earlier, codes of month.yaml
	Reason string // code of ExceptionReasons
	Case   string // at home; it stands in no file
}

// coverOf is the page that a person reads first. It names no patient and no
// surgeon.
func coverOf(p *Package) string {
	m := p.Manifest
	var b strings.Builder
	fmt.Fprintf(&b, "Registry package %s\nPeriod %s. Made at %s by %s.\n", m.Package, m.Period, m.At, m.By)
	if m.Profile != nil {
		fmt.Fprintf(&b, "In the form asked for by %s (profile %s, version %d).\n", m.Profile.Title, m.Profile.Name, m.Profile.Version)
	}
	fmt.Fprintf(&b, "\nWhat it is\n%s\n", m.ModeSays)
	fmt.Fprintf(&b, "\nOperations of the period\n%s\n", m.Counts.Says)
	for _, e := range load().Exceptions {
		if n := m.Counts.HeldBack[e.Code]; n > 0 {
			fmt.Fprintf(&b, "- %d held back: %s.\n", n, e.Says)
		}
	}
	b.WriteString("\nRows in the files\n")
	for _, t := range p.tables {
		fmt.Fprintf(&b, "- %s:", t.name)
		for i, c := range load().Changes {
			if i > 0 {
				b.WriteString(",")
			}
			fmt.Fprintf(&b, " %d %s", m.Rows[t.name+"."+c.Code], c.Code)
		}
		b.WriteString(".\n")
	}
	b.WriteString("\nHow people are hidden\n")
	if d := m.Disclosure; d != nil {
		fmt.Fprintf(&b, "Over all %d rows of %d people sent so far, each row is shared with at least %d others (k = %d, asked for %d).\n", d.Rows, d.Persons, max(d.Reached-1, 0), d.Reached, d.K)
		for _, s := range d.Steps {
			if s.Step > 0 {
				fmt.Fprintf(&b, "- Column %s was made coarser: %s.\n", s.Column, s.Name)
			}
		}
		fmt.Fprintf(&b, "- %d %s held back for disclosure (share %s, allowed %s).\n", d.Suppressed, plural(d.Suppressed, "row is", "rows are"), d.Share, d.Limit)
		for _, v := range d.Diversity {
			if v.Uniform > 0 {
				fmt.Fprintf(&b, "- In %d of %d groups everybody has the same value of %s: whoever is known to be in such a group is known to have it.\n", v.Uniform, d.Classes, v.Column)
			}
		}
	} else {
		b.WriteString("No row is sent.\n")
	}
	b.WriteString("\nWhat this does not protect against\n")
	for _, n := range m.Notes {
		fmt.Fprintf(&b, "%s\n", n)
	}
	b.WriteString("\nHow to load it\nRead datapackage.json. For each row key the highest revision stands; a withdrawn row does not. Loading a package twice, or packages out of order, gives the same state.\nmanifest.json holds the SHA-256 of every other file. Files in the folder reading are copies for people.\n")
	return b.String()
}
