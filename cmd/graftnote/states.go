package main

import (
	"fmt"
	"slices"
	"strings"

	"graftnote/note"
	"graftnote/schema"
)

// What a rule blocks can be true: a count that was not settled, a tissue past its
// expiry, the other eye. The signer confirms it, each state by itself; it then
// stands in the signed entry.

// affirmation is a state that the entry confirms, as the note says it.
type affirmation struct {
	schema.StateAt
	line string
}

// affirmations are the states of the entry with their lines: the note opens with
// them, in their order.
func affirmations(c schema.Checked, d note.Document) []affirmation {
	var out []affirmation
	for _, x := range c.Entry().TrueStates {
		if x.State.Recorded() && len(out) < len(d.Alerts) {
			out = append(out, affirmation{schema.StateAt{State: x.State.Text(), At: x.At.Text()}, d.Alerts[len(out)]})
		}
	}
	return out
}

// typedAs is how a confirmation of the finding is written: the item is named only
// when another one is, or may be, in the same state.
func (s *showing) typedAs(f schema.Finding) schema.StateAt {
	at := f.StateAt()
	same := 0
	for _, g := range s.states {
		if g.State == at.State {
			same++
		}
	}
	if same == 1 && !slices.ContainsFunc(s.affirm, func(x affirmation) bool { return x.State == at.State }) {
		at.At = ""
	}
	return at
}

func (x affirmation) name() string { return strings.TrimSpace(x.State + " " + x.At) }

// states prints what is to be confirmed and what is to be affirmed.
func (p *printer) states(s *showing) {
	if len(s.states) > 0 {
		p.line("\nThis blocks, and can be true. Correct the entry, or confirm each:")
		for _, f := range s.states {
			p.finding(f)
		}
	}
	head := false
	for _, f := range s.checked.Findings() {
		if f.Severity == schema.Confirmed {
			if !head {
				p.line("\nConfirmed as true in the entry; the signer affirms each:")
				head = true
			}
			p.finding(f)
		}
	}
}

// confirmStates asks the person at the terminal about each state that blocks, one
// answer at a time and none of them offered. It gives the note with the
// confirmations in it, or nil when the note is left unsigned.
func (k *signing) confirmStates(s *showing) (*showing, error) {
	if len(s.states) == 0 {
		return s, nil
	}
	a := k.app
	a.print.line("Case %s, %s: it blocks, and can be true.\n", s.name, a.print.paint(bold, s.doc.Banner.Eye))
	var typed []schema.TypedState
	for _, f := range s.states {
		a.print.finding(f)
		one, err := k.confirmState(s.typedAs(f))
		if one == nil || err != nil {
			return nil, err
		}
		typed = append(typed, *one)
	}
	out, bad, err := s.confirm(typed)
	if err == nil && len(bad) > 0 {
		return nil, &fault{status: statusBlocked, text: "case " + s.name + ": what was typed cannot be read; nothing was signed", hints: []string{bad[0].What}}
	}
	if err == nil {
		a.print.line("\nThe confirmation stands in the entry that is signed. The file %s stays as it is;\n'graftnote casebook show %s --entry' gives the signed entry.\n", s.file, s.name)
	}
	return out, err
}

// confirmState asks about one state; nil leaves the note unsigned.
func (k *signing) confirmState(at schema.StateAt) (*schema.TypedState, error) {
	a := k.app
	if yes, err := a.askTrue(schema.StateWords(at.State)); err != nil || !yes {
		return nil, err
	}
	out := &schema.TypedState{State: at.State, At: at.At}
	type question struct {
		into     *string
		text     string
		optional bool
	}
	ask := []question{{&out.Reason, "Reason: ", false}}
	if schema.IsIncident(at.State) {
		ask = append(ask, question{&out.Told, "Who was told: ", false}, question{&out.ToldAt, "Told at, such as 18:20: ", false},
			question{&out.ToldOn, "Told on, when it was another day than the operation, such as 2026-09-09 (else nothing): ", true},
			question{&out.Incident, "Incident number, or: not yet given: ", false})
	}
	for _, q := range ask {
		for {
			text, err := a.ask(q.text)
			if err != nil || text == "" && !q.optional {
				return nil, err
			}
			*q.into = text
			bad, err := schema.ReadStates([]schema.TypedState{*out}, k.given.options)
			if err != nil {
				return nil, err
			}
			if len(bad) == 0 {
				break
			}
			a.print.line("%s %s", sentence(bad[0].What), sentence(bad[0].Fix))
		}
	}
	return out, nil
}

