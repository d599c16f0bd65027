package report

import (
	"fmt"
	"strconv"

	"graftnote/registry/figures"
)

// Table is a plain table: the same figures as the report, one in each row, for an
// audit or a paper.
type Table struct {
	Title  string
	Header []string
	Rows   [][]string // as many cells as Header
	Notes  []string
}

// Series gives the figures of the operations that Options.Filter keeps. What the
// report hides is hidden here; a hidden figure is written as *, one that does not
// exist is empty. Tables of several filters can be subtracted from one another,
// so whoever publishes more than one must look for small differences. Errors are
// those of Build.
func Series(d Data, o Options) (Table, error) {
	r, err := work(d, o)
	if err != nil {
		return Table{}, err
	}
	w := content()
	s := &series{result: r, w: w, out: Table{Title: w.Name, Header: []string{"Part", "Figure", "Eyes", "Of", "Per cent", "Lower 95 % limit", "Upper 95 % limit", "Value", "Unit", "Note"}}}
	if r.o.Period != "" {
		s.out.Title += ", " + r.o.Period
	}
	if f := r.o.Filter.String(); f != "" {
		s.out.Title += ", only " + f
	}
	note := w.say("unmasked")
	if !r.o.Unmasked {
		note = w.say("masked", "below", strconv.Itoa(r.o.Minimum-1), "mark", mark)
	}
	s.out.Notes = []string{note, w.say("eyes") + " " + w.say("rare"), figures.Caution("few")}
	if len(r.curve.at) > 0 {
		s.out.Notes = append(s.out.Notes, figures.Caution("cusum"))
	}
	if len(r.all) == 0 {
		s.row("operations", "All operations", "0", "", nil)
		return s.out, nil
	}
	s.operations()
	for _, x := range r.rates {
		s.rate(x)
	}
	s.measures()
	s.later()
	return s.out, nil
}

type series struct {
	*result
	w   *words
	out Table
}

// row adds a figure; rest are per cent, lower, upper, value, unit.
func (s *series) row(part, name, events, of string, rest []string) {
	row := append([]string{part, name, events, of}, rest...)
	for len(row) < len(s.out.Header) {
		row = append(row, "")
	}
	s.out.Rows = append(s.out.Rows, row)
}

// operations lists the counts of the two cross tables.
func (s *series) operations() {
	for _, t := range []struct{ part, name, row, col string }{{"operations", byIndication, "indication", "procedure_performed"}, {"separation", bySeparation, "separation", "bubble_type"}} {
		m := s.n.table(t.name)
		total := s.n.get(t.name, "", "").String()
		s.row(t.part, "All operations", total, "", nil)
		line := func(name string, c figures.Cell) {
			if c != (figures.Cell{}) {
				s.row(t.part, name, of(c).String(), total, nil)
			}
		}
		for i, r := range m.Rows {
			line(s.w.code(t.row, r), m.RowTotals[i])
		}
		for j, c := range m.Cols {
			line(s.w.code(t.col, c), m.ColTotals[j])
		}
		for i, r := range m.Rows {
			for j, c := range m.Cols {
				line(s.w.code(t.row, r)+"; "+s.w.code(t.col, c), m.Cells[i][j])
			}
		}
	}
	// Its rows are those of the table before.
	m, total := s.n.table(byMedium), s.n.get(byMedium, "", "").String()
	for j, c := range m.Cols {
		for i, r := range m.Rows {
			if m.Cells[i][j] != (figures.Cell{}) {
				s.row("separation", s.w.code("separation", r)+"; "+c, of(m.Cells[i][j]).String(), total, nil)
			}
		}
		if m.ColTotals[j] != (figures.Cell{}) {
			s.row("separation", "Injected: "+c, of(m.ColTotals[j]).String(), total, nil)
		}
	}
}

func (s *series) rate(x rate) {
	rest := []string{mark, mark, mark}
	switch {
	case x.known:
		rest = []string{tenth(x.interval.Estimate), tenth(x.interval.Lower), tenth(x.interval.Upper), "", "", map[bool]string{true: "too few to compare"}[x.few != ""]}
	case !x.events.hidden && !x.of.hidden:
		rest = nil // nothing was counted
	}
	s.row(x.section, x.title, x.events.String(), x.of.String(), rest)
}

func tenth(share float64) string { return fmt.Sprintf("%.1f", share*100) }

// value adds a measured figure of some eyes; it is hidden with their number.
func (s *series) value(part, name string, n count, withheld, known bool, v float64, unit string) {
	text := ""
	switch {
	case n.hidden || withheld:
		text = mark
	case known:
		text = fmt.Sprintf("%.2f", v)
	}
	s.row(part, name, "", n.String(), []string{"", "", "", text, unit})
}

func (s *series) measures() {
	for _, m := range append(append([]mean(nil), s.acuity...), s.paired) {
		name := "Corrected acuity, " + lowerFirst(m.title)
		s.value("acuity", name+", mean", m.n, m.withheld, m.known, m.summary.Mean, "logMAR")
		s.value("acuity", name+", standard deviation", m.n, m.withheld, m.known && m.summary.N > 1, m.summary.SD, "logMAR")
		s.value("acuity", name+", first quartile", m.n, m.withheld, m.known, m.summary.Q1, "logMAR")
		s.value("acuity", name+", median", m.n, m.withheld, m.known, m.summary.Median, "logMAR")
		s.value("acuity", name+", third quartile", m.n, m.withheld, m.known, m.summary.Q3, "logMAR")
	}
	for _, v := range s.vectors {
		name := lowerFirst(v.title)
		for _, x := range []struct {
			name string
			v    float64
			unit string
		}{{"M", v.mean.M, "D"}, {"J0", v.mean.J0, "D"}, {"J45", v.mean.J45, "D"}, {"centroid, size", v.centroid.Size, "D"},
			{"centroid, axis", v.centroid.Axis, "degrees"}, {"size without direction", v.centroid.MeanSize, "D"}} {
			s.value("astigmatism", "Mean "+x.name+", "+name, v.n, false, v.known, x.v, x.unit)
		}
	}
}

func (s *series) later() {
	if s.survival.hidden && len(s.survival.steps) == 0 {
		s.row("survival", "Graft survival", "", mark, []string{mark, mark, mark})
	}
	for _, step := range s.survival.steps {
		rest := []string{tenth(step.Survival)}
		if step.Limits {
			rest = append(rest, tenth(step.Lower), tenth(step.Upper))
		}
		s.row("survival", fmt.Sprintf("Graft survival at %g months, of those at risk", step.Time), "", strconv.Itoa(step.AtRisk), rest)
	}
	if c := s.curve; len(c.at) > 0 {
		last := len(c.at) - 1
		s.row("learning", "Cumulative sum of failures above "+percent(c.target), "", strconv.Itoa(c.at[last]), []string{"", "", "", fmt.Sprintf("%.2f", c.value[last]), ""})
	}
	whole := ", complete or not asked"
	if s.o.Unmasked {
		whole = ", complete"
	}
	for _, f := range s.fieldCounts() {
		share := mark
		if !f.of.hidden && !f.complete.hidden && f.of.n > 0 {
			share = tenth(float64(f.complete.n) / float64(f.of.n))
		}
		s.row("completeness", s.w.title(f.column)+whole, f.complete.String(), f.of.String(), []string{share})
		s.row("completeness", s.w.title(f.column)+", left out with a reason", f.reasoned.String(), f.of.String(), nil)
	}
}
