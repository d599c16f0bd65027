package main

import (
	"context"
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"graftnote/casebook"
)

// whyFlags are the reason of an act. It is printed beside the act for good.
type whyFlags struct{ text, file string }

func (w *whyFlags) flags(c *cobra.Command) {
	c.Flags().StringVar(&w.text, "why", "", "the reason, as `text`; it must name no patient: arguments are seen by every user of this machine")
	c.Flags().StringVar(&w.file, "why-file", "", "the reason, in a `file`; - for standard input")
}

func (w *whyFlags) wording(need bool) wording {
	return wording{w.text, w.file, "the reason", need}
}

// cases gets the histories of signed cases, each once.
func (k *signing) cases(ctx context.Context, book *casebook.Casebook, ids []string, allow func(casebook.History) error) ([]*showing, error) {
	var list []*showing
	seen := map[string]bool{}
	for _, id := range ids {
		if seen[id] {
			continue
		}
		seen[id] = true
		h, err := getCase(ctx, book, id)
		if err != nil {
			return nil, err
		}
		before := k.actBefore(h)
		if before { // it was shown without the act
			h.Revisions = h.Revisions[:len(h.Revisions)-1]
		} else if err := allow(h); err != nil {
			return nil, bookFault("case "+h.Case, err)
		}
		s, err := k.newAct(h)
		if err != nil {
			return nil, err
		}
		if before {
			s.before = s.checked.Digest()
		}
		list = append(list, s)
	}
	return list, nil
}

// actBefore reports whether the newest act is the counter-signature of this key: an
// interrupted run of the same form may have made it.
func (k *signing) actBefore(h casebook.History) bool {
	last := h.Current().Statement
	return k.command == "counter-sign" && k.flags.answers != "" && last.Kind == casebook.CounterSigned && last.Signer.Key == k.signer.public.ID
}

// getCase finds a case. What was typed is not repeated when nothing bears it: it
// may be a hospital number.
func getCase(ctx context.Context, book *casebook.Casebook, id string) (casebook.History, error) {
	h, err := book.Get(ctx, strings.TrimSpace(id))
	if err != nil {
		return h, bookFault("the case", err)
	}
	return h, nil
}

func notWithdrawn(h casebook.History) error {
	if h.State == casebook.StateWithdrawn {
		return casebook.ErrWithdrawn
	}
	return nil
}

// request is one act on a signed case as it was shown.
func (s *signature) amend(k *signing, key *casebook.Key) casebook.AmendRequest {
	zone := s.checked.Entry().Episode.Zone.Text()
	return casebook.AmendRequest{Act: k.app.act(key, k.given.siteZone(), zone), Case: s.name, Base: len(s.history.Revisions), Why: s.why}
}

func (a *app) counterSignCommand() *cobra.Command {
	var f signFlags
	var w whyFlags
	c := &cobra.Command{
		Use:   "counter-sign NOTE... --as KEYFILE",
		Short: "Counter-sign notes that await it",
		Long: `Shows each note with every act on it, and adds the signature of the responsible
surgeon. NOTE is a case identifier; 'casebook status' lists what waits. When the
signer named another surgeon as responsible, a reason is asked for.

In a script: --show --to FORM, then --answers FORM.`,
		Example: `  graftnote counter-sign a1k7-double-bubble --as voss.key --site lindow`,
		Args:    needArgs(1, -1, "a case identifier"),
		RunE: func(_ *cobra.Command, args []string) error {
			k, err := a.newSigning(&f, "counter-sign")
			if err != nil {
				return err
			}
			why, err := w.wording(false).read(a)
			if err != nil {
				return err
			}
			if k.signer, err = a.signer(f.signer); err != nil {
				return err
			}
			return f.withBook(a, casebook.Options{ReadOnly: f.show}, func(ctx context.Context, book *casebook.Casebook) error {
				if !f.show {
					if err := k.signer.stands(ctx, book); err != nil {
						return err
					}
				}
				list, err := k.cases(ctx, book, args, func(h casebook.History) error {
					if h.State != casebook.StateAwaiting {
						return casebook.ErrNotAwaiting
					}
					return nil
				})
				if err != nil {
					return err
				}
				decided, err := k.decide(list)
				if err != nil {
					return err
				}
				for _, s := range decided {
					if s.why == "" {
						s.why = why
					}
					if s.why == "" && k.named(s.history) {
						return &fault{status: statusBlocked, text: "case " + s.name + ": another surgeon was named as responsible; nothing was signed", hints: []string{"say with --why-file why you counter-sign"}}
					}
				}
				return k.all(decided, len(list), func(s *signature, key *casebook.Key) error {
					r, err := book.CounterSign(ctx, s.amend(k, key))
					if err != nil {
						return bookFault("case "+s.name+" was not counter-signed", err)
					}
					k.done("counter-signed", r)
					return nil
				})
			})
		},
	}
	f.flags(c, false)
	w.flags(c)
	return c
}

