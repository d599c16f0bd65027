package report

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"graftnote/note"
	"graftnote/registry"
	"graftnote/registry/figures"
)

// crossTable shows a grid of counts with its totals. Rows and columns without
// any eye are left out.
func (b *builder) crossTable(name, caption, first string, row, col func(string) string) *note.ReportBlock {
	m := b.n.table(name)
	if m == nil {
		return paragraph(b.w.say("none"))
	}
	empty := func(c figures.Cell) bool { return c == figures.Cell{} }
	t := note.ReportTable{Caption: caption, Header: []string{first}}
	for j, c := range m.Cols {
		if !empty(m.ColTotals[j]) {
			t.Header = append(t.Header, col(c))
		}
	}
	t.Header = append(t.Header, "All")
	line := func(name string, cells []figures.Cell, total figures.Cell) {
		out := []string{name}
		for j, c := range cells {
			if !empty(m.ColTotals[j]) {
				out = append(out, of(c).String())
			}
		}
		t.Rows = append(t.Rows, append(out, of(total).String()))
	}
	for i, r := range m.Rows {
		if !empty(m.RowTotals[i]) {
			line(row(r), m.Cells[i], m.RowTotals[i])
		}
	}
	line("All", m.ColTotals, m.Grand)
	return table(t)
}

func (b *builder) operations() {
	b.section("operations", "Operations by indication and technique", b.crossTable(byIndication, "Eyes by indication (rows) and technique performed (columns)", "Indication",
		func(c string) string { return b.w.code("indication", c) },
		func(c string) string { return b.w.code("procedure_performed", c) }))
}

// rateTable lists rates with their intervals.
func (b *builder) rateTable(caption string, sections ...string) *note.ReportBlock {
	t := note.ReportTable{Caption: caption, Header: []string{"What", "Eyes", "Of", "Per cent", "95 % interval"}}
	few := false
	for _, r := range b.rates {
		if !slices.Contains(sections, r.section) {
			continue
		}
		row := []string{r.title, r.events.String(), r.of.String(), mark, mark}
		switch {
		case r.known:
			row[3] = fmt.Sprintf("%.1f", r.interval.Estimate*100)
			row[4] = interval(r.interval.Lower, r.interval.Upper)
			if r.few != "" {
				row[4] += " †"
				few = true
			}
		case !r.events.hidden && !r.of.hidden:
			row[3], row[4] = "none", "none"
		}
		t.Rows = append(t.Rows, row)
	}
	if few {
		t.Notes = append(t.Notes, "† "+figures.Caution("few"))
	}
	return table(t)
}

func interval(lower, upper float64) string {
	return fmt.Sprintf("%.1f to %.1f", lower*100, upper*100)
}

func (b *builder) separation() {
	sep := func(c string) string { return b.w.code("separation", c) }
	typed := func(c string) string { return b.w.code("bubble_type", c) }
	b.section("separation", "Separation and type of bubble",
		b.crossTable(bySeparation, "Eyes by separation (rows) and type of bubble (columns)", "Separation", sep, typed),
		b.crossTable(byMedium, "Eyes by separation (rows) and what was injected (columns)", "Separation", sep, func(c string) string { return c }),
		paragraph(b.w.say("separation")+" "+b.w.say("intervals")),
		b.rateTable("Rates of separation and shares of bubble types", inSeparation),
		b.published("big-bubble", "big-bubble-rescued", "double-bubble", "small-bubble", "bubble-type"))
}

func (b *builder) events() {
	blocks := []*note.ReportBlock{paragraph(b.w.say("events")), b.rateTable("Events during the operation", inEvents)}
	back := b.n.get(byReturn, seenAgain, "")
	if back.hidden || back.n > 0 {
		blocks = append(blocks, b.rateTable("Seen at any later visit, of "+back.String()+" eyes seen again", inLater))
	}
	bars := b.bars()
	if len(bars) > 0 {
		blocks = append(blocks, chart(rateChart(bars), "Rates of this series, filled squares with their 95 % intervals, and published figures, rings. A line without a square: this series' count is hidden, or there is none. No target and no ranking.", altRates(bars)))
	}
	b.section("events", "Perforation, conversion and other events", append(blocks,
		b.published("perforation", "microperforation", "conversion", "macroperforation-completed", "double-chamber", "double-chamber-large-tear", "fixed-pupil", "rejection", "failure"))...)
}

// bars are the rates that have a published percentage beside them.
func (b *builder) bars() (out []bar) {
	for _, r := range b.rates {
		var percents []float64
		for _, m := range figures.Published() {
			for _, f := range m.Figures {
				if m.ID != r.published || f.Percent == nil {
					continue
				}
				// Each type beside its own, and of the bubbles formed.
				if r.published == "bubble-type" && (f.Events == nil || !strings.HasPrefix(f.Text, b.w.code("bubble_type", r.id))) {
					continue
				}
				percents = append(percents, *f.Percent)
			}
		}
		if len(percents) == 0 {
			continue
		}
		x := bar{title: r.title, published: percents}
		if r.known {
			x.own, x.at, x.lower, x.upper = true, r.interval.Estimate*100, r.interval.Lower*100, r.interval.Upper*100
		}
		out = append(out, x)
	}
	return out
}

