package report

import (
	"slices"

	"graftnote/registry"
	"graftnote/registry/figures"
)

// Totals that tables split.
const (
	operations = "operations"
	seen       = "eyes seen again"
)

// Tables by name. Findings and fields have their own.
const (
	byIndication  = "indication and technique"
	bySeparation  = "separation and type"
	byPerforation = "perforation"
	byReturn      = "visits"
	byGraft       = "graft"
	byMedium      = "separation and medium"
	byAcuity      = "acuity"
	vectorBefore  = "refraction before"
	vectorAfter   = "refraction after"
)

// Rows and columns that are no codes.
const (
	yes        = "yes"
	no         = "no"
	unknown    = "not known"
	airOnly    = "air only"
	airAnd     = "air and another medium"
	noAir      = "no air"
	perforated = "perforated"
	intact     = "intact"
	microOnly  = "microperforation only"
	macro      = "macroperforation"
	seenAgain  = "seen again"
	neverSeen  = "not seen again"
	failed     = "failed"
	surviving  = "surviving"
	complete   = "complete"
	answered   = "answered"
	noVector   = "outside the limits"
)

// Sums by name. What remains of a rate is summed as well, because "12 of 15"
// shows the 3.
const (
	sumTyped    = "typed"
	sumAir      = "air injected"
	sumByAir    = "by air alone"
	sumAirThen  = "by air or another medium"
	sumAirAnd   = "air and another medium injected"
	sumRescued  = "with another medium"
	sumChart    = "on the chart"
	sumMeasured = "measured"
	sumPaired   = "on the chart before and after"
	sumRest     = "rest"
	sumGiven    = "given or not asked"
	sumAsked    = "given"
	sumOpen     = "open"
	// What a sum runs along ends its name.
	byRow, byColumn = " by row", " by column"
)

// Rows and columns that are summed.
var (
	obtainedSep = []string{"complete", "partial"}
	triedSep    = []string{"complete", "partial", "none"}
	bubbleTypes = []string{"type-1", "type-2", "mixed"}
	onChart     = []string{atLine, below}
	measured    = []string{atLine, below, offChart}
)

const converted = "converted-penetrating"

func without(all []string, not string) []string {
	return slices.DeleteFunc(slices.Clone(all), func(s string) bool { return s == not })
}

// codesOf are the codes of a column in their order that some eye has.
func codesOf(all []eye, column string) []string {
	have := map[string]bool{}
	for _, e := range all {
		have[e.row.Cell(column)] = true
	}
	var out []string
	for _, c := range content().columns[column].Codes {
		if have[c.Code] {
			out = append(out, c.Code)
		}
	}
	return out
}

// cellOf is a coded cell, or the words for what is missing.
func cellOf(r Row, column string) string {
	if s := missing(r.Cell(column)); s != recorded {
		return states[s]
	}
	return r.Cell(column)
}

// mediumOf says what was injected into the stroma, over all attempts.
func mediumOf(r Row) string {
	if n, ok := value(r, "attempts"); ok && n == 0 {
		return noAir
	}
	air, a := value(r, "attempts_air")
	viscoelastic, b := value(r, "attempts_viscoelastic")
	fluid, c := value(r, "attempts_fluid")
	switch {
	case !a || !b || !c || air+viscoelastic+fluid == 0:
		return unknown
	case air == 0:
		return noAir
	case viscoelastic+fluid > 0:
		return airAnd
	}
	return airOnly
}

// present reports whether some eye counts several items, one at least, or none.
func present(r Row, column string) string {
	switch n, ok := value(r, column); {
	case !ok:
		return unknown
	case n > 0:
		return yes
	}
	return no
}

