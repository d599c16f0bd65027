package schema

import (
	"fmt"
	"slices"
)

// Element is one of the merged contents of an operative report, with the bodies
// that ask for it.
type Element struct {
	Number int               `yaml:"number"`
	Name   string            `yaml:"name"`
	Paths  []string          `yaml:"paths"` // all must be answered
	Any    []string          `yaml:"any"`   // one suffices
	Asks   map[string]string `yaml:"asks"`  // profile: required, if-any, brief...
	Missed string            `yaml:"missed"`
	Source []string          `yaml:"source"`
	Fix    string            `yaml:"fix"`
	// Quiet elements are not reminded of: an eye operation hardly ever has
	// them, or a rule or a required field asks wherever they apply.
	Quiet bool `yaml:"quiet"`
}

// Profile is a body whose list of contents a site may choose to block on.
type Profile struct {
	Key    string   `yaml:"key"`
	Title  string   `yaml:"title"`
	Source []string `yaml:"source"`
	Seen   string   `yaml:"seen"`
	Blocks bool     `yaml:"blocks"` // without a site file
}

func loadCompleteness(d *Dictionary) error {
	var file struct {
		Profiles []Profile
		Elements []*Element
	}
	if err := decode("completeness.yaml", &file); err != nil {
		return err
	}
	d.Profiles, d.Elements = file.Profiles, file.Elements
	for _, e := range d.Elements {
		var err error
		if e.Fix, err = d.withForms(e.Fix); err != nil {
			return fmt.Errorf("element %d: %w", e.Number, err)
		}
		for _, p := range slices.Concat(e.Paths, e.Any) {
			if _, ok := d.rows[p]; !ok && d.groups[p] == nil {
				return fmt.Errorf("element %d: unknown path %q", e.Number, p)
			}
		}
		for body := range e.Asks {
			if !slices.ContainsFunc(d.Profiles, func(p Profile) bool { return p.Key == body }) {
				return fmt.Errorf("element %d: unknown profile %q", e.Number, body)
			}
		}
	}
	return nil
}

// askers names the bodies that ask for a path, for the finding.
func (c *checker) askers(path string) []string {
	var out []string
	for _, p := range c.dict.Profiles {
		for _, e := range c.dict.Elements {
			how, asks := e.Asks[p.Key]
			if !asks || !slices.Contains(e.Paths, path) && !slices.Contains(e.Any, path) {
				continue
			}
			out = append(out, fmt.Sprintf("%s (element %d, %s: %s)", p.Title, e.Number, e.Name, how))
			break
		}
	}
	return out
}

// blocking tells which profiles block sign-off at this site.
func (c *checker) blocking(key string) bool {
	if c.o.Site != nil && c.o.Site.Profiles != nil {
		return slices.Contains(c.o.Site.Profiles, key)
	}
	i := slices.IndexFunc(c.dict.Profiles, func(p Profile) bool { return p.Key == key })
	return i >= 0 && c.dict.Profiles[i].Blocks
}

// elements finds the contents that a body asks for and that no required field
// has already missed. It blocks when a blocking profile asks without
// conditions; else it reminds.
func (c *checker) elements() {
	for _, e := range c.dict.Elements {
		missing, own := c.unanswered(e)
		if missing == "" || own {
			continue
		}
		severity, rule := Remark, "element-suggested"
		var asked []string
		for _, p := range c.dict.Profiles {
			how, asks := e.Asks[p.Key]
			if !asks {
				continue
			}
			asked = append(asked, fmt.Sprintf("%s (%s)", p.Title, how))
			if how == "required" || how == "required+brief" || how == "1..1" {
				if c.blocking(p.Key) {
					severity, rule = Blocks, "element-missing"
				}
			}
		}
		if e.Quiet && severity != Blocks {
			continue
		}
		at := c.place(missing, "", 0)
		f := c.finding(rule, at, missing)
		f.Severity = severity
		f.Excerpt = c.line(at)
		f.What = fmt.Sprintf("%s: not stated.", e.Name)
		f.AskedBy = asked
		f.Source = e.Source
		f.Fix = e.Fix
		if r, ok := c.dict.rows[missing]; ok && f.Fix == "" {
			f.Fix = fixFor(r)
		}
		c.push(f)
	}
}

// unanswered gives the first silent path of an element; own reports that a
// required field or group already says so.
func (c *checker) unanswered(e *Element) (path string, own bool) {
	for _, p := range e.Paths {
		if !c.answered(p) {
			return p, c.asksItself(p)
		}
	}
	if len(e.Any) == 0 || slices.ContainsFunc(e.Any, c.answered) {
		return "", false
	}
	return e.Any[0], slices.ContainsFunc(e.Any, c.asksItself)
}

func (c *checker) answered(path string) bool {
	r, ok := c.dict.rows[path]
	if !ok {
		s := c.e.List(path)
		return s.None || s.Reason != "" || c.e.Count(path) > 0
	}
	all := c.e.All(path)
	if r.Group.Many != "" && c.e.List(r.Group.Key).None {
		return true
	}
	return slices.ContainsFunc(all, func(f Field) bool { return !f.Blank() })
}

func (c *checker) asksItself(path string) bool {
	r, ok := c.dict.rows[path]
	if !ok {
		return true
	}
	return needed(c.e, r, 0) || r.Group.Many != "" && c.e.Count(r.Group.Key) == 0
}
