package main

import (
	"cmp"
	"context"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"graftnote/casebook"
	"graftnote/registry"
	"graftnote/registry/month"
	"graftnote/registry/report"
)

// Names of the tables in the folder of a package.
const (
	operationsFile = "operations.csv"
	followupsFile  = "followups.csv"
)

func (a *app) seriesCommand() *cobra.Command {
	var o report.Options
	var only []string
	var format string
	var line float64
	var ordered bool
	var b bookFlags
	c := &cobra.Command{
		Use:   "series FOLDER|FILE... | --casebook FILE",
		Short: "Print the figures of a series of rows as a table",
		Long: `Reads registry rows and prints their figures as one table, for an audit or a
paper: counts, rates with their intervals, acuity, astigmatism, graft survival,
completeness. An argument is the folder of a month's package, a folder of row
files, or a row file. Of several packages the newest revision of each row counts.
With --casebook the unit's own signed operations are counted, as they are: nothing
was made coarser or held back in them, so the table is for the unit.

Counts below 11 are hidden, with others that would give them away. Tables of
several filters can be subtracted from one another: before you publish more than
one, look for small differences.`,
		Example: `  graftnote series packages/2026-11
  graftnote series packages/2026-10 packages/2026-11 --only indication=keratoconus --format latex
  graftnote series --casebook casebook.db --only indication=keratoconus --format markdown
  graftnote series out --unmasked --format markdown`,
		Args: needArgs(0, -1, ""),
		RunE: func(cmd *cobra.Command, args []string) error {
			write := map[string]func(report.Table, io.Writer) error{"csv": report.Table.CSV, "markdown": report.Table.Markdown, "latex": report.Table.LaTeX}[format]
			if write == nil {
				return usage("there is no form of this name", "write --format csv, markdown or latex")
			}
			if cmd.Flags().Changed("line") {
				o.Line = &line
			}
			own := cmd.Flags().Changed("casebook")
			if own != (len(args) == 0) {
				return usage("either rows or --casebook are asked for", "graftnote series packages/2026-11")
			}
			var d report.Data
			var refused int
			var err error
			if own {
				d, refused, err = a.casebookRows(&b)
			} else {
				d, err = readRows(args)
				d.Ordered = ordered
			}
			if err != nil {
				return err
			}
			if o.Filter, err = report.ParseFilter(only, d.Rows); err != nil {
				return usage(strings.TrimPrefix(err.Error(), "report: "), "the registry dictionary lists columns and codes")
			}
			if err := coarsened(o.Filter, d.Rows); err != nil {
				return err
			}
			if refused > 0 {
				a.print.hint(count(refused, "operation") + " without consent to a registry are left out of the figures")
			}
			t, err := report.Series(d, o)
			if err != nil {
				return usage(strings.TrimPrefix(err.Error(), "report: "))
			}
			return write(t, a.print.out)
		},
	}
	b.flags(c, false)
	f := c.Flags()
	f.StringArrayVar(&only, "only", nil, "keep the operations with one of these codes, `COLUMN=CODE|CODE`; may be given again")
	f.StringVar(&format, "format", "csv", "form of the table: `csv`, markdown or latex")
	f.IntVar(&o.Minimum, "minimum", 11, "smallest `count` shown: 5, 8 or 11")
	f.BoolVar(&o.Unmasked, "unmasked", false, "show small counts; for use inside the unit only")
	f.Float64Var(&o.Months, "visit", 12, "`months` after surgery at which acuity and astigmatism are looked at")
	f.Float64Var(&line, "line", 0.3, "acuity counted as reached, `logMAR`")
	f.BoolVar(&ordered, "in-order", false, "the rows stand in the order of operation: adds the cumulative sum")
	f.StringVar(&o.Period, "period", "", "`words` for the title, such as a month")
	return c
}

// readRows reads all rows and visits of packages, folders and files.
func readRows(args []string) (report.Data, error) {
	var d report.Data
	words := &vocabulary{at: map[string]uint32{}}
	for _, arg := range args {
		info, err := os.Stat(arg)
		if err != nil {
			return d, unread(arg, err)
		}
		files := []string{arg}
		if info.IsDir() {
			if files, err = rowFiles(arg); err != nil {
				return d, err
			}
		}
		for _, name := range files {
			if err := readRowFile(name, words, &d); err != nil {
				return d, err
			}
		}
	}
	d.Rows = report.Standing(d.Rows, report.KeyColumn)
	d.FollowUps = report.Standing(d.FollowUps, report.VisitColumn)
	return d, nil
}

// casebookRows are the rows of a casebook as they are, for use inside the unit:
// nothing is coarsened or held back. refused counts the operations without consent
// to a registry; they give no row here either.
func (a *app) casebookRows(b *bookFlags) (d report.Data, refused int, err error) {
	words := &vocabulary{at: map[string]uint32{}}
	operations, visits := columnPlaces(registry.Columns()), columnPlaces(registry.VisitColumns())
	row := func(columns map[string]int, cells []string, id string) report.Row {
		r := rowOfFile{columns: columns, words: words, cells: make([]uint32, len(cells))}
		for i, cell := range cells {
			r.cells[i] = words.number(cell)
		}
		return ownRow{r, id}
	}
	dates := map[string]string{}
	err = b.withBook(a, casebook.Options{ReadOnly: true}, func(ctx context.Context, book *casebook.Casebook) error {
		o := b.sealedOptions(a)
		err := eachInForce(ctx, book, a.refused, func(c casebook.InForce) monthTaken { return takeMonth(c, o) }, func(c casebook.InForce, t monthTaken) error {
			switch {
			case t.err != nil:
				return t.err
			case t.operation.State != month.Signed:
				return nil
			case t.operation.Cells == nil:
				refused++
				return nil
			}
			dates[c.Case] = c.Date + " " + c.Case
			d.Rows = append(d.Rows, row(operations, t.operation.Cells, c.Case))
			for _, v := range t.operation.Visits {
				d.FollowUps = append(d.FollowUps, row(visits, v.Cells, c.Case))
			}
			return nil
		})
		return bookFault("the operations", err)
	})
	d.Ordered = true
	slices.SortFunc(d.Rows, func(x, y report.Row) int {
		return cmp.Compare(dates[x.Cell(report.KeyColumn)], dates[y.Cell(report.KeyColumn)])
	})
	return d, refused, err
}

