package registry

import (
	_ "embed"
	"encoding/json"
	"fmt"
	"sync"

	"graftnote/schema"
	"graftnote/schema/quantity"
)

//go:embed visits.yaml
var visitsYAML []byte

// visitColumns are the columns of a follow-up row. A failure is a fault of the
// build, so it panics.
var visitColumns = sync.OnceValue(func() []Column {
	columns, err := buildVisits(load(), visitsYAML)
	if err != nil {
		panic("registry: " + err.Error())
	}
	return columns
})

// buildVisits makes the columns through the gate of the operation's row. The
// dates of a visit are private and fail there; only whole months since surgery
// are made of them.
func buildVisits(c *content, data []byte) ([]Column, error) {
	var file struct {
		Visits []ownColumn `yaml:"visits"`
	}
	if err := decode("visits.yaml", data, &file); err != nil {
		return nil, err
	}
	b := builder{content: c, dict: schema.Content()}
	seen := map[string]bool{}
	var out []Column
	for _, o := range file.Visits {
		col, err := b.visit(o)
		if err == nil && seen[o.Name] {
			err = fmt.Errorf("stands twice")
		}
		if err == nil {
			col.Name, col.Title = o.Name, o.Title
			err = col.seal(c.missing)
		}
		if err != nil {
			return nil, fmt.Errorf("visits.yaml: %s: %w", o.Name, err)
		}
		seen[o.Name] = true
		out = append(out, col)
	}
	return out, nil
}

func (b *builder) visit(o ownColumn) (Column, error) {
	r, err := b.row(o.From)
	if err != nil {
		return Column{}, err
	}
	if r.Group.Key != "visits" {
		return Column{}, fmt.Errorf("%s is not of a visit", o.From)
	}
	switch o.How {
	case "field":
		col, err := b.field(r, o.As)
		col.write = nil
		return col, err
	case "months":
		if r.Type != "date" {
			return Column{}, fmt.Errorf("%s is no date", o.From)
		}
		col := Column{Type: TypeString, From: o.From, Source: o.Source, need: r.Need,
			Meaning: "Follow-up: " + lowerFirst(o.Title) + ". Days from surgery times 12 divided by 365.25, rounded to whole months."}
		if col.Source == nil {
			col.Source = r.Source
		}
		b.figure(&col, "months")
		col.writeField = writeMonthsSince
		col.Required = r.Refuse && r.Need == "always"
		return col, nil
	}
	return Column{}, fmt.Errorf("no way %q to make a column of a visit", o.How)
}

// daysPerYear is the mean of the Julian year, as in the computed value
// visit-months.
var daysPerYear = quantity.MustDecimal("365.25")

func writeMonthsSince(m *maker, f schema.Field, c *Column) string {
	day := m.e.Episode.Date
	if !day.Recorded() {
		return notRecorded
	}
	days := quantity.FromInt(int64(day.Value().DaysUntil(f.Any().(quantity.Date))))
	return c.figure(days.Mul(quantity.FromInt(12)).Quo(daysPerYear, 12))
}

// VisitColumns are all columns of a follow-up row, in their fixed order. The
// keys are not among them.
func VisitColumns() []Column { return append([]Column(nil), visitColumns()...) }

// Values are the cells of an entry's row in the order of Columns, each checked
// against its column. The two keys are left empty: who has them puts them in.
// Consent is not asked here. The error is ErrUnchecked, a *DraftError or ErrCell.
func Values(c schema.Checked) ([]string, error) {
	if !c.Valid() {
		return nil, ErrUnchecked
	}
	if !c.Complete() {
		return nil, &DraftError{Gaps: len(c.Gaps())}
	}
	m := newMaker(load(), c.Entry(), nil)
	out := make([]string, len(m.columns))
	for i := range m.columns {
		col := &m.columns[i]
		if col.Name == "row_key" || col.Name == "person_key" {
			continue
		}
		out[i] = col.write(m, col)
		if fault := col.accepts(out[i]); fault != "" {
			return nil, fmt.Errorf("%w: column %s: %s", ErrCell, col.Name, fault)
		}
	}
	return out, nil
}

// VisitValues are the cells of one visit of an entry, counted from 0, in the
// order of VisitColumns, each checked. The error is ErrUnchecked, a *DraftError
// or ErrCell.
func VisitValues(c schema.Checked, item int) ([]string, error) {
	if !c.Valid() || item < 0 || item >= c.Entry().Count("visits") {
		return nil, ErrUnchecked
	}
	if !c.Complete() {
		return nil, &DraftError{Gaps: len(c.Gaps())}
	}
	return visitValues(c.Entry(), item)
}

// FollowupValues are the cells of one visit of a follow-up document, counted from
// 0, like VisitValues.
func FollowupValues(c schema.CheckedFollowup, item int) ([]string, error) {
	if !c.Valid() || item < 0 || item >= c.Visits() {
		return nil, ErrUnchecked
	}
	if !c.Complete() {
		return nil, &DraftError{Gaps: len(c.Gaps())}
	}
	return visitValues(c.Entry(), item)
}

func visitValues(e *schema.Entry, item int) ([]string, error) {
	m := newMaker(load(), e, nil)
	columns := visitColumns()
	out := make([]string, len(columns))
	for i := range columns {
		col := &columns[i]
		out[i] = m.cell(col, e.Item(col.From, item))
		if fault := col.accepts(out[i]); fault != "" {
			return nil, fmt.Errorf("%w: column %s: %s", ErrCell, col.Name, fault)
		}
	}
	return out, nil
}

// Separator stands between the codes of a cell that holds several.
func Separator() string { return load().Separator }

// TableField describes the column as a field of a Table Schema, as JSON. The
// exported parts of the column are what it goes by, so a caller may change them
// first.
func (c Column) TableField() json.RawMessage {
	b, err := json.Marshal(c.field(load().Separator))
	if err != nil {
		panic("registry: " + err.Error()) // a limit of columns.yaml is no number
	}
	return b
}

// Accepts says why a cell cannot stand in the column, "" when it can. The column
// must come from Columns or VisitColumns unchanged.
func (c Column) Accepts(cell string) string { return c.accepts(cell) }

// Version is the version of the columns, of both rows.
func Version() int { return load().Version }
