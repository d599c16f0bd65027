package registry

import (
	"fmt"
	"slices"

	"graftnote/schema"
	"graftnote/schema/quantity"
)

// builder makes the columns from the dictionary and columns.yaml.
type builder struct {
	*content
	dict *schema.Dictionary
}

func (b *builder) all() error {
	for name, w := range b.Applies {
		if err := b.fits(w); err != nil {
			return fmt.Errorf("columns.yaml: applies: %s: %w", name, err)
		}
	}
	if err := b.own(b.Head); err != nil {
		return err
	}
	for _, g := range b.dict.Groups {
		for _, r := range g.Fields {
			if r.Column == "" {
				continue
			}
			col, err := b.field(r, r.As)
			if err != nil {
				return fmt.Errorf("%s: %w", r.Path(), err)
			}
			if g.Many != "" && g.Key != "tissues" {
				return fmt.Errorf("%s: a list needs a rule that picks one item: use columns.yaml", r.Path())
			}
			col.Name = r.Column
			col.Required = g.Many == "" && alwaysAnswered(r)
			col.write = func(m *maker, c *Column) string { return m.cell(c, m.one(r)) }
			b.add(col)
		}
	}
	for _, d := range b.dict.Derived {
		if d.Column == "" {
			continue
		}
		col, err := b.derived(d, d.As)
		if err != nil {
			return fmt.Errorf("derived %s: %w", d.Name, err)
		}
		col.Name = d.Column
		col.write = func(m *maker, c *Column) string { return m.derived(d, c) }
		b.add(col)
	}
	if err := b.own(b.Tail); err != nil {
		return err
	}
	return b.follow()
}

// follow lets silence about a column that does not apply be no silence.
func (b *builder) follow() error {
	at := func(name string) int {
		return slices.IndexFunc(b.columns, func(c Column) bool { return c.Name == name })
	}
	for name, l := range b.Follows {
		i, j := at(name), at(l.Column)
		if i < 0 || j < 0 || b.columns[i].need != "optional" {
			return fmt.Errorf("columns.yaml: follows: %s is no optional column, or %s no column", name, l.Column)
		}
		for _, code := range l.Is {
			if !slices.ContainsFunc(b.columns[j].Codes, func(w schema.CodeWord) bool { return w.Code == code }) {
				return fmt.Errorf("columns.yaml: follows: %s has no code %s", l.Column, code)
			}
		}
		col := &b.columns[i]
		write := col.write
		col.Meaning += " It does not apply where " + l.Column + " does not."
		col.write = func(m *maker, c *Column) string {
			cell := write(m, c)
			if cell != notStated {
				return cell
			}
			first := &m.columns[j]
			if is := first.write(m, first); is == doesNotApply || slices.Contains(l.Is, is) {
				return doesNotApply
			}
			return cell
		}
	}
	return nil
}

// alwaysAnswered: "not recorded" is refused and the question is always asked,
// so a complete entry has the answer.
func alwaysAnswered(r *schema.Row) bool { return r.Refuse && r.Need == "always" }

// add finishes a column: the limits that stand for it by its name come last.
func (b *builder) add(col Column) {
	if l, ok := b.Limits[col.Name]; ok {
		col.Places, col.Minimum, col.Maximum = l.Places, l.Min, l.Max
	}
	b.columns = append(b.columns, col)
}

// field describes the column of one dictionary row. It is the gate: what may
// name a person passes only as a year or an age band, text never.
func (b *builder) field(r *schema.Row, as string) (Column, error) {
	if as == "value" {
		as = ""
	}
	if r.Private && as != "year" && as != "age-band" {
		return Column{}, fmt.Errorf("a private field can leave only as year or age-band")
	}
	t, ok := transforms[key{r.Type, as}]
	if !ok {
		if _, measured := r.Dimension(); !measured || as != "" {
			return Column{}, fmt.Errorf("a field of type %s cannot leave as %q", r.Type, as)
		}
		t = transform{kind: r.Type, write: writeQuantity}
	}
	col := Column{Title: r.Title, Meaning: r.Group.Title + ": " + lowerFirst(r.Title) + ".", Type: TypeString,
		From: r.Path(), Source: r.Source, need: r.Need}
	if r.Group.Key == "tissues" {
		col.Meaning += " Of the tissue that was grafted."
	}
	if sentence := b.As[as]; sentence != "" {
		col.Meaning += " " + sentence
	}
	if t.codes != nil {
		col.Codes = t.codes(b.content)
	} else if list := r.ListName(); list != "" {
		col.Codes, col.recode = b.listCodes(list), b.Recode[list]
	}
	if r.Type == "codes" && as == "" {
		col.Several, col.ordered = true, slices.Contains(b.Ordered, r.Path())
	}
	if t.kind != "" {
		b.figure(&col, t.kind)
	}
	if t.kind != "" && as == "" && (r.Basis == "arithmetic" || r.Basis == "cited" || r.Basis == "slip") {
		if err := col.narrow(r.Hard); err != nil {
			return Column{}, err
		}
	}
	col.Pattern = t.pattern
	col.writeField = t.write
	if w, ok := b.Mixed[r.Path()]; ok {
		col.Codes = append(col.Codes, schema.CodeWord{Code: w.Code, Words: w.Title})
		col.writeField = func(m *maker, f schema.Field, c *Column) string {
			if m.e.Mixed(r.Path()) {
				return w.Code
			}
			return t.write(m, f, c)
		}
	}
	return col, nil
}

// figure makes the column numeric with the limits of the kind.
func (b *builder) figure(col *Column, kind string) {
	k := b.Kinds[kind]
	col.Type, col.Places, col.Minimum, col.Maximum = TypeNumber, k.Places, k.Min, k.Max
	switch {
	case kind == "year":
		col.Type = TypeYear
	case k.Places == 0:
		col.Type = TypeInteger
	}
	if dim, ok := quantity.DimensionByName(kind); ok && dim.Canonical().Symbol != "" {
		col.Unit, col.Symbol = dim.Canonical().UCUM, dim.Canonical().Symbol
	}
}

// listCodes are the codes of a list as the row writes them.
func (b *builder) listCodes(list string) []schema.CodeWord {
	out := slices.Clone(b.dict.Lists[list].Codes)
	for i, w := range out {
		if r, ok := b.Recode[list][w.Code]; ok {
			out[i].Code = r
		}
	}
	return out
}
