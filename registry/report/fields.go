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

// fieldSets are the columns that the rows carry, one for each field, in the order
// of the row, without those that the program computes.
type fieldSets struct {
	asked    []registry.Column // not withheld from every row
	some     []registry.Column // of these, withheld from some rows
	withheld []registry.Column // from every row
}

func fieldsOf(all []eye) (out fieldSets) {
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
			out.withheld = append(out.withheld, c)
			continue
		}
		out.asked = append(out.asked, c)
		if n > 0 {
			out.some = append(out.some, c)
		}
	}
	return out
}

func carried(all []eye, column string) bool {
	for _, e := range all {
		if e.row.Cell(column) != "" {
			return true
		}
	}
	return false
}

// fieldCounts counts the answers to every field that is not withheld.
func (r *result) fieldCounts() (out []fieldCount) {
	for _, c := range r.fields.asked {
		name := shownElsewhere[c.From]
		if name == "" {
			get := func(row string) count { return r.n.get(fieldName(c.Name), row, "") }
			out = append(out, r.ofAll(fieldCount{column: c.Name, complete: get(complete), reasoned: get(states[reasoned]), silent: get(states[silent]), notAsked: get(states[notAsked])}))
			continue
		}
		side, by := 0, byRow
		if slices.Contains(across, c.From) {
			side, by = 1, byColumn
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
