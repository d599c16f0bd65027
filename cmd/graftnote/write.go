package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"os/signal"
	"runtime"
	"syscall"

	"github.com/spf13/cobra"

	"graftnote/fhir"
	"graftnote/pdf"
	"graftnote/schema"
)

type writeFlags struct {
	settings
	out     string
	paper   string
	digests bool
	update  bool
	book    string
}

func (a *app) writeCommand() *cobra.Command {
	var w writeFlags
	c := &cobra.Command{
		Use:   "write ENTRY|NOTE... --out DIR",
		Short: "Write the note, the bundles and the registry row",
		Long: `Checks entries as 'check' does and writes their products into a folder. They are
named by the case identifier:

  CASE.note.pdf        the operative note, marked DRAFT until it is signed
  CASE.bundle.json     FHIR R4 transaction
  CASE.document.json   FHIR R4 document, the note inside
  CASE.row.csv         registry row without identifiers
  row.schema.json      Table Schema of the rows, once
  codesystem.json      graftnote's own codes as a FHIR CodeSystem, once
  CASE.draft.pdf       instead of all these, when a finding blocks sign-off

The row is written only when the entry records consent to the registry and the
site settings name a row key.

NOTE is the case identifier of a signed note in the casebook. Its products are
final: the note without DRAFT, with its signatures, every revision and the proof
inside; the bundles with signature and checkpoint. They are the same bytes each
time, and the casebook remembers their digests. What is the name of a file or
folder is always an ENTRY, and an ENTRY gives a draft even when it was signed.

All products of a case appear together or not at all, and replace those of an
earlier run; an outdated one is removed. While they are being replaced a file
CASE.unfinished lies beside them: a program that collects files from the folder
leaves the case alone until it is gone. After a run that was killed the next one
completes the case and removes what was left of it. Entries are never changed. A
fault in one entry does not stop the others.`,
		Example: `  graftnote write case.yaml --out out
  graftnote write entries --out out --site lindow --technique lindow/technique.yaml
  graftnote write a1k7-double-bubble --out out --casebook casebook.db
  graftnote write case.yaml --out out --now 2026-09-08T18:30:00+01:00 --digests`,
		Args: needArgs(1, -1, "an entry"),
		RunE: func(_ *cobra.Command, args []string) error { return a.write(args, &w) },
	}
	w.flags(c)
	c.Flags().StringVar(&w.out, "out", "", "`folder` for the products; it is made when missing")
	c.Flags().StringVar(&w.book, "casebook", "", "the casebook of the signed notes: a `file` or a postgres:// address (default: casebook.db in the site's folder, else here)")
	c.Flags().StringVar(&w.paper, "paper", "", "`size` of the page: a4 or letter (default: the site's, else a4)")
	c.Flags().BoolVar(&w.update, "update", false, "let the transaction replace what an earlier import of the same case made")
	c.Flags().BoolVar(&w.digests, "digests", false, "print the SHA-256 of every file written")
	return c
}

