package main

import (
	"context"
	"errors"
	"io/fs"
	"os"
	"strings"

	"github.com/spf13/cobra"

	"graftnote/casebook"
)

// lockFlags say how a backup is locked and opened.
type lockFlags struct {
	secret    secretFlags
	recipient string
	identity  string // file
}

func (l *lockFlags) unlock(a *app, fresh bool) (casebook.Unlock, error) {
	if l.identity == "" {
		pass, err := l.secret.read(a, "the backup", fresh)
		return casebook.Unlock{Passphrase: pass}, err
	}
	if l.secret.given() {
		return casebook.Unlock{}, usage("--identity-file and a passphrase exclude each other")
	}
	b, err := readInput(l.identity, mostTyped)
	if err != nil {
		return casebook.Unlock{}, unread(l.identity, err)
	}
	defer wipe(b)
	return casebook.Unlock{Identity: string(b)}, nil
}

func (a *app) bookBackupCommand() *cobra.Command {
	var b bookFlags
	var l lockFlags
	var to string
	c := &cobra.Command{
		Use:   "backup --to FILE",
		Short: "Write an encrypted backup and try it",
		Long: `Writes the whole casebook into one encrypted file (age), under a passphrase of its
own or to an age recipient. Signing may go on meanwhile. The backup is then tried:
opened, restored in memory and checked whole, and only then does FILE get its name.
Nothing readable is written anywhere; a run that is stopped leaves no FILE, and the
next backup into the same folder clears away what it had begun. For a recipient the
trial needs the identity; without --identity-file the backup is written and said to
be untried.

The passphrase of a backup can't be recovered. Keep the file, the passphrase and
the printed checkpoint in three places.`,
		Example: `  graftnote casebook backup --to 2026-09.backup
  graftnote casebook backup --to 2026-09.backup --recipient age1...`,
		Args: needArgs(0, 0, ""),
		RunE: func(*cobra.Command, []string) error {
			if to == "" {
				return usage("--to is asked for", "name a new file: --to 2026-09.backup")
			}
			return a.backup(&b, &l, to)
		},
	}
	b.flags(c, false)
	l.secret.flags(c, "the backup")
	c.Flags().StringVar(&l.recipient, "recipient", "", "lock to this age `recipient` instead of a passphrase")
	c.Flags().StringVar(&l.identity, "identity-file", "", "`file` with the age identity, to try the backup")
	c.Flags().StringVar(&to, "to", "", "new `file` for the backup")
	return c
}

func (a *app) backup(b *bookFlags, l *lockFlags, to string) error {
	if _, err := os.Lstat(to); err == nil {
		return &fault{status: statusIO, text: to + " exists already and is left as it is", hints: []string{"choose another name"}}
	}
	if l.recipient != "" && l.secret.given() || l.recipient == "" && l.identity != "" {
		return usage("lock the backup under a passphrase, or to a recipient with its identity to try it")
	}
	var key casebook.Unlock
	var err error
	if l.recipient == "" || l.identity != "" {
		if key, err = l.unlock(a, true); err != nil {
			return err
		}
		defer wipe(key.Passphrase)
	}
	lock := casebook.Lock{Passphrase: key.Passphrase, Recipient: l.recipient}
	return b.withBook(a, casebook.Options{ReadOnly: true}, func(ctx context.Context, book *casebook.Casebook) (err error) {
		dir, err := a.openParent(to)
		if err != nil {
			return unwritten(to, err)
		}
		defer dir.close()
		temp, err := os.CreateTemp(dir.path, dir.lease.prefix()+"*.tmp") // encrypted from its first byte
		if err != nil {
			return unwritten(to, err)
		}
		defer func() { _ = os.Remove(temp.Name()) }() // gone already when it was put in place
		checkpoint, err := book.Backup(ctx, temp, lock)
		if err == nil {
			err = temp.Sync()
		}
		if closed := temp.Close(); err == nil {
			err = closed
		}
		if err != nil {
			return backupFault(to, err)
		}
		tried := l.recipient == "" || l.identity != ""
		if tried {
			if err := a.tryBackup(ctx, temp.Name(), key, checkpoint); err != nil {
				return err
			}
		}
		if err := os.Link(temp.Name(), to); errors.Is(err, fs.ErrExist) { // a link never replaces a file
			return &fault{status: statusIO, text: to + " exists already and is left as it is", hints: []string{"choose another name"}}
		} else if err != nil {
			if err := os.Rename(temp.Name(), to); err != nil {
				return unwritten(to, err)
			}
		}
		if err := dir.settle(); err != nil {
			return unwritten(to, err)
		}
		a.print.line("wrote %s\n", to)
		a.print.line("%s", strings.TrimSuffix(checkpoint, "\n"))
		if tried {
			a.print.line("\nThe backup was restored in memory and holds. Keep the checkpoint above with it.")
		} else {
			a.print.line("\nThe backup is untried: nobody can open it here. Keep the checkpoint above with it.")
		}
		return nil
	})
}

