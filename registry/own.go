package registry

import (
	"fmt"
	"slices"
	"strings"

	"graftnote/schema"
	"graftnote/schema/quantity"
)

// own makes the columns of columns.yaml. Each passes the same gate as the rows
// of the dictionary.
func (b *builder) own(rows []ownColumn) error {
	for _, o := range rows {
		col, err := b.ownColumn(o)
		if err != nil {
			return fmt.Errorf("columns.yaml: %s: %w", o.Name, err)
		}
		col.Name, col.Title = o.Name, o.Title
		if o.Source != nil {
			col.Source = o.Source
		}
		switch sentence := b.As[o.As]; {
		case o.Meaning != "" && sentence != "":
			col.Meaning = o.Meaning + " " + sentence
		case o.Meaning != "":
			col.Meaning = o.Meaning
		}
		for _, s := range col.Source {
			if _, ok := b.dict.Sources[s]; !ok {
				return fmt.Errorf("columns.yaml: %s: no source %q", o.Name, s)
			}
		}
		if err := b.fits(o.which); err != nil {
			return fmt.Errorf("columns.yaml: %s: %w", o.Name, err)
		}
		col.write = b.writer(o)
		b.add(col)
	}
	return nil
}

// ownColumn describes the column; writer makes its cells.
func (b *builder) ownColumn(o ownColumn) (Column, error) {
	text := Column{Title: o.Title, Type: TypeString, From: o.From}
	switch o.How {
	case "row-key", "person-key":
		text.Pattern, text.Required = keyPattern(o.How), true
		return text, nil
	case "version":
		b.figure(&text, "count")
		text.Required = true
		return text, nil
	case "count":
		g, ok := b.dict.Group(o.From)
		if !ok || g.Many == "" {
			return text, fmt.Errorf("no list group %q", o.From)
		}
		b.figure(&text, "count")
		text.Meaning = g.Title + ": how many."
		if len(o.Is) > 0 {
			text.Meaning = fmt.Sprintf("%s: how many %s.", g.Title, strings.Join(o.Is, " or "))
		}
		return text, nil
	case "derived":
		if d := b.computed(o.From); d != nil {
			return b.derived(d, o.As)
		}
		return text, fmt.Errorf("no derived value %q", o.From)
	case "field", "first", "last", "union", "gravest":
		r, err := b.row(o.From)
		if err != nil {
			return text, err
		}
		if (o.How == "field") != (r.Group.Many == "") {
			return text, fmt.Errorf("%s does not fit %s", o.How, o.From)
		}
		return b.field(r, o.As)
	}
	return text, fmt.Errorf("no way %q to make a column", o.How)
}

func (b *builder) row(path string) (*schema.Row, error) {
	r, ok := b.dict.Row(path)
	if !ok {
		return nil, fmt.Errorf("no field %q", path)
	}
	return r, nil
}

// intervals between dates of the patient can rebuild a date.
var intervals = map[string]bool{"minutes": true, "hours": true, "days": true, "months": true}

// derived describes the column of a computed value. It is the gate for them.
func (b *builder) derived(d *schema.Derived, as string) (Column, error) {
	col := Column{Title: d.Title, Meaning: upperFirst(d.Formula) + ".", Type: TypeString, From: "derived." + d.Name, Source: d.Source}
	switch {
	case d.Each != "" && d.Each != "tissues":
		return col, fmt.Errorf("one value for each of %s", d.Each)
	case d.Dimension == "yes-no":
		col.Codes = yesNo(b.content)
	case d.Dimension == "years" && as == "age-band":
		col.Codes = ageBands(b.content)
	case intervals[d.Dimension]:
		return col, fmt.Errorf("a computed interval cannot leave: with another date it gives a date back")
	case d.Dimension == "years" || as != "" && as != "value":
		return col, fmt.Errorf("a computed %s cannot leave as %q", d.Dimension, as)
	default:
		if _, ok := b.Kinds[d.Dimension]; !ok {
			return col, fmt.Errorf("a computed %s cannot leave", d.Dimension)
		}
		b.figure(&col, d.Dimension)
	}
	return col, nil
}

