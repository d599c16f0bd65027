package schema

import (
	"fmt"
	"slices"
	"strings"

	"graftnote/schema/quantity"
)

// checker runs every check over one case.
type checker struct {
	*collector
	e    *Entry
	doc  *document
	o    Options
	memo map[*Derived][]DerivedValue
}

func (c *checker) at(each string, item int) *scope {
	return &scope{e: c.e, each: each, item: item, memo: c.memo, o: c.o}
}

// line quotes the original line; a habit or header stands in another place.
func (c *checker) line(at Pos) string {
	if c.doc == nil || at.File != c.doc.file {
		return ""
	}
	return c.doc.line(at.Line)
}

// checkCase gives all findings of one case, those of reading included.
func checkCase(cs *Case, o Options) []Finding {
	col := newCollector()
	if cs.Entry.Case.Recorded() && !cs.Entry.CaseNamesPatient() {
		col.caseID = cs.Entry.Case.Value()
	}
	for _, f := range cs.findings {
		f.Case = col.caseID
		col.push(f)
	}
	c := &checker{collector: col, e: cs.Entry, doc: cs.doc, o: o, memo: map[*Derived][]DerivedValue{}}
	c.required()
	c.ranges()
	c.elements()
	c.clock()
	c.script()
	c.otherEye()
	for _, r := range c.dict.Rules {
		c.rule(r)
	}
	c.site()
	return withoutEchoes(col.findings)
}

// withoutEchoes drops the finding of a usual range where a rule blocks or asks
// about the same answer: the rule says it in better words.
func withoutEchoes(all []Finding) []Finding {
	said := map[string]bool{}
	for _, f := range all {
		if r, ok := Content().Rule(f.Rule); ok && r.By == "" && f.Severity != Remark {
			said[f.Path] = true
		}
	}
	return slices.DeleteFunc(all, func(f Finding) bool {
		return (f.Rule == "outside-usual-range" || f.Rule == "outside-proposed-limit") && said[f.Path]
	})
}

// needed reports whether a field must be answered in this entry.
func needed(e *Entry, r *Row, item int) bool {
	switch r.Need {
	case "always":
		return true
	case "optional":
		return false
	}
	return conditionHolds(e, r.Need, r, item)
}

// conditionHolds reports whether a named condition holds for a field, or for the
// field of one item.
func conditionHolds(e *Entry, name string, r *Row, item int) bool {
	cond := Content().Conditions[name]
	s := &scope{e: e, memo: map[*Derived][]DerivedValue{}}
	if cond.Each != "" {
		if cond.Each != r.Group.Key {
			return false
		}
		s.each, s.item = cond.Each, item
	}
	return s.holds(cond.tests)
}

// required finds the silent fields that must be answered. A group that is
// wholly silent gives one finding, not one for each of its fields.
func (c *checker) required() {
	for _, g := range c.dict.Groups {
		if g.Many != "" {
			c.requiredList(g)
			continue
		}
		var silent []*Row
		answered := false
		for _, r := range g.Fields {
			s := c.e.slot(r, 0)
			if !s.Blank() {
				answered = true
			} else if needed(c.e, r, 0) {
				silent = append(silent, r)
			}
		}
		if g.Key != "" && !answered && len(silent) > 1 {
			c.missingGroup(g, silent)
			continue
		}
		for _, r := range silent {
			c.missing(r, 0)
		}
	}
}

func (c *checker) requiredList(g *Group) {
	state := c.e.List(g.Key)
	n := c.e.Count(g.Key)
	stated := state.None || state.Reason != "" || n > 0 || state.unread
	must := map[string]bool{"team": true, "tissues": needed(c.e, c.row("sutures.pattern"), 0)}[g.Key]
	if !stated && must {
		at := c.e.Place(g.Key)
		f := c.finding("required-group", at, g.Key)
		f.Excerpt = c.line(at)
		f.What = fmt.Sprintf("%s: nothing is recorded.", g.Title)
		f.Fix = fmt.Sprintf("Add the list %q; 'graftnote fields %s' shows its fields.", g.Key, g.Key)
		f.AskedBy = c.askers(g.Key)
		c.push(f)
	}
	for item := range n {
		for _, r := range g.Fields {
			if c.e.slot(r, item).Blank() && needed(c.e, r, item) {
				c.missing(r, item)
			}
		}
	}
}

func (c *checker) row(path string) *Row { return c.dict.rows[path] }

func (c *checker) missing(r *Row, item int) {
	each := ""
	if r.Group.Many != "" {
		each = r.Group.Key
	}
	at := c.place(r.Path(), each, item)
	f := c.finding("required-field", at, itemPath(r, item))
	f.Excerpt = c.line(at)
	f.What = r.Title + ": not stated."
	if cond, ok := c.dict.Conditions[r.Need]; ok {
		f.What = fmt.Sprintf("%s: not stated, and it is asked for because %s.", r.Title, cond.Title)
	}
	f.Fix = fixFor(r)
	f.Source = r.Source
	f.AskedBy = c.askers(r.Path())
	c.push(f)
}