func (a *app) write(args []string, w *writeFlags) error {
	if w.out == "" {
		return usage("--out is asked for", "name a folder: graftnote write case.yaml --out out")
	}
	if err := w.parse(a); err != nil {
		return err
	}
	if w.paper != "" {
		if _, err := pdf.PaperByName(w.paper); err != nil {
			return usage("--paper is a4 or letter")
		}
	}
	entries, notes := splitNotes(args)
	g, err := w.open(a)
	if err != nil {
		return err
	}
	m, err := newMaker(a, g, w)
	if err != nil {
		return err
	}
	files, faults := gather(entries)
	dir, err := openFolder(a.env.disk, w.out, a.env.now())
	if err != nil {
		return unwritten(w.out, err)
	}
	defer dir.close()
	dir.guard(files)
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	goOn := func() bool { return ctx.Err() == nil }
	sum := newSummary(w)
	sum.add(g.findings)
	sum.unread = len(faults)
	for _, f := range faults {
		a.fail(f)
	}
	a.writeAll(files, g, m, dir, goOn, sum)
	if err := a.writeNotes(ctx, notes, bookFlags{settings: w.settings, place: w.book}, m, dir, sum); err != nil {
		return err
	}
	if !goOn() {
		sum.stopped = true
		a.fail(&fault{status: statusIO, text: "stopped; the cases counted below are complete, the others were not begun"})
	}
	for _, once := range []struct {
		with    kind
		name    string
		content func() ([]byte, error)
	}{{kindRow, rowSchemaName, m.export.rowSchema}, {kindBundle, codeSystemName, fhir.CodeSystem}} {
		if sum.made[once.with] == 0 {
			continue
		}
		if f := m.writeOnce(dir, sum, once.name, once.content); f != nil {
			a.fail(f)
		}
	}
	if err := dir.settle(); err != nil {
		a.fail(unwritten(w.out, err))
	}
	for _, f := range g.findings {
		a.print.finding(f)
	}
	a.print.summary(sum)
	if sum.blocks > 0 {
		a.raise(statusBlocked)
	}
	return nil
}

// writeAll runs both passes. A file with many cases shares its work out too;
// the pool of drawers bounds what is drawn at a time.
func (a *app) writeAll(files []input, g given, m *maker, dir *folder, goOn func() bool, sum *summary) {
	workers := 2 * runtime.GOMAXPROCS(0) // while one waits for the disk, another draws
	bar := a.newBar("reading", len(files))
	sv := a.survey(files, g, goOn, bar.step)
	bar.end()
	bar = a.newBar("writing", sv.cases)
	defer bar.end()
	inOrder(len(sv.files), workers, goOn,
		func(i int) (done fileDone) {
			f := sv.files[i]
			done.fault = f.fault
			if done.fault != nil {
				return done
			}
			var cases []*schema.Case
			done.fault = safely(func() (err error) { cases, err = sv.casesOf(f); return err })
			done.cases = make([]caseDone, 0, len(cases))
			inOrder(len(cases), workers, goOn,
				func(k int) (c caseDone) {
					c.name = f.names[k]
					c.fault = safely(func() error {
						checked, err := schema.Check(cases[k], g.options, sv.batch)
						cases[k] = nil
						if err != nil {
							return err
						}
						return m.make(checked, f.names[k], dir, &c)
					})
					if c.fault != nil {
						c.fault.text = fmt.Sprintf("case %s of %s: %s", c.name, f.shown, c.fault.text)
					}
					return c
				},
				func(_ int, c caseDone) {
					done.cases = append(done.cases, c)
					bar.step()
				})
			return done
		},
		func(i int, done fileDone) {
			f := sv.files[i]
			if done.fault != nil {
				a.fail(done.fault)
				sum.unread++
			}
			sum.add(f.findings)
			for _, finding := range f.findings {
				a.print.finding(finding)
			}
			for k := range done.cases {
				c := &done.cases[k]
				if c.fault != nil {
					a.fail(c.fault)
				}
				sum.take(f.shown, c)
			}
			sv.files[i] = nil
		})
}

// fileDone and caseDone are what the second pass tells about a file and a case.
type fileDone struct {
	fault *fault
	cases []caseDone
}

type caseDone struct {
	name     string
	fault    *fault
	checked  bool
	complete bool
	counts   tally
	written  []written
	withheld string // why there is no row, "" when there is one
}

// written is a file in its place.
type written struct {
	name string
	kind kind
	sum  digest
	size int
}

func writeFault(name string, err error) error {
	if err == nil {
		return nil
	}
	var part *partError
	if errors.As(err, &part) {
		f := unwritten(name, part.err)
		f.text = "cannot write " + part.Error()
		if isHeld(part.err) {
			f.hints = []string{"close the program that shows this file and run the command again"}
		}
		return f
	}
	if errors.Is(err, errInput) {
		return &fault{status: statusIO, text: "cannot write the products: " + err.Error(), hints: []string{"choose another folder with --out"}}
	}
	return unwritten(name, err)
}
