package report

import (
	"slices"

	"graftnote/registry"
)

// fieldCount counts the answers to one field.
type fieldCount struct {
	column                               string
	complete, reasoned, silent, notAsked count
	of                                   count // eyes in which the question arises; all while small counts are hidden
}

// shownElsewhere names the fields whose missing answers stand in another table,
// and the table: a count that stood in two tables could be hidden in one and
// shown in the other.
var shownElsewhere = map[string]string{
	"indication.diagnosis": byIndication, "procedure.performed": byIndication,
	"separation.obtained": bySeparation, "separation.bubble-type": bySeparation,
	"before.corrected": byAcuity, "before.refraction": vectorBefore,
}

// across are the fields of shownElsewhere that stand in the columns of the table.
var across = []string{"procedure.performed", "separation.bubble-type"}

// fieldColumns are the columns that the rows carry, one for each field, in the
// order of the row, without those that the program computes and those that are
// withheld from every row.
func fieldColumns(all []eye) []registry.Column {
	out, _, _ := columnsOf(all)
	return out
}

// columnsOf are the columns of fieldColumns, those of them that are withheld from
// some rows, and those that are withheld from all.
func columnsOf(all []eye) (out, some, none []registry.Column) {
	had := map[string]bool{}
	for _, c := range registry.Columns() {
		if had[c.From] || slices.Contains(content().Uncounted, c.Name) || !carried(all, c.Name) {
			continue
		}
		had[c.From] = true
		n := 0
		for _, e := range all {
			if missing(e.row.Cell(c.Name)) == withheld {
				n++
			}
		}
		if n == len(all) {
			none = append(none, c)
			continue
		}
		out = append(out, c)
		if n > 0 {
			some = append(some, c)
		}
	}
	return out, some, none
}

func carried(all []eye, column string) bool {
	for _, e := range all {
		if e.row.Cell(column) != "" {
			return true
		}
	}
	return false
}

// fieldCounts counts the answers to every field of fieldColumns.
func (r *result) fieldCounts() (out []fieldCount) {
	for _, c := range fieldColumns(r.all) {
		name := shownElsewhere[c.From]
		if name == "" {
			get := func(row string) count { return r.n.get(fieldName(c.Name), row, "") }
			out = append(out, r.ofAll(fieldCount{column: c.Name, complete: get(complete), reasoned: get(states[reasoned]), silent: get(states[silent]), notAsked: get(states[notAsked])}))
			continue
		}
		side, by := 0, " by row"
		if slices.Contains(across, c.From) {
			side, by = 1, " by column"
		}
		get := func(state string) count {
			if side == 1 {
				return r.n.get(name, "", state)
			}
			return r.n.get(name, state, "")
		}
		f := fieldCount{column: c.Name, reasoned: get(states[reasoned]), silent: get(states[silent]), notAsked: get(states[notAsked])}
		f.complete = r.n.sum(name, sumGiven+by)
		if r.o.Unmasked {
			f.complete = r.n.sum(name, sumAsked+by)
		}
		out = append(out, r.ofAll(f))
	}
	return out
}

func (r *result) ofAll(f fieldCount) fieldCount {
	f.of = r.n.get(byIndication, "", "")
	if r.o.Unmasked {
		f.of = plus(f.complete, f.reasoned, f.silent)
	}
	return f
}
