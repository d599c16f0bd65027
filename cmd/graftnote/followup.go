package main

import (
	"context"
	"fmt"

	"github.com/spf13/cobra"

	"graftnote/casebook"
)

func (a *app) followupCommand() *cobra.Command {
	var f followupFlags
	c := &cobra.Command{
		Use:   "followup FILE... --as KEYFILE",
		Short: "Record what became of a graft",
		Long: `Checks follow-up documents against the signed operations that they name, shows each
visit that would be recorded, and signs it into the casebook beside the operation.
The note of the operation stays as it is.

A document is made by 'graftnote new --followup CASE'. Hospital number, date of
birth and eye are typed again from the chart in hand and must be those of the
signed operation. Who entered it stands in the document and need not be the
surgeon: 'keys new --help' shows which roles record follow-up.

As with 'sign', nothing is recorded that was not shown: at a terminal the points
are asked and the eye is typed; in a script --show --to FORM comes first and
--answers FORM after it.

--correct N replaces follow-up N of the case, and says why; the replaced one stays
readable. 'followup list CASE' shows the numbers.`,
		Example: `  graftnote new --followup k7mq-2f9x --to visit.yaml
  graftnote followup visit.yaml --as calder.key --site lindow
  graftnote followup visit.yaml --as calder.key --correct 1 --why-file why.txt`,
		Args: needArgs(1, -1, "a follow-up document"),
		RunE: func(_ *cobra.Command, args []string) error { return a.followup(&f, args) },
	}
	f.flags(c, false)
	c.Flags().IntVar(&f.correct, "correct", 0, "replace the follow-up of this `number`")
	c.Flags().StringVar(&f.why.flag, "why", "", "the reason for the correction: a `text` that other users of the machine may see")
	c.Flags().StringVar(&f.why.file, "why-file", "", "the reason, in a `file`")
	c.AddCommand(a.followupListCommand(), a.followupWithdrawCommand())
	return c
}

// followupFlags are the flags of a run that records visits.
type followupFlags struct {
	signFlags
	correct int
	why     wording
}

func (a *app) followup(f *followupFlags, args []string) error {
	f.why.what, f.why.need = "the reason for the correction", f.correct != 0 && !f.show
	switch {
	case f.correct < 0:
		return usage("--correct is the number of a follow-up, from 1 on")
	case f.correct != 0 && len(args) > 1:
		return usage("--correct goes with one document")
	case f.correct == 0 && (f.why.flag != "" || f.why.file != ""):
		return usage("a reason goes with --correct")
	}
	if err := f.check(a); err != nil {
		return err
	}
	g, err := f.readSettings(a)
	if err != nil {
		return err
	}
	v := &visiting{app: a, flags: f, given: g, signing: &signing{app: a, flags: &f.signFlags, given: g, command: "followup"}}
	docs, err := v.read(args)
	if err != nil {
		return err
	}
	if v.signing.signer, err = a.signer(f.signer); err != nil {
		return err
	}
	return f.withBook(a, casebook.Options{ReadOnly: f.show}, func(ctx context.Context, book *casebook.Casebook) error {
		if !f.show {
			if err := v.signing.signer.stands(ctx, book); err != nil {
				return err
			}
		}
		list, err := v.look(ctx, book, docs)
		if err != nil {
			return err
		}
		decided, err := v.decide(list)
		if err != nil {
			return err
		}
		why, err := f.why.read(a)
		if err != nil {
			return err
		}
		return v.record(ctx, book, decided, len(list), why)
	})
}

// record signs what was decided, one document after the other.
func (v *visiting) record(ctx context.Context, book *casebook.Casebook, decided []*decidedVisit, of int, why string) error {
	a, k := v.app, v.signing
	var going func() error
	for i, d := range decided {
		key, err := k.signer.open(a)
		if err != nil {
			return err
		}
		if i == 0 {
			var stop func()
			going, stop = goingOn()
			defer stop()
		}
		if err := going(); err != nil {
			if i > 0 {
				a.print.line("Stopped after %s of %d; what is listed above is recorded and stays so.", count(i, "follow-up"), of)
			}
			return err
		}
		r, err := book.RecordFollowUp(ctx, casebook.FollowUpRequest{Act: a.act(key, v.given.siteZone(), d.checked.Entry().Episode.Zone.Text()), Checked: d.checked,
			Shown: d.checked.Digest(), Answers: d.answers, Base: d.base, Replaces: d.replaces, Why: why})
		if err != nil {
			if i > 0 {
				a.print.line("Stopped after %s of %d; what is listed above is recorded and stays so.", count(i, "follow-up"), of)
			}
			return followupFault("the follow-up of case "+d.name+" was not recorded", err)
		}
		a.print.line("recorded: case %s, follow-up statement %d, %s.", r.Case, r.Revision, count(d.checked.Visits(), "visit"))
		a.clockBack(r)
		if err := a.print.flush(); err != nil {
			return unwritten("standard output", err)
		}
	}
	switch p := a.print; {
	case v.flags.show:
		p.line("\nNothing was recorded; %s shown.", count(of, "follow-up"))
	case len(decided)+k.before == of && k.before > 0:
		p.line("%s: %s; %d before.", p.paint(bold+green, "Recorded"), count(len(decided), "follow-up"), k.before)
	case len(decided) == of:
		p.line("%s: %s.", p.paint(bold+green, "Recorded"), count(of, "follow-up"))
	default:
		p.line("%s: %d of %s; the others are left as they were.", p.paint(bold+yellow, "Recorded"), len(decided), count(of, "follow-up"))
		a.raise(statusBlocked)
	}
	return nil
}

