package main

import (
	"slices"

	"github.com/spf13/cobra"

	"graftnote/casebook"
	"graftnote/note"
	"graftnote/schema"
)

// signFlags are the flags of every command that signs what it showed.
type signFlags struct {
	bookFlags
	signer  signerFlags
	show    bool
	to      string
	answers string
	shown   []string
}

func (f *signFlags) flags(c *cobra.Command, entry bool) {
	f.bookFlags.flags(c, entry)
	c.Flags().StringVar(&f.signer.key, "as", "", "`key` of the person who signs")
	f.signer.secret.flags(c, "that key")
	c.Flags().BoolVar(&f.show, "show", false, "show what would be signed, and sign nothing")
	c.Flags().StringVar(&f.to, "to", "", "with --show: write the form for --answers to a new `file`")
	c.Flags().StringVar(&f.answers, "answers", "", "sign by a filled-in form: a `file`")
	c.Flags().StringSliceVar(&f.shown, "yes-shown", nil, "sign the notes whose `digest` was shown and that leave no point open")
}

// check refuses a wrong mix before anything is read.
func (f *signFlags) check(a *app) error {
	switch {
	case f.signer.key == "":
		return usage("--as is asked for", "name the key file of the person who signs: --as voss.key")
	case f.show && (f.answers != "" || len(f.shown) > 0):
		return usage("--show signs nothing; give --answers or --yes-shown in a run of its own")
	case f.to != "" && !f.show:
		return usage("--to goes with --show")
	case f.answers != "" && len(f.shown) > 0:
		return usage("give --answers or --yes-shown, not both")
	case !f.show && f.answers == "" && len(f.shown) == 0 && !a.talks():
		return usage("nobody is at a terminal to answer", "first: --show --to form.yaml; then fill the form in and give --answers form.yaml")
	}
	return nil
}

// signing is one run of a command that signs.
type signing struct {
	app      *app
	flags    *signFlags
	given    given
	phrases  *note.Phrases
	language string
	command  string
	signer   *signer
	blocked  int                // entries that were left out
	slipped  []*signature       // left because the other eye was typed
	before   int                // notes that an interrupted run of the same form has signed
	keep     func(*schema.Case) // of a correction: its items bear the names they had
}

func (a *app) newSigning(f *signFlags, command string) (*signing, error) {
	if err := f.check(a); err != nil {
		return nil, err
	}
	g, err := f.readSettings(a)
	if err != nil {
		return nil, err
	}
	k := &signing{app: a, flags: f, given: g, command: command}
	k.phrases, k.language, err = g.phrases()
	return k, err
}

// signature is what a signer decided on one note.
type signature struct {
	*showing
	confirmed []string
	affirmed  []string // states that are true
	answers   []casebook.Answer
	why       string
}

