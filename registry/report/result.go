package report

import (
	"slices"

	"graftnote/registry/figures"
)

// result is everything that was worked out, as it may be shown.
type result struct {
	o        Options
	all      []eye
	lost     bool // visits that could not be used
	ordered  bool
	n        *shown
	rates    []rate
	acuity   []mean
	paired   mean
	vectors  []vectors
	survival survival
	curve    curve
}

// work counts, hides and computes.
func work(d Data, o Options) (*result, error) {
	o, err := o.ready()
	if err != nil {
		return nil, err
	}
	r := &result{o: o, ordered: d.Ordered}
	if r.all, r.lost, err = eyes(d, o.Filter); err != nil {
		return nil, err
	}
	if len(r.all) > 1_000_000_000 {
		return nil, ErrTooLarge
	}
	if len(r.all) == 0 {
		r.n = &shown{}
		return r, nil
	}
	var tables []figures.Table
	all, groupOf := tallies(r.all, o)
	for _, t := range all {
		if table := t.table(); len(table.Rows) > 0 {
			tables = append(tables, table)
		}
	}
	if r.n, err = hide(tables, o); err != nil {
		return nil, err
	}
	r.setRates(groupOf)
	r.setAcuity()
	r.setVectors()
	if err := r.setSurvival(); err != nil {
		return nil, err
	}
	return r, r.setCurve()
}

// rate is a proportion, with its interval when both counts are shown.
type rate struct {
	id, title, section string
	events, of         count
	published          string // measure beside it
	interval           figures.Interval
	known              bool // the interval exists
	few                string
}

// Sections of the report.
const (
	inSeparation = "separation"
	inEvents     = "events"
	inLater      = "later"
	inAcuity     = "acuity"
)

func (r *result) setRates(groupOf map[string]string) {
	n := r.n
	known := func(table string) count { return n.get(groupOf[table], answered, "") }
	add := func(section, id, title, published string, events, of count) {
		x := rate{id: id, title: title, section: section, events: events, of: of, published: published}
		if !events.hidden && !of.hidden {
			var err error
			x.interval, err = figures.Wilson(events.n, of.n)
			x.known = err == nil
			x.few = figures.Few(events.n, of.n)
		}
		r.rates = append(r.rates, x)
	}
	obtained := plus(n.get(bySeparation, "complete", ""), n.get(bySeparation, "partial", ""))
	add(inSeparation, "separated", "Separation obtained by injection", "big-bubble", obtained, plus(obtained, n.get(bySeparation, "none", "")))
	add(inSeparation, "separated-whole", "Separation complete", "", n.get(bySeparation, "complete", ""), plus(obtained, n.get(bySeparation, "none", "")))
	types := []string{"type-1", "type-2", "mixed"}
	var typed []count
	for _, t := range types {
		typed = append(typed, n.get(bySeparation, "", t))
	}
	for i, t := range types {
		add(inSeparation, t, "Bubble "+content().code("bubble_type", t), "bubble-type", typed[i], plus(typed...))
	}
	add(inEvents, "perforation", "Any perforation of Descemet membrane", "perforation", n.get(byPerforation, perforated, ""), known(byPerforation))
	add(inEvents, "microperforation", "Microperforation, no larger one", "microperforation", n.get(byPerforation, "", microOnly), known(byPerforation))
	add(inEvents, "macroperforation", "Macroperforation", "", n.get(byPerforation, "", macro), known(byPerforation))
	add(inEvents, "conversion", "Conversion to penetrating keratoplasty", "conversion", n.get(byIndication, "", "converted-penetrating"), n.get(byIndication, "", ""))
	for _, f := range content().Events {
		add(inEvents, f.ID, f.Title, f.Published, n.get(f.ID, yes, ""), known(f.ID))
	}
	for _, f := range content().Later {
		add(inLater, f.ID, f.Title, f.Published, n.get(f.ID, yes, ""), known(f.ID))
	}
	add(inLater, "failure", "Graft failed", "failure", n.get(byGraft, failed, ""), n.get(byReturn, seenAgain, ""))
	for _, side := range []struct{ id, title, row, col string }{{"line-before", "At the line or better before surgery", atLine, ""}, {"line-after", "At the line or better after surgery", "", atLine}} {
		get := func(kind string) count {
			if side.col == "" {
				return n.get(byAcuity, kind, "")
			}
			return n.get(byAcuity, "", kind)
		}
		published := ""
		if side.col != "" {
			published = "acuity-line"
		}
		add(inAcuity, side.id, side.title, published, get(atLine), plus(get(atLine), get(below), get(offChart)))
	}
}

// mean is a summary of numbers, when it may be shown.
type mean struct {
	title   string
	n       count
	summary figures.Summary
	known   bool
}

func describe(title string, n count, values []float64) mean {
	m := mean{title: title, n: n}
	if n.hidden {
		return m
	}
	m.summary, m.known = figures.Describe(values)
	return m
}

