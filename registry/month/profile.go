package month

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"regexp"
	"slices"
	"strings"

	"go.yaml.in/yaml/v3"

	"graftnote/schema"
	"graftnote/templates"
)

// Profile is the form that a receiving registry asks for: its own column names,
// codes, units and words for what is missing. Only ParseProfile makes one that
// Build accepts.
type Profile struct {
	Name    string `yaml:"profile"`
	Title   string `yaml:"title"`
	Version int    `yaml:"version"`
	// Missing is what stands in a cell without a value, by missing code; default
	// stands for all others.
	Missing map[string]string `yaml:"missing"`
	// Separator stands between several codes in one cell; "" is our own.
	Separator string `yaml:"separator"`
	// Operations and Followups are the columns of the two tables, in their order.
	Operations []ProfileColumn `yaml:"operations"`
	Followups  []ProfileColumn `yaml:"followups"`

	sound bool
}

// ProfileColumn is one column that the registry asks for.
type ProfileColumn struct {
	Name string `yaml:"name"`
	// From is the column of our dictionary.
	From string `yaml:"from"`
	// Codes are the registry's codes by ours; Else is for all others.
	Codes map[string]string `yaml:"codes"`
	Else  string            `yaml:"else"`
	// Unit is the registry's unit, as people write it; Places its decimal places.
	Unit   string `yaml:"unit"`
	Places *int   `yaml:"places"`
	// Grain is how exact a date must be: year is all that a row has.
	Grain string `yaml:"grain"`
	// Required: the registry refuses a row without a value.
	Required bool `yaml:"required"`
}

// ProfileName names the form on a package.
type ProfileName struct {
	Name    string `json:"name"`
	Title   string `json:"title"`
	Version int    `json:"version"`
}

// ProfileError lists everything that is wrong with a profile, so that it can be
// repaired in one go.
type ProfileError struct{ Faults []string }

// Error is all faults, one a line.
func (e *ProfileError) Error() string {
	return fmt.Sprintf("the registry profile has %d %s:\n- %s", len(e.Faults), plural(len(e.Faults), "fault", "faults"), strings.Join(e.Faults, "\n- "))
}

// Gap is a cell that the receiving registry requires and that has no value.
type Gap struct {
	Kind, Key string
	Column    string // as the registry calls it
}

// maxProfile bounds the file of a profile, in bytes.
const maxProfile = 1 << 20

// ParseProfile reads a profile from YAML and checks it against our columns. The
// error is a *ProfileError: a column that stands twice, is unknown or missing, a
// code without a counterpart, a unit that ours cannot be turned into, or a
// column that cannot be filled.
func ParseProfile(data []byte) (*Profile, error) {
	if len(data) > maxProfile {
		return nil, &ProfileError{[]string{"the file is larger than 1 MiB"}}
	}
	p := &Profile{}
	d := yaml.NewDecoder(bytes.NewReader(data))
	d.KnownFields(true)
	if err := d.Decode(p); err != nil {
		if errors.Is(err, io.EOF) {
			return nil, &ProfileError{[]string{"the file is empty"}}
		}
		return nil, &ProfileError{[]string{"the file cannot be read as a profile: " + strings.Join(schema.YAMLFaults(err), "; ")}}
	}
	var more yaml.Node
	if err := d.Decode(&more); !errors.Is(err, io.EOF) {
		return nil, &ProfileError{[]string{"the file holds more than one document"}}
	}
	if faults := p.faults(); len(faults) > 0 {
		return nil, &ProfileError{faults}
	}
	p.sound = true
	return p, nil
}

var (
	profileName = regexp.MustCompile(`^[a-z][a-z0-9-]{1,63}$`)
	columnName  = regexp.MustCompile(`^[A-Za-z][A-Za-z0-9_]{0,63}$`)
	// profileCode begins with a letter or a digit, so that no spreadsheet takes a
	// cell for a formula.
	profileCode = regexp.MustCompile(`^[A-Za-z0-9][A-Za-z0-9 ._/+-]{0,79}$`)
	numeric     = regexp.MustCompile(`^[0-9.]+$`)
)

