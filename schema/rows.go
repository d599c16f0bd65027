package schema

import (
	"embed"
	"fmt"
	"strings"
	"sync"

	"go.yaml.in/yaml/v3"

	"graftnote/schema/quantity"
)

//go:embed data/*.yaml
var data embed.FS

// Row is one field of the dictionary.
type Row struct {
	Key     string   `yaml:"key"`     // the word typed in the entry
	Title   string   `yaml:"title"`   // the trade's name
	Type    string   `yaml:"type"`    // see data/fields.yaml
	List    string   `yaml:"list"`    // code list for code and codes
	Need    string   `yaml:"need"`    // always, optional, or a condition's name
	Refuse  bool     `yaml:"refuse"`  // "not recorded" is no answer
	Soft    string   `yaml:"soft"`    // usual range, canonical unit
	Hard    string   `yaml:"hard"`    // possible range, canonical unit
	Basis   string   `yaml:"basis"`   // what the hard limit rests on
	Prefill string   `yaml:"prefill"` // never, technique
	When    string   `yaml:"when"`    // condition under which a habit is filled
	With    string   `yaml:"with"`    // the field whose detail a habit is
	Private bool     `yaml:"private"` // could help to name a person
	Safety  bool     `yaml:"safety"`  // "not recorded" needs a confirmation where it matters
	Column  string   `yaml:"column"`  // registry column
	As      string   `yaml:"as"`      // how the column is made
	Source  []string `yaml:"source"`  // keys of sources.yaml
	Example string   `yaml:"example"`
	Help    string   `yaml:"help"`
	Hint    string   `yaml:"form"` // what a value looks like, where the type does not say it

	Group *Group `yaml:"-"`
	soft  span
	hard  span
	index int // field index in the Go struct
}

// Path is group.key, or key alone at the top of the entry.
func (r *Row) Path() string {
	if r.Group.Key == "" {
		return r.Key
	}
	return r.Group.Key + "." + r.Key
}

// Habit reports whether the standing technique may fill the field.
func (r *Row) Habit() bool { return r.Prefill == "technique" }

// Dimension is the physical dimension of a measured field.
func (r *Row) Dimension() (quantity.Dimension, bool) { return quantity.DimensionByName(r.Type) }

// ListName is the code list that holds the allowed codes, "" when free.
func (r *Row) ListName() string {
	if r.Type == "yes-no" {
		return "yes-no"
	}
	return r.List
}

// Group is a headed part of the entry, one row or many.
type Group struct {
	Key         string `yaml:"key"`
	Title       string `yaml:"title"`
	Many        string `yaml:"many"`          // name of one item, for lists
	MayBeNone   bool   `yaml:"may-be-none"`   // the word "none" must be said
	OptionalLst bool   `yaml:"optional-list"` // silence is allowed
	Fields      []*Row `yaml:"fields"`

	byKey map[string]*Row
	index int
}

// Row finds a field of the group by its key.
func (g *Group) Row(key string) (*Row, bool) { r, ok := g.byKey[key]; return r, ok }

// CodeList is an ordered list of allowed codes with the words of the note.
type CodeList struct {
	Name  string
	Codes []CodeWord
	byKey map[string]int
}

// CodeWord is one code and the words that the note uses for it.
type CodeWord struct{ Code, Words string }

// Words of a code; ok is false for a code that is not in the list.
func (l *CodeList) Words(code string) (string, bool) {
	i, ok := l.byKey[code]
	if !ok {
		return "", false
	}
	return l.Codes[i].Words, true
}

// Condition is a named flat list of tests.
type Condition struct {
	Name  string   `yaml:"name"`
	Title string   `yaml:"title"`
	Each  string   `yaml:"each"`
	When  []string `yaml:"when"`
	tests []test
}

// Citation is a source as the user reads it.
type Citation struct {
	Text string `yaml:"text"`
	Seen string `yaml:"seen"` // source, abstract, secondary, memory, none
}

// Dictionary is all content of data/, read once.
type Dictionary struct {
	Version    int
	Groups     []*Group
	Lists      map[string]*CodeList
	Conditions map[string]*Condition
	Sources    map[string]Citation
	Rules      []*Rule
	Elements   []*Element
	Profiles   []Profile
	Derived    []*Derived

	groups    map[string]*Group
	rows      map[string]*Row
	derived   map[string]*Derived
	rules     map[string]*Rule
	listOrder []string
	followup  *followupContent
}

// Group finds a group by its key.
func (d *Dictionary) Group(key string) (*Group, bool) { g, ok := d.groups[key]; return g, ok }

// Row finds a field by its path.
func (d *Dictionary) Row(path string) (*Row, bool) { r, ok := d.rows[path]; return r, ok }

