package main

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"

	"graftnote/casebook"
	"graftnote/note"
	"graftnote/schema"
)

// visiting is one run that records follow-ups.
type visiting struct {
	app     *app
	flags   *followupFlags
	given   given
	signing *signing
}

// visitShowing is one document as it is put before its signer.
type visitShowing struct {
	*showing
	checked  schema.CheckedFollowup
	index    schema.Checked
	base     int
	replaces int
}

type decidedVisit struct {
	*visitShowing
	answers []casebook.Answer
}

func isOneOf(err error, known ...error) bool {
	return slices.ContainsFunc(known, func(k error) bool { return errors.Is(err, k) })
}

// read reads all documents of all files. What blocks is shown with the findings
// against the operation, later.
func (v *visiting) read(args []string) ([]*schema.Followup, error) {
	files, faults := gather(args)
	if len(faults) > 0 {
		return nil, faults[0]
	}
	var out []*schema.Followup
	var show []schema.Finding
	for _, in := range files {
		src, err := v.app.load(in)
		if err != nil {
			return nil, unread(in.path, err)
		}
		r := schema.ReadFollowup(src, v.given.options)
		show = append(show, r.Findings...)
		for _, d := range r.Documents {
			if !d.Case.Recorded() { // no operation to hold it to
				show = append(show, d.Findings()...)
				if d.Case.Blank() {
					return nil, v.refuse(show, in.shown+" names no operation", "a follow-up document begins with followup: and the case identifier; 'graftnote new --followup CASE' prints one")
				}
				continue
			}
			if slices.ContainsFunc(out, func(o *schema.Followup) bool { return o.Case.Value() == d.Case.Value() }) {
				name := "case " + d.Case.Value()
				if d.NamesPatient() {
					name = "one case"
				}
				return nil, &fault{status: statusBlocked, text: name + " stands twice among the documents; nothing was recorded",
					hints: []string{"put the visits into one document, or record one document after the other"}}
			}
			out = append(out, d)
		}
	}
	if len(show) > 0 || len(out) == 0 {
		return nil, v.refuse(show, "nothing was recorded", "mend the documents")
	}
	return out, nil
}

// refuse shows the findings and says that nothing was recorded.
func (v *visiting) refuse(show []schema.Finding, text, hint string) error {
	schema.Sort(show)
	for _, f := range show {
		v.app.print.finding(f)
	}
	return &fault{status: statusBlocked, text: text, hints: []string{hint}}
}

// indexOf opens the signed operation of a case and gives its history.
// about names it in a message: what was typed may be no case identifier.
func indexOf(ctx context.Context, book *casebook.Casebook, about, caseID string, o schema.Options) (schema.Checked, casebook.History, error) {
	h, err := book.Get(ctx, caseID)
	if err != nil {
		return schema.Checked{}, h, bookFault(about, err)
	}
	c, err := schema.Sealed(h.Entry(len(h.Revisions)), o)
	if err != nil {
		return c, h, &fault{status: statusIO, text: "case " + caseID + ": its entry cannot be read by this version of graftnote"}
	}
	return c, h, nil
}

// openFollowUps opens the follow-ups in force but the one that is replaced.
func openFollowUps(list []casebook.FollowUpOf, without int, index schema.Checked, o schema.Options) ([]schema.CheckedFollowup, error) {
	var out []schema.CheckedFollowup
	for _, f := range list {
		if f.Withdrawn || f.Number == without {
			continue
		}
		c, err := schema.StoredFollowup(f.Document(), index, o)
		if err != nil {
			return nil, &fault{status: statusIO, text: fmt.Sprintf("case %s: follow-up %d cannot be read by this version of graftnote", f.Case, f.Number)}
		}
		out = append(out, c)
	}
	return out, nil
}

// inForce is the newest statement of the follow-up of a number.
func inForce(list []casebook.FollowUpOf, caseID string, number int) (revision int, err error) {
	i := slices.IndexFunc(list, func(f casebook.FollowUpOf) bool { return f.Number == number && !f.Withdrawn })
	if i < 0 {
		return 0, &fault{status: statusBlocked, text: fmt.Sprintf("case %s has no follow-up %d in force", caseID, number), hints: []string{"'graftnote followup list CASE' shows the numbers"}}
	}
	return list[i].Revision, nil
}