// ownRow is a row that never leaves: its case ties a visit to its operation.
type ownRow struct {
	rowOfFile
	id string
}

// Cell makes it a report.Row.
func (r ownRow) Cell(column string) string {
	if column == report.KeyColumn {
		return r.id
	}
	return r.rowOfFile.Cell(column)
}

func columnPlaces(columns []registry.Column) map[string]int {
	out := map[string]int{}
	for i, c := range columns {
		out[c.Name] = i
	}
	return out
}

// coarsened refuses a filter on a column that was made coarser in the rows: it
// would count nothing and look like an answer.
func coarsened(f report.Filter, rows []report.Row) error {
	for _, c := range f {
		known := map[string]bool{}
		for _, col := range registry.Columns() {
			if col.Name == c.Column {
				for _, w := range col.Codes {
					known[w.Code] = true
				}
			}
		}
		held := map[string]bool{}
		odd, hit := false, false
		for _, r := range rows {
			for _, code := range strings.Split(r.Cell(c.Column), registry.Separator()) {
				held[code] = true
				odd = odd || len(known) > 0 && !known[code] && !missingCode(code)
				odd = odd || code == "WH"
				hit = hit || slices.Contains(c.Codes, code)
			}
		}
		if odd && !hit {
			return usage("the rows hold no "+c.Column+" of these codes, because the column was made coarser to hide people; it holds: "+strings.Join(slices.Sorted(maps.Keys(held)), ", "),
				"filter by what the rows hold, or take the unit's own rows: graftnote series --casebook FILE")
		}
	}
	return nil
}

func missingCode(code string) bool {
	for _, m := range registry.MissingCodes() {
		if m.Code == code {
			return true
		}
	}
	return false
}

// rowFiles are the tables of a package, or the row files of a folder.
func rowFiles(dir string) ([]string, error) {
	inside := filepath.Join(dir, "package")
	if _, err := os.Stat(filepath.Join(inside, operationsFile)); err == nil {
		dir = inside // it is the folder that 'month' made
	}
	list, err := os.ReadDir(dir)
	if err != nil {
		return nil, unread(dir, err)
	}
	var rows, tables []string
	for _, e := range list {
		switch name := e.Name(); {
		case e.IsDir():
		case name == operationsFile, name == followupsFile:
			tables = append(tables, filepath.Join(dir, name))
		case strings.HasSuffix(name, ".row.csv"):
			rows = append(rows, filepath.Join(dir, name))
		}
	}
	if len(tables) > 0 {
		return tables, nil
	}
	if len(rows) == 0 {
		return nil, &fault{status: statusIO, text: "no rows in the folder " + dir,
			hints: []string{"a package holds " + operationsFile + "; row files end in .row.csv"}}
	}
	return rows, nil
}

// readRowFile adds the rows of one file: visits when it has their key or no
// performed procedure.
func readRowFile(name string, words *vocabulary, d *report.Data) error {
	f, err := openInput(name, maxRowFile)
	if err != nil {
		return unread(name, err)
	}
	defer f.Close()
	odd := func(what string) error {
		return &fault{status: statusIO, text: fmt.Sprintf("%s holds no rows that can be read: %s", name, what),
			hints: []string{"rows of a profile have other columns: use the package in its own form"}}
	}
	r := csv.NewReader(f)
	r.ReuseRecord = true
	header, err := r.Read()
	if err != nil {
		return odd("there is no header")
	}
	at := map[string]int{}
	for i, n := range header {
		if _, twice := at[n]; twice {
			return odd("a column stands twice")
		}
		at[strings.Clone(n)] = i
	}
	_, keyed := at[report.KeyColumn]
	_, operated := at["procedure_performed"]
	_, visits := at["months"]
	if !keyed || operated == visits {
		return odd("the columns are not those of operations or of visits")
	}
	for {
		record, err := r.Read()
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return odd("it is not CSV as rows are written")
		}
		row := rowOfFile{columns: at, words: words, cells: make([]uint32, len(record))}
		for i, cell := range record {
			row.cells[i] = words.number(cell)
		}
		if visits {
			d.FollowUps = append(d.FollowUps, row)
		} else {
			d.Rows = append(d.Rows, row)
		}
	}
}

// rowOfFile is a row as numbers of its cells: rows have many columns and few
// different cells, so a large series fits into memory.
type rowOfFile struct {
	columns map[string]int
	words   *vocabulary
	cells   []uint32
}

// Cell makes it a report.Row.
func (r rowOfFile) Cell(column string) string {
	if i, ok := r.columns[column]; ok {
		return r.words.texts[r.cells[i]]
	}
	return ""
}

// vocabulary numbers the different cells of all rows.
type vocabulary struct {
	at    map[string]uint32
	texts []string
}

func (v *vocabulary) number(text string) uint32 {
	n, ok := v.at[text]
	if !ok {
		text = strings.Clone(text)
		n = uint32(len(v.texts))
		v.at[text] = n
		v.texts = append(v.texts, text)
	}
	return n
}
