package main

import (
	"context"
	"fmt"
	"os"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"graftnote/casebook"
)

func (a *app) keysCommand() *cobra.Command {
	c := &cobra.Command{
		Use:   "keys",
		Short: "Make, register, vouch for and revoke signing keys",
		Long: `A signing key belongs to one person. It lies in a file of its own under a
passphrase and never in the casebook, which knows the public half only.

To begin: 'keys new' makes a key, 'keys add' registers it. The first key of a
casebook is its founder. Every other key signs only once somebody has vouched for
it: a person in force whose role allows it (keys add NEW.pub --as KEYFILE, or
keys vouch ID --as KEYFILE for a key that registered itself).

A lost key or passphrase can't be replaced: make a new key, register it, revoke
the old one. What the old one signed stays provable. Whoever works alone makes a
second key in good time and keeps it elsewhere: keys add SPARE.pub --as KEYFILE.`,
		Args: needArgs(0, 0, ""),
		RunE: func(c *cobra.Command, _ []string) error {
			return usage("keys wants one of: new, add, vouch, list, show, revoke", "'graftnote keys --help' says what each does")
		},
	}
	c.AddCommand(a.keysNewCommand(), a.keysAddCommand(), a.keysVouchCommand(), a.keysListCommand(), a.keysShowCommand(), a.keysRevokeCommand())
	return c
}

// roleLines are the roles with what each may do, in the order of the alphabet.
func roleLines() string {
	roles := casebook.Roles()
	names := make([]string, 0, len(roles))
	for n := range roles {
		names = append(names, n)
	}
	slices.Sort(names)
	var b strings.Builder
	for _, n := range names {
		fmt.Fprintf(&b, "  %-16s %s\n", n, roles[n])
	}
	return strings.TrimSuffix(b.String(), "\n")
}

func (a *app) keysNewCommand() *cobra.Command {
	var name, role, to, site string
	var secret secretFlags
	c := &cobra.Command{
		Use:   "new --name NAME --role ROLE --to FILE",
		Short: "Make a signing key under a passphrase",
		Long: `Makes an Ed25519 key for one person, sealed under a passphrase, and beside it the
public half FILE.pub. NAME is printed beside each signature. Roles:

` + roleLines() + `

Only the passphrase opens the key; there is no other way. Keep one copy at most,
and only where you keep other secrets: a key that is lost is revoked and
replaced, one that is copied may sign for you.`,
		Example: `  graftnote keys new --name "Imara Voss" --role consultant --to voss.key`,
		Args:    needArgs(0, 0, ""),
		RunE: func(*cobra.Command, []string) error {
			switch {
			case name == "" || role == "" || to == "":
				return usage("--name, --role and --to are asked for", `graftnote keys new --name "Imara Voss" --role consultant --to voss.key`)
			case strings.HasSuffix(to, publicEnd):
				return usage("--to names the key; its public half gets the ending " + publicEnd)
			}
			return a.keysNew(name, role, to, site, secret)
		},
	}
	c.Flags().StringVar(&name, "name", "", "printed `name` of the person who will sign; never a patient's")
	c.Flags().StringVar(&role, "role", "", "`role` of the person")
	c.Flags().StringVar(&to, "to", "", "new `file` for the key")
	c.Flags().StringVar(&site, "site", "", "the site whose casebook will know the key, for the next step only: a `file` or folder")
	secret.flags(c, "the new key")
	return c
}