// backupFault tells a failing disk from a failing casebook.
func backupFault(to string, err error) error {
	var path *fs.PathError
	if errors.As(err, &path) {
		return unwritten(to, err)
	}
	return bookFault("the backup", err)
}

func (a *app) tryBackup(ctx context.Context, path string, key casebook.Unlock, checkpoint string) error {
	f, err := openInput(path, anySize)
	if err != nil {
		return unread(path, err)
	}
	defer f.Close()
	r, err := casebook.VerifyBackup(ctx, f, key, casebook.RestoreOptions{Older: []string{checkpoint}})
	if err != nil || !r.Clean() {
		for _, fault := range r.Faults {
			a.print.line("%s %s", a.print.paint(bold+red, "fault:"), fault.Error())
		}
		if err == nil {
			err = casebook.ErrBackup
		}
		return bookFault("the backup was tried and is not kept", err)
	}
	return nil
}

func (a *app) bookRestoreCommand() *cobra.Command {
	var l lockFlags
	var to string
	var older bool
	var against []string
	c := &cobra.Command{
		Use:   "restore FILE --to CASEBOOK",
		Short: "Make a casebook from a backup",
		Long: `Makes a casebook from a backup at an empty place, a file or a PostgreSQL database,
and checks it whole; one with a fault is not put in place. When the place once
held more than the backup does, that is said and nothing is restored, unless
--accept-older is given: the acts after the backup are then lost.`,
		Example: `  graftnote casebook restore 2026-09.backup --to casebook.db --against september.checkpoint`,
		Args:    needArgs(1, 1, "a backup"),
		RunE: func(_ *cobra.Command, args []string) error {
			if to == "" {
				if to = a.env.getenv(casebookVariable); to == "" {
					return usage("--to is asked for", "name an empty place: --to casebook.db")
				}
			} else {
				a.hintPassword("--to", to)
			}
			if l.identity != "" && l.secret.given() {
				return usage("--identity-file and a passphrase exclude each other")
			}
			list, err := readCheckpoints(against)
			if err != nil {
				return err
			}
			f, err := openInput(args[0], anySize)
			if err != nil {
				return unread(args[0], err)
			}
			defer f.Close()
			key, err := l.unlock(a, false)
			if err != nil {
				return err
			}
			defer wipe(key.Passphrase)
			r, err := casebook.Restore(context.Background(), f, key, to, casebook.RestoreOptions{AcceptOlder: older, Older: list})
			if err != nil {
				for _, x := range r.Faults {
					a.print.line("%s %s", a.print.paint(bold+red, "fault:"), x.Error())
				}
				return bookFault("nothing was restored", err)
			}
			a.print.line("restored to %s", placeName(to))
			return a.audit(r, "text")
		},
	}
	l.secret.flags(c, "the backup")
	c.Flags().StringVar(&l.identity, "identity-file", "", "`file` with the age identity that opens the backup")
	c.Flags().StringVar(&to, "to", "", "empty `place`: a new file, or a postgres:// address (default: "+casebookVariable+")")
	c.Flags().BoolVar(&older, "accept-older", false, "restore although the place once held more")
	c.Flags().StringSliceVar(&against, "against", nil, "`file` with a checkpoint that the backup must continue")
	return c
}
