package month

import (
	"bytes"
	_ "embed"
	"fmt"
	"slices"
	"sync"

	"go.yaml.in/yaml/v3"

	"graftnote/registry"
	"graftnote/registry/disclosure"
	"graftnote/schema"
)

//go:embed month.yaml
var monthYAML []byte

// Say is a code and what it means.
type Say struct {
	Code string `yaml:"code"`
	Says string `yaml:"says"`
}

type controlColumn struct {
	Name    string `yaml:"name"`
	Role    string `yaml:"role"`
	Title   string `yaml:"title"`
	Type    string `yaml:"type"`
	Pattern string `yaml:"pattern"`
	Min     string `yaml:"min"`
	Max     string `yaml:"max"`
	List    string `yaml:"list"`
	Meaning string `yaml:"meaning"`
}

type content struct {
	Version    int                    `yaml:"version"`
	Control    []controlColumn        `yaml:"control"`
	Span       controlColumn          `yaml:"span"`
	Changes    []Say                  `yaml:"changes"`
	Reasons    []Say                  `yaml:"reasons"`
	Exceptions []Say                  `yaml:"exceptions"`
	Which      []Say                  `yaml:"which"`
	Missing    []registry.MissingCode `yaml:"missing"`
	Quasi      []disclosure.Column    `yaml:"quasi"`
	Follows    map[string][]string    `yaml:"follows"`
	Sensitive  []string               `yaml:"sensitive"`
	Reading    []readingWord          `yaml:"reading"`
	Says       map[string]string      `yaml:"says"`
}

// The missing codes that the program itself gives; month.yaml explains them.
const (
	withheld  = "WH"
	withdrawn = "WD"
)

// lastStatus is the sensitive value that is no column.
const lastStatus = "last_status"

// load reads month.yaml once. A failure is a fault of the build, so it panics.
var load = sync.OnceValue(func() *content {
	c := &content{}
	d := yaml.NewDecoder(bytes.NewReader(monthYAML))
	d.KnownFields(true)
	if err := d.Decode(c); err != nil {
		panic("month: month.yaml: " + err.Error())
	}
	if err := c.sound(); err != nil {
		panic("month: month.yaml: " + err.Error())
	}
	missing := allMissing(c)
	for i := range c.Quasi {
		c.Quasi[i].Keep = missing
	}
	return c
})

// sound makes sure that the names in the file are columns and that every code of
// a column has its place in each group.
func (c *content) sound() error {
	for _, q := range c.Quasi {
		col, ok := operationColumn(q.Name)
		if !ok {
			return fmt.Errorf("no column %q", q.Name)
		}
		for _, s := range q.Ladder {
			if s.Groups == nil {
				continue
			}
			for _, w := range col.Codes {
				if !inGroups(s.Groups, w.Code) {
					return fmt.Errorf("%s, %s: no group for %q", q.Name, s.Name, w.Code)
				}
			}
		}
	}
	for from, to := range c.Follows {
		for _, name := range append([]string{from}, to...) {
			if !registry.IsColumn(name) {
				return fmt.Errorf("no column %q", name)
			}
		}
	}
	for _, w := range c.Reading {
		if !registry.IsColumn(w.Name) && !slices.ContainsFunc(registry.VisitColumns(), func(v registry.Column) bool { return v.Name == w.Name }) {
			return fmt.Errorf("no column %q", w.Name)
		}
	}
	for _, name := range c.Sensitive {
		if name != lastStatus && !registry.IsColumn(name) {
			return fmt.Errorf("no column %q", name)
		}
	}
	return nil
}

func inGroups(groups map[string][]string, code string) bool {
	for _, codes := range groups {
		if slices.Contains(codes, code) {
			return true
		}
	}
	return false
}

func operationColumn(name string) (registry.Column, bool) {
	for _, c := range registry.Columns() {
		if c.Name == name {
			return c, true
		}
	}
	return registry.Column{}, false
}

// missingCodes are those of the columns and of a package.
func missingCodes() []registry.MissingCode {
	return append(registry.MissingCodes(), load().Missing...)
}

func allMissing(c *content) []string {
	var out []string
	for _, m := range append(registry.MissingCodes(), c.Missing...) {
		out = append(out, m.Code)
	}
	return out
}

func (c *content) says(list []Say, code string) string {
	for _, s := range list {
		if s.Code == code {
			return s.Says
		}
	}
	return ""
}

// ExceptionReasons are the codes for an operation left out, with their meaning.
func ExceptionReasons() []Say { return slices.Clone(load().Exceptions) }

// words turns a list of codes into those of a column.
func words(list []Say) []schema.CodeWord {
	out := make([]schema.CodeWord, len(list))
	for i, s := range list {
		out[i] = schema.CodeWord{Code: s.Code, Words: s.Says}
	}
	return out
}

func (c *content) control(role string) registry.Column {
	for _, k := range c.Control {
		if k.Role == role {
			return k.column(c)
		}
	}
	panic("month: month.yaml: no column for " + role)
}

func (k controlColumn) column(c *content) registry.Column {
	col := registry.Column{Name: k.Name, Title: k.Title, Meaning: k.Meaning, Type: k.Type, Pattern: k.Pattern, Minimum: k.Min, Maximum: k.Max, Required: true}
	switch k.List {
	case "changes":
		col.Codes = words(c.Changes)
	case "reasons":
		col.Codes = words(c.Reasons)
	}
	return col
}
