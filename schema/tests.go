package schema

import (
	"fmt"
	"slices"
	"strings"

	"graftnote/schema/quantity"
)

// test is one flat statement about an entry: path, operator, operand. A list of
// tests holds when each holds. There is no other logic in the rule files:
// whatever is harder is a derived value with a name of its own.
type test struct {
	path     string
	row      *Row     // nil for a derived value
	derived  *Derived // nil for a field
	op       string
	codes    []string
	number   *quantity.Decimal // in the canonical unit
	lo, hi   *quantity.Decimal
	other    string // compared with another path
	otherRow *Row
	otherDer *Derived
	date     *quantity.Date
}

var operators = []string{"is not", "is", "lacks", ">=", "<=", "!=", ">", "<", "=", "outside", "within"}

// parseTests reads the statements of a rule or condition. each is the list
// group that the tests run over, or "".
func (d *Dictionary) parseTests(lines []string, each string) ([]test, error) {
	if g, ok := d.groups[each]; each != "" && (!ok || g.Many == "") {
		return nil, fmt.Errorf("each: %q is no list group", each)
	}
	out := make([]test, 0, len(lines))
	for _, l := range lines {
		t, err := d.parseTest(l)
		if err != nil {
			return nil, fmt.Errorf("%q: %w", l, err)
		}
		out = append(out, t)
	}
	return out, nil
}

func (d *Dictionary) parseTest(line string) (test, error) {
	path, rest, _ := strings.Cut(strings.TrimSpace(line), " ")
	t := test{path: path}
	var ok bool
	if name, isDerived := strings.CutPrefix(path, "derived."); isDerived {
		t.derived, ok = d.derived[name]
	} else if _, list := d.groups[path]; list {
		ok = true // the group itself: is missing, is recorded
	} else {
		t.row, ok = d.rows[path]
	}
	if !ok {
		return t, fmt.Errorf("unknown path %q", path)
	}
	for _, op := range operators {
		if after, found := strings.CutPrefix(rest, op+" "); found {
			t.op = op
			return t, d.operand(&t, strings.TrimSpace(after))
		}
	}
	return t, fmt.Errorf("no operator")
}

func (d *Dictionary) operand(t *test, text string) error {
	switch {
	case t.op == "is" || t.op == "is not" || t.op == "lacks":
		t.codes = strings.Split(text, "|")
		return d.checkCodes(t)
	case t.op == "outside" || t.op == "within":
		lo, hi, ok := strings.Cut(text, "..")
		if !ok {
			return fmt.Errorf("range without two dots")
		}
		var err error
		if t.lo, err = t.parseNumber(lo); err != nil {
			return err
		}
		t.hi, err = t.parseNumber(hi)
		return err
	}
	if name, isDerived := strings.CutPrefix(text, "derived."); isDerived {
		t.other = text
		if t.otherDer = d.derived[name]; t.otherDer == nil {
			return fmt.Errorf("unknown %q", text)
		}
		return nil
	}
	if r, ok := d.rows[text]; ok {
		t.other, t.otherRow = text, r
		return nil
	}
	if date, p := quantity.ParseDate(text); p == nil {
		t.date = &date
		return nil
	}
	var err error
	t.number, err = t.parseNumber(text)
	return err
}

// checkCodes makes sure that a misspelt code in a rule can't pass unseen.
func (d *Dictionary) checkCodes(t *test) error {
	for _, c := range t.codes {
		if slices.Contains([]string{"recorded", "missing", "blank"}, c) {
			continue
		}
		if t.row == nil {
			if t.derived == nil {
				return fmt.Errorf("a group is recorded, missing, blank or nothing else")
			}
			continue
		}
		if t.row.Type == "count" {
			continue
		}
		list, ok := d.Lists[t.row.ListName()]
		if !ok {
			return fmt.Errorf("%s has no code list", t.path)
		}
		if _, ok := list.Words(c); !ok {
			return fmt.Errorf("%s: no code %q", t.path, c)
		}
	}
	return nil
}

func (t *test) dimension() string {
	if t.row != nil {
		return t.row.Type
	}
	return t.derived.Dimension
}

// parseNumber reads "1.0 mm" in the unit of the path, or a plain number where
// the path has no unit.
func (t *test) parseNumber(text string) (*quantity.Decimal, error) {
	text = strings.TrimSpace(text)
	if dim, ok := quantity.DimensionByName(t.dimension()); ok && dim.Name != "count" && strings.ContainsAny(text, " %°") {
		q, p := quantity.ParseQuantity(text, dim)
		if p == nil {
			n := q.In()
			return &n, nil
		}
	}
	n, p := quantity.ParseDecimal(text)
	if p != nil {
		return nil, fmt.Errorf("%q is no number of %s", text, t.dimension())
	}
	return &n, nil
}

// scope is what tests look at: an entry, and the item that "each" stands at.
type scope struct {
	e    *Entry
	each string
	item int
	memo map[*Derived][]DerivedValue
	o    Options
}

