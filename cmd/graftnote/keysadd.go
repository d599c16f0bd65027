package main

import (
	"context"
	"strings"

	"github.com/spf13/cobra"

	"graftnote/casebook"
)

// addFlags are those of 'keys add'.
type addFlags struct {
	bookFlags
	signer  signerFlags
	founder bool
	why     string
	whyFile string
}

func (a *app) keysAddCommand() *cobra.Command {
	var f addFlags
	c := &cobra.Command{
		Use:   "add KEYFILE|PUBLIC",
		Short: "Register a key in the casebook",
		Long: `Registers a public key in the log of the casebook. Give the public half, and --as
the key of the person who vouches: one in force, whose role allows it. The new key
signs from then on.

KEYFILE alone, with its passphrase, registers itself. The first key makes the
casebook and is its founder. A later one waits for 'keys vouch' and signs nothing
until then.

A printed name that somebody holds in the casebook needs that person's yes: the
new key is registered --as a key of that name. Where that role vouches for nobody,
or the new role is wider, the key then waits for a voucher.

The only surgeon of a casebook who lost the only key registers the new one with
--founder and says why. That is refused where another person holds a key in force.
Nobody vouched for such a key, and 'verify' says so.`,
		Example: `  graftnote keys add voss.key
  graftnote keys add arden.key.pub --as voss.key
  graftnote keys add voss-2.key --founder --why "passphrase forgotten"`,
		Args: needArgs(1, 1, "a key"),
		RunE: func(_ *cobra.Command, args []string) error {
			public := strings.HasSuffix(args[0], publicEnd)
			switch {
			case f.signer.key == "" && public:
				return usage("--as says who vouches for this key", "a key registers itself when its own file is given: graftnote keys add KEYFILE")
			case f.founder && f.signer.key != "":
				return usage("a founder registers itself: give --founder or --as, not both")
			case !f.founder && (f.why != "" || f.whyFile != ""):
				return usage("--why goes with --founder")
			}
			return a.keysAdd(&f, args[0])
		},
	}
	f.bookFlags.flags(c, false)
	c.Flags().StringVar(&f.signer.key, "as", "", "`key` of the person who vouches")
	f.signer.secret.flags(c, "the key that signs this act")
	c.Flags().BoolVar(&f.founder, "founder", false, "the only key is lost: register this one as another founder")
	c.Flags().StringVar(&f.why, "why", "", "with --founder: the reason, as `text`; it must name no patient")
	c.Flags().StringVar(&f.whyFile, "why-file", "", "the reason, in a `file`; - for standard input")
	return c
}

func (a *app) keysAdd(f *addFlags, path string) error {
	g, err := f.readSettings(a)
	if err != nil {
		return err
	}
	lost := ""
	if f.founder {
		if lost, err = (wording{f.why, f.whyFile, "the reason", true}).read(a); err != nil {
			return err
		}
	}
	var fresh casebook.PublicKey
	by := f.signer
	if by.key != "" {
		if fresh, err = readPublic(path); err != nil {
			return err
		}
	} else {
		by.key = path
	}
	k, err := a.openKey(by.key, by.secret)
	if err != nil {
		return err
	}
	if fresh.ID == "" {
		fresh = k.Public()
	}
	return f.withBook(a, casebook.Options{Rand: a.env.random}, func(ctx context.Context, book *casebook.Casebook) error {
		r, err := book.AddKey(ctx, casebook.KeyRequest{Act: a.act(k, g.siteZone()), New: fresh, Lost: lost})
		if err != nil {
			return bookFault("the key was not registered", err)
		}
		a.print.line("registered as statement %d of the casebook:\n", r.Index)
		a.print.key(fresh)
		a.clockBack(r)
		return a.sayStanding(ctx, book, &f.bookFlags, fresh.ID)
	})
}

// sayStanding says what a key that was just registered is good for.
func (a *app) sayStanding(ctx context.Context, book *casebook.Casebook, b *bookFlags, id string) error {
	keys, err := book.Keys(ctx)
	if err != nil {
		return bookFault("the keys cannot be listed", err)
	}
	for _, k := range keys {
		switch {
		case k.ID != id:
		case k.Founder:
			a.print.line("\nIt is a founder of this casebook: it signs, and nobody vouched for it. A reader who\nis to take it for yours needs its identifier from you, by another way.")
		case !k.Stands():
			a.print.line("\n%s signs nothing until somebody has vouched for it.\nNext: a person whose role allows it runs  graftnote keys vouch %s --as KEYFILE%s", a.print.paint(bold+yellow, "It"), id, b.again())
		}
	}
	return nil
}

func (a *app) keysVouchCommand() *cobra.Command {
	var b bookFlags
	var s signerFlags
	c := &cobra.Command{
		Use:   "vouch ID --as KEYFILE",
		Short: "Vouch for a registered key: it signs from then on",
		Long: `Says, signed, that the registered key ID is that of the person whose name it bears,
and that its role is right. Compare the identifier with the one that the person
reads out from 'keys show'. The key signs from then on.

It is given by another person's key, in force, whose role allows it and for which
somebody vouched, or by a founder; not by a trainee, and by no key for itself. Where
the printed name is in force, its holder must have registered the key or must be
the one who vouches.`,
		Example: "  graftnote keys vouch graftnote-394b3b4181168512+c9802492 --as voss.key --site lindow",
		Args:    needArgs(1, 1, "the identifier of a key"),
		RunE: func(_ *cobra.Command, args []string) error {
			if s.key == "" {
				return usage("--as is missing", "name the key file of the person who vouches")
			}
			g, err := b.readSettings(a)
			if err != nil {
				return err
			}
			k, err := a.openKey(s.key, s.secret)
			if err != nil {
				return err
			}
			return b.withBook(a, casebook.Options{}, func(ctx context.Context, book *casebook.Casebook) error {
				r, err := book.Vouch(ctx, casebook.VouchRequest{Act: a.act(k, g.siteZone()), ID: args[0]})
				if err != nil {
					return bookFault("the key was not vouched for", err)
				}
				a.print.line("vouched for as statement %d of the casebook:\n", r.Index)
				keys, err := book.Keys(ctx)
				if err != nil {
					return bookFault("the keys cannot be listed", err)
				}
				for _, known := range keys {
					if known.ID == args[0] {
						a.print.key(known)
					}
				}
				a.clockBack(r)
				return nil
			})
		},
	}
	b.flags(c, false)
	c.Flags().StringVar(&s.key, "as", "", "`key` of the person who vouches")
	s.secret.flags(c, "that key")
	return c
}
