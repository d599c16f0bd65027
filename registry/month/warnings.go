package month

import (
	"fmt"
	"strings"

	"graftnote/registry"
)

// warnings are for the desk, not for the package.
func warnings(in Input, o Options, p *Package) []string {
	var out []string
	c := p.Manifest.Counts
	if !c.AddsUp {
		out = append(out, c.Says)
	}
	if c.Entered == 0 {
		out = append(out, "No operation of the period is in the casebook.")
	}
	if c.Entered > 0 && c.Sent == 0 {
		out = append(out, "No operation of the period is sent.")
	}
	var order []string
	gaps := map[string]int{}
	for _, g := range p.Gaps {
		if gaps[g.Column] == 0 {
			order = append(order, g.Column)
		}
		gaps[g.Column]++
	}
	for _, column := range order {
		out = append(out, fmt.Sprintf("Column %s is required by the registry and has no value in %d %s.", column, gaps[column], plural(gaps[column], "row", "rows")))
	}
	if p.Disclosure == nil && c.HeldBack[suppressed] > 0 {
		out = append(out, fmt.Sprintf("All rows are held back: fewer than %d people could be hidden among each other.", o.K))
	}
	if p.Disclosure != nil && in.Steps != nil {
		for _, ch := range p.Disclosure.Changes {
			if ch.Step > in.Steps[ch.Column] {
				out = append(out, fmt.Sprintf("Column %s is coarser than in the package before. The registry has its finer values until it replaces them, and whoever keeps them has them for good; the package was measured with them.", ch.Column))
			}
		}
	}
	if d := p.Manifest.Disclosure; d != nil && d.Joined < o.K {
		out = append(out, d.versions())
	}
	if f := p.finer; f != nil {
		out = append(out, fmt.Sprintf("Columns are kept as coarse as in the package before (loss %s); less would do (loss %s). --refine looks for it and sends the %d rows that the registry has again, corrected.", ratio(p.Disclosure.Loss), ratio(f.Loss), p.differ.standingRows()))
	}
	return out
}

// givenUp words the report of the protection.
func givenUp(p *Package) []string {
	r := p.Disclosure
	out := []string{fmt.Sprintf("Among the rows that stand, each is shared with at least %d other people in the columns counted as what a reader may know of a person (asked for: %d); in all versions that the registry has had of its rows together with at least %d.", max(r.After.K-1, 0), max(r.K-1, 0), max(p.differ.joined.k-1, 0))}
	for _, c := range r.Changes {
		if c.Step > 0 {
			out = append(out, fmt.Sprintf("%s: %s.", titleOf(c.Column), c.Name))
		}
	}
	var hidden []string
	for _, name := range p.withheldColumns() {
		hidden = append(hidden, titleOf(name))
	}
	if len(hidden) > 0 {
		out = append(out, "Withheld in all rows, because they would give a coarser column back: "+strings.Join(hidden, "; ")+".")
	}
	if n := len(r.Dropped); n > 0 {
		out = append(out, "Some operations are held back, because they could not be hidden among enough people; they are missing from the figures.")
	}
	return append(out, "Operations without consent to the registry are missing from the figures.")
}

// titleOf is the title of a column in words.
func titleOf(name string) string {
	for _, c := range registry.Columns() {
		if c.Name == name {
			return c.Title
		}
	}
	return name
}