func altRates(bars []bar) string {
	var parts []string
	for _, x := range bars {
		own := "this series hidden or not counted"
		if x.own {
			own = fmt.Sprintf("this series %.1f per cent, interval %.1f to %.1f", x.at, x.lower, x.upper)
		}
		parts = append(parts, fmt.Sprintf("%s: %s; published %.1f to %.1f", x.title, own, slices.Min(x.published), slices.Max(x.published)))
	}
	return strings.Join(parts, ". ") + "."
}

// meanRow writes a summary of logMAR values.
func meanRow(m mean) []string {
	row := []string{m.title, m.n.String(), mark, mark, mark}
	switch s := m.summary; {
	case m.known:
		row[2], row[3], row[4] = fmt.Sprintf("%.2f", s.Mean), "none", fmt.Sprintf("%.2f (%.2f to %.2f)", s.Median, s.Q1, s.Q3)
		if s.N > 1 {
			row[3] = fmt.Sprintf("%.2f", s.SD)
		}
	case !m.n.hidden && !m.withheld:
		row[2], row[3], row[4] = "none", "none", "none"
	}
	return row
}

func (b *builder) acuitySection() {
	t := note.ReportTable{Caption: "Corrected acuity, logMAR", Header: []string{"When", "Eyes on the chart", "Mean", "Standard deviation", "Median (quartiles)"}}
	for _, m := range append(slices.Clone(b.acuity), b.paired) {
		t.Rows = append(t.Rows, meanRow(m))
	}
	same := func(s string) string { return s }
	b.section("acuity", "Acuity before and after surgery",
		paragraph(b.w.say("acuity", "line", fmt.Sprintf("%g", *b.o.Line), "metres", fmt.Sprintf("%g", math.Round(60*math.Pow(10, *b.o.Line))/10), "feet", fmt.Sprintf("%.0f", 20*math.Pow(10, *b.o.Line)), "months", fmt.Sprintf("%g", b.o.Months), "window", fmt.Sprintf("%g", b.w.Window))),
		table(t),
		b.crossTable(byAcuity, "Eyes by acuity before (rows) and after surgery (columns)", "Before surgery", same, same),
		b.rateTable("Eyes that see as well as the line or better", inAcuity),
		b.published("acuity-line", "acuity"))
}

func (b *builder) astigmatism() {
	t := note.ReportTable{Caption: "Refraction as power vectors, dioptres", Header: []string{"When", "Eyes", "Mean M", "Mean J0", "Mean J45", "Centroid, plus cylinder", "Mean size"}}
	var drawn []vectors
	var says []string
	for _, v := range b.vectors {
		row := []string{v.title, v.n.String(), mark, mark, mark, mark, mark}
		switch {
		case v.known:
			drawn = append(drawn, v)
			c := v.centroid
			row = []string{v.title, v.n.String(), fmt.Sprintf("%.2f", v.mean.M), fmt.Sprintf("%.2f", v.mean.J0), fmt.Sprintf("%.2f", v.mean.J45),
				fmt.Sprintf("%.2f at %.0f°", c.Size, c.Axis), fmt.Sprintf("%.2f", c.MeanSize)}
			says = append(says, fmt.Sprintf("%s, %d eyes: centroid %.2f dioptres at %.0f degrees, standard deviations %.2f and %.2f", v.title, v.n.n, c.Size, c.Axis, c.SDX, c.SDY))
		case !v.n.hidden:
			row = []string{v.title, "0", "none", "none", "none", "none", "none"}
		}
		t.Rows = append(t.Rows, row)
	}
	blocks := []*note.ReportBlock{paragraph(b.w.say("astigmatism")), table(t)}
	if len(drawn) > 0 {
		caption := "Double-angle plot. Cross: centroid. Dashed: one standard deviation. " + b.w.say("plot")
		if !b.o.Unmasked {
			caption += " " + b.w.say("plot-masked")
		}
		blocks = append(blocks, chart(doubleAngle(drawn), caption, strings.Join(says, ". ")+"."))
	}
	b.section("astigmatism", "Astigmatism as power vectors", append(blocks, b.published("astigmatism"))...)
}