// writer gives the column its way to make a cell.
func (b *builder) writer(o ownColumn) func(m *maker, c *Column) string {
	switch o.How {
	case "row-key":
		return func(m *maker, _ *Column) string { return m.rowKey() }
	case "person-key":
		return func(m *maker, _ *Column) string { return m.personKey() }
	case "version":
		return func(m *maker, _ *Column) string { return fmt.Sprint(m.Version) }
	case "count":
		return func(m *maker, c *Column) string { return m.count(o, c) }
	case "derived":
		d := b.computed(o.From)
		return func(m *maker, c *Column) string { return m.derived(d, c) }
	case "field":
		return func(m *maker, c *Column) string { return m.cell(c, m.e.At(o.From)) }
	}
	return func(m *maker, c *Column) string { return m.pick(o, c) }
}

// computed finds a derived value by its name, nil for none.
func (b *builder) computed(name string) *schema.Derived {
	for _, d := range b.dict.Derived {
		if d.Name == name {
			return d
		}
	}
	return nil
}

// fits makes sure that a misspelt code can't make a column that is always 0.
func (b *builder) fits(o which) error {
	if o.Where == "" {
		if len(o.Is)+len(o.Not) > 0 {
			return fmt.Errorf("is and not need where")
		}
		return nil
	}
	r, err := b.row(o.Where)
	if err != nil {
		return err
	}
	list, ok := b.dict.Lists[r.ListName()]
	for _, code := range append(slices.Clone(o.Is), o.Not...) {
		if !ok {
			return fmt.Errorf("%s has no codes", o.Where)
		}
		if _, known := list.Words(code); !known {
			return fmt.Errorf("%s has no code %q", o.Where, code)
		}
	}
	return nil
}

// items of the list group that fit.
func (m *maker) items(o which, group string) []int {
	var out []int
	for i := range m.e.Count(group) {
		if o.Where == "" || o.fits(m.e.Item(o.Where, i)) {
			out = append(out, i)
		}
	}
	return out
}

func (o which) fits(f schema.Field) bool {
	for _, c := range f.Codes() {
		if len(o.Is) > 0 && slices.Contains(o.Is, string(c)) || len(o.Not) > 0 && !slices.Contains(o.Not, string(c)) {
			return true
		}
	}
	return false
}

func (m *maker) count(o ownColumn, c *Column) string {
	state := m.e.List(o.From)
	g, _ := schema.Content().Group(o.From)
	switch {
	case state.Reason != "":
		return m.reasonCode(state.Reason)
	case g.MayBeNone && !state.Stated:
		return notStated // silence is no "none"
	}
	return c.figure(quantity.FromInt(int64(len(m.items(o.which, o.From)))))
}

// pick writes one answer, or all codes, of the items that fit.
func (m *maker) pick(o ownColumn, c *Column) string {
	group, _, _ := strings.Cut(o.From, ".")
	if state := m.e.List(group); state.Reason != "" {
		return m.reasonCode(state.Reason)
	}
	items := m.items(o.which, group)
	if len(items) == 0 {
		return doesNotApply
	}
	fields := make([]schema.Field, len(items))
	for n, i := range items {
		fields[n] = m.e.Item(o.From, i)
	}
	switch o.How {
	case "last":
		return m.cell(c, fields[len(fields)-1])
	case "gravest":
		return m.cell(c, slices.MinFunc(fields, func(a, b schema.Field) int { return c.place(a) - c.place(b) }))
	case "union":
		var codes []schema.Code
		for _, f := range fields {
			codes = append(codes, f.Codes()...)
		}
		if len(codes) > 0 {
			return c.join(m, codes)
		}
	}
	return m.cell(c, fields[0])
}

// place is where the code of an answer stands in the column's list; what is no code
// stands behind all of them.
func (c *Column) place(f schema.Field) int {
	for _, code := range f.Codes() {
		if i, ok := c.codes[string(code)]; ok {
			return i
		}
	}
	return len(c.codes)
}

// derived writes a computed value: of the grafted tissue, where there is one for
// each tissue.
func (m *maker) derived(d *schema.Derived, c *Column) string {
	i := 0
	if d.Each != "" {
		i = m.grafted
	}
	values := m.e.Derive(d.Name)
	switch {
	case i < 0:
		return doesNotApply
	case i >= len(values) || !values[i].Known:
		w, limited := m.Applies[c.Name]
		group, _, _ := strings.Cut(w.Where, ".")
		if limited && len(m.items(w, group)) == 0 {
			return doesNotApply
		}
		return notRecorded
	case c.Numeric() && values[i].HasNumber:
		return c.figure(values[i].Number)
	case c.Numeric():
		return notRecorded
	case values[i].HasNumber:
		return m.age(values[i].Number)
	}
	return values[i].Code
}
