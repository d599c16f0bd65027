package schema

import (
	"fmt"
	"slices"
)

// followupChecker runs every check over one follow-up document.
type followupChecker struct {
	*collector
	f     *Followup
	index Checked
	own   int // visits of the document
	o     Options
}

// raise makes a finding of one of the rules between document and operation.
func (c *followupChecker) raise(rule, path string, at Pos) {
	f := c.finding(rule, at, path)
	f.Excerpt = c.line(at)
	c.push(f)
}

func (c *followupChecker) line(at Pos) string {
	if at.File != c.f.doc.file {
		return ""
	}
	return c.f.doc.line(at.Line)
}

// required finds the silent rows of the document; those of the visits come from
// the checks that any entry goes through.
func (c *followupChecker) required() {
	for _, g := range c.dict.FollowupForm() {
		if g.Many != "" {
			continue
		}
		for _, r := range g.Fields {
			if r.Need != "always" || !c.f.slot(g, r, 0).Blank() {
				continue
			}
			at := c.f.entry.Place(g.Key)
			f := c.finding("required-field", at, r.Path())
			f.Excerpt = c.line(at)
			f.What, f.Fix, f.Source = r.Title+": not stated.", fixFor(r), r.Source
			c.push(f)
		}
	}
	if c.own == 0 {
		c.raise("followup-without-visit", "visits", c.f.entry.Place("visits"))
	}
}

// agree compares what was typed again with the signed operation.
func (c *followupChecker) agree() {
	if c.f.Case.Recorded() && c.f.Case.Value() != c.index.ID() {
		rule := "followup-case-unknown"
		if c.f.NamesPatient() || c.f.names(c.index.Entry()) { // no signed note bears such an identifier
			rule = "followup-names-patient"
		}
		c.raise(rule, "followup", c.f.Case.Pos())
		return // the rest would only say the same again
	}
	for path, rule := range map[string]string{
		"patient.id": "followup-patient-differs", "patient.born": "followup-born-differs", "eye.operated": "followup-eye-differs",
	} {
		row := c.dict.rows[path]
		typed, signed := c.f.entry.slot(row, 0), c.index.Entry().slot(row, 0)
		if typed.Recorded() && typed.Text() != signed.Text() {
			c.raise(rule, path, typed.Pos())
		}
	}
	graft := &scope{e: c.index.Entry(), memo: map[*Derived][]DerivedValue{}}
	if !graft.holds(c.dict.Conditions[c.dict.followup.Expects].tests) {
		c.raise("followup-no-graft", "visits", c.f.entry.Place("visits"))
	}
}

// visits runs the checks of an entry over the operation with all its visits and
// keeps what is about the document: its own visits, and what holds of an earlier
// visit only since the document stands beside it.
func (c *followupChecker) visits(entry, before *Entry) {
	known := map[string]bool{}
	for _, f := range c.run(before) {
		path, item := splitItem(f.Path)
		known[fmt.Sprint(f.Rule, path, item+c.own)] = true
	}
	for _, f := range c.run(entry) {
		path, item := splitItem(f.Path)
		switch row, visit := c.dict.rows[path]; {
		case newPath(f.Path, c.own):
		case !visit || row.Group.Key != "visits" || known[fmt.Sprint(f.Rule, path, item)]:
			continue
		default: // the document makes an earlier visit impossible
			f.Path, f.Pos = "visits", c.f.entry.Place("visits")
			f.Excerpt = c.line(f.Pos)
		}
		for i := range f.Related {
			if r := &f.Related[i]; !newPath(r.Path, c.own) {
				r.Pos = Pos{}
			}
		}
		c.push(f)
	}
	c.twice(entry)
}

// run gives the findings of the visits of one entry.
func (c *followupChecker) run(e *Entry) []Finding {
	k := &checker{collector: newCollector(), e: e, doc: c.f.doc, o: c.o, memo: map[*Derived][]DerivedValue{}}
	k.caseID = c.caseID
	g := c.dict.groups["visits"]
	for item := range e.Visits {
		for _, r := range g.Fields {
			if e.slot(r, item).Blank() && needed(e, r, item) {
				k.missing(r, item)
			}
		}
	}
	k.ranges()
	for _, r := range c.dict.Rules {
		if r.Each == "visits" {
			k.rule(r)
		}
	}
	return k.findings
}

// twice asks about a second visit of one day.
func (c *followupChecker) twice(e *Entry) {
	for i, v := range e.Visits[:c.own] {
		same := func(w Visit) bool {
			return w.Date.Recorded() && v.Date.Recorded() && w.Date.Value() == v.Date.Value()
		}
		if slices.ContainsFunc(e.Visits[:i], same) || slices.ContainsFunc(e.Visits[c.own:], same) {
			c.raise("visit-twice", itemPath(v.Date.Row(), i), v.Date.Pos())
		}
	}
}
