package month

import (
	"fmt"
	"slices"
	"strings"

	"graftnote/registry"
	"graftnote/schema"
	"graftnote/schema/quantity"
)

type codeWord = schema.CodeWord

// factor is how many of our units one of the registry's is.
func factor(own *column, unit string) (quantity.Decimal, bool) {
	if own.Symbol == "" {
		return quantity.Decimal{}, false
	}
	for _, d := range quantity.Dimensions() {
		if d.Canonical().Symbol != own.Symbol {
			continue
		}
		if u, ok := d.Unit(unit); ok {
			return u.Factor, true
		}
	}
	return quantity.Decimal{}, false
}

func (p *Profile) separator() string {
	if p.Separator != "" {
		return p.Separator
	}
	return registry.Separator()
}

// apply puts the tables into the form of the profile.
func (p *Profile) apply(operations, visits *table) ([]*table, error) {
	if !p.sound {
		return nil, &ProfileError{[]string{"it was not checked"}}
	}
	var out []*table
	for _, t := range []struct {
		own     *table
		columns []ProfileColumn
	}{{operations, p.Operations}, {visits, p.Followups}} {
		to := &table{name: t.own.name, lines: t.own.lines, codes: p.missingCodes()}
		for _, c := range t.columns {
			i := slices.IndexFunc(t.own.columns, func(o column) bool { return o.Name == c.From })
			if i < 0 {
				return nil, &ProfileError{[]string{fmt.Sprintf("%s: column %s cannot be filled in this mode: no %s is sent", t.own.name, c.Name, c.From)}}
			}
			to.columns = append(to.columns, p.column(c, t.own.columns[i]))
		}
		out = append(out, to)
	}
	return out, nil
}

// missingCodes are the texts for missing values, each once.
func (p *Profile) missingCodes() []registry.MissingCode {
	var out []registry.MissingCode
	for _, m := range missingCodes() {
		text := p.missing(m.Code)
		i := slices.IndexFunc(out, func(have registry.MissingCode) bool { return have.Code == text })
		if i < 0 {
			out = append(out, registry.MissingCode{Code: text, Title: m.Title, Meaning: m.Meaning})
			continue
		}
		out[i].Title += "; or " + m.Title
		out[i].Meaning += " Or: " + m.Meaning
	}
	return out
}

func (p *Profile) missing(code string) string {
	if text, ok := p.Missing[code]; ok {
		return text
	}
	return p.Missing["default"]
}

// column is our column in the form of the profile.
func (p *Profile) column(c ProfileColumn, own column) column {
	out := own
	out.Name = c.Name
	out.missing = map[string]string{}
	for code := range own.missing {
		text := p.missing(code)
		out.missing[text] = text
		if text == "" {
			out.missing[text] = "missing"
		}
	}
	if own.role != "" {
		if own.role == "person-key" {
			out.cell = p.remembered(own, func(cell string) string { return cell })
		}
		return out
	}
	translate := func(cell string) string { return cell }
	switch {
	case own.Numeric():
		places := own.Places
		if c.Places != nil {
			places = *c.Places
		}
		f := quantity.FromInt(1)
		if c.Unit != "" {
			f, _ = factor(&own, c.Unit)
			out.Symbol, out.Unit = c.Unit, ucum(own, c.Unit)
		}
		translate = func(cell string) string { return converted(cell, f, places) }
		out.Minimum, out.Maximum, out.Places = bound(own.Minimum, f, places, false), bound(own.Maximum, f, places, true), places
		if out.Type == registry.TypeInteger && places > 0 {
			out.Type = registry.TypeNumber
		}
		if out.Type == registry.TypeNumber && places == 0 {
			out.Type = registry.TypeInteger
		}
	case len(c.Codes) > 0:
		translate = func(cell string) string { return c.code(cell) }
		out.Codes = nil
		for _, w := range own.Codes {
			to := c.code(w.Code)
			if i := slices.IndexFunc(out.Codes, func(have codeWord) bool { return have.Code == to }); i >= 0 {
				out.Codes[i].Words += "; or " + w.Words
				continue
			}
			out.Codes = append(out.Codes, codeWord{Code: to, Words: w.Words})
		}
	}
	if own.Several {
		one := translate
		translate = func(cell string) string {
			parts := strings.Split(cell, registry.Separator())
			for i := range parts {
				parts[i] = one(parts[i])
			}
			return strings.Join(parts, p.separator())
		}
		out.Pattern = "" // of our own separator and codes
	}
	out.cell = p.remembered(own, translate)
	return out
}

func (c ProfileColumn) code(ours string) string {
	if to, ok := c.Codes[ours]; ok {
		return to
	}
	return c.Else
}

// remembered translates each different cell once.
func (p *Profile) remembered(own column, translate func(string) string) func(l *line) string {
	known := map[string]string{}
	return func(l *line) string {
		cell := own.cell(l)
		if own.role != "" {
			if _, missing := own.missing[cell]; missing {
				return p.missing(cell)
			}
			return cell
		}
		text, ok := known[cell]
		if !ok {
			if _, missing := own.missing[cell]; missing {
				text = p.missing(cell)
			} else {
				text = translate(cell)
			}
			known[cell] = text
		}
		return text
	}
}

// converted gives a figure in another unit. Our cells are figures, so a fault
// cannot be.
func converted(cell string, factor quantity.Decimal, places int) string {
	n, problem := quantity.ParseDecimal(cell)
	if problem != nil {
		panic("month: a checked cell is no figure")
	}
	return n.Quo(factor, 12).Round(places).String()
}

// bound is a limit of a column in another unit, rounded outwards by one place at
// most.
func bound(limit string, factor quantity.Decimal, places int, up bool) string {
	n, problem := quantity.ParseDecimal(limit)
	if problem != nil {
		return limit
	}
	n = n.Quo(factor, 12)
	round := n.Round(places)
	switch {
	case up && round.Cmp(n) < 0:
		round = n.Round(max(places, 6))
	case !up && round.Cmp(n) > 0:
		round = n.Round(max(places, 6))
	}
	return round.String()
}

func ucum(own column, unit string) string {
	for _, d := range quantity.Dimensions() {
		if d.Canonical().Symbol != own.Symbol {
			continue
		}
		if u, ok := d.Unit(unit); ok {
			return u.UCUM
		}
	}
	return ""
}

// gaps are the cells that the registry requires and that have no value. A row
// that is withdrawn needs none.
func (p *Profile) gaps(tables []*table) []Gap {
	var out []Gap
	for n, columns := range [][]ProfileColumn{p.Operations, p.Followups} {
		for i, c := range columns {
			if !c.Required {
				continue
			}
			t := tables[n]
			for k := range t.lines {
				l := &t.lines[k]
				if l.source < 0 {
					continue
				}
				if _, missing := t.columns[i].missing[t.columns[i].cell(l)]; missing {
					out = append(out, Gap{l.kind, l.key, c.Name})
				}
			}
		}
	}
	return out
}
