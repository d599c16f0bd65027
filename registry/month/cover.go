package month

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"graftnote/registry"
)

// coverOf is the page that a person reads first. It names no patient and no
// surgeon.
func coverOf(p *Package) string {
	m := p.Manifest
	var b strings.Builder
	fmt.Fprintf(&b, "Registry package %s\nPeriod %s. Made on %s", m.Package, m.Period, dayOf(m.At))
	if m.By != "" {
		fmt.Fprintf(&b, " by %s", m.By)
	}
	b.WriteString(".\n")
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
		fmt.Fprintf(&b, "Once this package is accepted, %d %s of %d %s at the registry, and each could be that of any of at least %d people (k = %d, asked for %d).\n",
			d.Rows, plural(d.Rows, "row", "rows"), d.Persons, plural(d.Persons, "person stands", "people stand"), d.Reached, d.Reached, d.K)
		fmt.Fprintf(&b, "%s\n", d.versions())
		for _, s := range d.Steps {
			if s.Step > 0 {
				b.WriteString(p.coarser(s))
			}
		}
		if d.Suppressed == 0 {
			b.WriteString("- No row is held back to hide people.\n")
		} else {
			fmt.Fprintf(&b, "- %d %s held back to hide people, a share of %s where %s is allowed.\n", d.Suppressed, plural(d.Suppressed, "row is", "rows are"), d.Share, d.Limit)
		}
		for _, v := range d.Diversity {
			if v.Uniform > 0 {
				fmt.Fprintf(&b, "- In %d of %d groups everybody has the same value of %s: whoever is known to be in such a group is known to have it.\n", v.Uniform, d.Classes, p.called(v.Column))
			}
		}
	} else {
		b.WriteString("No row is sent.\n")
	}
	b.WriteString("\nWhat this does not protect against\n")
	for _, n := range m.Notes {
		fmt.Fprintf(&b, "%s\n", n)
	}
	b.WriteString("\nHow to load it\nRead datapackage.json. For each row key the highest revision stands; a withdrawn row does not. Loading a package twice, or packages out of order, gives the same state. Erase the versions that no longer stand: together they say more than the last one.\nmanifest.json holds the SHA-256 of every other file. Files in the folder reading are copies for people.\n")
	return b.String()
}

// versions says how people are hidden from a reader who kept every version.
func (d *Disclosure) versions() string {
	text := fmt.Sprintf("Somebody who keeps every version of the %d %s that this registry has had, with this package, finds nobody among fewer than %d %s.",
		d.JoinedRows, plural(d.JoinedRows, "row", "rows"), d.Joined, plural(d.Joined, "person", "people"))
	if d.Joined < d.K {
		text += fmt.Sprintf(" That is fewer than the %d asked for: earlier packages gave it away, and this one adds nothing to it.", d.K)
	}
	return text
}

// dayOf is a time of the manifest as people write it.
func dayOf(at string) string {
	t, err := time.Parse(time.RFC3339, at)
	if err != nil {
		return at
	}
	return t.Format("2 January 2006, 15:04 MST")
}

// coarser is the line for a column that was made coarser, with the columns that
// would have given it back.
func (p *Package) coarser(s Step) string {
	line := "- " + p.called(s.Column) + ": in coarser groups, " + s.Name
	if s.Step == s.Of {
		line = "- " + p.called(s.Column) + ": " + s.Name
	}
	var with []string
	for _, name := range load().Follows[s.Column] {
		if p.holds(name) {
			with = append(with, p.called(name))
		}
	}
	if len(with) > 0 {
		line += ". Withheld with it, because they would give it back: " + strings.Join(with, ", ")
	}
	return line + ".\n"
}

// called is one of our columns in words, and in brackets its name in the package.
func (p *Package) called(name string) string {
	if name == lastStatus {
		return load().Says["last-status"]
	}
	own, ok := operationColumn(name)
	if !ok {
		return name
	}
	c := column{Column: own}
	if i := p.place(own); i >= 0 {
		return c.title() + " (" + p.tables[0].columns[i].Name + ")"
	}
	return c.title()
}

func (p *Package) holds(name string) bool {
	own, ok := operationColumn(name)
	return ok && p.place(own) >= 0
}

// place is where one of our columns stands in the operations of the package. A
// registry's form gives it another name and leaves out what it does not ask for.
func (p *Package) place(own registry.Column) int {
	return slices.IndexFunc(p.tables[0].columns, func(c column) bool { return c.From == own.From && c.Title == own.Title })
}
