package main

import (
	"context"
	"os"

	"github.com/spf13/cobra"

	"graftnote/casebook"
	"graftnote/schema"
)

func (a *app) bookShowCommand() *cobra.Command {
	var b bookFlags
	var format string
	var entry bool
	var revision int
	c := &cobra.Command{
		Use:   "show NOTE",
		Short: "Show every act on a case",
		Long: `Shows a case of the casebook: whose eye, and every act on it with who, when, why
and what changed. The last line is the digest that 'addendum' and 'withdraw' take
in a script (--yes-shown). It shows patient data; the form json does not: it holds
who did what and when, and which fields changed, but no value and no reason.

With --entry it prints the signed entry in force as canonical JSON, to start a
correction from, or with --revision an older one.`,
		Example: `  graftnote casebook show a1k7-double-bubble
  graftnote casebook show a1k7-double-bubble --entry --revision 1`,
		Args: needArgs(1, 1, "a case identifier"),
		RunE: func(c *cobra.Command, args []string) error {
			if err := textOrJSON(format); err != nil {
				return err
			}
			if c.Flags().Changed("revision") && !entry {
				return usage("--revision goes with --entry")
			}
			return b.withBook(a, casebook.Options{ReadOnly: true}, func(ctx context.Context, book *casebook.Casebook) error {
				h, err := getCase(ctx, book, args[0])
				if err != nil {
					return err
				}
				switch {
				case entry:
					return a.showEntry(h, revision)
				case format == "json":
					return a.writeJSON(jsonHistory(h))
				}
				a.print.whose(h, b.sealedOptions(a))
				a.print.history(h)
				a.print.line("\nShown: %s", tokenOf(leafOf(h)))
				return nil
			})
		},
	}
	b.flags(c, false)
	formatFlag(c, &format)
	c.Flags().BoolVar(&entry, "entry", false, "print the signed entry")
	c.Flags().IntVar(&revision, "revision", 0, "with --entry: as of this `number` (default: the newest)")
	return c
}

func (a *app) showEntry(h casebook.History, revision int) error {
	if revision == 0 {
		revision = len(h.Revisions)
	}
	if revision < 1 || revision > len(h.Revisions) {
		return bookFault("the revision", casebook.ErrNoCase)
	}
	a.print.line("%s", h.Entry(revision))
	return nil
}

// whose says whose eye the case is about, as the entry in force does.
func (p *printer) whose(h casebook.History, o schema.Options) {
	c, err := schema.Sealed(h.Entry(len(h.Revisions)), o)
	if err != nil { // of a later version: its history is shown all the same
		return
	}
	e := c.Entry()
	p.line("%s, %s, patient %s", visibleProse(e.Patient.Name.Words()), e.Eye.Operated.Words(), visibleProse(e.Patient.ID.Words()))
	p.line("operated %s: %s\n", visibleProse(e.Episode.Date.Text()), visibleProse(e.Procedure.Performed.Words()))
}

// jsonAct is one act in the form json: nothing that was entered on the patient.
type jsonAct struct {
	Revision    int          `json:"revision"`
	Act         string       `json:"act"`
	Statement   int64        `json:"statement"`
	Signer      string       `json:"signer"`
	Role        string       `json:"role"`
	Key         string       `json:"key"`
	Signed      string       `json:"signed"`
	Zone        string       `json:"zone"`
	Meaning     string       `json:"meaning"`
	ClockBefore string       `json:"clockBefore,omitempty"`
	EntrySHA256 string       `json:"entrySHA256"`
	Changed     []string     `json:"changed"`
	Confirmed   []string     `json:"confirmed"`
	Answered    []jsonAnswer `json:"answered"`
	Different   []string     `json:"different"`
	Responsible string       `json:"responsible,omitempty"`
}

type jsonAnswer struct {
	Rule string `json:"rule"`
	Path string `json:"path"`
}

type jsonCaseHistory struct {
	Case  string    `json:"case"`
	State string    `json:"state"`
	Shown string    `json:"shown"`
	Acts  []jsonAct `json:"acts"`
}

