package schema

import (
	"fmt"
	"slices"
	"strings"

	"graftnote/schema/quantity"
)

// inherit copies what the list header says where the case is silent. A field
// that both leave out is missed at the case: its answer may differ from case to
// case, and the reader must see whose it is.
func inherit(e, header *Entry) {
	for key, state := range header.lists {
		if _, own := e.lists[key]; own {
			continue
		}
		e.lists[key] = state
		e.places[key] = header.places[key]
		g, _ := Content().Group(key)
		for item := range header.Count(key) {
			e.grow(g)
			for _, row := range g.Fields {
				copyAnswer(e.slot(row, item), header.slot(row, item), Header)
			}
		}
	}
	header.walk(func(row *Row, item int, from slot) {
		if row.Group.Many == "" && row.Group.Key != "" {
			if to := e.slot(row, 0); to.Row() == nil && from.Row() != nil {
				copyAnswer(to, from, Header)
			}
		}
	})
}

func copyAnswer(to, from slot, o Origin) {
	if from.Row() == nil {
		return
	}
	head := *from.head()
	head.origin = o
	var v any
	if head.state == recorded {
		v = from.Any()
	}
	to.put(head, v)
}

// spreadStitches lets "16 x 10-0 nylon" answer for size and material too, when
// those fields are silent.
func spreadStitches(e *Entry) {
	var said []quantity.Stitches
	at := answer{}
	if e.Sutures.Interrupted.Recorded() {
		said, at = append(said, e.Sutures.Interrupted.Value()), e.Sutures.Interrupted.answer
	}
	if e.Sutures.Running.Recorded() {
		said = append(said, e.Sutures.Running.Value()...)
		if !at.Recorded() {
			at = e.Sutures.Running.answer
		}
	}
	for _, s := range said {
		spread(&e.Sutures.Gauge, "sutures.gauge", s.Gauge, at)
		spread(&e.Sutures.Material, "sutures.material", s.Material, at)
	}
}

func spread(to *Answer[Code], path, word string, at answer) {
	if word == "" || !to.Blank() {
		return
	}
	row, _ := Content().Row(path)
	word = stitchCode(path, word)
	if _, ok := Content().Lists[row.List].Words(word); !ok {
		return
	}
	at.row = row
	to.put(at, Code(word))
}

// markTechnique gives back the unconfirmed mark to the answers that a canonical
// entry names as filled from the standing technique.
func (r *reader) markTechnique(e *Entry) {
	for _, name := range e.FromTechnique.Value() {
		path, item := splitItem(name)
		row, ok := r.dict.Row(path)
		if !ok || !row.Habit() || row.Group.Many != "" && item >= e.Count(row.Group.Key) {
			f := r.finding("technique-not-a-habit", e.FromTechnique.Pos(), "from-technique")
			f.Excerpt = r.doc.line(e.FromTechnique.Pos().Line)
			r.push(f)
			continue
		}
		e.slot(row, item).head().origin = Technique
	}
}

// itemPath names an answer, its item too: injections[2].gauge.
func itemPath(row *Row, item int) string {
	if row.Group.Many == "" {
		return row.Path()
	}
	return fmt.Sprintf("%s[%d].%s", row.Group.Key, item+1, row.Key)
}

func splitItem(name string) (path string, item int) {
	open, end := strings.IndexByte(name, '['), strings.IndexByte(name, ']')
	if open < 0 || end < open {
		return name, 0
	}
	if _, err := fmt.Sscanf(name[open:end+1], "[%d]", &item); err != nil || item < 1 {
		return name, 1 << 30
	}
	return name[:open] + name[end+1:], item - 1
}

// TechniqueFile is the surgeon's standing technique: habits only.
type TechniqueFile struct {
	Name     string
	entry    *Entry
	Findings []Finding
}

// ReadTechnique reads a file of habits. It has the form of a case; in the list
// groups one item states the habit for all. A field that is no habit is
// refused: identity, eye, measurements, tissue, attempts' outcomes and anything
// that says "none" must be said each time.
func ReadTechnique(src Source, o Options) *TechniqueFile {
	o.Technique = nil
	out := Read(src, o)
	t := &TechniqueFile{Name: src.Name, Findings: out.Findings}
	if len(out.Cases) != 1 {
		return t
	}
	cs := out.Cases[0]
	t.entry = cs.Entry
	t.Findings = append(t.Findings, cs.findings...)
	c := newCollector()
	t.entry.walk(func(row *Row, item int, s slot) {
		if s.Row() == nil || row.Habit() || row.Path() == "graftnote" {
			return
		}
		f := c.finding("technique-not-a-habit", s.Pos(), row.Path())
		f.Excerpt = cs.doc.line(s.Pos().Line)
		c.push(f)
	})
	for _, g := range c.dict.Groups { // nor may a list be said to be none, or not recorded
		if state := t.entry.lists[g.Key]; state.None || state.Reason != "" {
			f := c.finding("technique-not-a-habit", state.Pos, g.Key)
			f.Excerpt = cs.doc.line(state.Pos.Line)
			c.push(f)
		}
	}
	t.Findings = append(t.Findings, c.findings...)
	return t
}

// LooksLikeTechnique reports a file that is no case: it names neither a case nor a
// patient, an eye or an event, and says something that may be a habit.
func LooksLikeTechnique(r *Reading) bool {
	if len(r.Cases) != 1 {
		return false
	}
	e, habits := r.Cases[0].Entry, false
	for _, key := range []string{"patient", "eye", "events", "visits"} {
		if e.places[key].Known() {
			return false
		}
	}
	e.walk(func(row *Row, _ int, s slot) { habits = habits || row.Habit() && s.Row() != nil })
	return habits && e.Case.Row() == nil && e.Story.Row() == nil && !e.Episode.Date.Recorded()
}