func (a *app) keysNew(name, role, to, site string, secret secretFlags) error {
	if _, known := casebook.Roles()[role]; !known {
		return usage("there is no such role", "'graftnote keys new --help' shows the roles")
	}
	for _, path := range []string{to, to + publicEnd} { // before a passphrase is asked for
		if _, err := os.Lstat(path); err == nil {
			return &fault{status: statusIO, text: path + " exists already and is left as it is", hints: []string{"choose another name; a key that is replaced is lost"}}
		}
	}
	k, err := casebook.NewKey(a.env.random, name, role)
	if err != nil {
		return bookFault("the key", err)
	}
	pass, err := secret.read(a, "the new key", true)
	if err != nil {
		return err
	}
	defer wipe(pass)
	var sealed strings.Builder
	if err := k.Seal(pass, &sealed); err != nil {
		return bookFault("the key", err)
	}
	if err := writeNew(to, sealed.String(), 0o600); err != nil {
		return err
	}
	if err := writeNew(to+publicEnd, publicText(k.Public()), 0o644); err != nil {
		return err
	}
	a.print.line("wrote %s and %s\n", to, to+publicEnd)
	a.print.key(k.Public())
	b := bookFlags{settings: settings{site: site}}
	a.print.line("\nNext: register it:  graftnote keys add %s%s", to, b.again())
	if site == "" {
		a.print.line("with --site where 'setup' has made a folder for the site: its casebook lies there.")
	}
	return nil
}

func (a *app) keysShowCommand() *cobra.Command {
	var secret secretFlags
	c := &cobra.Command{
		Use:   "show FILE",
		Short: "Print the public half of a key",
		Long: `Prints the public half of a key, in the form that 'keys add' reads. Where FILE.pub
lies beside the key no passphrase is asked for.`,
		Example: "  graftnote keys show voss.key",
		Args:    needArgs(1, 1, "a key"),
		RunE: func(_ *cobra.Command, args []string) error {
			if info, err := os.Stat(args[0]); err == nil && !strings.HasSuffix(args[0], publicEnd) {
				a.hintOpen("the key "+args[0], info)
			}
			s, err := a.signer(signerFlags{args[0], secret})
			if err != nil {
				return err
			}
			a.print.line("%s", strings.TrimSuffix(publicText(s.public), "\n"))
			return nil
		},
	}
	secret.flags(c, "the key")
	return c
}

func (a *app) keysRevokeCommand() *cobra.Command {
	var b bookFlags
	var s signerFlags
	var since, why, whyFile string
	c := &cobra.Command{
		Use:   "revoke ID --why TEXT --as KEYFILE",
		Short: "End a key: it signs nothing more",
		Long: `Revokes a registered key, with the key itself or with that of a person whose role
allows it. It signs nothing more. What it signed before stays provable; --since
says from when it is not to be trusted, and 'casebook check' then names what it
signed after that time.`,
		Example: `  graftnote keys revoke ID --why "laptop stolen" --since 2026-09-12T08:00:00+01:00 --as voss.key`,
		Args:    needArgs(1, 1, "the identifier of a key"),
		RunE: func(_ *cobra.Command, args []string) error {
			if s.key == "" {
				return usage("--as is asked for", "name the key file of the person who revokes")
			}
			at, err := momentFlag("--since", since)
			if err != nil {
				return err
			}
			text, err := wording{why, whyFile, "the reason", true}.read(a)
			if err != nil {
				return err
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
				r, err := book.RevokeKey(ctx, casebook.RevokeRequest{Act: a.act(k, g.siteZone()), ID: args[0], Why: text, Since: at})
				if err != nil {
					return bookFault("the key was not revoked", err)
				}
				a.print.line("revoked as statement %d of the casebook: %s", r.Index, args[0])
				a.clockBack(r)
				return nil
			})
		},
	}
	b.flags(c, false)
	c.Flags().StringVar(&s.key, "as", "", "`key` of the person who revokes")
	s.secret.flags(c, "that key")
	c.Flags().StringVar(&since, "since", "", "`time` from which the key is not to be trusted (RFC 3339; default: from now on)")
	c.Flags().StringVar(&why, "why", "", "the reason, as `text`; it must name no patient")
	c.Flags().StringVar(&whyFile, "why-file", "", "the reason, in a `file`; - for standard input")
	return c
}

// key prints a public key.
func (p *printer) key(k casebook.PublicKey) {
	p.line("  key    %s", k.ID)
	p.line("  name   %s", visibleProse(k.Name))
	p.line("  role   %s: %s", k.Role, casebook.Roles()[k.Role])
}

// clockBack warns when the clock went back since the preceding statement.
func (a *app) clockBack(r casebook.Receipt) {
	if r.ClockBack {
		a.print.hint("the clock of this machine stands before the preceding signature; the record says so: set the clock")
	}
}
