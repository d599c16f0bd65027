package month

import (
	"iter"
	"slices"
	"sync"

	"graftnote/registry"
)

// StandingRow is a row that stands at the registry once the package is accepted,
// in our own form and as coarse as it is sent, whatever form the registry asks
// for.
type StandingRow struct {
	d      *differ
	kind   string
	source int
}

// Standing are the rows of one kind that stand once the package is accepted, those
// of earlier packages too, in the order of the operations handed in.
func (p *Package) Standing(kind string) iter.Seq[StandingRow] {
	return func(yield func(StandingRow) bool) {
		d := p.differ
		for i := range d.store.operations {
			if kind == OperationRow && !d.dropped[i] && !yield(StandingRow{d, kind, i}) {
				return
			}
		}
		for i, v := range d.visits {
			if kind == VisitRow && !d.dropped[v.operation] && !yield(StandingRow{d, kind, i}) {
				return
			}
		}
	}
}

func (r StandingRow) operation() *rawOperation {
	if r.kind == VisitRow {
		return &r.d.store.operations[r.d.visits[r.source].operation]
	}
	return &r.d.store.operations[r.source]
}

// Case is the operation's case. It never leaves.
func (r StandingRow) Case() string { return r.operation().caseID }

// InPeriod reports that the operation is one of the package's period.
func (r StandingRow) InPeriod() bool { return r.operation().thisPeriod }

// standingPlaces are the places of the columns by name, one map for each kind.
var standingPlaces = sync.OnceValue(func() map[string]map[string]int {
	out := map[string]map[string]int{OperationRow: {}, VisitRow: {}}
	for i, c := range registry.Columns() {
		out[OperationRow][c.Name] = i
	}
	for i, c := range registry.VisitColumns() {
		out[VisitRow][c.Name] = i
	}
	return out
})

// Cell is the cell of a column of registry.Columns or registry.VisitColumns; a
// visit has the row key of its operation too. Another column has "".
func (r StandingRow) Cell(column string) string {
	if column == "row_key" {
		return r.operation().key
	}
	i, known := standingPlaces()[r.kind][column]
	switch {
	case !known:
		return ""
	case r.kind == VisitRow:
		return r.d.visitCells[i].text(r.source)
	}
	return r.d.cell(i, r.source)
}

// GivenUp says in sentences what was given up to hide people; it is empty when no
// row stands.
func (p *Package) GivenUp() []string {
	if p.Disclosure == nil {
		return nil
	}
	return givenUp(p)
}

// withheldColumns are the columns that follow a coarser one and are withheld with
// it.
func (p *Package) withheldColumns() []string {
	var out []string
	for _, c := range p.Disclosure.Changes {
		if c.Step == 0 {
			continue
		}
		for _, name := range load().Follows[c.Column] {
			if !slices.Contains(out, name) {
				out = append(out, name)
			}
		}
	}
	return out
}
