package main

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"

	"go.yaml.in/yaml/v3"

	"graftnote/casebook"
)

// The form is what a sign-off without a terminal is filled in on. 'sign --show'
// writes it beside what it shows; the token in it proves that this was shown.

// decision is one note of a form.
type decision struct {
	Case      string     `yaml:"case"`
	Shown     string     `yaml:"shown"`
	Sign      bool       `yaml:"sign"`
	Confirmed confirmed  `yaml:"confirmed"`
	States    []stated   `yaml:"true-states"`
	Answers   []answered `yaml:"answers"`
	Alike     []alike    `yaml:"alike"`
	Why       string     `yaml:"why"`
	Person    bool       `yaml:"same-person"`
}

type answered struct {
	Rule   string `yaml:"rule"`
	Path   string `yaml:"path"`
	Reason string `yaml:"reason"`
}

type alike struct {
	Case      string `yaml:"case"`
	Different bool   `yaml:"different"`
}

// confirmed is a list of paths, or the word all.
type confirmed struct {
	all   bool
	paths []string
}

// UnmarshalYAML reads either form.
func (c *confirmed) UnmarshalYAML(n *yaml.Node) error {
	if n.Kind == yaml.ScalarNode {
		switch n.Value {
		case "all":
			c.all = true
			return nil
		case "", "none":
			return nil
		}
		return errors.New("confirmed")
	}
	return n.Decode(&c.paths)
}

const formHead = `# Sign-off form of graftnote. It belongs to the notes as they were shown; when an
# entry or a case changes afterwards, its note is refused.
#
#   sign         yes signs the note; no leaves it unsigned
#   confirmed    all, or the list of the prefilled values that you confirm
#   true-states  true: yes for each state that is true as it stands in the entry; where
#                the entry does not say it yet, also the reason, and for an incident who
#                was told, when, and the incident number, or: not yet given
#   answers      a reason for each point to look at again; it goes into the record
#   alike        different: yes says that it is another operation than the earlier one
#
`

// formText writes a form to fill in.
func formText(list []*showing, command string) string {
	var b strings.Builder
	b.WriteString(formHead + "# Then: graftnote " + command + " ... --as KEYFILE --answers THIS_FILE\n")
	for _, s := range list {
		fmt.Fprintf(&b, "\n# %s\n- case: %s\n  shown: %s\n  sign: no\n", comment(s.doc.Banner.Eye+", "+s.doc.Subtitle), quoted(s.name), s.token)
		if len(s.prefill) > 0 {
			b.WriteString("  confirmed: []\n")
			for _, path := range s.prefill {
				fmt.Fprintf(&b, "  #  - %s\n", comment(path))
			}
		}
		b.WriteString(personForm(s))
		b.WriteString(statesForm(s))
		if len(s.ask) > 0 {
			b.WriteString("  answers:\n")
		}
		for _, f := range s.ask {
			fmt.Fprintf(&b, "    # %s\n    - {rule: %s, path: %s, reason: \"\"}\n", comment(f.What), quoted(f.Rule), quoted(f.Path))
		}
		if len(s.alike) > 0 {
			b.WriteString("  alike:\n")
		}
		for _, other := range s.alike {
			fmt.Fprintf(&b, "    - {case: %s, different: no}\n", quoted(other))
		}
	}
	return b.String()
}

// quoted is a text as YAML reads it back, whatever it holds.
func quoted(s string) string {
	b, err := json.Marshal(s)
	if err != nil { // a string can always be written
		panic("form: not written")
	}
	return string(b)
}

func comment(s string) string { return strings.ReplaceAll(visibleProse(s), "\n", " ") }

// readForm reads a form that was filled in.
func readForm(path string) ([]decision, error) {
	b, err := readInput(path, maxForm)
	if err != nil {
		return nil, unread(path, err)
	}
	bad := &fault{status: statusUsage, text: path + " is not a sign-off form; nothing was signed",
		hints: []string{"--show --to FILE writes one; 'sign' is yes or no, 'confirmed' is all or a list, reasons with a colon stand in quotes"}}
	dec := yaml.NewDecoder(bytes.NewReader(bytes.TrimPrefix(b, []byte("\ufeff"))))
	dec.KnownFields(true)
	var form []decision
	if dec.Decode(&form) != nil || !errors.Is(dec.Decode(new(any)), io.EOF) {
		return nil, bad
	}
	for i, d := range form {
		if slices.ContainsFunc(form[:i], func(e decision) bool { return e.Case == d.Case }) {
			return nil, &fault{status: statusUsage, text: path + ": a case stands twice; nothing was signed"}
		}
	}
	return form, nil
}

// apply holds a decision to what was shown. It names each open point by its rule
// and path and never by a value.
func (d decision) apply(s *showing, token string) (*signature, error) {
	refuse := func(why, hint string) (*signature, error) {
		return nil, &fault{status: statusBlocked, text: "case " + s.name + ": " + why + "; nothing was signed", hints: []string{hint}}
	}
	if d.Shown != token {
		return refuse("it is not what was shown", "the entry or the case has changed: show it again with --show and sign what you have seen")
	}
	if !d.Sign {
		return nil, nil
	}
	out := &signature{showing: s, why: strings.TrimSpace(d.Why)}
	if d.Confirmed.all {
		out.confirmed = s.prefill
	} else {
		for _, p := range s.prefill {
			if !slices.Contains(d.Confirmed.paths, p) {
				return refuse("the prefilled value "+p+" is not confirmed", "confirm all prefilled values, or change them in the entry")
			}
		}
		if len(d.Confirmed.paths) > len(s.prefill) {
			return refuse("more values are confirmed than were prefilled", "confirm exactly what was shown")
		}
		out.confirmed = d.Confirmed.paths
	}
	if why := d.affirms(s); why != "" {
		return refuse(why, "show the notes with --show --to FORM and fill the form in, or correct the entry")
	}
	if s.samePerson != d.Person {
		return refuse("it is not said whether the patient is the same person", "show the correction again; write same-person: yes when it corrects a slip")
	}
	out.affirmed = casebook.ToAffirm(s.checked)
	for _, f := range s.ask {
		i := slices.IndexFunc(d.Answers, func(a answered) bool { return a.Rule == f.Rule && a.Path == f.Path })
		if i < 0 || strings.TrimSpace(d.Answers[i].Reason) == "" {
			return refuse("the point "+f.Rule+" at "+f.Path+" is not answered", "mend the entry, or give a reason")
		}
		out.answers = append(out.answers, casebook.Answer{Rule: f.Rule, Path: f.Path, Reason: strings.TrimSpace(d.Answers[i].Reason)})
	}
	if len(d.Answers) > len(s.ask) {
		return refuse("more points are answered than were asked", "answer exactly what was shown")
	}
	for _, other := range s.alike {
		if !slices.Contains(d.Alike, alike{other, true}) {
			return refuse("it looks like a copy of case "+other, "check the entry; if it is truly another operation, write different: yes")
		}
	}
	return out, nil
}
