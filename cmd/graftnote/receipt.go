package main

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/csv"
	"encoding/hex"
	"encoding/json"
	"errors"
	"io"
	"os"
	"slices"
	"strings"
	"time"
	"unicode/utf8"

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

Each row that the answer names is printed with its case and the registry's words.
The same answer twice changes nothing. A final answer (any but pending) stands; a
different one after it is refused.`,
		Example: "  graftnote receipt p-2026-11-4c1f answer.json --site lindow",
		Args:    needArgs(2, 2, "a package and the file with the answer"),
		RunE: func(_ *cobra.Command, args []string) error {
			r, err := readReceipt(args[0], args[1], a.env.now(), by)
			if err != nil {
				return err
			}
			return b.withBook(a, casebook.Options{}, func(ctx context.Context, book *casebook.Casebook) error {
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

func receiptFault(err error) error {
	for _, known := range []struct {
		err  error
		hint string
	}{
		{casebook.ErrNoPackage, "check the identifier in the package's manifest, and the casebook"},
		{casebook.ErrPackage, "the answer names a row that the package does not hold, or refuses a row of a package accepted whole"},
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

// maxReceipt bounds an answer in bytes: one line for each row of a large package.
const maxReceipt = 64 << 20

type receiptRow struct {
	Kind    string `json:"kind"`
	Key     string `json:"key"`
	Result  string `json:"result"`
	Finding string `json:"finding"`
}

type receiptFile struct {
	Package string       `json:"package"`
	Answer  string       `json:"answer"`
	Rows    []receiptRow `json:"rows"`
}

// readReceipt reads an answer in either form.
func readReceipt(id, path string, now time.Time, by string) (casebook.RegistryAnswer, error) {
	f, err := os.Open(path)
	if err != nil {
		return casebook.RegistryAnswer{}, unread(path, err)
	}
	defer f.Close()
	b, err := io.ReadAll(io.LimitReader(f, maxReceipt+1))
	if err != nil {
		return casebook.RegistryAnswer{}, unread(path, err)
	}
	sum := sha256.Sum256(b)
	out := casebook.RegistryAnswer{File: hex.EncodeToString(sum[:]), At: now.Format(time.RFC3339), By: by}
	text := bytes.TrimPrefix(b, []byte("\ufeff"))
	parse := receiptCSV
	if bytes.HasPrefix(bytes.TrimSpace(text), []byte("{")) {
		parse = receiptJSON
	}
	r, err := parse(text)
	if err != nil || len(b) > maxReceipt || !utf8.Valid(b) || r.fill(&out) != nil {
		return out, &fault{status: statusIO, text: path + " is no answer of a registry in a form that is read; nothing was recorded", hints: []string{"'graftnote receipt --help' shows both forms"}}
	}
	if r.Package != id {
		return out, &fault{status: statusBlocked, text: path + " answers another package; nothing was recorded", hints: []string{"check the identifier in the package's manifest"}}
	}
	return out, nil
}

var errReceipt = errors.New("receipt")

func receiptJSON(b []byte) (receiptFile, error) {
	var r receiptFile
	dec := json.NewDecoder(bytes.NewReader(b))
	dec.DisallowUnknownFields()
	if err := dec.Decode(&r); err != nil {
		return r, err
	}
	if !errors.Is(dec.Decode(new(any)), io.EOF) {
		return r, errReceipt
	}
	return r, nil
}

var receiptColumns = []string{"package", "answer", "kind", "key", "result", "finding"}

func receiptCSV(b []byte) (receiptFile, error) {
	var r receiptFile
	in := csv.NewReader(bytes.NewReader(b))
	in.FieldsPerRecord = len(receiptColumns)
	head, err := in.Read()
	if err != nil || !slices.Equal(head, receiptColumns) {
		return r, errReceipt
	}
	first, err := in.Read()
	if err != nil || strings.Join(first[2:], "") != "" {
		return r, errReceipt
	}
	r.Package, r.Answer = first[0], first[1]
	for {
		rec, err := in.Read()
		switch {
		case errors.Is(err, io.EOF):
			return r, nil
		case err != nil || rec[0] != "" || rec[1] != "":
			return r, errReceipt
		}
		r.Rows = append(r.Rows, receiptRow{rec[2], rec[3], rec[4], rec[5]})
	}
}

// fill takes over what the words of the file mean.
func (r receiptFile) fill(out *casebook.RegistryAnswer) error {
	out.Package, out.Answer = r.Package, casebook.AnswerState(r.Answer)
	if out.Answer != casebook.AnswerPending && !out.Answer.Final() {
		return errReceipt
	}
	for _, row := range r.Rows {
		if row.Result != "accepted" && row.Result != "refused" {
			return errReceipt
		}
		out.Rows = append(out.Rows, casebook.RowResult{Kind: row.Kind, Key: row.Key, Refused: row.Result == "refused", Finding: row.Finding})
	}
	return nil
}