func (r *result) setAcuity() {
	var before, after, change []float64
	for _, e := range r.all {
		was, b := acuity(e.row, "corrected_before_logmar", "corrected_before_class", *r.o.Line)
		if was == atLine || was == below {
			before = append(before, b)
		}
		row, ok := e.near(r.o.Months)
		if !ok {
			continue
		}
		is, a := acuity(row, "corrected_logmar", "corrected_class", *r.o.Line)
		if is == atLine || is == below {
			after = append(after, a)
			if was == atLine || was == below {
				change = append(change, a-b)
			}
		}
	}
	n := r.n
	r.acuity = []mean{
		describe("Before surgery", plus(n.get(byAcuity, atLine, ""), n.get(byAcuity, below, "")), before),
		describe("After surgery", plus(n.get(byAcuity, "", atLine), n.get(byAcuity, "", below)), after),
	}
	r.paired = describe("Change in the same eyes", plus(n.get(byAcuity, atLine, atLine), n.get(byAcuity, atLine, below),
		n.get(byAcuity, below, atLine), n.get(byAcuity, below, below)), change)
}

// vectors are the refractions at one time.
type vectors struct {
	title    string
	n        count
	eyes     []figures.Vector // only for a report that hides nothing
	mean     figures.Vector
	centroid figures.Centroid
	known    bool
}

func (r *result) setVectors() {
	for _, t := range []struct{ table, title string }{{vectorBefore, "Before surgery"}, {vectorAfter, "After surgery"}} {
		v := vectors{title: t.title, n: r.n.get(t.table, yes, "")}
		var all []figures.Vector
		for _, e := range r.all {
			row, ok := e.row, true
			if t.table == vectorAfter {
				row, ok = e.near(r.o.Months)
			}
			if !ok {
				continue
			}
			if one, ok := vectorOf(row, t.table == vectorBefore); ok {
				all = append(all, one)
			}
		}
		if !v.n.hidden {
			v.mean, v.known = figures.MeanVector(all)
			v.centroid, _ = figures.DoubleAngle(all)
			if r.o.Unmasked {
				v.eyes = all
			}
		}
		r.vectors = append(r.vectors, v)
	}
}

// survival is the curve at the times that may be shown.
type survival struct {
	n, failed count
	whole     *figures.Curve // only for a report that hides nothing
	steps     []figures.Step
	hidden    bool // some time was left out because counts are small
	last      float64
}

func (r *result) setSurvival() error {
	var all []figures.Observation
	for _, e := range r.all {
		if o, ok := e.outcome(); ok {
			all = append(all, o)
		}
	}
	s := survival{failed: r.n.get(byGraft, failed, "")}
	s.n = plus(s.failed, r.n.get(byGraft, surviving, ""))
	whole, err := figures.KaplanMeier(all)
	if err != nil {
		return err
	}
	s.hidden = s.n.hidden
	if !s.n.hidden && len(all) > 0 {
		if r.o.Unmasked {
			s.whole = &whole
		}
		s.last = slices.MaxFunc(all, func(a, b figures.Observation) int {
			if a.Time < b.Time {
				return -1
			}
			return 1
		}).Time
		s.steps, s.hidden = timesShown(whole, all, r.o)
	}
	r.survival = s
	return nil
}

// timesShown picks the times at which the curve may be shown: between two of
// them, and behind the last, no small number of grafts failed or left.
func timesShown(c figures.Curve, all []figures.Observation, o Options) (steps []figures.Step, hidden bool) {
	failures := func(t float64) (n int) {
		for _, x := range all {
			if x.Event && x.Time <= t {
				n++
			}
		}
		return n
	}
	risk, events := c.N, 0
	for _, t := range content().Times {
		step, ok := c.At(t)
		if !ok {
			break
		}
		e := failures(t)
		left := (risk - step.AtRisk) - (e - events)
		fine := o.Unmasked || (step.AtRisk == 0 || step.AtRisk >= o.Minimum) && apart(risk, step.AtRisk, o.Minimum) &&
			apart(e, events, o.Minimum) && apart(c.Events, e, o.Minimum) && apart(left, 0, o.Minimum)
		if !fine {
			hidden = true
			continue
		}
		risk, events = step.AtRisk, e
		steps = append(steps, step)
	}
	return steps, hidden
}

// curve is the cumulative sum at the operations that may be shown.
type curve struct {
	failures, n count
	target      float64
	at          []int // operations done, counted from 1
	value       []float64
	hidden      bool
}

func (r *result) setCurve() error {
	c := curve{target: content().target, failures: r.n.get(bySeparation, "none", "")}
	c.n = plus(c.failures, r.n.get(bySeparation, "complete", ""), r.n.get(bySeparation, "partial", ""))
	defer func() { r.curve = c }()
	if !r.ordered {
		return nil
	}
	if c.n.hidden {
		c.hidden = true
		return nil
	}
	var failures []bool
	for _, e := range r.all {
		if n, ok := value(e.row, "attempts"); ok && n == 0 {
			continue
		}
		switch e.row.Cell("separation") {
		case "complete", "partial":
			failures = append(failures, false)
		case "none":
			failures = append(failures, true)
		}
	}
	sums, err := figures.CumulativeSum(failures, c.target)
	if err != nil {
		return err
	}
	total := 0
	for _, f := range failures {
		if f {
			total++
		}
	}
	bad, shownBad, shownAt := 0, 0, 0
	for i, f := range failures {
		if f {
			bad++
		}
		good := i + 1 - bad
		m := r.o.Minimum
		fine := r.o.Unmasked || apart(bad, shownBad, m) && apart(good, shownAt-shownBad, m) &&
			apart(total, bad, m) && apart(len(failures)-total, good, m)
		// Two points with neither outcome between them would be one.
		if !fine {
			c.hidden = c.hidden || i == len(failures)-1
			continue
		}
		c.at, c.value = append(c.at, i+1), append(c.value, sums[i])
		shownBad, shownAt = bad, i+1
	}
	return nil
}