// named reports whether the newest act that awaits this signature names another
// surgeon.
func (k *signing) named(h casebook.History) bool {
	responsible := h.Responsible()
	return responsible != "" && responsible != k.signer.public.ID
}

func (a *app) addendumCommand() *cobra.Command {
	var f signFlags
	var file, event string
	c := &cobra.Command{
		Use:   "addendum NOTE --text-file FILE --as KEYFILE",
		Short: "Add text to a signed note; the old text stays true",
		Long: `Adds a signed text to a note and leaves the rest as it is. With --event it is a
late entry: the note then states when it happened and when it was written.

The text comes from a file, from standard input (-), or is asked for. The note is
shown first; in a script, 'casebook show NOTE' prints the digest for --yes-shown.`,
		Example: `  graftnote addendum a1k7-double-bubble --text-file ward.txt --event 2026-09-09T08:10:00+01:00 --as voss.key`,
		Args:    needArgs(1, 1, "a case identifier"),
		RunE: func(_ *cobra.Command, args []string) error {
			when, err := momentFlag("--event", event)
			if err != nil {
				return err
			}
			return a.amendOne(&f, args[0], "addendum", wording{"", file, "the text of the addendum", true}, func(ctx context.Context, book *casebook.Casebook, r casebook.AmendRequest, text string) (casebook.Receipt, error) {
				r.Text, r.When = text, when
				return book.Addendum(ctx, r)
			})
		},
	}
	f.flags(c, false)
	c.Flags().StringVar(&file, "text-file", "", "the text, in a `file`; - for standard input")
	c.Flags().StringVar(&event, "event", "", "late entry: the `time` at which it happened (RFC 3339)")
	return c
}

func (a *app) withdrawCommand() *cobra.Command {
	var f signFlags
	var w whyFlags
	c := &cobra.Command{
		Use:   "withdraw NOTE --why TEXT --as KEYFILE",
		Short: "Mark a signed note as entered in error",
		Long: `Marks a note as entered in error. Nothing is deleted: the note stays readable,
marked on every page, and takes no further act. To change what a note says use
'correct'.

The note is shown first; in a script, 'casebook show NOTE' prints the digest for
--yes-shown.`,
		Example: `  graftnote withdraw a1k7-double-bubble --why "written under the wrong number" --as voss.key`,
		Args:    needArgs(1, 1, "a case identifier"),
		RunE: func(_ *cobra.Command, args []string) error {
			return a.amendOne(&f, args[0], "withdraw", w.wording(true), func(ctx context.Context, book *casebook.Casebook, r casebook.AmendRequest, text string) (casebook.Receipt, error) {
				r.Why = text
				return book.Withdraw(ctx, r)
			})
		},
	}
	f.flags(c, false)
	w.flags(c)
	return c
}

// amendOne shows one signed case and the text that is to be signed, and signs.
func (a *app) amendOne(f *signFlags, id, what string, w wording, sign func(context.Context, *casebook.Casebook, casebook.AmendRequest, string) (casebook.Receipt, error)) error {
	k, err := a.newSigning(f, what)
	if err != nil {
		return err
	}
	text := ""
	if !f.show {
		if text, err = w.read(a); err != nil {
			return err
		}
	}
	k.signer = &signer{flags: f.signer}
	return f.withBook(a, casebook.Options{ReadOnly: f.show}, func(ctx context.Context, book *casebook.Casebook) error {
		list, err := k.cases(ctx, book, []string{id}, notWithdrawn)
		if err != nil {
			return err
		}
		if text != "" && f.answers == "" && len(f.shown) == 0 {
			a.print.prose("To be signed ("+what+")", text)
			a.print.line("")
		}
		decided, err := k.decide(list)
		if err != nil {
			return err
		}
		return k.all(decided, len(list), func(s *signature, key *casebook.Key) error {
			r, err := sign(ctx, book, s.amend(k, key), text)
			if err != nil {
				return bookFault(fmt.Sprintf("case %s: the %s was not signed", s.name, map[string]string{"addendum": "addendum", "withdraw": "withdrawal"}[what]), err)
			}
			k.done(string(r.Kind), r)
			return nil
		})
	})
}
