package main

import (
	"context"
	"os"
	"os/signal"
	"syscall"

	"github.com/spf13/cobra"

	"graftnote/casebook"
	"graftnote/schema"
)

func (a *app) signCommand() *cobra.Command {
	var f signFlags
	var responsible string
	c := &cobra.Command{
		Use:   "sign ENTRY... --as KEYFILE",
		Short: "Sign notes and keep them in the casebook",
		Long: `Checks entries as 'check' does, shows each note that would be signed, and signs it
into the casebook. Nothing is signed that was not shown, and no entry that a finding
blocks; it is named and left out, and the others go on.

What blocks can be true: a count that was not settled, tissue past its expiry, an
eye that was not the one listed. The signer confirms it, each state by itself: that
it is true and why; of an incident also who was told, when, and the incident number.
It becomes part of the signed entry and stands first in the note. What the entry
confirms already (true-states) is affirmed the same way. The file stays as it is.

What is put before the signer: the eye in words, the whole note, each point to
look at again, which is corrected or answered with a reason that becomes part of the
record, and each value that the standing technique filled in, to be confirmed. An
entry that looks like a copy of one of the signer's last 20 is asked about.

At a terminal the points are asked one by one and the eye is typed to sign. In a
script two runs do the same: 'sign --show ENTRY... --as KEYFILE --to FORM' shows
the notes and writes a form; 'sign ENTRY... --as KEYFILE --answers FORM' signs
what the filled-in form allows. The form holds the digest of each note as it was
shown: an entry that was changed since is refused. Each signature is printed as soon
as it is on the disk; when the run is interrupted, the same form goes on with what it
has not signed yet.

A trainee signs the same way; the note then awaits the counter-signature of the
responsible surgeon.`,
		Example: `  graftnote sign case.yaml --as voss.key --site lindow --technique lindow/technique.yaml
  graftnote sign --show monday --as voss.key --site lindow --to form.yaml
  graftnote sign monday --as voss.key --site lindow --answers form.yaml`,
		Args: needArgs(1, -1, "an entry"),
		RunE: func(_ *cobra.Command, args []string) error { return a.sign(&f, responsible, args) },
	}
	f.flags(c, true)
	c.Flags().StringVar(&responsible, "responsible", "", "`identifier` of the key that is to counter-sign")
	return c
}

func (a *app) sign(f *signFlags, responsible string, args []string) error {
	k, err := a.newSigning(f, "sign")
	if err != nil {
		return err
	}
	list, err := k.entries(args, func(c schema.Checked) (*showing, error) { return k.newShowing(c, casebook.History{}) })
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
		for _, s := range list {
			if err := s.unsigned(ctx, book, k.signer.public.ID, f.answers != ""); err != nil {
				return err
			}
		}
		if err := compare(ctx, book, k.signer.public.Name, list); err != nil {
			return err
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
			r, err := book.SignOff(ctx, request)
			if err != nil {
				return bookFault("case "+s.name+" was not signed", err)
			}
			k.done("signed", r)
			return nil
		})
	})
}

// request is the sign-off of one decided note.
func (s *signature) request(a *app, k *signing, key *casebook.Key, responsible string) (casebook.SignRequest, error) {
	words, err := wordsOf(s.checked, s.doc, s.answers)
	return casebook.SignRequest{Act: a.act(key, k.given.siteZone(), s.checked.Entry().Episode.Zone.Text()), Checked: s.checked, Shown: s.checked.Digest(),
		Document: words, Confirmed: s.confirmed, True: s.affirmed, Answers: s.answers, Different: s.alike, Responsible: responsible}, err
}

// goingOn gives a question to ask between two signatures: it refuses to go on once
// the run was asked to stop. What is being signed then is signed to its end, and
// printed.
func goingOn() (going func() error, stop func()) {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	return func() error {
		if ctx.Err() == nil {
			return nil
		}
		return &fault{status: statusIO, text: "stopped; nothing more was signed",
			hints: []string{"the same form goes on with what is not signed yet"}}
	}, stop
}

// all signs what was decided, one note after the other: each is on the disk and
// printed before the next begins, and a failure says what was signed before it.
func (k *signing) all(decided []*signature, of int, sign func(*signature, *casebook.Key) error) error {
	if len(decided) > 0 {
		key, err := k.signer.open(k.app)
		if err != nil {
			return err
		}
		going, stop := goingOn()
		defer stop()
		for i, s := range decided {
			err := going()
			if err == nil {
				err = sign(s, key)
			}
			if err != nil {
				if i > 0 {
					k.app.print.line("Stopped after %s of %d; what is listed above is signed and stays so.", count(i, "note"), of)
				}
				return err
			}
			if err := k.app.print.flush(); err != nil { // what nobody is told is not to be signed
				return unwritten("standard output", err)
			}
		}
	}
	k.finish(len(decided), of)
	if !k.flags.show && len(decided)+k.before < of {
		k.app.raise(statusBlocked)
	}
	return nil
}
