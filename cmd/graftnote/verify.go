package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"slices"

	"github.com/spf13/cobra"

	"graftnote/casebook"
	"graftnote/pdf"
	"graftnote/schema"
)

type verifyFlags struct {
	bookFlags
	against  []string
	trust    []string
	founders string
	format   string
	hinted   bool // see named
}

func (a *app) verifyCommand() *cobra.Command {
	var v verifyFlags
	c := &cobra.Command{
		Use:   "verify [FILE...]",
		Short: "Prove that a note, a bundle, a row or the casebook is unchanged",
		Long: `Takes notes (PDF), bundles, registry rows, checkpoints and proofs in any mix, or,
without a FILE, the whole casebook, and says line by line what holds:

  content      the entry has the digest that was signed
  words        the note as it was shown has the digest that was signed
  signature    the signature belongs to this statement
  inclusion    the statement stands in the log of its checkpoint
  key          the key is registered in the casebook that you name, or is one that
               you name, and was in force
  voucher      on whose word the key stands, up to a founder whom you know
  chain        no revision is missing, moved or from another case
  attachment   the entry inside the PDF is the signed one
  page, file   made again from the signed words it is the same, byte for byte
  standing     the revision is the one in force: not superseded, not withdrawn
  growth       the casebook continues every older checkpoint it is shown

A proof shows that nothing was changed since somebody signed; whose key it was
only the reader can know. Name the casebook (--casebook, ` + casebookVariable + `, or
the site's); one that lies in the current folder is not looked into unless named,
as it may have come with the note. It says who vouched for a signer's key, up to
the founder of the casebook, for whom nobody did. So name the founders whom you
know: a list of the identifiers of their keys, one on each line (--founders, or
` + foundersVariable + `), kept outside the casebook's folder and this one. Or name the
signers' keys themselves with --trust (the .pub files). Without either 'nobody
vouched' is the answer, which is 'not shown', and the exit status is 1.

A page is made again from the words that were signed, and a bundle with the
settings of --site too. What another version drew is 'not shown'; so is a page
whose words were not bound when it was signed. A revision that was superseded or
withdrawn is named as such, and the exit status is 1. Without the casebook nobody
can know whether a revision is still in force: that is 'not shown'. A row holds no
signature: it is compared with the casebook. A draft is not signed. The folder of
a month's package is compared with its manifest and with the casebook's note of
it; a file of a package stands for the whole of it, and what a spreadsheet did to
a table is named. The code system and the description of the rows, which 'write'
puts beside the products, are signed by nobody: they are made again and compared,
and one that differs is no failure.`,
		Example: `  graftnote verify out/a1k7-double-bubble.note.pdf --site lindow --founders ~/founders
  graftnote verify out/*.json out/*.csv --casebook casebook.db --trust voss.key.pub
  graftnote verify --casebook casebook.db --against kept/2026-09.checkpoint`,
		RunE: func(_ *cobra.Command, args []string) error {
			if err := textOrJSON(v.format); err != nil {
				return err
			}
			return a.verify(args, &v)
		},
	}
	v.bookFlags.flags(c, false)
	c.Flags().StringArrayVar(&v.against, "against", nil, "an older checkpoint that you kept: a `file`; may be repeated")
	c.Flags().StringArrayVar(&v.trust, "trust", nil, "public `key` of a surgeon whom you trust; may be repeated")
	c.Flags().StringVar(&v.founders, "founders", "", "list of founders whom you trust, by identifiers of keys: a `file` outside the casebook's folder and this one (or "+foundersVariable+")")
	formatFlag(c, &v.format)
	return c
}

// outcomeWord of one check.
type outcomeWord string

const (
	holds    outcomeWord = "holds"
	fails    outcomeWord = "does not hold"
	notShown outcomeWord = "not shown" // could not be told: never taken for holding
	remark   outcomeWord = "remark"

	// Of a note that is what was signed, and no longer in force.
	superseded outcomeWord = "superseded"
	withdrawn  outcomeWord = "withdrawn"
	unsigned   outcomeWord = "unsigned" // of a file that nobody signs: neither proven nor a fault
)

// proven is one line: what was checked and what came of it.
type proven struct {
	Check   string      `json:"check"`
	Outcome outcomeWord `json:"outcome"`
	What    string      `json:"what"`
}

// verified is one file or casebook with all its lines.
type verified struct {
	File     string   `json:"file"`
	Kind     string   `json:"kind"`
	Case     string   `json:"case,omitempty"`
	Revision int      `json:"revision,omitempty"`
	Lines    []proven `json:"lines"`

	dossier *dossier  // of a note, once its proofs were read
	paper   pdf.Paper // that its page was made on
}

func (v *verified) say(check string, outcome outcomeWord, format string, args ...any) {
	v.Lines = append(v.Lines, proven{check, outcome, fmt.Sprintf(format, args...)})
}

// gravity orders the outcomes: the verdict is the gravest of the lines.
var gravity = []outcomeWord{holds, unsigned, superseded, withdrawn, notShown, fails}

// verdict is the gravest of the lines.
func (v *verified) verdict() outcomeWord {
	worst := 0
	for _, l := range v.Lines {
		worst = max(worst, slices.Index(gravity, l.Outcome))
	}
	return gravity[worst]
}

// verifier is what the checks need besides the file.
type verifier struct {
	app   *app
	given given
	maker *maker
	book  *casebook.Casebook // nil when there is none
	keys  []casebook.PublicKey
	trust
	against []string
	seen    map[string]*verified // notes of this run, by case
	made    remade
}

