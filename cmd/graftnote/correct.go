package main

import (
	"context"

	"github.com/spf13/cobra"

	"graftnote/casebook"
	"graftnote/schema"
)

func (a *app) correctCommand() *cobra.Command {
	var f signFlags
	var w whyFlags
	var responsible string
	c := &cobra.Command{
		Use:   "correct NOTE ENTRY --why TEXT --as KEYFILE",
		Short: "Sign a corrected entry as a new revision",
		Long: `Signs a corrected entry beside the old one. ENTRY holds the whole entry as it
should be, under the same case identifier; NOTE is that identifier. Every change
is shown, old and new, and stays in the record with the reason. The old entry is
never lost.

A person, an attempt or a tissue keeps its number in the record when another one
before it is taken out; what is new gets a number of its own.

A correction never makes the note another patient's: where the hospital number
differs, or two of name, birth date and national number, withdraw the note as
'wrong patient' and write a new one that names the old case under 'replaces-case'.
A slip in one of them is corrected when the signer types 'same person'.

'casebook show NOTE --entry' prints the entry in force, to start from. In a
script: --show --to FORM, then --answers FORM.`,
		Example: `  graftnote casebook show a1k7-double-bubble --entry > mended.json
  graftnote correct a1k7-double-bubble mended.json --why "read from the wrong line" --as voss.key`,
		Args: needArgs(2, 2, "a case identifier and an entry"),
		RunE: func(_ *cobra.Command, args []string) error {
			k, err := a.newSigning(&f, "correct")
			if err != nil {
				return err
			}
			why := ""
			if !f.show {
				if why, err = w.wording(true).read(a); err != nil {
					return err
				}
			}
			return f.withBook(a, casebook.Options{ReadOnly: f.show}, func(ctx context.Context, book *casebook.Casebook) error {
				return k.correct(ctx, book, args[0], args[1], why, responsible)
			})
		},
	}
	f.flags(c, true)
	w.flags(c)
	c.Flags().StringVar(&responsible, "responsible", "", "`identifier` of the key that is to counter-sign")
	return c
}

func (k *signing) correct(ctx context.Context, book *casebook.Casebook, id, entry, why, responsible string) error {
	a := k.app
	h, err := getCase(ctx, book, id)
	if err != nil {
		return err
	}
	if err := notWithdrawn(h); err != nil {
		return bookFault("case "+h.Case, err)
	}
	if k.keep, err = keepItems(h, k.given.options); err != nil {
		return err
	}
	list, err := k.entries([]string{entry}, func(c schema.Checked) (*showing, error) {
		if c.ID() != h.Case {
			return nil, bookFault("case "+h.Case, casebook.ErrOtherCase)
		}
		return k.newShowing(c, h)
	})
	if err != nil {
		return err
	}
	if err := personOf(list[0], h); err != nil {
		return err
	}
	if len(list[0].changes) == 0 && len(list[0].states) == 0 {
		return bookFault("case "+h.Case, casebook.ErrUnchanged)
	}
	k.signer = &signer{flags: k.flags.signer}
	if why != "" && k.flags.answers == "" && len(k.flags.shown) == 0 {
		a.print.prose("Reason of the correction", why)
		a.print.line("")
	}
	decided, err := k.decide(list)
	if err != nil {
		return err
	}
	return k.all(decided, len(list), func(s *signature, key *casebook.Key) error {
		request, err := s.request(a, k, key, responsible)
		if err != nil {
			return err
		}
		r, err := book.Correct(ctx, casebook.CorrectRequest{SignRequest: request, Base: len(s.history.Revisions), Why: why, SamePerson: s.samePerson})
		if err != nil {
			return bookFault("case "+s.name+" was not corrected", err)
		}
		k.done("corrected", r)
		return nil
	})
}