// tallies counts everything that the report shows. groupOf names, by table, the
// total that holds the eyes in which the question was answered. columns are the
// fields whose answers are counted.
func tallies(all []eye, columns []registry.Column, o Options) (out []*tally, groupOf map[string]string) {
	indication := newGrid(byIndication, codesOf(all, "indication"), codesOf(all, "procedure_performed"))
	indication.sums = []figures.Sum{along(1, sumRest, without(codesOf(all, "procedure_performed"), converted)...)}
	indication.answers = []int{0, 1}
	separation := newGrid(bySeparation, triedSep, bubbleTypes)
	separation.answers = []int{0, 1}
	separation.sums = []figures.Sum{along(1, sumTyped, bubbleTypes...)}
	for _, one := range bubbleTypes {
		separation.sums = append(separation.sums, along(1, sumRest+" "+one, without(bubbleTypes, one)...))
	}
	// Eyes without any injection are no column of their own, nor the eyes with one a
	// rate: those separated without air are few, and to hide them would hide what air
	// alone achieved.
	medium := newGrid(byMedium, triedSep, []string{airOnly, airAnd, noAir})
	medium.rowsBy = bySeparation
	air := []string{airOnly, airAnd}
	byAir := figures.Block(sumByAir, obtainedSep, []string{airOnly})
	injected := figures.Block(sumAir, triedSep, air)
	byAir.Dear, injected.Dear = true, true
	notByAir := figures.Block(sumRest, triedSep, []string{airAnd})
	notByAir.Of = append(notByAir.Of, [2]string{"none", airOnly})
	medium.sums = []figures.Sum{byAir, notByAir, injected, figures.Block(sumAirThen, obtainedSep, air), figures.Block(sumRest+" then", []string{"none"}, air),
		figures.Block(sumRescued, obtainedSep, []string{airAnd}), figures.Block(sumAirAnd, triedSep, []string{airAnd})}
	back := newList(byReturn, operations, seenAgain, neverSeen)
	back.parts = map[string]string{seenAgain: seen}
	graft := newList(byGraft, seen, failed, surviving)
	kinds := []string{atLine, below, offChart, letters}
	vision := newGrid(byAcuity, kinds, kinds)
	vision.answers = []int{0}
	for side := range 2 {
		vision.sums = append(vision.sums, along(side, sumChart, onChart...), along(side, sumMeasured, measured...), along(side, sumRest, without(measured, atLine)...))
	}
	vision.sums = append(vision.sums, figures.Block(sumPaired, onChart, onChart))
	before := newList(vectorBefore, operations, yes, noVector)
	before.answers = []int{0}
	after := newList(vectorAfter, operations, yes, no)
	out = []*tally{indication, separation, medium, back, vision, before, after, graft}
	var followed []eye
	for _, e := range all {
		r := e.row
		indication.add(cellOf(r, "indication"), cellOf(r, "procedure_performed"))
		obtained := cellOf(r, "separation")
		separation.add(obtained, cellOf(r, "bubble_type"))
		medium.add(obtained, mediumOf(r))
		visitRow, visited := e.near(o.Months)
		was, _ := acuity(r, "corrected_before_logmar", "corrected_before_class", *o.Line)
		if s := missing(r.Cell("corrected_before_class")); was == noAcuity && s != recorded {
			was = states[s]
		}
		is := noVisit
		if visited {
			is, _ = acuity(visitRow, "corrected_logmar", "corrected_class", *o.Line)
		}
		vision.add(was, is)
		switch s := missing(r.Cell("refraction_before_j0_d")); {
		case hasVector(r, true):
			before.add(yes, "")
		case s == recorded:
			before.add(noVector, "")
		default:
			before.add(states[s], "")
		}
		after.add(yesNo(visited && hasVector(visitRow, false)), "")
		observation, ok := e.outcome()
		if !ok {
			back.add(neverSeen, "")
			continue
		}
		followed = append(followed, e)
		back.add(seenAgain, "")
		graft.add(map[bool]string{true: failed, false: surviving}[observation.Event], "")
	}
	groups := &groups{of: map[string]string{}, by: map[string]string{}}
	tears := []string{microOnly, macro, intact}
	perforation := newGrid(byPerforation, []string{perforated, intact}, tears)
	for _, one := range tears[:2] {
		perforation.sums = append(perforation.sums, along(1, sumRest+" "+one, without(tears, one)...))
	}
	groups.add(perforation, operations, all, func(e eye) (string, string) { return perforations(e.row) })
	for _, f := range content().Events {
		groups.add(newList(f.ID, "", yes, no), operations, all, func(e eye) (string, string) { return present(e.row, f.Column), "" })
	}
	for _, f := range content().Later {
		groups.add(newList(f.ID, "", yes, no), seen, followed, func(e eye) (string, string) {
			if found, known := e.has(f); known {
				return yesNo(found), ""
			}
			return unknown, ""
		})
	}
	out = append(out, groups.tables...)
	return append(out, fields(all, columns, o)...), groups.of
}

