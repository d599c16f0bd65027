package main

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"maps"
	"os"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"graftnote/casebook"
	"graftnote/registry/month"
)

type monthFlags struct {
	bookFlags
	out, mode, profile, by string
	theatre                int
	counted, kGiven        bool
	dry, submit            bool
	dropped                bool // the registry has dropped the rows of the other mode
	o                      month.Options
}

func (a *app) monthCommand() *cobra.Command {
	var f monthFlags
	c := &cobra.Command{
		Use:   "month 2026-11 [ENTRY...] --out DIR",
		Short: "Make the package of a month for a graft registry",
		Long: `Collects every signed operation and follow-up of a month, and every correction to
what the registry has accepted, into one package; a year is written 2026. The
folder DIR must not exist. It then holds

  package/      what goes to the registry: tables as CSV, NDJSON and Parquet, their
                description, the exceptions, a cover sheet and the manifest
  report.pdf    the figures of the rows in the package, small counts hidden
  report.html   the same

ENTRY are files or folders of entries that are not signed yet, so that they are
counted among the exceptions. --counted is the theatre's own count.

In the mode safe-harbor row keys are random and their map stays in the casebook;
in the mode pseudonymised they are keyed hashes under the site's row key, and the
rows stay personal data. Rows that cannot be kept hidden among --k people are
coarsened, then held back; the manifest says what was given up. All versions that
the registry has had of the rows are counted together: a package that would give
somebody away beside an earlier one is held back in part or refused. In a rare
operation this does not protect against somebody who knows the patient. The data
protection officer decides about the release.

Nothing counts as sent before the registry's answer was read: --submit notes the
package in the casebook, 'receipt' notes the answer. The same month again, before
an answer, gives the same bytes.`,
		Example: `  graftnote month 2026-11 --site lindow --counted 14 --out packages/2026-11 --dry-run
  graftnote month 2026-11 entries --site lindow --counted 14 --by coordinator --out packages/2026-11 --submit
  graftnote month 2026-11 --site lindow --mode pseudonymised --profile northmere --out packages/2026-11`,
		Args: needArgs(1, -1, "a month"),
		RunE: func(cmd *cobra.Command, args []string) error {
			f.counted, f.kGiven = cmd.Flags().Changed("counted"), cmd.Flags().Changed("k")
			return a.month(&f, args)
		},
	}
	f.flags(c, true)
	fl := c.Flags()
	fl.StringVar(&f.out, "out", "", "new `folder` for package and report")
	fl.StringVar(&f.mode, "mode", string(month.SafeHarbor), "`mode` of the row keys: safe-harbor or pseudonymised")
	fl.StringVar(&f.profile, "profile", "", "form of a receiving registry: a `name` that comes with graftnote, or a file")
	fl.StringVar(&f.by, "by", "", "who makes the package: a `role` or a code")
	fl.IntVar(&f.theatre, "counted", -1, "`operations` that the theatre counted")
	fl.IntVar(&f.o.K, "k", 0, "least number of `people` alike (default 5)")
	fl.IntVar(&f.o.MinCell, "min-cell", 0, "least `count` shown: 5, 8 or 11 (default 11)")
	fl.BoolVar(&f.o.Refine, "refine", false, "look for finer steps although those of the package before still protect")
	fl.BoolVar(&f.o.HoldBack, "hold-back", false, "hold back whatever rows cannot be protected, all of them if need be")
	fl.BoolVar(&f.dropped, "other-mode-dropped", false, "the registry has dropped the rows that it had in the other mode")
	fl.BoolVar(&f.dry, "dry-run", false, "say what would be in the package; write and note nothing")
	fl.BoolVar(&f.submit, "submit", false, "note in the casebook that the package goes to the registry")
	return c
}

