package schema

// Statement is a compiled flat list of tests, for those who choose words by
// what an entry says.
type Statement struct {
	tests []test
	each  string
}

// Statement compiles tests in the language of the rule files. each names a list
// group when the statement is about one of its items.
func (d *Dictionary) Statement(lines []string, each string) (Statement, error) {
	t, err := d.parseTests(lines, each)
	return Statement{t, each}, err
}

// View looks at one entry and remembers what was computed.
type View struct {
	e    *Entry
	memo map[*Derived][]DerivedValue
}

// NewView looks at an entry that no longer changes.
func NewView(e *Entry) *View { return &View{e, map[*Derived][]DerivedValue{}} }

// Holds reports whether every test holds; item counts from 0 when the statement
// is about items.
func (v *View) Holds(s Statement, item int) bool {
	return (&scope{e: v.e, each: s.each, item: item, memo: v.memo}).holds(s.tests)
}

// Under reports whether a named condition of the whole entry holds.
func (v *View) Under(condition string) bool {
	c, known := Content().Conditions[condition]
	return known && c.Each == "" && (&scope{e: v.e, memo: v.memo}).holds(c.tests)
}

// Derived gives a computed value in words with its unit; ok is false when it is
// not known. item counts from 0 for values of a list group.
func (v *View) Derived(name string, item int) (words string, ok bool) {
	d, found := Content().derived[name]
	if !found {
		return "", false
	}
	all := (&scope{e: v.e, memo: v.memo}).derive(d)
	if item >= len(all) || !all[item].Known {
		return "", false
	}
	return d.Format(all[item]), true
}

// DerivedRow finds the row of a computed value by its name.
func (d *Dictionary) DerivedRow(name string) (*Derived, bool) { x, ok := d.derived[name]; return x, ok }

// Affirms lists the paths whose recorded word the statement asks for: a
// sentence chosen by it says that word.
func (s Statement) Affirms() []string {
	var out []string
	for _, t := range s.tests {
		if t.row == nil || t.op != "is" && t.op != "=" {
			continue
		}
		if t.op == "=" {
			out = append(out, t.path)
		}
		for _, c := range t.codes {
			if c != "missing" && c != "blank" && c != "recorded" {
				out = append(out, t.path)
				break
			}
		}
	}
	return out
}
