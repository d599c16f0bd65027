package report

import (
	"fmt"
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
	fields   fieldSets
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
	r.fields = fieldsOf(r.all)
	var tables []figures.Table
	all, groupOf := tallies(r.all, r.fields.asked, o)
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
	add(inSeparation, "air-alone", "Separated by air alone, of eyes given air", "big-bubble", n.sum(byMedium, sumByAir), n.sum(byMedium, sumAir))
	add(inSeparation, "air-then", "Separated by any medium, of eyes given air", "big-bubble-rescued", n.sum(byMedium, sumAirThen), n.sum(byMedium, sumAir))
	add(inSeparation, "rescued", "Separated, of eyes given air and another medium", "", n.sum(byMedium, sumRescued), n.sum(byMedium, sumAirAnd))
	for _, t := range bubbleTypes {
		add(inSeparation, t, "Bubble: "+content().code("bubble_type", t)+", of known types", "bubble-type", n.get(bySeparation, "", t), n.sum(bySeparation, sumTyped+byColumn))
	}
	add(inEvents, "perforation", "Any perforation of Descemet membrane", "perforation", n.get(byPerforation, perforated, ""), known(byPerforation))
	add(inEvents, "microperforation", "Microperforation, no larger one", "microperforation", n.get(byPerforation, "", microOnly), known(byPerforation))
	add(inEvents, "macroperforation", "Macroperforation", "", n.get(byPerforation, "", macro), known(byPerforation))
	add(inEvents, "conversion", "Conversion to penetrating keratoplasty", "conversion", n.get(byIndication, "", converted), n.get(byIndication, "", ""))
	for _, f := range content().Events {
		add(inEvents, f.ID, f.Title, f.Published, n.get(f.ID, yes, ""), known(f.ID))
	}
	for _, f := range content().Later {
		add(inLater, f.ID, f.Title, f.Published, n.get(f.ID, yes, ""), known(f.ID))
	}
	add(inLater, "failure", "Graft failed", "failure", n.get(byGraft, failed, ""), n.get(byReturn, seenAgain, ""))
	add(inAcuity, "line-before", r.lineTitle()+" before surgery", "", n.get(byAcuity, atLine, ""), n.sum(byAcuity, sumMeasured+byRow))
	add(inAcuity, "line-after", r.lineTitle()+" after surgery", "acuity-line", n.get(byAcuity, "", atLine), n.sum(byAcuity, sumMeasured+byColumn))
}

// lineTitle names the line, because the chart of rates stands before its section.
func (r *result) lineTitle() string { return fmt.Sprintf("Acuity of %g logMAR or better", *r.o.Line) }

// mean is a summary of numbers, when it may be shown.
type mean struct {
	title   string
	n       count
	summary figures.Summary
	known   bool
	// withheld: the number may be shown, what was worked out of it not.
	withheld bool
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
		describe("Before surgery", n.sum(byAcuity, sumChart+byRow), before),
		describe("After surgery", n.sum(byAcuity, sumChart+byColumn), after),
	}
	r.paired = describe("Change in the same eyes", n.sum(byAcuity, sumPaired), change)
	// With the change the mean of the eyes that were seen only once can be had: it
	// must not be that of a few.
	for _, all := range [][]float64{before, after} {
		if !r.o.Unmasked && !apart(len(all), len(change), r.o.Minimum) {
			r.paired.known, r.paired.withheld = false, true
		}
	}
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
	s.n = r.n.get(byGraft, "", "")
	whole, err := figures.KaplanMeier(all)
	if err != nil {
		return err
	}
	s.hidden = s.n.hidden || s.failed.hidden
	if !s.hidden && len(all) > 0 {
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
	n      count
	target float64
	at     []int // operations done, counted from 1
	value  []float64
	hidden bool
}

func (r *result) setCurve() error {
	c := curve{target: content().target, n: r.n.sum(byMedium, sumAir)}
	defer func() { r.curve = c }()
	if !r.ordered {
		return nil
	}
	// The last point tells how often air alone did it.
	if c.n.hidden || r.n.sum(byMedium, sumByAir).hidden {
		c.hidden = true
		return nil
	}
	var failures []bool
	for _, e := range r.all {
		medium, obtained := mediumOf(e.row), e.row.Cell("separation")
		if (medium == airOnly || medium == airAnd) && slices.Contains(triedSep, obtained) {
			failures = append(failures, medium != airOnly || obtained == "none")
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