// ready refuses what no casebook is needed to refuse.
func (f *monthFlags) ready(period string, now time.Time) (month.Period, error) {
	var p month.Period
	t, err := time.Parse("2006-01", period)
	if err == nil {
		p = month.Period{Year: t.Year(), Month: int(t.Month())}
	} else if t, err = time.Parse("2006", period); err == nil {
		p = month.Period{Year: t.Year()}
	} else {
		return p, usage("the month is not written as 2026-11", "a whole year is written 2026")
	}
	switch {
	case t.After(now):
		return p, usage("the period has not begun", "the machine's clock says "+now.Format(time.DateOnly))
	case f.counted && f.theatre < 0:
		return p, usage("--counted is a number of operations, 0 or more")
	case f.kGiven && f.o.K < 2:
		return p, usage("--k is 2 or more: among one person nobody is hidden", "without --k it is 5")
	case f.dry && f.submit:
		return p, usage("--dry-run and --submit exclude each other")
	case f.out == "" && !f.dry:
		return p, usage("--out is asked for", "name a new folder: graftnote month "+period+" --out packages/"+period)
	case f.mode != string(month.SafeHarbor) && f.mode != string(month.Pseudonymised):
		return p, usage("there is no mode of this name", "write --mode safe-harbor or pseudonymised")
	}
	if _, err := os.Lstat(f.out); f.out != "" && err == nil {
		return p, &fault{status: statusIO, text: "the folder " + f.out + " is there already", hints: []string{"a package is never written over; name a new folder"}}
	}
	f.o.Mode = month.Mode(f.mode)
	if f.profile == "" {
		return p, nil
	}
	data, shipped := month.Shipped(f.profile)
	if !shipped {
		if data, err = readInput(f.profile, maxProfile); err != nil {
			return p, unread(f.profile, err)
		}
	}
	f.o.Profile, err = month.ParseProfile(data)
	if err != nil {
		return p, &fault{status: statusIO, text: "the profile cannot be used: " + strings.ReplaceAll(err.Error(), "\n- ", "; ")}
	}
	return p, nil
}

func (a *app) month(f *monthFlags, args []string) error {
	period, err := f.ready(args[0], a.env.now())
	if err != nil {
		return err
	}
	g, err := f.readSettings(a)
	if err != nil {
		return err
	}
	if f.o.Mode == month.Pseudonymised {
		if f.o.Key, err = g.rowKey(); err != nil {
			return err
		}
		if len(f.o.Key) == 0 {
			return usage("the mode pseudonymised needs the site's row key", "'graftnote setup' makes one; name its folder with --site")
		}
	}
	return f.withBook(a, casebook.Options{ReadOnly: f.dry}, func(ctx context.Context, book *casebook.Casebook) error {
		in := month.Input{Period: period, TheatreCount: f.theatre, By: f.by, At: f.time}
		h, err := a.monthHistory(ctx, book, f, &in)
		if err != nil {
			return err
		}
		source := &monthSource{a: a, book: book, flags: f, given: g, entries: args[1:], period: period}
		build := func(in month.Input) (*month.Package, error) {
			in.Operations = source.operations(ctx)
			p, err := month.Build(in, f.o)
			if source.failed != nil {
				return nil, bookFault("the operations", source.failed)
			}
			if err != nil {
				return nil, monthFault(err)
			}
			return p, nil
		}
		p, err := h.again(in, build)
		if err != nil {
			return err
		}
		a.monthSays(p, f, source, h)
		if c := p.Manifest.Counts; !c.AddsUp && c.Theatre != nil || len(source.unread) > 0 {
			a.raise(statusBlocked)
		}
		if f.dry {
			return nil
		}
		return a.monthKeep(ctx, book, f, p, source)
	})
}

// receiver names the registry, "" for our own form. Each has its own history and
// its own random keys, so that two of them cannot join their rows.
func (f *monthFlags) receiver() string {
	if f.o.Profile == nil {
		return ""
	}
	return f.o.Profile.Name
}

// kept is a row key as the casebook keeps it.
func (f *monthFlags) kept(k month.RowKey) casebook.RowKey {
	if r := f.receiver(); r != "" {
		k.Kind += "/" + r
	}
	return casebook.RowKey(k)
}

func sentRow(r casebook.SubmittedRow) month.Sent {
	s := month.Sent{Kind: r.Kind, Key: r.Key, Operation: r.Operation, Change: string(r.Action), Reason: r.Reason, Revision: r.Revision,
		Replaces: r.Replaces, Dictionary: r.Dictionary, Epoch: r.Epoch, Case: r.Case, Note: r.Note, Accepted: r.Accepted, Cells: r.Cells}
	_ = s.Digest.UnmarshalText([]byte(r.Digest)) // a withdrawn row may have none
	_ = s.Raw.UnmarshalText([]byte(r.Raw))
	return s
}