// look checks each document against its operation; while anything blocks one of
// them, none is put before the signer.
func (v *visiting) look(ctx context.Context, book *casebook.Casebook, docs []*schema.Followup) ([]*visitShowing, error) {
	var out []*visitShowing
	var show []schema.Finding
	blocked := 0
	for _, d := range docs {
		s, err := v.against(ctx, book, d)
		if err != nil {
			return nil, err
		}
		if n := len(s.checked.Gaps()); n > 0 {
			blocked += n
			show = append(show, s.checked.Findings()...)
		}
		out = append(out, s)
	}
	if blocked > 0 {
		return nil, v.refuse(show, "nothing was recorded: "+countFinding(blocked), "mend the documents, or leave out those that are not ready")
	}
	return out, nil
}

func (v *visiting) against(ctx context.Context, book *casebook.Casebook, d *schema.Followup) (*visitShowing, error) {
	id := d.Case.Value()
	index, h, err := indexOf(ctx, book, d.At.File+": the operation", id, v.given.options)
	if err != nil && d.NamesPatient() { // what is wrong is the identifier, and no message repeats it
		return nil, &fault{status: statusBlocked, text: d.At.File + ": the identifier holds the patient's name, number or date of birth; nothing was recorded",
			hints: []string{"write the case identifier from the foot of the operative note"}}
	}
	if err != nil {
		return nil, err
	}
	if h.State == casebook.StateWithdrawn {
		return nil, bookFault("case "+id, casebook.ErrWithdrawn)
	}
	s := &visitShowing{index: index}
	list, base, err := book.FollowUps(ctx, id)
	if err != nil {
		return nil, bookFault("case "+id, err)
	}
	s.base = base
	if v.flags.correct != 0 {
		if s.replaces, err = inForce(list, id, v.flags.correct); err != nil {
			return nil, err
		}
	}
	earlier, err := openFollowUps(list, v.flags.correct, index, v.given.options)
	if err != nil {
		return nil, err
	}
	if s.checked, err = schema.CheckFollowup(d, index, earlier, v.given.options); err != nil {
		return nil, err
	}
	before := ""
	if at := v.recordedBefore(list, s.checked.Digest()); at > 0 { // it was shown without itself
		list = slices.DeleteFunc(list, func(f casebook.FollowUpOf) bool { return f.Revision >= at })
		if earlier, err = openFollowUps(list, 0, index, v.given.options); err != nil {
			return nil, err
		}
		if s.checked, err = schema.CheckFollowup(d, index, earlier, v.given.options); err != nil {
			return nil, err
		}
		s.base, before = at-1, s.checked.Digest()
	}
	eye := index.Entry().Eye.Operated.Words()
	s.showing = &showing{name: id, file: s.checked.File(), checked: index, ask: casebook.FollowUpToAnswer(s.checked),
		doc:   note.Document{Banner: note.Banner{Eye: strings.ToUpper(eye)}, Subtitle: "follow-up, " + count(s.checked.Visits(), "visit")},
		token: tokenOf([]byte(s.checked.Digest()), []byte(index.Digest()), fmt.Append(nil, s.base, " ", s.replaces)), before: before}
	return s, nil
}

// recordedBefore is the statement by which this key recorded the same document, 0
// when there is none: an interrupted run of the same form may have made it.
func (v *visiting) recordedBefore(list []casebook.FollowUpOf, digest string) int {
	if v.flags.answers == "" || v.flags.correct != 0 {
		return 0
	}
	for _, f := range list {
		if !f.Withdrawn && f.Statement.FollowUpSHA256 == digest && f.Statement.Signer.Key == v.signing.signer.public.ID {
			return f.Revision
		}
	}
	return 0
}

