package main

import (
	"context"
	"slices"

	"github.com/spf13/cobra"

	"graftnote/casebook"
)

func (a *app) receiptCommand() *cobra.Command {
	var b bookFlags
	var by string
	c := &cobra.Command{
		Use:   "receipt PACKAGE FILE",
		Short: "Record the registry's answer to a package",
		Long: `Reads the registry's answer to a package and remembers it in the casebook. A row
counts as sent only when a final answer that accepts it was read; the next package
goes on from there.

PACKAGE is the identifier in the package's manifest. FILE is the answer in one of
two forms. JSON:

  {"package": "...", "answer": "accepted-with-findings", "rows": [
    {"kind": "operation", "key": "...", "result": "refused", "finding": "E12"}]}

CSV (RFC 4180, UTF-8) with these columns; the first line has package and answer,
each line after it names a row:

  package,answer,kind,key,result,finding
  ...,accepted-with-findings,,,,
  ,,operation,...,refused,E12

answer   refused, pending, accepted or accepted-with-findings
result   accepted or refused; a row that is not named is accepted with its package
finding  the registry's code or words, 500 bytes at most

What can't be read, and a row that the package does not hold, is named by its line
with what to write instead; then nothing is recorded.

Each row that the answer names is printed with its case and the registry's words.
The same answer twice changes nothing. A final answer (any but pending) stands; a
different one after it is refused.`,
		Example: "  graftnote receipt p-2026-11-4c1f answer.json --site lindow",
		Args:    needArgs(2, 2, "a package and the file with the answer"),
		RunE: func(_ *cobra.Command, args []string) error {
			file, r, faults := readReceipt(args[0], args[1], a.env.now(), by)
			if len(faults) > 0 {
				return a.failAll(faults)
			}
			return b.withBook(a, casebook.Options{}, func(ctx context.Context, book *casebook.Casebook) error {
				if err := a.receiptRows(ctx, book, &file); err != nil {
					return err
				}
				if err := book.RecordReceipt(ctx, r); err != nil {
					return receiptFault(err)
				}
				return a.receiptSays(ctx, book, r.Package)
			})
		},
	}
	b.flags(c, false)
	c.Flags().StringVar(&by, "by", "", "who read the answer: a `role` or a code")
	return c
}

// failAll reports all faults; the last one is handed back to be reported.
func (a *app) failAll(faults []*fault) error {
	for _, f := range faults[:len(faults)-1] {
		a.fail(f)
	}
	return faults[len(faults)-1]
}

// receiptRows refuses an answer that names a row which the package does not hold.
// Of a package that was never sent the casebook says so itself.
func (a *app) receiptRows(ctx context.Context, book *casebook.Casebook, file *receiptFile) error {
	packages, err := book.Packages(ctx)
	if err != nil {
		return bookFault("the packages", err)
	}
	if !slices.ContainsFunc(packages, func(p casebook.PackageState) bool { return p.Package == file.Package }) {
		return nil
	}
	sent, err := book.Sent(ctx)
	if err != nil {
		return bookFault("the rows sent so far", err)
	}
	if file.compare(sent); len(file.faults) > 0 {
		return a.failAll(file.said())
	}
	return nil
}

func receiptFault(err error) error {
	for _, known := range []struct {
		err  error
		hint string
	}{
		{casebook.ErrNoPackage, "check the identifier in the package's manifest, and the casebook"},
		{casebook.ErrPackage, "check --by: 256 bytes at most, on one line"},
		{casebook.ErrAnswered, "the first final answer stands; ask the registry which one holds"},
	} {
		if isOneOf(err, known.err) {
			return &fault{status: statusBlocked, text: "the answer was not recorded: " + known.err.Error(), hints: []string{known.hint}}
		}
	}
	return bookFault("the answer was not recorded", err)
}

// receiptSays prints what the casebook now knows of the package.
func (a *app) receiptSays(ctx context.Context, book *casebook.Casebook, id string) error {
	list, err := book.Packages(ctx)
	if err != nil {
		return bookFault("the packages", err)
	}
	i := slices.IndexFunc(list, func(p casebook.PackageState) bool { return p.Package == id })
	if i < 0 {
		return bookFault("the package", casebook.ErrNoPackage)
	}
	p := list[i]
	a.print.line("package %s: %s; %d of %s accepted, %s.", p.Package, p.Answer, p.Accepted, count(p.Count, "row"), count(len(p.Results), "result"))
	sent, err := book.Sent(ctx)
	if err != nil {
		return bookFault("the rows sent so far", err)
	}
	cases := map[string]string{}
	for _, r := range sent {
		cases[r.Kind+" "+r.Key] = r.Case
	}
	for _, r := range p.Results {
		result := "accepted"
		if r.Refused {
			result = "refused "
		}
		a.print.line("  %s  case %s, %s row %s  %s", result, cases[r.Kind+" "+r.Key], r.Kind, r.Key, visibleProse(r.Finding))
	}
	if !p.Answer.Final() {
		a.print.line("Nothing of it counts as sent before the final answer is recorded.")
	}
	return nil
}