// followupFault says what the casebook refused; the next step differs from that
// of a note.
func followupFault(about string, err error) error {
	for _, known := range []struct {
		err  error
		hint string
	}{
		{casebook.ErrFollowUpKnown, "'graftnote followup list CASE' shows what is recorded"},
		{casebook.ErrMoved, "the operation or its follow-up has changed since: show it again and record what you have seen"},
		{casebook.ErrRole, "'graftnote keys new --help' shows which roles record follow-up"},
	} {
		if isOneOf(err, known.err) {
			return &fault{status: statusBlocked, text: about + ": " + known.err.Error(), hints: []string{known.hint}}
		}
	}
	return bookFault(about, err)
}

func (a *app) followupListCommand() *cobra.Command {
	var b bookFlags
	c := &cobra.Command{
		Use:     "list CASE",
		Short:   "Show the follow-ups of a case",
		Long:    "Shows every follow-up recorded for an operation with its number, who entered it,\nwho signed it, and its visits. It shows patient data.",
		Example: "  graftnote followup list k7mq-2f9x",
		Args:    needArgs(1, 1, "a case identifier"),
		RunE: func(_ *cobra.Command, args []string) error {
			return b.withBook(a, casebook.Options{ReadOnly: true}, func(ctx context.Context, book *casebook.Casebook) error {
				index, _, err := indexOf(ctx, book, "the case", args[0], b.sealedOptions(a))
				if err != nil {
					return err
				}
				list, base, err := book.FollowUps(ctx, args[0])
				if err != nil {
					return bookFault("the case", err)
				}
				for _, f := range list {
					if err := a.print.followUpOf(f, index, b.sealedOptions(a)); err != nil {
						return err
					}
				}
				a.print.line("%s. Shown: %s", count(len(list), "follow-up"), listToken(args[0], base))
				return nil
			})
		},
	}
	b.flags(c, false)
	return c
}

// listToken binds what 'followup list' showed.
func listToken(caseID string, base int) string { return fmt.Sprintf("%s/%d", caseID, base) }

func (a *app) followupWithdrawCommand() *cobra.Command {
	var b bookFlags
	var s signerFlags
	var why wording
	var shown string
	var number int
	c := &cobra.Command{
		Use:     "withdraw CASE --number N --as KEYFILE --yes-shown TOKEN",
		Short:   "Mark a follow-up as entered in error",
		Long:    "Marks a follow-up as entered in error. It stays readable, counts no more, and a row\nthat was sent is taken back with the next package. --yes-shown takes the last word\nof 'followup list'.",
		Example: "  graftnote followup withdraw k7mq-2f9x --number 2 --why-file why.txt --as calder.key --yes-shown k7mq-2f9x/2",
		Args:    needArgs(1, 1, "a case identifier"),
		RunE: func(_ *cobra.Command, args []string) error {
			if s.key == "" || number < 1 || shown == "" {
				return usage("--as, --number and --yes-shown are asked for", "'graftnote followup list CASE' shows the number and the token")
			}
			reason, err := why.read(a)
			if err != nil {
				return err
			}
			who, err := a.signer(s)
			if err != nil {
				return err
			}
			return b.withBook(a, casebook.Options{}, func(ctx context.Context, book *casebook.Casebook) error {
				return a.withdrawFollowup(ctx, book, who, args[0], shown, number, reason)
			})
		},
	}
	b.flags(c, false)
	c.Flags().StringVar(&s.key, "as", "", "`key` of the person who signs")
	s.secret.flags(c, "that key")
	c.Flags().IntVar(&number, "number", 0, "`number` of the follow-up")
	c.Flags().StringVar(&shown, "yes-shown", "", "the `token` that 'followup list' showed")
	c.Flags().StringVar(&why.flag, "why", "", "the reason: a `text` that other users of the machine may see")
	c.Flags().StringVar(&why.file, "why-file", "", "the reason, in a `file`")
	why.what, why.need = "the reason", true
	return c
}

func (a *app) withdrawFollowup(ctx context.Context, book *casebook.Casebook, who *signer, caseID, shown string, number int, why string) error {
	const about = "the follow-up was not withdrawn"
	index, _, err := indexOf(ctx, book, "the case", caseID, (&bookFlags{}).sealedOptions(a))
	if err != nil {
		return err
	}
	list, base, err := book.FollowUps(ctx, caseID)
	if err != nil {
		return bookFault(about, err)
	}
	if shown != listToken(caseID, base) {
		return followupFault(about, casebook.ErrMoved)
	}
	revision, err := inForce(list, caseID, number)
	if err != nil {
		return err
	}
	key, err := who.open(a)
	if err != nil {
		return err
	}
	r, err := book.WithdrawFollowUp(ctx, casebook.VoidRequest{Act: a.act(key, index.Entry().Episode.Zone.Text()), Case: caseID, Base: base, Revision: revision, Why: why})
	if err != nil {
		return followupFault(about, err)
	}
	a.print.line("withdrawn: case %s, follow-up %d, statement %d.", r.Case, number, r.Revision)
	a.clockBack(r)
	return nil
}