// monthKeep writes the folder beside its place, notes keys and package, and puts
// the folder in its place. Keys are noted first: a key that was drawn and not used
// harms nobody, the other way round would. A folder that could not be put in its
// place can be made again, to the same bytes; a package that went out and was not
// noted could not be put right.
func (a *app) monthKeep(ctx context.Context, book *casebook.Casebook, f *monthFlags, p *month.Package, source *monthSource) error {
	if f.o.Keys != nil {
		var drawn []casebook.RowKey
		for _, k := range f.o.Keys.Drawn() {
			drawn = append(drawn, f.kept(k))
		}
		if len(drawn) > 0 {
			if err := book.RecordRowKeys(ctx, drawn); err != nil {
				return meanwhile("the map of row keys", err)
			}
		}
	}
	note := func([]byte) error { return nil }
	if f.submit {
		note = func(manifest []byte) error {
			return meanwhile("the package was not noted, and no folder was made", book.RecordSubmission(ctx, f.submission(p, manifest)))
		}
	}
	if err := a.writeMonth(f.out, p, source, note); err != nil {
		return err
	}
	a.print.line("Written to %s, package %s", f.out, p.Manifest.Package)
	if f.submit {
		a.print.line("Noted. It counts as sent when 'graftnote receipt %s FILE' has read the registry's answer.", p.Manifest.Package)
	} else {
		a.print.line("Not noted, so it must not go to the registry yet: --submit does that.")
	}
	return nil
}

// meanwhile tells that another run noted something since this one read the casebook.
func meanwhile(about string, err error) error {
	if errors.Is(err, casebook.ErrPackage) || errors.Is(err, casebook.ErrNotAccepted) {
		return &fault{status: statusBlocked, text: "another run made a package from this casebook at the same time; this one was not noted, and no folder was made",
			hints: []string{"run the command again: it goes on from what the other run has noted"}}
	}
	return bookFault(about, err)
}

// submission is what the casebook remembers of the package.
func (f *monthFlags) submission(p *month.Package, manifest []byte) casebook.Submission {
	s := casebook.Submission{Package: p.Manifest.Package, Month: p.Manifest.Period, Mode: f.mode, Receiver: f.receiver(), Manifest: digestHex(manifest),
		Checkpoint: p.Manifest.Checkpoint, Steps: p.Steps, At: p.Manifest.At, By: p.Manifest.By}
	p.Changes(func(r month.Sent) bool {
		s.Rows = append(s.Rows, casebook.SentRow{Kind: r.Kind, Key: r.Key, Operation: r.Operation, Revision: r.Revision, Digest: r.Digest.String(),
			Raw: r.Raw.String(), Action: casebook.Action(r.Change), Replaces: r.Replaces, Reason: r.Reason, Dictionary: r.Dictionary,
			Epoch: r.Epoch, Case: r.Case, Note: r.Note, Cells: r.Cells})
		return true
	})
	return s
}

func digestHex(b []byte) string {
	sum := sha256.Sum256(b)
	return hex.EncodeToString(sum[:])
}

// heldShown is how many of the cases held back for one reason are named.
const heldShown = 20

// monthSays prints the counts, the exceptions with their cases, and the warnings.
func (a *app) monthSays(p *month.Package, f *monthFlags, source *monthSource, h monthHistory) {
	m := p.Manifest
	if h.repeated {
		a.print.line("Package %s of this period waits for its answer; it is made again as it was.", m.Package)
	}
	would := ""
	if f.dry {
		would = "Would be: "
	}
	a.print.line("%sOperations of %s: %s", would, m.Period, m.Counts.Says)
	for _, table := range slices.Sorted(maps.Keys(m.Rows)) {
		a.print.line("  rows, %s: %d", table, m.Rows[table])
	}
	held := map[string][]string{}
	for _, e := range p.Exceptions {
		if e.Which != "earlier" {
			held[e.Reason] = append(held[e.Reason], e.Case)
		}
	}
	for _, reason := range slices.Sorted(maps.Keys(held)) {
		list := held[reason]
		slices.Sort(list)
		a.print.line("  held back, %s: %d", reason, len(list))
		for _, id := range list[:min(len(list), heldShown)] {
			a.print.line("    case %s", id)
		}
		if n := len(list) - heldShown; n > 0 {
			a.print.line("    and %d more", n)
		}
	}
	for _, w := range append(h.warnings, p.Warnings...) {
		a.print.line("! %s", w)
	}
	for _, name := range source.unread {
		a.print.line("! %s cannot be read and was counted as one blocked operation; 'graftnote check' says why.", name)
	}
}

func monthFault(err error) error {
	text := strings.ReplaceAll(strings.TrimPrefix(err.Error(), "month: "), "\n- ", "; ")
	hints := []string{}
	if errors.Is(err, month.ErrJoined) {
		hints = append(hints, "--hold-back keeps the columns as they were and holds back what would give somebody away",
			"a longer period, such as a year, hides people among more; what the registry has had in finer columns cannot be made coarser again")
	} else if errors.Is(err, month.ErrRefused) {
		hints = append(hints, "--hold-back holds them back; a wider period, such as a year, hides people among more")
	}
	return &fault{status: statusBlocked, text: "no package was made: " + text, hints: hints}
}
