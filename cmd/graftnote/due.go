package main

import (
	"context"
	"fmt"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"graftnote/casebook"
	"graftnote/schema"
)

func (a *app) dueCommand() *cobra.Command {
	var b bookFlags
	var at, format string
	c := &cobra.Command{
		Use:   "due",
		Short: "List the grafts whose follow-up is missing",
		Long: `Lists each graft whose follow-up is due and not recorded, or whose window has closed
without a visit. The last line counts, for each time after surgery that a follow-up
is asked for, how many grafts were seen, are due, and were missed. A graft that has
failed, or was replaced, is asked for no more; nor is a patient who died or was lost.

The list names the patient and is for your own terminal. The form json does not:
it holds case identifiers, the follow-up asked for and its state, and no date.`,
		Example: `  graftnote due --site lindow
  graftnote due --at 2027-03-31 --format json`,
		Args: needArgs(0, 0, ""),
		RunE: func(*cobra.Command, []string) error {
			if err := textOrJSON(format); err != nil {
				return err
			}
			day := a.env.now()
			if at != "" {
				d, err := time.Parse(time.DateOnly, at)
				if err != nil {
					return usage("--at is not a day", "write it as 2027-03-31")
				}
				day = d
			}
			return b.withBook(a, casebook.Options{ReadOnly: true}, func(ctx context.Context, book *casebook.Casebook) error {
				return a.due(ctx, book, &b, day, format)
			})
		},
	}
	b.flags(c, false)
	formatFlag(c, &format)
	c.Flags().StringVar(&at, "at", "", "the `day` to look at (default: today)")
	return c
}

// dueLine is one follow-up that is missing.
type dueLine struct {
	Case   string          `json:"case"`
	Months int             `json:"months"`
	State  schema.DueState `json:"state"`
	about  string          // patient and dates, for the terminal
}

// dueCount counts the follow-ups of one window.
type dueCount struct {
	Months int `json:"months"`
	Seen   int `json:"seen"`
	Due    int `json:"due"`
	Missed int `json:"missed"`
}

// due goes through all operations, some at a time.
func (a *app) due(ctx context.Context, book *casebook.Casebook, b *bookFlags, day time.Time, format string) error {
	o := b.sealedOptions(a)
	var lines []dueLine
	counts := map[int]*dueCount{}
	err := eachInForce(ctx, book, a.refused, func(c casebook.InForce) dueFound { return lookDue(c, o, day) }, func(_ casebook.InForce, f dueFound) error {
		lines = append(lines, f.add(counts)...)
		return f.err
	})
	if err != nil {
		return bookFault("the operations", err)
	}
	return a.writeDue(lines, counts, day, format)
}

type dueFound struct {
	id    string
	index schema.Checked
	list  []schema.Due
	err   error
}

func lookDue(c casebook.InForce, o schema.Options, day time.Time) dueFound {
	f := dueFound{id: c.Case}
	var recorded []casebook.FollowUpOf
	if f.index, recorded, f.err = openCase(c, o); f.err != nil {
		return f
	}
	open, err := openFollowUps(recorded, 0, f.index, o)
	f.list, f.err = schema.FollowupDue(f.index, open, day), err
	return f
}

// add counts what was found and gives the lines of what is missing.
func (f dueFound) add(counts map[int]*dueCount) []dueLine {
	var out []dueLine
	for _, d := range f.list {
		n := counts[d.Window.Months]
		if n == nil {
			n = &dueCount{Months: d.Window.Months}
			counts[d.Window.Months] = n
		}
		switch d.State {
		case schema.DueSeen:
			n.Seen++
			continue
		case schema.DueOpen:
			n.Due++
		case schema.DueMissed:
			n.Missed++
		default:
			continue
		}
		e := f.index.Entry()
		about := fmt.Sprintf("%s, patient %s, operated %s, due %s", e.Eye.Operated.Words(), visibleProse(e.Patient.ID.Words()), e.Episode.Date.Text(), d.On)
		out = append(out, dueLine{f.id, d.Window.Months, d.State, about})
	}
	return out
}

func (a *app) writeDue(lines []dueLine, counts map[int]*dueCount, day time.Time, format string) error {
	var totals []dueCount
	for _, w := range schema.Content().FollowupWindows() {
		n := dueCount{Months: w.Months}
		if have := counts[w.Months]; have != nil {
			n = *have
		}
		totals = append(totals, n)
	}
	if format == "json" {
		if lines == nil {
			lines = []dueLine{}
		}
		return a.writeJSON(struct {
			At     string     `json:"at"`
			Due    []dueLine  `json:"due"`
			Counts []dueCount `json:"counts"`
		}{day.Format(time.DateOnly), lines, totals})
	}
	p := a.print
	for _, l := range lines {
		p.line("%-24s %2d months  %-7s  %s", l.Case, l.Months, l.State, l.about)
	}
	if len(lines) > 0 {
		p.line("")
	}
	var words []string
	for _, n := range totals {
		words = append(words, fmt.Sprintf("at %d months %d seen, %d due, %d missed", n.Months, n.Seen, n.Due, n.Missed))
	}
	p.line("On %s: %s.", day.Format(time.DateOnly), strings.Join(words, "; "))
	return nil
}