// errStrange says that a file is of no kind that can be verified.
var errStrange = errors.New("it is no note, bundle, row, checkpoint or proof of graftnote, or too much of it was altered")

func (a *app) verify(args []string, f *verifyFlags) error {
	g, err := f.readSettings(a)
	if err != nil {
		return err
	}
	v, err := a.newVerifier(f, g)
	if err != nil {
		return err
	}
	if v.book != nil {
		defer v.book.Close()
	}
	var all []*verified
	if len(args) == 0 {
		if v.book == nil {
			return usage("a file or a casebook is missing", "name the casebook: --casebook casebook.db; 'graftnote verify --help' shows an example")
		}
		one, err := v.whole(v.place)
		if err != nil {
			return err
		}
		all = append(all, one)
	}
	rest, packages, err := v.months(args)
	if err != nil {
		return err
	}
	all = append(all, packages...)
	for _, path := range filesOf(rest) {
		data, err := readInput(path, maxVerified)
		if err != nil {
			a.fail(unread(path, err))
			continue
		}
		one, bad := v.safely(schema.Visible(filepath.ToSlash(path)), data)
		if bad != nil {
			a.fail(bad)
			continue
		}
		if isUnfinished(path) {
			one.say("folder", notShown, "%s lies beside it: a run was stopped, or still goes, while it replaced the files of this case, and they may not belong together; 'graftnote write' into this folder completes it",
				unfinishedName(filepath.Base(path)))
		}
		all = append(all, one)
	}
	if err := a.reportVerified(all, f.format); err != nil {
		return err
	}
	if len(all) > 0 && worst(all) != holds {
		a.raise(statusBlocked)
	}
	return nil
}

func (a *app) newVerifier(f *verifyFlags, g given) (*verifier, error) {
	v := &verifier{app: a, given: g, seen: map[string]*verified{}}
	var err error
	if v.maker, err = newMaker(a, g, &writeFlags{settings: f.settings}); err != nil {
		return nil, err
	}
	for _, path := range f.against {
		b, err := readInput(path, maxVerified)
		if err != nil {
			return nil, unread(path, err)
		}
		if _, err := casebook.ParseCheckpoint(string(b)); err != nil {
			return nil, &fault{status: statusIO, text: path + " is no checkpoint", hints: []string{"'graftnote casebook checkpoint' prints one"}}
		}
		v.against = append(v.against, string(b))
	}
	for _, path := range f.trust {
		k, err := readPublic(path)
		if err != nil {
			return nil, err
		}
		v.named = append(v.named, k)
	}
	v.keys = slices.Clone(v.named)
	if v.founders, err = f.readFounders(a); err != nil {
		return nil, err
	}
	if f.named(a) {
		err = v.ask(context.Background(), f)
	}
	return v, err
}

// trusted are the keys that the reader named, with what the register says of
// their lives; all registered ones when none was named.
func trusted(named, registered []casebook.PublicKey) []casebook.PublicKey {
	if len(named) == 0 {
		return registered
	}
	out := slices.Clone(named)
	for i, k := range out {
		for _, r := range registered {
			if r.Key == k.Key && r.Name == k.Name && r.Role == k.Role {
				out[i] = r
			}
		}
	}
	return out
}

// spread opens the patterns, which not every shell does.
func spread(args []string) []string {
	var out []string
	for _, arg := range args {
		if found, _ := filepath.Glob(arg); len(found) > 0 {
			out = append(out, found...)
			continue
		}
		out = append(out, arg)
	}
	return out
}

// filesOf gives the files in the order that notes come first: a bundle without a
// PDF inside is compared with the note of its case.
func filesOf(args []string) []string {
	out := slices.Clone(args)
	slices.SortStableFunc(out, func(a, b string) int { return order(a) - order(b) })
	return slices.Compact(out)
}

func order(path string) int {
	if filepath.Ext(path) == ".pdf" {
		return 0
	}
	return 1
}

// safely verifies one file; a panic in it is a fault of this program, never a
// verdict.
func (v *verifier) safely(name string, data []byte) (one *verified, f *fault) {
	f = safely(func() error {
		var err error
		if one, err = v.file(name, data); err != nil {
			return &fault{status: statusIO, text: fmt.Sprintf("cannot verify %s: %s", name, err.Error())}
		}
		return nil
	})
	return one, f
}

// file says of which kind a file is and verifies it.
func (v *verifier) file(name string, data []byte) (*verified, error) {
	out := &verified{File: name}
	text := bytes.TrimLeft(data, " \t\r\n\ufeff")
	if (bytes.HasPrefix(text, []byte("{")) || bytes.HasPrefix(text, []byte("["))) && manyValues(text) {
		return nil, errStrange
	}
	switch {
	case bytes.HasPrefix(data, []byte("%PDF-")):
		out.Kind = "note"
		v.pdf(out, data)
	case bytes.HasPrefix(data, []byte(checkpointStart)):
		out.Kind = "checkpoint"
		v.checkpoint(out, data)
	case bytes.HasPrefix(text, []byte("{")):
		if v.unsigned(out, data) {
			return out, nil
		}
		return out, v.bundle(out, data)
	case bytes.HasPrefix(text, []byte("[")):
		out.Kind = "proof"
		if !v.proofs(out, data) {
			return nil, errStrange
		}
	case isRow(data):
		out.Kind = "registry row"
		v.rows(out, data)
	default:
		return nil, errStrange
	}
	return out, nil
}