// Rule finds a rule by its name.
func (d *Dictionary) Rule(name string) (*Rule, bool) { r, ok := d.rules[name]; return r, ok }

// Content is the dictionary of this version of graftnote. It is built from
// files inside the program, so a failure is a fault of the build.
var Content = sync.OnceValue(func() *Dictionary {
	d, err := load()
	if err != nil {
		panic("schema: data: " + err.Error())
	}
	return d
})

func load() (*Dictionary, error) {
	d := &Dictionary{groups: map[string]*Group{}, rows: map[string]*Row{}, Lists: map[string]*CodeList{},
		Conditions: map[string]*Condition{}, Sources: map[string]Citation{}, rules: map[string]*Rule{}, derived: map[string]*Derived{}}
	var fields struct {
		Version int
		Groups  []*Group
	}
	if err := decode("fields.yaml", &fields); err != nil {
		return nil, err
	}
	d.Version, d.Groups = fields.Version, fields.Groups
	for _, g := range d.Groups {
		g.byKey = map[string]*Row{}
		d.groups[g.Key] = g
		for _, r := range g.Fields {
			r.Group = g
			g.byKey[r.Key] = r
			d.rows[r.Path()] = r
			var err error
			if r.soft, err = parseSpan(r.Soft); err != nil {
				return nil, fmt.Errorf("%s soft: %w", r.Path(), err)
			}
			if r.hard, err = parseSpan(r.Hard); err != nil {
				return nil, fmt.Errorf("%s hard: %w", r.Path(), err)
			}
		}
	}
	indexStructs(d)
	for _, step := range []func(*Dictionary) error{loadLists, loadSources, loadDerived, loadConditions, loadRules, loadCompleteness, loadFollowup} {
		if err := step(d); err != nil {
			return nil, err
		}
	}
	return d, nil
}

func decode(name string, into any) error {
	b, err := data.ReadFile("data/" + name)
	if err != nil {
		return err
	}
	dec := yaml.NewDecoder(strings.NewReader(string(b)))
	dec.KnownFields(true)
	if err := dec.Decode(into); err != nil {
		return fmt.Errorf("%s: %w", name, err)
	}
	return nil
}

// loadLists keeps the order of the file, which is the order shown to users.
func loadLists(d *Dictionary) error {
	var doc yaml.Node
	if err := decode("lists.yaml", &doc); err != nil {
		return err
	}
	top := doc.Content[0]
	for i := 0; i < len(top.Content); i += 2 {
		l := &CodeList{Name: top.Content[i].Value, byKey: map[string]int{}}
		codes := top.Content[i+1]
		for j := 0; j < len(codes.Content); j += 2 {
			l.byKey[codes.Content[j].Value] = len(l.Codes)
			l.Codes = append(l.Codes, CodeWord{codes.Content[j].Value, codes.Content[j+1].Value})
		}
		d.Lists[l.Name] = l
		d.listOrder = append(d.listOrder, l.Name)
	}
	return nil
}

// ListNames in the order of the file.
func (d *Dictionary) ListNames() []string { return d.listOrder }

func loadSources(d *Dictionary) error { return decode("sources.yaml", &d.Sources) }

func loadConditions(d *Dictionary) error {
	var rows []*Condition
	if err := decode("conditions.yaml", &rows); err != nil {
		return err
	}
	for _, c := range rows {
		tests, err := d.parseTests(c.When, c.Each)
		if err != nil {
			return fmt.Errorf("condition %s: %w", c.Name, err)
		}
		c.tests = tests
		d.Conditions[c.Name] = c
	}
	for path, r := range d.rows {
		if _, ok := d.Conditions[r.When]; r.When != "" && (!ok || !r.Habit()) {
			return fmt.Errorf("%s: when: no condition %q, or no habit", path, r.When)
		}
	}
	return nil
}

// span is a closed range in the dimension's canonical unit; an unset end is
// open.
type span struct {
	set    bool
	lo, hi *quantity.Decimal
}

// holds reports whether n lies inside the span, ends included.
func (s span) holds(n quantity.Decimal) bool {
	return !s.set || (s.lo == nil || n.Cmp(*s.lo) >= 0) && (s.hi == nil || n.Cmp(*s.hi) <= 0)
}

func parseSpan(text string) (span, error) {
	if text == "" {
		return span{}, nil
	}
	lo, hi, ok := strings.Cut(text, "..")
	if !ok {
		return span{}, fmt.Errorf("range %q needs two dots", text)
	}
	s := span{set: true}
	for _, end := range []struct {
		text string
		at   **quantity.Decimal
	}{{lo, &s.lo}, {hi, &s.hi}} {
		if end.text == "" {
			continue
		}
		n, p := quantity.ParseDecimal(end.text)
		if p != nil {
			return span{}, p
		}
		*end.at = &n
	}
	return s, nil
}