func (p *Profile) faults() []string {
	var out []string
	say := func(format string, args ...any) { out = append(out, fmt.Sprintf(format, args...)) }
	if !profileName.MatchString(p.Name) {
		say("profile: a short name of small letters, digits and hyphens is needed")
	}
	if p.Title == "" || len(p.Title) > 200 || strings.ContainsAny(p.Title, "\r\n\t") {
		say("title: the registry's name is needed, on one line")
	}
	if p.Version < 1 {
		say("version: a number from 1 is needed")
	}
	if p.Separator != "" && !slices.Contains([]string{"|", " ", "/", "+"}, p.Separator) {
		say("separator: one of | / + or a blank")
	}
	if _, ok := p.Missing["default"]; !ok {
		say("missing: default is needed: what stands in a cell without a value")
	}
	known := allMissing(load())
	for code, text := range p.Missing {
		if code != "default" && !slices.Contains(known, code) {
			say("missing: %s is no missing code of ours", code)
		}
		if text != "" && !profileCode.MatchString(text) {
			say("missing: the text for %s cannot stand in a cell", code)
		}
		if numeric.MatchString(text) {
			say("missing: the text for %s is a number, so it cannot be told from a value", code)
		}
	}
	operations, visits := ownForm()
	out = append(out, p.tableFaults("operations", p.Operations, operations)...)
	out = append(out, p.tableFaults("followups", p.Followups, visits)...)
	slices.Sort(out)
	return out
}

// ownForm are the tables in our own form, without rows.
func ownForm() (operations, visits *table) {
	d := &differ{store: newStore(), protected: &protected{span: newCoded()}, keys: keyring{Options{Mode: Pseudonymised}}}
	return d.tables()
}

func (p *Profile) tableFaults(name string, columns []ProfileColumn, own *table) []string {
	var out []string
	seen := map[string]bool{}
	has := map[string]bool{}
	for _, c := range columns {
		if !columnName.MatchString(c.Name) {
			out = append(out, fmt.Sprintf("%s: a column needs a name of letters, digits and underscores", name))
			continue
		}
		if seen[strings.ToLower(c.Name)] {
			out = append(out, fmt.Sprintf("%s: column %s stands twice", name, c.Name))
		}
		seen[strings.ToLower(c.Name)] = true
		i := slices.IndexFunc(own.columns, func(o column) bool { return o.Name == c.From })
		switch {
		case c.From == "":
			out = append(out, fmt.Sprintf("%s: column %s cannot be filled: it is made of nothing (from)", name, c.Name))
			continue
		case i < 0:
			out = append(out, fmt.Sprintf("%s: column %s cannot be filled: %s is no column of ours", name, c.Name, c.From))
			continue
		}
		has[own.columns[i].role] = true
		for _, fault := range p.columnFaults(c, &own.columns[i]) {
			out = append(out, fmt.Sprintf("%s: column %s: %s", name, c.Name, fault))
		}
	}
	for _, role := range []string{keyRole[name], "row-key", "revision", "change"} {
		if !has[role] {
			has[role] = true
			out = append(out, fmt.Sprintf("%s: a column made of %s is missing", name, load().control(role).Name))
		}
	}
	return out
}

func (p *Profile) columnFaults(c ProfileColumn, own *column) []string {
	var out []string
	say := func(format string, args ...any) { out = append(out, fmt.Sprintf(format, args...)) }
	if own.role != "" && (len(c.Codes) > 0 || c.Else != "" || c.Unit != "" || c.Places != nil) {
		say("%s cannot be changed, only renamed", c.From)
		return out
	}
	switch {
	case c.Grain == "", c.Grain == "year" && own.Name == "operation_year":
	case own.Name == "operation_year":
		say("cannot be filled: a row holds the year of surgery and nothing finer")
	default:
		say("grain is for operation_year")
	}
	texts := map[string]bool{}
	for code, to := range c.Codes {
		if !slices.ContainsFunc(own.Codes, func(w codeWord) bool { return w.Code == code }) {
			say("%s is no code of %s", code, c.From)
		}
		texts[to] = true
	}
	if c.Else != "" {
		texts[c.Else] = true
	}
	for to := range texts {
		if !profileCode.MatchString(to) {
			say("a code cannot stand in a cell")
		}
		for _, missing := range p.Missing {
			if to == missing {
				say("a code is the same as a text for a missing value")
			}
		}
		if own.Several && p.separator() != "" && strings.Contains(to, p.separator()) {
			say("a code holds the separator")
		}
	}
	if len(c.Codes) > 0 && c.Else == "" {
		for _, w := range own.Codes {
			if _, ok := c.Codes[w.Code]; !ok {
				say("%s of %s has no counterpart", w.Code, c.From)
			}
		}
	}
	if len(c.Codes) == 0 && c.Else != "" {
		say("else needs codes")
	}
	if c.Unit != "" {
		if _, ok := factor(own, c.Unit); !ok {
			say("cannot be filled: %s cannot be given in %s", c.From, c.Unit)
		}
	}
	if c.Places != nil && (*c.Places < 0 || *c.Places > 6 || !own.Numeric()) {
		say("places are 0 to 6, of a figure")
	}
	return out
}

// Shipped is the text of a profile that comes with the program, by its name.
func Shipped(name string) (data []byte, ok bool) {
	if strings.ContainsAny(name, `/\.`) {
		return nil, false
	}
	data, err := templates.Registries.ReadFile("registries/" + name + ".yaml")
	return data, err == nil
}
