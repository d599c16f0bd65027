package schema

import (
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"strings"
)

// The list group in which the signer confirms that what a rule points at is
// true, and the code list that names such states.
const (
	statesGroup = "true-states"
	stateList   = "true-state"
)

// Remedy is what to write instead; where the state can be true, also how to
// confirm it.
func (r *Rule) Remedy() string {
	if r.State == "" {
		return r.Fix
	}
	with := "reason"
	if IsIncident(r.State) {
		with = "reason, told, told-at and incident (a number, or: not yet given)"
	}
	return strings.TrimSpace(r.Fix + fmt.Sprintf(" If it is true, confirm it: 'sign' asks for it, or write under %s  state: %s  with %s.", statesGroup, r.State, with))
}

// IsIncident reports whether a state is one that a unit reports as an incident:
// its confirmation says who was told, when, and the incident number.
func IsIncident(state string) bool {
	row, _ := Content().Row(statesGroup + ".told")
	e := &Entry{TrueStates: make([]Confirmation, 1)}
	e.TrueStates[0].State.put(answer{row: Content().rows[statesGroup+".state"], state: recorded}, Code(state))
	return needed(e, row, 0)
}

// StateWords are the words of a state, "" for a code that is not in the list.
func StateWords(state string) string {
	words, _ := Content().Lists[stateList].Words(state)
	return words
}

// ItemOf is the list item that a path lies in: tissues[2] of tissues[2].expires;
// "" for a path of a single group.
func ItemOf(path string) string {
	if end := strings.IndexByte(path, ']'); end >= 0 {
		return path[:end+1]
	}
	return ""
}

// StateAt is a state of the entry and the item that it is about, "" for none.
type StateAt struct{ State, At string }

// StateAt is what the finding can be confirmed as; the zero value when it can't be
// true.
func (f Finding) StateAt() StateAt {
	if f.State == "" {
		return StateAt{}
	}
	return StateAt{f.State, ItemOf(f.Path)}
}

// ConfirmationComplete reports whether a confirmation says all that its state
// needs; item counts from 0.
func (e *Entry) ConfirmationComplete(item int) bool {
	g, _ := Content().Group(statesGroup)
	for _, r := range g.Fields {
		if needed(e, r, item) && !e.slot(r, item).Recorded() {
			return false
		}
	}
	return true
}

// ConfirmedTrue reports whether the entry confirms a state in full.
func (e *Entry) ConfirmedTrue(state Code) bool {
	for i, x := range e.TrueStates {
		if x.State.Is(state) && e.ConfirmationComplete(i) {
			return true
		}
	}
	return false
}

// confirmed holds the confirmations of the entry against what was found. What a
// complete one is about no longer blocks; one that fits nothing, or the second
// about one thing, is a finding.
func (cs *Case) confirmed(found []Finding, o Options) []Finding {
	e := cs.Entry
	if len(e.TrueStates) == 0 {
		return found
	}
	c := &checker{collector: newCollector(), e: e, doc: cs.doc, o: o}
	if e.Case.Recorded() {
		c.caseID = e.Case.Value()
	}
	shown := map[StateAt]bool{}
	for _, f := range found {
		shown[f.StateAt()] = f.State != ""
	}
	why := map[StateAt]string{}
	for i, x := range e.TrueStates {
		if !x.State.Recorded() {
			continue // a finding of its own
		}
		at := placeOf(x, shown)
		_, twice := why[at]
		switch {
		case twice:
			c.raise("true-state-twice", i)
		case !shown[at] && !onlyInBatch(at.State):
			c.raise("true-state-not-found", i)
		}
		if !twice {
			why[at] = ""
			if e.ConfirmationComplete(i) {
				why[at] = x.Reason.Text()
			}
		}
	}
	for i, f := range found {
		if reason := why[f.StateAt()]; f.State != "" && reason != "" {
			found[i].Severity, found[i].Fix = Confirmed, "Nothing to do: the entry confirms that it is true, and the signer is asked."
			found[i].Detail = strings.TrimPrefix(f.Detail+"; confirmed as true: "+reason, "; ")
		}
	}
	return append(found, c.findings...)
}

