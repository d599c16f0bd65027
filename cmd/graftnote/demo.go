package main

import (
	"fmt"
	"time"

	"github.com/spf13/cobra"

	"graftnote/registry/month/scenario"
)

// maxDemo keeps a slip of the keyboard from filling a disk.
const maxDemo = 1_000_000

func (a *app) demoCommand() *cobra.Command {
	var n int
	var seed uint64
	var out, place, from, until string
	c := &cobra.Command{
		Use:   "demo --out DIR | --casebook FILE",
		Short: "Make invented entries, for a demonstration or for measuring",
		Long: `Writes entries of an invented eye unit into a folder: people, numbers and figures
are drawn from a seed, and the same seed gives the same entries. Each is complete
and may be signed with a key of your own making. Nothing in them is real.

With --casebook they are signed into a new casebook by an invented surgeon, and
the visits after surgery are recorded as follow-ups by an invented optometrist, to
try out 'month', 'due' and 'casebook'. Their keys are kept nowhere.`,
		Example: "  graftnote demo --operations 60 --out demo\n  graftnote check demo\n  graftnote demo --operations 400 --casebook demo.db\n  graftnote month 2026-10 --casebook demo.db --out demo-month",
		Args:    needArgs(0, 0, "no argument"),
		RunE: func(*cobra.Command, []string) error {
			p := scenario.Plan{Seed: seed}
			var err error
			if p.From, err = time.Parse("2006-01-02", from); err != nil {
				return usage("--from is no date such as 2026-01-01")
			}
			if p.Until, err = time.Parse("2006-01-02", until); err != nil {
				return usage("--until is no date such as 2026-12-31")
			}
			switch {
			case (out == "") == (place == ""):
				return usage("either --out or --casebook is asked for", "name a folder: graftnote demo --out demo")
			case n < 1 || n > maxDemo:
				return usage(fmt.Sprintf("--operations is a number from 1 to %d", maxDemo))
			case !p.Until.After(p.From):
				return usage("--until must be later than --from")
			}
			if place != "" {
				return a.demoBook(place, p, n)
			}
			dir, err := openFolder(a.env.disk, out, a.env.now())
			if err != nil {
				return unwritten(out, err)
			}
			defer dir.close()
			for i := range n {
				if err := dir.replace([]product{{p.Name(i), p.Entry(i)}}, nil); err != nil {
					return unwritten(out, err)
				}
			}
			if err := dir.settle(); err != nil {
				return unwritten(out, err)
			}
			a.print.line("%s in %s.", countAre(n, "invented entry", "invented entries"), out)
			return nil
		},
	}
	f := c.Flags()
	f.IntVar(&n, "operations", 20, "how many entries, a `number`")
	f.Uint64Var(&seed, "seed", 1, "`number` that the entries are drawn from")
	f.StringVar(&from, "from", "2026-01-01", "first `day` of surgery")
	f.StringVar(&until, "until", "2026-10-31", "last `day` of surgery or follow-up")
	f.StringVar(&out, "out", "", "`folder` for the entries; it is made when missing")
	f.StringVar(&place, "casebook", "", "new `file` for a casebook of signed operations and follow-ups")
	return c
}