// Contradictions are what the rules say about habits that stand against each
// other, and habits out of range. Rules that miss an answer are left out: a
// technique leaves most of a case open.
func (t *TechniqueFile) Contradictions(o Options) []Finding {
	if t.entry == nil {
		return nil
	}
	o.Technique = nil
	c := &checker{collector: newCollector(), e: t.entry, o: o, memo: map[*Derived][]DerivedValue{}}
	c.ranges()
	for _, r := range c.dict.Rules {
		if !slices.ContainsFunc(r.When, func(w string) bool {
			return strings.HasSuffix(w, " is missing") || strings.HasSuffix(w, " is blank") || strings.Contains(w, "derived.")
		}) {
			c.rule(r)
		}
	}
	return withoutEchoes(c.findings)
}

// fill puts the habits where the case is silent. A required habit is filled
// when its condition holds; an optional one only beside a group that the case
// describes, or needs a habit of. Neither is filled where the step it belongs to
// did not take place (the row's when), nor where the case says something else of
// that whose detail it is (the row's with).
func (t *TechniqueFile) fill(e *Entry) {
	if t == nil || t.entry == nil {
		return
	}
	if t.entry.Count("team") > 0 && !e.lists["team"].Stated {
		g, _ := Content().Group("team")
		state := t.entry.lists["team"]
		e.lists["team"] = state
		for item := range t.entry.Count("team") {
			e.grow(g)
			for _, row := range g.Fields {
				copyAnswer(e.slot(row, item), t.entry.slot(row, item), Technique)
			}
		}
	}
	for range 3 { // a habit may be the condition of another
		changed := false
		for _, g := range Content().Groups {
			n := 1
			if g.Many != "" {
				n = e.Count(g.Key)
			}
			if g.Key == "team" || g.Many != "" && t.entry.Count(g.Key) == 0 {
				continue
			}
			for item := range n {
				changed = t.fillItem(e, g, item) || changed
			}
		}
		if !changed {
			return
		}
	}
}

// fillItem decides each habit by itself: a field of which the case says something
// else stops that habit, and the details that belong to it (the row's with), and
// nothing besides.
func (t *TechniqueFile) fillItem(e *Entry, g *Group, item int) (changed bool) {
	for _, row := range g.Fields {
		habit := t.entry.slot(row, 0)
		if row.Habit() && habit.Recorded() && t.unfit(e, row, item) == "" {
			copyAnswer(e.slot(row, item), habit, Technique)
			changed = true
		}
	}
	return changed
}

// Why a habit of the standing technique was not filled.
const (
	saysElse    = "the case says something else"
	stepNotMade = "its step did not take place"
	notAsked    = "it is not asked for in this case"
	notTold     = "the case says nothing of this part"
)

// alreadySaid marks a habit that the case says itself.
const alreadySaid = "-"

// unfit says why a habit is not filled into an answer of the case; "" when it is.
func (t *TechniqueFile) unfit(e *Entry, row *Row, item int) string {
	own, habit := e.slot(row, item), t.entry.slot(row, 0)
	switch {
	case !own.Blank() && own.Text() == habit.Text():
		return alreadySaid
	case !own.Blank():
		return saysElse
	}
	if row.With != "" {
		main, _ := row.Group.Row(row.With)
		said, usual := e.slot(main, item), t.entry.slot(main, 0)
		if !said.Blank() && usual.Recorded() && said.Text() != usual.Text() {
			return saysElse + " under '" + row.With + "'"
		}
	}
	switch {
	case row.When != "" && !conditionHolds(e, row.When, row, item):
		return stepNotMade
	case row.Need != "optional" && !needed(e, row, item):
		return notAsked
	case row.Need == "optional" && !described(e, row.Group, item):
		return notTold
	}
	return ""
}

// described reports that a case says something of a group, or was asked to.
func described(e *Entry, g *Group, item int) bool {
	for _, row := range g.Fields {
		if !e.slot(row, item).Blank() {
			return true
		}
	}
	return false
}

// Habit is what became of one habit of the standing technique in a case.
type Habit struct {
	Path   string // of the answer, with its item
	Title  string
	Filled bool   // it stands in the entry, unconfirmed until sign-off
	Why    string // why it was not filled
}

// Habits tells of each habit of the technique whether it was filled into the
// case, and why not. What the case says itself in the same words is left out.
func (t *TechniqueFile) Habits(e *Entry) (out []Habit) {
	if t == nil || t.entry == nil {
		return nil
	}
	for _, g := range Content().Groups {
		n := 1
		if g.Many != "" {
			n = e.Count(g.Key)
		}
		for item := range n {
			for _, row := range g.Fields {
				from := 0
				if g.Key == "team" {
					from = item
				}
				if !row.Habit() || g.Many != "" && from >= t.entry.Count(g.Key) || !t.entry.slot(row, from).Recorded() {
					continue
				}
				h := Habit{Path: itemPath(row, item), Title: row.Title}
				switch {
				case e.slot(row, item).Origin() == Technique:
					h.Filled = true
				case g.Key == "team":
					h.Why = saysElse
				default:
					h.Why = t.unfit(e, row, item)
				}
				if h.Why != alreadySaid {
					out = append(out, h)
				}
			}
		}
	}
	return out
}