func (s *scope) holds(tests []test) bool {
	for i := range tests {
		if !s.holdsOne(&tests[i]) {
			return false
		}
	}
	return true
}

func (s *scope) holdsOne(t *test) bool {
	if t.row == nil && t.derived == nil {
		return s.groupIs(t)
	}
	values := s.values(t.row, t.derived)
	switch t.op {
	case "is":
		return s.is(t, values)
	case "is not":
		return s.isNot(t, values)
	case "lacks":
		return !s.is(t, values)
	}
	for _, v := range values {
		if s.compares(t, v) {
			return true
		}
	}
	return false
}

// datum is an answer or a derived value, seen alike by the tests.
type datum struct {
	field   Field // nil for a derived value
	derived DerivedValue
}

func (v datum) recorded() bool {
	if v.field != nil {
		return v.field.Recorded()
	}
	return v.derived.Known
}

func (v datum) blank() bool {
	if v.field != nil {
		return v.field.Blank()
	}
	return !v.derived.Known
}

// unreadable: something was typed that is no value, and a finding says so. It is
// not missing.
func (v datum) unreadable() bool {
	if v.field == nil {
		return false
	}
	_, gap := v.field.NotRecorded()
	return !v.field.Recorded() && !v.field.Blank() && !gap
}

func (v datum) hasCode(code string) bool {
	if v.field == nil {
		return v.derived.Known && v.derived.Code == code
	}
	if n, ok := v.field.Any().(int); ok && v.field.Recorded() {
		return fmt.Sprint(n) == code
	}
	return slices.Contains(v.field.Codes(), Code(code))
}

// values at a path: of the current item inside "each", else of all items.
func (s *scope) values(r *Row, d *Derived) []datum {
	if d != nil {
		all := s.derive(d)
		if d.Each != "" && d.Each == s.each {
			if s.item < len(all) {
				return []datum{{derived: all[s.item]}}
			}
			return nil
		}
		out := make([]datum, len(all))
		for i, v := range all {
			out[i] = datum{derived: v}
		}
		return out
	}
	if r.Group.Many == "" {
		return []datum{{field: s.e.slot(r, 0)}}
	}
	if r.Group.Key == s.each {
		return []datum{{field: s.e.slot(r, s.item)}}
	}
	n := s.e.Count(r.Group.Key)
	out := make([]datum, n)
	for i := range n {
		out[i] = datum{field: s.e.slot(r, i)}
	}
	return out
}

func (s *scope) is(t *test, values []datum) bool {
	for _, code := range t.codes {
		switch code {
		case "missing", "blank":
			hit := func(v datum) bool { return v.blank() || code == "missing" && !v.recorded() && !v.unreadable() }
			if len(values) == 0 || slices.ContainsFunc(values, hit) {
				return true
			}
		case "recorded":
			if slices.ContainsFunc(values, datum.recorded) {
				return true
			}
		default:
			if slices.ContainsFunc(values, func(v datum) bool { return v.hasCode(code) }) {
				return true
			}
		}
	}
	return false
}

// isNot needs something said: an unanswered question contradicts nothing. Where
// the silence must not excuse, a rule says "lacks".
func (s *scope) isNot(t *test, values []datum) bool {
	if !slices.ContainsFunc(t.codes, func(c string) bool { return c != "recorded" && c != "missing" && c != "blank" }) {
		return !s.is(t, values)
	}
	said := slices.ContainsFunc(values, datum.recorded)
	if t.row != nil && t.row.Group.Many != "" && t.row.Group.Key != s.each {
		said = said || s.e.List(t.row.Group.Key).None
	}
	if t.derived != nil {
		said = true
	}
	return said && !s.is(t, values)
}

func (s *scope) groupIs(t *test) bool {
	state := s.e.List(t.path)
	for _, c := range t.codes {
		stated := state.Stated && (state.None || state.Reason != "" || len(state.Items) > 0 || state.unread)
		if c == "recorded" && stated || c != "recorded" && !stated {
			return t.op == "is"
		}
	}
	return t.op != "is"
}

func (s *scope) compares(t *test, v datum) bool {
	if !v.recorded() {
		return false
	}
	if t.other != "" {
		for _, w := range s.values(t.otherRow, t.otherDer) {
			if w.recorded() && compareData(t.op, v, w) {
				return true
			}
		}
		return false
	}
	if t.date != nil {
		d, ok := v.date()
		return ok && orders(t.op, dateOrder(d, *t.date))
	}
	n, ok := v.number()
	if !ok {
		return false
	}
	switch t.op {
	case "outside":
		return n.Cmp(*t.lo) < 0 || n.Cmp(*t.hi) > 0
	case "within":
		return n.Cmp(*t.lo) >= 0 && n.Cmp(*t.hi) <= 0
	}
	return orders(t.op, n.Cmp(*t.number))
}