// decide shows the notes and gets the decisions: from the form, from the digests,
// or from the person at the terminal. With --show it gives none.
func (k *signing) decide(list []*showing) ([]*signature, error) {
	a, f := k.app, k.flags
	var form []decision
	var err error
	if f.answers != "" {
		if form, err = readForm(f.answers); err != nil {
			return nil, err
		}
		for _, d := range form {
			if !slices.ContainsFunc(list, func(s *showing) bool { return s.name == d.Case }) {
				return nil, &fault{status: statusUsage, text: "the form holds a case that is not among the notes given; nothing was signed",
					hints: []string{"give the same notes as with --show"}}
			}
		}
	}
	for _, s := range list {
		if len(s.history.Revisions) == 0 { // else somebody acts on what may be another's note
			s.team = teamOf(s.checked.Entry(), k.signer.public.Name)
		}
	}
	if f.answers == "" && len(f.shown) == 0 {
		a.print.batch(list)
	}
	var out []*signature
	for i, s := range list {
		var one *signature
		switch {
		case f.show:
			a.print.showing(s, i+1, len(list))
			continue
		case f.answers != "":
			at := slices.IndexFunc(form, func(d decision) bool { return d.Case == s.name })
			if at < 0 {
				return nil, &fault{status: statusBlocked, text: "case " + s.name + ": the form does not hold it; nothing was signed", hints: []string{"show all notes in one run with --show"}}
			}
			if s, err = form[at].complete(s); err != nil {
				return nil, err
			}
			if s != list[i] { // what is signed is shown: the form added to it
				a.print.line("Case %s as it is signed, with what the form confirms:\n", s.name)
				a.print.showing(s, i+1, len(list))
			}
			one, err = form[at].apply(s, list[i].token)
			if before := list[i].before; before != "" && err == nil {
				if one == nil || before != s.checked.Digest() {
					return nil, bookFault("case "+s.name, casebook.ErrAlreadySigned)
				}
				a.print.line("%s was signed by this form before and is left as it is.", s.name)
				k.before++
				continue
			}
		case len(f.shown) > 0:
			d := decision{Case: s.name, Shown: s.token, Sign: true}
			if !slices.Contains(f.shown, s.token) {
				d.Shown = ""
			}
			one, err = d.apply(s, s.token)
		default:
			if s, err = k.confirmStates(s); err != nil {
				return nil, err
			}
			if s == nil {
				a.print.line("%s is left unsigned.", list[i].name)
				continue
			}
			a.print.showing(s, i+1, len(list))
			one, err = k.consult(s)
		}
		if err != nil {
			return nil, err
		}
		if one != nil {
			out = append(out, one)
		}
	}
	again, err := k.onceMore()
	if err != nil {
		return nil, err
	}
	out = append(out, again...)
	if f.show && f.to != "" {
		if err := writeNew(f.to, formText(list, k.command), 0o600); err != nil {
			return nil, err
		}
		a.print.line("\nwrote the form %s", f.to)
	}
	return out, nil
}

// consult asks the person at the terminal, one point after the other. An empty
// answer leaves the note unsigned.
func (k *signing) consult(s *showing) (*signature, error) {
	a := k.app
	out := &signature{showing: s}
	leave := func() (*signature, error) {
		a.print.line("%s is left unsigned.", s.name)
		return nil, nil
	}
	if yes, err := k.affirm(s); err != nil || !yes {
		if err == nil {
			return leave()
		}
		return nil, err
	}
	if yes, err := k.askPerson(s); err != nil || !yes {
		if err == nil {
			return leave()
		}
		return nil, err
	}
	out.affirmed = casebook.ToAffirm(s.checked)
	for _, f := range s.ask {
		reason, err := a.ask("\nReason for " + f.Rule + " at " + f.Path + " (nothing leaves the note unsigned): ")
		if err != nil {
			return nil, err
		}
		if reason == "" {
			return leave()
		}
		out.answers = append(out.answers, casebook.Answer{Rule: f.Rule, Path: f.Path, Reason: reason})
	}
	for _, other := range s.alike {
		yes, err := a.askWord("\nType 'different' if this is truly another operation than case "+other+" (nothing leaves the note unsigned): ", "different")
		if err != nil {
			return nil, err
		}
		if yes == "" {
			return leave()
		}
	}
	if n := len(s.prefill); n > 0 {
		yes, err := a.askWord("\nType 'confirm' to confirm "+count(n, "prefilled value")+" (nothing leaves the note unsigned): ", "confirm")
		if err != nil {
			return nil, err
		}
		if yes == "" {
			return leave()
		}
		out.confirmed = s.prefill
	}
	signs, slip, err := a.askEye(s)
	if err != nil {
		return nil, err
	}
	if slip {
		k.slipped = append(k.slipped, out)
	}
	if !signs {
		return leave()
	}
	return out, nil
}

// done prints the receipt of one act.
func (k *signing) done(what string, r casebook.Receipt) {
	k.app.print.line("%s: case %s, revision %d, statement %d; the case is now %s.", what, r.Case, r.Revision, r.Index, r.State)
	k.app.clockBack(r)
	if r.State == casebook.StateAwaiting {
		k.app.print.line("Next: the responsible surgeon runs  graftnote counter-sign %s", r.Case)
	}
}