// placeOf is what a confirmation is about. One that names no item is about the
// only item in that state.
func placeOf(x Confirmation, shown map[StateAt]bool) StateAt {
	at := StateAt{string(x.State.Value()), x.At.Text()}
	if at.At != "" || shown[at] {
		return at
	}
	var all []StateAt
	for s, is := range shown {
		if is && s.State == at.State {
			all = append(all, s)
		}
	}
	if len(all) == 1 {
		return all[0]
	}
	return at
}

// onlyInBatch: whether such a state is seen depends on the other entries of the
// run, so a confirmation of it may stand alone.
func onlyInBatch(state string) bool {
	return !slices.ContainsFunc(Content().Rules, func(r *Rule) bool { return r.State == state && r.By != "batch" })
}

func (c *checker) raise(rule string, item int) {
	row := c.dict.rows[statesGroup+".state"]
	at := c.place(row.Path(), statesGroup, item)
	f := c.finding(rule, at, itemPath(row, item))
	f.Excerpt = c.line(at)
	c.push(f)
}

// ToConfirm are the states that stand between this entry and a signature, when
// nothing else does: the signer may confirm each. One state of one item is named
// once, by its first finding.
func (c Checked) ToConfirm() []Finding {
	var out []Finding
	for _, f := range c.Gaps() {
		if f.State == "" {
			return nil
		}
		if !slices.ContainsFunc(out, func(o Finding) bool { return o.StateAt() == f.StateAt() }) {
			out = append(out, f)
		}
	}
	return out
}

// TypedState is the confirmation of one state as its signer typed it.
type TypedState struct {
	State    string `json:"state"`
	At       string `json:"at,omitempty"`
	Reason   string `json:"reason"`
	Told     string `json:"told,omitempty"`
	ToldAt   string `json:"told-at,omitempty"`
	ToldOn   string `json:"told-on,omitempty"`
	Incident string `json:"incident,omitempty"`
}

// ReadStates gives the findings of what was typed and can't be read.
func ReadStates(list []TypedState, o Options) ([]Finding, error) {
	_, findings, err := readStates(list, o)
	return findings, err
}

func readStates(list []TypedState, o Options) (*Case, []Finding, error) {
	b, err := json.Marshal(map[string]any{statesGroup: list}) // JSON is YAML
	if err != nil {
		return nil, nil, err
	}
	o.Technique, o.Site = nil, nil
	read := Read(Source{Name: "typed at the signature", Data: b}, o)
	if len(read.Findings) > 0 || len(read.Cases) != 1 {
		return nil, read.Findings, nil
	}
	return read.Cases[0], read.Cases[0].findings, nil
}

// Confirm gives the case with what a signer typed added to its entry, to be checked
// anew; the case itself, and the file that it came from, stay as they are. The
// findings are of what can't be read: then there is no case.
func (cs *Case) Confirm(list []TypedState, o Options) (*Case, []Finding, error) {
	typed, findings, err := readStates(list, o)
	if err != nil || len(findings) > 0 {
		return nil, findings, err
	}
	entry := *cs.Entry
	entry.lists, entry.TrueStates = maps.Clone(entry.lists), slices.Clone(entry.TrueStates)
	entry.items = maps.Clone(entry.items)
	for group, names := range entry.items {
		entry.items[group] = slices.Clone(names)
	}
	g, _ := Content().Group(statesGroup)
	for item := range list {
		at := entry.grow(g)
		for _, r := range g.Fields {
			copyAnswer(entry.slot(r, at), typed.Entry.slot(r, item), Typed)
		}
	}
	state := entry.lists[statesGroup]
	state.Stated, state.None, state.Reason = true, false, ""
	state.Items = append(slices.Clone(state.Items), typed.Entry.lists[statesGroup].Items...)
	entry.lists[statesGroup] = state
	out := *cs
	out.Entry = &entry
	return &out, nil, nil
}
