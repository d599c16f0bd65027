package month

import (
	"graftnote/registry"
	"graftnote/schema"
)

// column is one column of a table of the package.
type column struct {
	registry.Column
	role string
	cell func(l *line) string
	// missing are the texts that stand for no value, with the code of each.
	missing map[string]string
}

// table is one table of the package, ready to be written.
type table struct {
	name    string // operations or followups
	columns []column
	lines   []line
	codes   []registry.MissingCode // what a missing text says, in order
}

// tables makes the two tables in our own form. The store gives its cells up to
// them.
func (d *differ) tables() (operations, visits *table) {
	c := load()
	missing := map[string]string{}
	for _, m := range missingCodes() {
		missing[m.Code] = m.Code
	}
	head := func(roles ...string) []column {
		var out []column
		for _, role := range roles {
			col := c.control(role)
			col.Required = role != "person-key" // a withdrawn row has none
			out = append(out, column{Column: col, role: role, cell: d.controlCell(role), missing: missing})
		}
		return out
	}
	roles := []string{"row-key", "revision", "change", "reason", "replaces"}
	if d.keys.o.Mode == Pseudonymised {
		roles = []string{"row-key", "person-key", "revision", "change", "reason", "replaces"}
	}
	operations = &table{name: "operations", columns: head(roles...), lines: d.out, codes: missingCodes()}
	for i, col := range registry.Columns() {
		if col.Name == "row_key" || col.Name == "person_key" {
			continue
		}
		col.Required = false
		if codes := coarseCodes(col.Name); codes != nil {
			col.Codes = append([]schema.CodeWord(nil), col.Codes...)
			for _, code := range codes {
				col.Codes = append(col.Codes, schema.CodeWord{Code: code, Words: code})
			}
		}
		cells, coarser := d.coarse[i]
		if !coarser {
			cells = d.cells[i]
		}
		operations.columns = append(operations.columns, column{Column: col, cell: cellOf(cells.pick(d.out)), missing: missing})
		if col.Name == "operation_year" {
			span := c.Span.column(c)
			span.Required = false
			operations.columns = append(operations.columns, column{Column: span, cell: cellOf(d.span.pick(d.out)), missing: missing})
		}
	}
	visits = &table{name: "followups", columns: head("visit-key", "row-key", "revision", "change", "reason", "replaces"), lines: d.outVisits, codes: missingCodes()}
	for i, col := range registry.VisitColumns() {
		col.Required = false
		visits.columns = append(visits.columns, column{Column: col, missing: missing, cell: cellOf(d.visitCells[i].pick(d.outVisits))})
	}
	return operations, visits
}

func cellOf(cells *coded) func(l *line) string {
	return func(l *line) string {
		if l.source < 0 {
			return withdrawn
		}
		return cells.text(int(l.at))
	}
}

func (d *differ) controlCell(role string) func(l *line) string {
	switch role {
	case "visit-key":
		return func(l *line) string { return l.key }
	case "row-key":
		return func(l *line) string {
			if l.kind == VisitRow {
				return l.operation
			}
			return l.key
		}
	case "person-key":
		return func(l *line) string {
			if l.source < 0 {
				return withdrawn
			}
			return d.keys.person(d.store.operations[l.source].person)
		}
	case "revision":
		return func(l *line) string { return itoa(int(l.revision)) }
	case "change":
		return func(l *line) string { return l.change }
	case "reason":
		return func(l *line) string { return l.reason }
	case "replaces":
		return func(l *line) string { return itoa(int(l.replaces)) }
	}
	panic("month: no role " + role)
}
