package schema

import (
	"fmt"
	"io/fs"
	"slices"
	"strings"
)

// Rule is one row of a rules file: what contradicts, how grave it is, why, by
// which source, and what to write instead.
type Rule struct {
	Name     string   `yaml:"name"`
	Number   int      `yaml:"number"` // row of the trade's rule list, 0 for our own
	Group    string   `yaml:"group"`
	Severity Severity `yaml:"severity"`
	State    string   `yaml:"state"` // code of the list true-state: what blocks can be true, and the signer may confirm it
	By       string   `yaml:"by"`    // "": the tests below; reader, check, batch, site or followup: raised by name
	Each     string   `yaml:"each"`
	When     []string `yaml:"when"`
	At       string   `yaml:"at"`
	With     []string `yaml:"with"`
	What     string   `yaml:"what"`
	Why      string   `yaml:"why"`
	Fix      string   `yaml:"fix"`
	Source   []string `yaml:"source"`
	Basis    string   `yaml:"basis"` // cited, arithmetic, common-practice, memory

	tests []test
}

func loadRules(d *Dictionary) error {
	files, err := fs.Glob(data, "data/rules-*.yaml")
	if err != nil {
		return err
	}
	slices.Sort(files)
	for _, f := range files {
		var rows []*Rule
		if err := decode(strings.TrimPrefix(f, "data/"), &rows); err != nil {
			return err
		}
		for _, r := range rows {
			if _, twice := d.rules[r.Name]; twice {
				return fmt.Errorf("rule %s stands twice", r.Name)
			}
			if r.Fix, err = d.withForms(r.Fix); err != nil {
				return fmt.Errorf("rule %s: %w", r.Name, err)
			}
			if r.tests, err = d.parseTests(r.When, r.Each); err != nil {
				return fmt.Errorf("rule %s: %w", r.Name, err)
			}
			if r.By == "" && len(r.tests) == 0 {
				return fmt.Errorf("rule %s tests nothing", r.Name)
			}
			if _, known := d.Lists[stateList].Words(r.State); r.State != "" && (!known || r.Severity != Blocks) {
				return fmt.Errorf("rule %s: state %q is no code of the list, or the rule does not block", r.Name, r.State)
			}
			d.rules[r.Name] = r
			d.Rules = append(d.Rules, r)
		}
	}
	return nil
}

// rule runs one row against an entry, once per item for "each".
func (c *checker) rule(r *Rule) {
	if r.By != "" {
		return
	}
	n := 1
	if r.Each != "" {
		n = c.e.Count(r.Each)
	}
	for item := range n {
		s := c.at(r.Each, item)
		if !s.holds(r.tests) {
			continue
		}
		at := c.place(r.At, r.Each, item)
		f := c.finding(r.Name, at, c.pathOf(r.At, r.Each, item))
		f.Excerpt = c.line(at)
		for _, w := range r.With {
			if p := c.place(w, r.Each, item); p.Known() && c.stands(w, r.Each, item) {
				f.Related = append(f.Related, Related{c.pathOf(w, r.Each, item), p})
			}
		}
		f.Detail = c.detail(r, item)
		c.push(f)
	}
}

// detail shows the computed values that a rule rests on. It is private.
func (c *checker) detail(r *Rule, item int) string {
	var out []string
	for _, t := range r.tests {
		for _, d := range []*Derived{t.derived, t.otherDer} {
			if d == nil {
				continue
			}
			for _, v := range c.at(r.Each, item).values(nil, d) {
				if v.derived.Known && v.derived.HasNumber {
					out = append(out, d.Title+" "+d.Format(v.derived))
				}
			}
		}
	}
	return strings.Join(slices.Compact(out), "; ")
}

// stands reports whether there is something at a path to look at: a silent
// field is no place to point to.
func (c *checker) stands(path, each string, item int) bool {
	r, ok := c.dict.rows[path]
	if !ok {
		return true
	}
	for _, v := range c.at(each, item).values(r, nil) {
		if !v.blank() {
			return true
		}
	}
	return false
}

// pathOf names the place of a finding, with the item for list groups.
func (c *checker) pathOf(path, each string, item int) string {
	r, ok := c.dict.rows[path]
	if !ok || r.Group.Many == "" || r.Group.Key != each {
		return path
	}
	return itemPath(r, item)
}

// place of a path: the answer when something stands there, else the item, else
// the group, else the case.
func (c *checker) place(path, each string, item int) Pos {
	r, ok := c.dict.rows[path]
	if !ok {
		return c.e.Place(path)
	}
	if r.Group.Many == "" {
		if s := c.e.slot(r, 0); s.Pos().Known() {
			return s.Pos()
		}
		return c.e.Place(r.Group.Key)
	}
	n := c.e.Count(r.Group.Key)
	if r.Group.Key != each {
		for i := range n {
			if s := c.e.slot(r, i); s.Recorded() {
				return s.Pos()
			}
		}
		return c.e.Place(r.Group.Key)
	}
	if s := c.e.slot(r, item); s.Pos().Known() {
		return s.Pos()
	}
	if items := c.e.lists[r.Group.Key].Items; item < len(items) {
		return items[item]
	}
	return c.e.Place(r.Group.Key)
}
