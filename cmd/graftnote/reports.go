package main

import (
	"context"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"graftnote/casebook"
	"graftnote/note"
	"graftnote/pdf"
)

type pagesFlags struct {
	bookFlags
	out, paper string
	withName   bool
}

func (f *pagesFlags) flags(c *cobra.Command) {
	f.bookFlags.flags(c, false)
	c.Flags().StringVar(&f.out, "out", "", "`folder` for the pages as PDF; without it they are only printed")
	c.Flags().StringVar(&f.paper, "paper", "", "`size` of the page: a4 or letter (default: the site's, else a4)")
}

func (a *app) reportCommand() *cobra.Command {
	c := &cobra.Command{
		Use:   "report",
		Short: "Print what the eye bank and the coder need of a signed note",
		Long: `Makes pages for others out of a signed note: 'report tissue' for the eye bank,
'report coder' for the coder.`,
		Args: needArgs(0, 0, ""),
		RunE: func(*cobra.Command, []string) error {
			return usage("report wants one of: tissue, coder", "'graftnote report --help' says what each does")
		},
	}
	c.AddCommand(a.reportTissueCommand(), a.reportCoderCommand())
	return c
}

func (a *app) reportTissueCommand() *cobra.Command {
	var f pagesFlags
	c := &cobra.Command{
		Use:   "tissue NOTE...",
		Short: "Report each tissue that was opened to the eye bank",
		Long: `Prints one page for each tissue of a signed note, used or not: the number as on the
label, its fate with the reason, day, hospital, eye, the layers and kind of graft
in the end, and a fault that was seen. With --out each page is also written as
CASE.tissue-1.pdf, and so on.

The patient is not named. Where the law of the bank asks for the name, --with-name
puts name, hospital number and date of birth on the page.`,
		Example: "  graftnote report tissue a1k7-double-bubble --out bank",
		Args:    needArgs(1, -1, "a signed note"),
		RunE: func(_ *cobra.Command, args []string) error {
			return a.pages(args, &f, func(r *note.Reports, d *dossier, so *note.Signoff, language string) ([]note.Document, error) {
				var out []note.Document
				for i := range d.entry.Entry().Count("tissues") {
					page, err := r.Tissue(d.entry, so, language, i+1, f.withName)
					if err != nil {
						return nil, err
					}
					out = append(out, page)
				}
				return out, nil
			})
		},
	}
	f.flags(c)
	c.Flags().BoolVar(&f.withName, "with-name", false, "name the patient, where the law of the bank asks for it")
	return c
}

func (a *app) reportCoderCommand() *cobra.Command {
	var f pagesFlags
	c := &cobra.Command{
		Use:   "coder NOTE...",
		Short: "Print what a coder needs, in neutral words",
		Long: `Prints half a page for the coder of a signed note: side, approach, planned and
performed, full thickness or lamellar, first or repeat graft, lens status, combined
steps, specimen, tissue used and unused, and what is not stated. It suggests no
code. With --out the page is also written as CASE.coder.pdf. It shows patient data.`,
		Example: "  graftnote report coder a1k7-double-bubble",
		Args:    needArgs(1, -1, "a signed note"),
		RunE: func(_ *cobra.Command, args []string) error {
			return a.pages(args, &f, func(r *note.Reports, d *dossier, so *note.Signoff, language string) ([]note.Document, error) {
				page, err := r.Coder(d.entry, so, language)
				return []note.Document{page}, err
			})
		},
	}
	f.flags(c)
	return c
}

// pages makes the pages of each note, prints them, and writes them when asked.
func (a *app) pages(ids []string, f *pagesFlags, make func(*note.Reports, *dossier, *note.Signoff, string) ([]note.Document, error)) error {
	if f.paper != "" {
		if _, err := pdf.PaperByName(f.paper); err != nil {
			return usage("--paper is a4 or letter")
		}
	}
	g, err := f.readSettings(a)
	if err != nil {
		return err
	}
	m, err := newMaker(a, g, &writeFlags{settings: f.settings, paper: f.paper})
	if err != nil {
		return err
	}
	reports, err := note.LoadReports(m.phrases)
	if err != nil {
		return err
	}
	var dir *folder
	if f.out != "" {
		if dir, err = openFolder(a.env.disk, f.out, a.env.now()); err != nil {
			return unwritten(f.out, err)
		}
		defer dir.close()
	}
	printed := 0
	return f.withBook(a, casebook.Options{ReadOnly: true}, func(ctx context.Context, book *casebook.Casebook) error {
		for _, id := range ids {
			d, err := readDossier(ctx, book, id, g.options)
			if err != nil {
				return bookFault("case "+id, err)
			}
			so, err := d.signoff(m.phrases)
			if err != nil {
				return err
			}
			docs, err := make(reports, d, so, m.language)
			if err != nil {
				return err
			}
			if len(docs) == 0 {
				a.print.line("Case %s: no tissue is recorded.", id)
			}
			var files []product
			for _, doc := range docs {
				if printed++; printed > 1 {
					a.print.line("\n%s\n", strings.Repeat("=", textWidth))
				}
				writeNote(a.print, doc)
				if dir == nil {
					continue
				}
				page, err := m.page(doc, m.paper)
				if err != nil {
					return err
				}
				files = append(files, product{doc.ID + ".pdf", page})
			}
			if dir == nil {
				continue
			}
			if err := dir.replace(files, nil); err != nil {
				return writeFault(id, err)
			}
			for _, p := range files {
				a.print.line("\nwrote %s", filepath.ToSlash(filepath.Join(f.out, p.name)))
			}
		}
		if dir != nil {
			return unwrittenOrNil(f.out, dir.settle())
		}
		return nil
	})
}

func unwrittenOrNil(name string, err error) error {
	if err == nil {
		return nil
	}
	return unwritten(name, err)
}