// decide shows the documents and gets the decisions as 'sign' does.
func (v *visiting) decide(list []*visitShowing) ([]*decidedVisit, error) {
	a, f := v.app, v.flags
	var form []decision
	var err error
	if f.answers != "" {
		if form, err = readForm(f.answers); err != nil {
			return nil, err
		}
	}
	var out []*decidedVisit
	var shown []*showing
	for _, s := range list {
		shown = append(shown, s.showing)
		var one *signature
		switch {
		case f.show:
			a.print.visits(s)
			continue
		case f.answers != "" || len(f.shown) > 0:
			d := decision{Case: s.name, Sign: true}
			if i := slices.IndexFunc(form, func(d decision) bool { return d.Case == s.name }); i >= 0 {
				d = form[i]
			} else if slices.Contains(f.shown, s.token) {
				d.Shown = s.token
			}
			if one, err = d.apply(s.showing, s.token); s.before != "" && err == nil {
				if one == nil {
					return nil, bookFault("case "+s.name, casebook.ErrFollowUpKnown)
				}
				a.print.line("%s was recorded by this form before and is left as it is.", s.name)
				v.signing.before++
				continue
			}
		default:
			a.print.visits(s)
			one, err = v.signing.consult(s.showing)
		}
		if err != nil {
			return nil, err
		}
		if one != nil {
			out = append(out, &decidedVisit{s, one.answers})
		}
	}
	if f.show && f.to != "" {
		if err := writeNew(f.to, formText(shown, "followup"), 0o600); err != nil {
			return nil, err
		}
		a.print.line("\nwrote the form %s", f.to)
	}
	return out, nil
}

// visits prints all that a signature will cover and all that is asked.
func (p *printer) visits(s *visitShowing) {
	p.followUp(s.checked, s.index)
	for _, f := range s.checked.Findings() {
		p.finding(f)
	}
	p.line("\nTo be recorded: case %s, %s: %s.", s.name, p.paint(bold, s.doc.Banner.Eye), s.open())
	p.line("Shown: %s\n", s.token)
}

// followUp prints a document: whose graft, who entered it, and each visit with
// its time since surgery.
func (p *printer) followUp(c schema.CheckedFollowup, index schema.Checked) {
	e := index.Entry()
	name, role := c.EnteredBy()
	p.line("Follow-up of case %s: %s, %s, operated %s", c.Case(), p.paint(bold, e.Eye.Operated.Words()), "patient "+visibleProse(e.Patient.ID.Words()), visibleProse(e.Episode.Date.Text()))
	p.line("entered by %s, %s", visibleProse(name), role)
	if c.RefusesRegistry() {
		p.line("%s", p.paint(bold, "The patient has taken the consent to the registry back."))
	}
	view := schema.NewView(c.Entry())
	for i := range c.Visits() {
		months, _ := view.Derived("visit-months", i)
		p.line("\nVisit %d, %s after surgery:", i+1, months)
		c.Entry().Walk(func(r *schema.Row, item int, f schema.Field) {
			if r.Group.Key != "visits" || item != i {
				return
			}
			if reason, gap := f.NotRecorded(); gap {
				p.line("  %-34s not recorded: %s", r.Title, visibleProse(reason))
			} else if f.Recorded() {
				p.line("  %-34s %s", r.Title, visibleProse(f.Words()))
			}
		})
	}
	p.line("")
}

// followUpOf prints a recorded follow-up.
func (p *printer) followUpOf(f casebook.FollowUpOf, index schema.Checked, o schema.Options) error {
	c, err := schema.SealedFollowup(f.Document(), index, o)
	if err != nil {
		return &fault{status: statusIO, text: fmt.Sprintf("case %s: follow-up %d cannot be read by this version of graftnote", f.Case, f.Number)}
	}
	s := f.Statement
	state := "in force"
	switch {
	case f.Withdrawn:
		state = "withdrawn"
	case f.Revision != f.Number:
		state = "corrected"
	}
	p.line("%s", p.paint(bold, fmt.Sprintf("%d  %s", f.Number, state)))
	p.followUp(c, index)
	p.line("signed on %s by %s, %s", moment(s.At(), s.Zone), visibleProse(s.Signer.Name), s.Signer.Role)
	p.prose("why", f.Why)
	p.line("")
	return nil
}