// askTrue asks for the word that says so.
func (a *app) askTrue(what string) (bool, error) {
	yes, err := a.askWord("\n"+wrap(sentence(strings.ToUpper(what[:1])+what[1:]), textWidth, "")+"\nType 'true' if this is so (nothing leaves the note unsigned): ", "true")
	return yes != "", err
}

// affirm asks about each state that the entry's file confirms.
func (k *signing) affirm(s *showing) (bool, error) {
	for _, x := range s.affirm {
		if slices.Contains(s.typed, x.StateAt) {
			continue // typed by the signer a moment ago
		}
		if yes, err := k.app.askTrue(visibleProse(x.line)); err != nil || !yes {
			return false, err
		}
	}
	return true, nil
}

// stated is what a form says about one state.
type stated struct {
	State    string `yaml:"state"`
	At       string `yaml:"at"`
	True     bool   `yaml:"true"`
	Reason   string `yaml:"reason"`
	Told     string `yaml:"told"`
	ToldAt   string `yaml:"told-at"`
	ToldOn   string `yaml:"told-on"`
	Incident string `yaml:"incident"`
}

// statesForm are the lines of a form about the states of one note.
func statesForm(s *showing) string {
	if len(s.states)+len(s.affirm) == 0 {
		return ""
	}
	var b strings.Builder
	b.WriteString("  true-states:\n")
	line := func(x schema.StateAt, what, rest string) {
		at := ""
		if x.At != "" {
			at = ", at: " + quoted(x.At)
		}
		fmt.Fprintf(&b, "    # %s\n    - {state: %s%s, true: no%s}\n", comment(what), quoted(x.State), at, rest)
	}
	for _, x := range s.affirm {
		line(x.StateAt, x.line, "")
	}
	for _, f := range s.states {
		rest := `, reason: ""`
		if schema.IsIncident(f.State) {
			rest += `, told: "", told-at: "", told-on: "", incident: ""`
		}
		line(s.typedAs(f), f.What, rest)
	}
	return b.String()
}

// complete puts what a form confirms into the entry and gives the note anew. A
// form that does not belong to what was shown, or signs nothing, adds nothing.
func (d decision) complete(s *showing) (*showing, error) {
	if len(s.states) == 0 || d.Shown != s.token || !d.Sign {
		return s, nil
	}
	refuse := func(why string) (*showing, error) {
		return nil, &fault{status: statusBlocked, text: "case " + s.name + ": " + why + "; nothing was signed", hints: []string{"fill in the form, or correct the entry"}}
	}
	var typed []schema.TypedState
	for _, f := range s.states {
		at := s.typedAs(f)
		i := slices.IndexFunc(d.States, func(x stated) bool { return x.State == at.State && x.At == at.At })
		if i < 0 || !d.States[i].True {
			return refuse("the state " + at.State + " is not confirmed as true")
		}
		x := d.States[i]
		typed = append(typed, schema.TypedState{State: x.State, At: x.At, Reason: x.Reason, Told: x.Told, ToldAt: x.ToldAt, ToldOn: x.ToldOn, Incident: x.Incident})
	}
	out, bad, err := s.confirm(typed)
	switch {
	case err != nil:
		return nil, err
	case len(bad) > 0:
		return refuse("the confirmation cannot be read: " + strings.TrimSuffix(bad[0].What, "."))
	case !out.checked.Complete():
		for _, f := range out.checked.Gaps() {
			if f.State == "" {
				return refuse("the confirmation lacks something: " + strings.TrimSuffix(f.What, "."))
			}
		}
		return refuse("not every state is confirmed")
	}
	return out, nil
}

// affirms says why the form does not affirm exactly the states of the note, "" when
// it does.
func (d decision) affirms(s *showing) string {
	if len(s.states) > 0 {
		return count(len(s.states), "state") + " to be confirmed as true: " + s.states[0].State
	}
	for _, x := range s.affirm {
		if !slices.ContainsFunc(d.States, func(y stated) bool { return y.True && y.State == x.State && y.At == x.At }) {
			return "the state " + x.name() + " is not affirmed as true"
		}
	}
	if len(d.States) > len(s.affirm) {
		return "more states are affirmed than the note holds"
	}
	return ""
}