// groups splits a total into the eyes in which a question was answered and the
// others. Questions that are open in the same eyes, such as all of a list that
// was never stated, share one such split: their open eyes are one number, which
// must not be hidden in one place and shown in another.
type groups struct {
	tables []*tally
	of     map[string]string // table to the total of its answered eyes
	by     map[string]string // total and open eyes to the name of the split
}

func (g *groups) add(t *tally, total string, all []eye, answer func(eye) (row, col string)) {
	open := make([]byte, (len(all)+7)/8)
	for i, e := range all {
		row, col := answer(e)
		if row == unknown {
			open[i/8] |= 1 << (i % 8)
			continue
		}
		t.add(row, col)
	}
	key := total + "\n" + string(open)
	name, ok := g.by[key]
	if !ok {
		name = answered + " " + t.name
		g.by[key] = name
		split := newList(name, total, answered, unknown)
		split.parts = map[string]string{answered: name}
		for i := range all {
			if open[i/8]&(1<<(i%8)) != 0 {
				split.add(unknown, "")
			} else {
				split.add(answered, "")
			}
		}
		g.tables = append(g.tables, split)
	}
	t.total = name
	g.of[t.name] = name
	g.tables = append(g.tables, t)
}

func yesNo(b bool) string {
	if b {
		return yes
	}
	return no
}

func hasVector(r Row, before bool) bool {
	_, ok := vectorOf(r, before)
	return ok
}

func vectorOf(r Row, before bool) (figures.Vector, bool) {
	if before {
		return vector(r, "refraction_before_se", "refraction_before_j0_d", "refraction_before_j45_d")
	}
	return vector(r, "refraction_se", "refraction_j0_d", "refraction_j45_d")
}

// perforations sorts an eye by its worst tear.
func perforations(r Row) (row, col string) {
	micro, large := present(r, "microperforations"), present(r, "macroperforations")
	switch {
	case large == yes:
		return perforated, macro
	case large == unknown || micro == unknown:
		return unknown, unknown
	case micro == yes:
		return perforated, microOnly
	}
	return intact, intact
}

// fields counts the answers to each field that the rows carry, once for all
// columns made of it. Fields that another table shows are counted there. While
// small counts are hidden, a question that does not arise counts as answered: the
// number of eyes in which it arises is the same for many fields, and could be
// subtracted from one where it is hidden.
func fields(all []eye, columns []registry.Column, o Options) []*tally {
	var out []*tally
	for _, c := range columns {
		if shownElsewhere[c.From] != "" {
			continue
		}
		t := newList(fieldName(c.Name), operations, complete, states[reasoned], states[silent])
		t.answers = []int{0}
		if o.Unmasked {
			t.rows = append(t.rows, states[notAsked])
		}
		for _, e := range all {
			switch s := missing(e.row.Cell(c.Name)); {
			case s == recorded, s == withheld, s == notAsked && !o.Unmasked:
				t.add(complete, "")
			default:
				t.add(states[s], "")
			}
		}
		out = append(out, t)
	}
	return out
}

func fieldName(column string) string { return "field " + column }