func jsonHistory(h casebook.History) jsonCaseHistory {
	out := jsonCaseHistory{Case: h.Case, State: string(h.State), Shown: tokenOf(leafOf(h))}
	for _, r := range h.Revisions {
		s := r.Statement
		act := jsonAct{s.Revision, string(s.Kind), s.Sequence, s.Signer.Name, s.Signer.Role, s.Signer.Key, s.Signed, s.Zone, s.Meaning,
			s.ClockBefore, s.EntrySHA256, []string{}, append([]string{}, s.Confirmed...), []jsonAnswer{}, append([]string{}, s.Different...), s.Responsible}
		for _, c := range s.Changes {
			act.Changed = append(act.Changed, c.Path)
		}
		for _, x := range s.Answers {
			act.Answered = append(act.Answered, jsonAnswer{x.Rule, x.Path})
		}
		out.Acts = append(out.Acts, act)
	}
	return out
}

func (a *app) bookStatusCommand() *cobra.Command {
	var b bookFlags
	var format string
	c := &cobra.Command{
		Use:   "status [ENTRY...]",
		Short: "Say what waits: unsigned, to be counter-signed, amended since sent",
		Long: `Counts the cases by state and lists what awaits a counter-signature and what was
amended since it was last sent away. With entries it also names those that have
no signed note yet.`,
		Example: `  graftnote casebook status
  graftnote casebook status monday --site lindow`,
		RunE: func(_ *cobra.Command, args []string) error {
			if err := textOrJSON(format); err != nil {
				return err
			}
			return a.bookStatus(&b, format, args)
		},
	}
	b.flags(c, true)
	formatFlag(c, &format)
	return c
}

// jsonStatus is the status in the form json.
type jsonStatus struct {
	Cases    int            `json:"cases"`
	ByState  map[string]int `json:"byState"`
	Unsigned []string       `json:"unsigned"`
	Awaiting []jsonCase     `json:"awaiting"`
	Amended  []jsonCase     `json:"amendedSinceSubmission"`
}

func (a *app) bookStatus(b *bookFlags, format string, args []string) error {
	ids, err := a.caseNames(b, args)
	if err != nil {
		return err
	}
	return b.withBook(a, casebook.Options{ReadOnly: true}, func(ctx context.Context, book *casebook.Casebook) error {
		st, err := book.Status(ctx)
		if err != nil {
			return bookFault("the status cannot be read", err)
		}
		out := jsonStatus{st.Cases, map[string]int{}, []string{}, jsonCases(st.Awaiting), jsonCases(st.Amended)}
		for state, n := range st.ByState {
			out.ByState[string(state)] = n
		}
		for _, id := range ids {
			if _, err := book.Get(ctx, id); err != nil {
				if f := asFault(bookFault("case "+id, err)); f.text != asFault(bookFault("case "+id, casebook.ErrNoCase)).text {
					return f
				}
				out.Unsigned = append(out.Unsigned, id)
			}
		}
		if format == "json" {
			return a.writeJSON(out)
		}
		p := a.print
		p.line("%s in the casebook:", count(st.Cases, "case"))
		for _, state := range []casebook.State{casebook.StateSigned, casebook.StateAwaiting, casebook.StateAmended, casebook.StateWithdrawn} {
			p.line("  %-28s %6d", state, st.ByState[state])
		}
		if len(args) > 0 {
			p.line("\n%s of the entries given %s no signed note:", count(len(out.Unsigned), "case"), map[bool]string{true: "has", false: "have"}[len(out.Unsigned) == 1])
			for _, id := range out.Unsigned {
				p.line("%s", id)
			}
		}
		p.line("\n%s a counter-signature:", map[bool]string{true: "1 case awaits", false: count(len(st.Awaiting), "case") + " await"}[len(st.Awaiting) == 1])
		p.cases(st.Awaiting)
		p.line("\n%s amended since the last submission:", count(len(st.Amended), "case"))
		p.cases(st.Amended)
		return nil
	})
}

// caseNames are the identifiers of the cases in the entries given.
func (a *app) caseNames(b *bookFlags, args []string) ([]string, error) {
	if len(args) == 0 {
		return nil, nil
	}
	g, err := b.readSettings(a)
	if err != nil {
		return nil, err
	}
	files, faults := gather(args)
	if len(faults) > 0 {
		return nil, faults[0]
	}
	sv := a.survey(files, g, func() bool { return true }, func() {})
	var ids []string
	for _, f := range sv.files {
		if f.fault != nil {
			return nil, f.fault
		}
		ids = append(ids, f.names...)
	}
	return ids, nil
}

// writeFresh writes a new file, or the terminal when none is named.
func (a *app) writeFresh(to, text string) error {
	if to == "" {
		_, err := a.print.out.Write([]byte(text))
		return err
	}
	if err := writeNew(to, text, os.FileMode(0o600)); err != nil {
		return err
	}
	a.print.line("wrote %s", to)
	return nil
}