func (c *checker) missingGroup(g *Group, rows []*Row) {
	at := c.e.Place(g.Key)
	f := c.finding("required-group", at, g.Key)
	f.Excerpt = c.line(at)
	var titles, example []string
	for _, r := range rows {
		titles = append(titles, r.Title)
		example = append(example, r.Key+": "+r.Form())
		for _, a := range c.askers(r.Path()) {
			if !containsString(f.AskedBy, a) {
				f.AskedBy = append(f.AskedBy, a)
			}
		}
	}
	f.What = fmt.Sprintf("%s: nothing is recorded; asked for: %s.", g.Title, strings.Join(titles, ", "))
	f.Fix = fmt.Sprintf("Add a line of this form:  %s: {%s}", g.Key, strings.Join(example, ", "))
	c.push(f)
}

func containsString(list []string, s string) bool {
	for _, x := range list {
		if x == s {
			return true
		}
	}
	return false
}

func fixFor(r *Row) string {
	line := fmt.Sprintf("Write  %s: %s", r.Key, r.Form())
	if r.Group.Key != "" {
		line += fmt.Sprintf("  under %s", r.Group.Key)
	}
	if r.Refuse {
		return line + "."
	}
	return line + fmt.Sprintf(", or  %s: not recorded: %s.", r.Key, reasonForm)
}

// ranges compares each number with its possible and its usual range.
func (c *checker) ranges() {
	c.e.walk(func(r *Row, item int, s slot) {
		if !s.Recorded() || !r.soft.set && !r.hard.set {
			return
		}
		rule := ""
		for _, n := range numbersOf(s) {
			if broken := rangeRule(r, n); rule == "" || broken == "outside-possible-range" || broken == "outside-proposed-limit" {
				rule = broken
			}
		}
		if rule == "" {
			return
		}
		f := c.finding(rule, s.Pos(), itemPath(r, item))
		f.Excerpt = c.line(s.Pos())
		limits, unit := r.Soft, ""
		if rule != "outside-usual-range" {
			limits = r.Hard
		}
		if r.Type == "acuity" {
			unit = " logMAR"
		} else if dim, ok := r.Dimension(); ok && dim.Canonical().Symbol != "" {
			unit = " " + dim.Canonical().Symbol
		}
		lo, hi, _ := strings.Cut(limits, "..")
		f.What = fmt.Sprintf("%s: %s (%s to %s%s).", r.Title, f.What, lo, hi, unit)
		if lo == hi {
			f.What = fmt.Sprintf("%s: not the usual %s%s.", r.Title, lo, unit)
		}
		f.Source = r.Source
		c.push(f)
	})
}

// numbersOf gives what a range is compared with: each running suture by itself,
// every other answer as its one number.
func numbersOf(s slot) []quantity.Decimal {
	if list, ok := s.Any().([]quantity.Stitches); ok {
		out := make([]quantity.Decimal, len(list))
		for i, x := range list {
			out[i] = quantity.FromInt(int64(x.Count))
		}
		return out
	}
	if n, ok := numberOf(s); ok {
		return []quantity.Decimal{n}
	}
	return nil
}

// rangeRule names the rule that a number breaks, the gravest first.
func rangeRule(r *Row, n quantity.Decimal) string {
	switch {
	case !r.hard.holds(n) && (r.Basis == "common-practice" || r.Basis == "memory"):
		return "outside-proposed-limit"
	case !r.hard.holds(n):
		return "outside-possible-range"
	case !r.soft.holds(n):
		return "outside-usual-range"
	}
	return ""
}

// otherEye points at each text that names the eye that was not operated.
func (c *checker) otherEye() {
	if !c.e.Eye.Operated.Recorded() {
		return
	}
	for _, t := range c.at("", 0).textsOtherEye() {
		f := c.finding("words-other-eye", t.pos, itemPath(t.row, t.item))
		f.Excerpt = c.line(t.pos)
		f.What = t.row.Title + ": " + f.What
		if at := c.e.Eye.Operated.Pos(); at.Known() {
			f.Related = []Related{{"eye.operated", at}}
		}
		c.push(f)
	}
}

// script refuses names that the printed note can't draw, unless a Latin form
// stands beside them.
func (c *checker) script() {
	if c.o.Covers == nil {
		return
	}
	c.e.walk(func(r *Row, item int, s slot) {
		if !s.Recorded() || r.Type != "text" && r.Type != "texts" && r.Type != "story" && r.Type != "id" {
			return
		}
		if len(c.o.Covers(s.Text())) == 0 || r.Path() == "patient.name" && c.e.Patient.LatinName.Recorded() {
			return
		}
		f := c.finding("script-not-printable", s.Pos(), itemPath(r, item))
		f.Excerpt = c.line(s.Pos())
		f.What = r.Title + ": " + f.What
		c.push(f)
	})
}