// finish says how many notes were signed, so that silence is never taken for
// success.
func (k *signing) finish(signed, of int) {
	p := k.app.print
	switch {
	case k.flags.show:
		p.line("\nNothing was signed; %s shown.", count(of, "note"))
	case signed+k.before == of && k.before > 0 && k.blocked == 0:
		p.line("%s: %s; %d before.", p.paint(bold+green, "Signed"), count(signed, "note"), k.before)
	case signed == of && k.blocked == 0:
		p.line("%s: %s.", p.paint(bold+green, "Signed"), count(signed, "note"))
	default:
		p.line("%s: %d of %s; the others are left as they were.", p.paint(bold+yellow, "Signed"), signed, count(of+k.blocked, "note"))
	}
}

// entries reads, checks and shows entries. One that blocks is named and left out; it
// keeps no other from being signed. One that blocks only by what can be true goes
// on: its signer is asked.
func (k *signing) entries(args []string, build func(schema.Checked) (*showing, error)) ([]*showing, error) {
	a, g := k.app, k.given
	files, faults := gather(args)
	if len(faults) > 0 {
		return nil, faults[0]
	}
	sv := a.survey(files, g, func() bool { return true }, func() {})
	t := tally{}
	var show []schema.Finding
	note := func(list []schema.Finding) {
		t.add(list)
		show = append(show, list...)
	}
	note(g.findings)
	settings := t.blocks // they speak for every entry
	var list []*showing
	for _, f := range sv.files {
		if f.fault != nil {
			return nil, f.fault
		}
		note(f.findings)
		cases, err := sv.casesOf(f)
		if err != nil {
			return nil, err
		}
		for _, cs := range cases {
			s, c, err := k.puts(cs, sv.batch, build)
			if err != nil {
				return nil, err
			}
			t.cases++
			if s == nil {
				note(c.Findings())
				k.blocked++
				continue
			}
			t.complete++
			if slices.ContainsFunc(list, func(o *showing) bool { return o.name == s.name }) {
				return nil, &fault{status: statusBlocked, text: "case " + s.name + " stands twice among the entries; nothing was signed", hints: []string{"each operation has a case identifier of its own; 'graftnote new' makes one"}}
			}
			list = append(list, s)
		}
	}
	if t.blocks == 0 && t.cases > 0 {
		return list, nil
	}
	schema.Sort(show)
	for _, f := range show {
		a.print.finding(f)
	}
	a.print.verdict(t)
	if settings == 0 && len(list) > 0 {
		a.print.line("Left out until it is corrected: %s. The others follow.\n", count(max(k.blocked, 1), "entry"))
		a.raise(statusBlocked)
		return list, nil
	}
	return nil, &fault{status: statusBlocked, text: "nothing was signed: " + countFinding(t.blocks), hints: []string{"correct the entries, or leave out those that are not ready"}}
}

// puts checks a case and puts it before the signer; it gives no showing for one that
// blocks by what can't be true.
func (k *signing) puts(cs *schema.Case, batch *schema.Batch, build func(schema.Checked) (*showing, error)) (*showing, schema.Checked, error) {
	keep := func(cs *schema.Case) {
		if k.keep != nil {
			k.keep(cs)
		}
	}
	keep(cs)
	c, err := schema.Check(cs, k.given.options, batch)
	if err != nil || !c.Complete() && len(c.ToConfirm()) == 0 {
		return nil, c, err
	}
	s, err := build(c)
	if err != nil {
		return nil, c, err
	}
	s.confirm = func(typed []schema.TypedState) (*showing, []schema.Finding, error) {
		more, bad, err := cs.Confirm(typed, k.given.options)
		if err != nil || len(bad) > 0 {
			return nil, bad, err
		}
		keep(more)
		c, err := schema.Check(more, k.given.options, batch)
		if err != nil {
			return nil, nil, err
		}
		next, err := build(c)
		if err != nil {
			return nil, nil, err
		}
		next.team, next.alike, next.samePerson = s.team, s.alike, s.samePerson
		for _, x := range typed {
			next.typed = append(next.typed, schema.StateAt{State: x.State, At: x.At})
		}
		return next, nil, nil
	}
	return s, c, nil
}