func (b *builder) survivalSection() {
	s := b.survival
	blocks := []*note.ReportBlock{paragraph(b.w.say("survival"))}
	if !b.o.Unmasked {
		blocks = append(blocks, paragraph(b.w.say("survival-masked")))
	}
	t := note.ReportTable{Caption: fmt.Sprintf("Graft survival: %s grafts followed, %s failed", s.n, s.failed), Header: []string{"Months", "At risk", "Surviving, per cent", "95 % limits"}}
	var says []string
	for _, step := range s.steps {
		limits := "none"
		if step.Limits {
			limits = interval(step.Lower, step.Upper)
		}
		t.Rows = append(t.Rows, []string{fmt.Sprintf("%g", step.Time), fmt.Sprint(step.AtRisk), fmt.Sprintf("%.1f", step.Survival*100), limits})
		says = append(says, fmt.Sprintf("at %g months %.1f per cent with %d at risk", step.Time, step.Survival*100, step.AtRisk))
	}
	switch {
	case len(s.steps) > 0:
		drawn, from := survivalChart(s)
		blocks = append(blocks, table(t), chart(drawn, survivalCaption(s)+fmt.Sprintf(" The upright axis begins at %g per cent.", from), "Graft survival: "+strings.Join(says, "; ")+"."), warning(figures.Caution("survival")))
	case s.hidden:
		blocks = append(blocks, warning(b.w.say("hidden")))
	default:
		blocks = append(blocks, paragraph(b.w.say("none")))
	}
	b.section("survival", "Graft survival", append(blocks, b.published("survival", "failure"))...)
}

func survivalCaption(s survival) string {
	if s.whole != nil {
		return "Graft survival, full line, with its 95 % limits, dashed. A plus marks grafts that left observation."
	}
	return "Graft survival at the times shown, squares with 95 % limits. The dashed line joins them and is no curve."
}

func (b *builder) learning() {
	c := b.curve
	blocks := []*note.ReportBlock{}
	switch {
	case !b.ordered:
		blocks = append(blocks, paragraph(b.w.say("curve-order")))
	case len(c.at) == 0 && c.hidden:
		blocks = append(blocks, warning(b.w.say("hidden")))
	case len(c.at) == 0:
		blocks = append(blocks, paragraph(b.w.say("none")))
	default:
		blocks = append(blocks, paragraph(b.w.say("curve", "target", percent(c.target), "figure", "big bubble in "+b.w.series.Text+", "+b.w.series.Population+" "+b.cite(b.w.series.Citation))))
		caption := "Cumulative sum: a rising line means more failures of air alone than the target, a falling one fewer. Dashed: no departure from it."
		if !b.o.Unmasked {
			caption += " " + b.w.say("curve-masked")
		}
		last := len(c.at) - 1
		alt := fmt.Sprintf("The sum goes from 0 to %.1f after %d operations; lowest %.1f, highest %.1f.", c.value[last], c.at[last], slices.Min(c.value), slices.Max(c.value))
		blocks = append(blocks, chart(curveChart(c, b.o.Unmasked), caption, alt))
	}
	if len(c.at) > 0 {
		blocks = append(blocks, warning(figures.Caution("cusum")))
	}
	b.section("learning", "Learning curve of separation by air alone", blocks...)
}

// completeness lists the fields in which something is missing.
func (b *builder) completeness() {
	t := note.ReportTable{Caption: "Answers by field", Header: []string{"Field", "Complete or not asked", "Left out with a reason", "Left open", "Complete or not asked, per cent"}}
	if b.o.Unmasked {
		t.Header = []string{"Field", "Complete", "Left out with a reason", "Left open", "Not asked", "Complete, per cent"}
	}
	var full []string
	for _, f := range b.fieldCounts() {
		if f.reasoned == (count{}) && f.silent == (count{}) {
			full = append(full, f.column)
			continue
		}
		row := []string{b.w.title(f.column), f.complete.String(), f.reasoned.String(), f.silent.String()}
		if b.o.Unmasked {
			row = append(row, f.notAsked.String())
		}
		share := mark
		if !f.of.hidden && !f.complete.hidden && f.of.n > 0 {
			share = fmt.Sprintf("%.1f", 100*float64(f.complete.n)/float64(f.of.n))
		}
		t.Rows = append(t.Rows, append(row, share))
	}
	key := "completeness"
	if b.o.Unmasked {
		key = "completeness-unmasked"
	}
	blocks := []*note.ReportBlock{paragraph(b.w.say(key))}
	if len(t.Rows) > 0 {
		blocks = append(blocks, table(t))
	}
	list := func(key string, columns []string) {
		if len(columns) > 0 {
			blocks = append(blocks, paragraph(b.w.say(key)), &note.ReportBlock{List: b.w.byGroup(columns)})
		}
	}
	list("complete", full)
	list("withheld-some", names(b.fields.some))
	list("withheld", names(b.fields.withheld))
	b.section("completeness", "Completeness by field", blocks...)
}

func names(columns []registry.Column) (out []string) {
	for _, c := range columns {
		out = append(out, c.Name)
	}
	return out
}

// byGroup names columns, those of one part of the entry in one line.
func (w *words) byGroup(columns []string) (out []string) {
	last := ""
	for i, c := range columns {
		group, title := w.named(c)
		if i > 0 && group == last {
			out[len(out)-1] += ", " + title
			continue
		}
		out = append(out, w.title(c))
		last = group
	}
	return out
}

func lowerFirst(s string) string {
	if len(s) > 1 && s[1] >= 'A' && s[1] <= 'Z' {
		return s // an abbreviation
	}
	if s == "" {
		return s
	}
	return strings.ToLower(s[:1]) + s[1:]
}
