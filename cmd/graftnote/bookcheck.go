package main

import (
	"context"

	"github.com/spf13/cobra"

	"graftnote/casebook"
)

func (a *app) bookCheckCommand() *cobra.Command {
	var b bookFlags
	var format string
	var against []string
	c := &cobra.Command{
		Use:   "check",
		Short: "Verify the whole casebook",
		Long: `Verifies every digest, signature, checkpoint, stored hash and chain of revisions,
and that the log continues each older checkpoint it is shown. It names each fault
and repairs nothing. A remark is nothing wrong but worth knowing.

A casebook can be put back to an older copy of itself. Only a checkpoint from
outside (printed on a note, kept by somebody else) shows that for certain: give
it with --against.`,
		Example: `  graftnote casebook check --site lindow
  graftnote casebook check --against september.checkpoint --format json`,
		Args: needArgs(0, 0, ""),
		RunE: func(*cobra.Command, []string) error {
			if err := textOrJSON(format); err != nil {
				return err
			}
			older, err := readCheckpoints(against)
			if err != nil {
				return err
			}
			return b.withBook(a, casebook.Options{ReadOnly: true}, func(ctx context.Context, book *casebook.Casebook) error {
				progress, end := a.progress("checking")
				r, err := book.Check(ctx, progress, older...)
				end()
				if err != nil {
					return bookFault("the casebook could not be checked to the end", err)
				}
				return a.audit(r, format)
			})
		},
	}
	b.flags(c, false)
	formatFlag(c, &format)
	c.Flags().StringSliceVar(&against, "against", nil, "`file` with an older checkpoint; may be given several times")
	return c
}

// progress makes a bar once the whole is known.
func (a *app) progress(what string) (step func(done, total int64), end func()) {
	var shown *bar
	return func(done, total int64) {
			if shown == nil {
				shown = a.newBar(what, int(total))
			}
			shown.reach(done)
		}, func() {
			if shown != nil {
				shown.end()
			}
		}
}

func readCheckpoints(paths []string) ([]string, error) {
	var out []string
	for _, path := range paths {
		b, err := readInput(path, mostTyped)
		if err != nil {
			return nil, unread(path, err)
		}
		if _, err := casebook.ParseCheckpoint(string(b)); err != nil {
			return nil, &fault{status: statusUsage, text: path + " is not a checkpoint of a casebook", hints: []string{"'graftnote casebook checkpoint --to FILE' writes one"}}
		}
		out = append(out, string(b))
	}
	return out, nil
}

// jsonAudit is the report of a check in the form json.
type jsonAudit struct {
	Holds      bool        `json:"holds"`
	Casebook   string      `json:"casebook"`
	Statements int64       `json:"statements"`
	Cases      int64       `json:"cases"`
	Keys       int         `json:"keys"`
	Checkpoint string      `json:"checkpoint"`
	Faults     []jsonFault `json:"faults"`
	More       int         `json:"moreFaults"`
	Remarks    []string    `json:"remarks"`
}

type jsonFault struct {
	Kind      string `json:"kind"`
	Statement *int64 `json:"statement,omitempty"`
	Case      string `json:"case,omitempty"`
	What      string `json:"what"`
}

// audit prints the report of a check and raises the status when something does
// not hold.
func (a *app) audit(r casebook.Report, format string) error {
	if !r.Clean() {
		a.raise(statusBlocked)
	}
	if format == "json" {
		out := jsonAudit{r.Clean(), r.Casebook, r.Statements, r.Cases, r.Keys, r.Checkpoint, []jsonFault{}, r.More, append([]string{}, r.Remarks...)}
		for _, f := range r.Faults {
			j := jsonFault{string(f.Kind), nil, f.Case, f.What}
			if f.Index >= 0 {
				j.Statement = &f.Index
			}
			out.Faults = append(out.Faults, j)
		}
		return a.writeJSON(out)
	}
	p := a.print
	for _, f := range r.Faults {
		p.line("%s %s", p.paint(bold+red, "fault:"), f.Error())
	}
	if r.More > 0 {
		p.line("and %s more.", count(r.More, "fault"))
	}
	for _, remark := range r.Remarks {
		p.line("remark: %s", visibleProse(remark))
	}
	counts := count(int(r.Statements), "statement") + " on " + count(int(r.Cases), "case") + " under " + count(r.Keys, "key")
	if r.Clean() {
		p.line("%s: %s; every digest, signature, checkpoint and chain is as it was signed.", p.paint(bold+green, "The casebook holds"), counts)
		return nil
	}
	p.line("%s: %s; %s. Nothing was repaired.", p.paint(bold+red, "The casebook does not hold"), counts, count(len(r.Faults)+r.More, "fault"))
	a.print.hint("keep this casebook as it is, and restore the last backup to another place to compare")
	return nil
}

func (a *app) bookCheckpointCommand() *cobra.Command {
	var b bookFlags
	var to string
	c := &cobra.Command{
		Use:   "checkpoint",
		Short: "Print the newest signed checkpoint",
		Long: `Prints the newest signed checkpoint: what the casebook holds now, in a few lines
without patient data. Kept by somebody else, or at another place, it shows later
that nothing before it was changed, moved or removed.`,
		Example: "  graftnote casebook checkpoint --to september.checkpoint",
		Args:    needArgs(0, 0, ""),
		RunE: func(*cobra.Command, []string) error {
			return b.withBook(a, casebook.Options{ReadOnly: true}, func(ctx context.Context, book *casebook.Casebook) error {
				text, err := book.Checkpoint(ctx)
				if err != nil {
					return bookFault("the checkpoint cannot be read", err)
				}
				return a.writeFresh(to, text)
			})
		},
	}
	b.flags(c, false)
	c.Flags().StringVar(&to, "to", "", "write to a new `file` instead of the terminal")
	return c
}
