package main

import (
	"errors"
	"io"
	"io/fs"
	"os"

	"github.com/spf13/cobra"
)

func (a *app) newCommand() *cobra.Command {
	var f struct {
		cases           int
		technique, site bool
		followup, to    string
	}
	c := &cobra.Command{
		Use:   "new",
		Short: "Print a blank entry to fill in",
		Long: `Prints a blank entry with every field, its example beside it, a fresh random case
identifier and the time at which the note was begun. Fields that are not always
asked for are commented out: take away the # to use one.

On Windows use --to: some shells write redirected text in an encoding that
cannot be read back.`,
		Example: `  graftnote new --to case.yaml
  graftnote new --cases 6 --to monday.yaml
  graftnote new --technique --to technique.yaml
  graftnote new --followup k7mq-2f9x --to visit.yaml`,
		Args: needArgs(0, 0, ""),
		RunE: func(c *cobra.Command, _ []string) error {
			var text string
			var err error
			listed := c.Flags().Changed("cases")
			switch {
			case listed && (f.technique || f.site), f.technique && f.site, f.followup != "" && (listed || f.technique || f.site):
				return usage("--cases, --technique, --site and --followup each ask for another form; give one")
			case listed && (f.cases < 1 || f.cases > maxCases):
				return usage("--cases is a number from 1 to 100")
			case f.followup != "":
				text, err = blankFollowup(f.followup)
			case f.technique:
				text = blankTechnique()
			case f.site:
				text = blankSite("")
			default:
				text, err = blankEntry(f.cases, listed, a.env.now(), a.env.random)
			}
			if err != nil {
				return err
			}
			if f.to == "" {
				_, err = io.WriteString(a.print.out, text)
				return err
			}
			if err := writeNew(f.to, text, 0o600); err != nil {
				return err
			}
			a.print.line("wrote %s", f.to)
			return nil
		},
	}
	c.Flags().IntVar(&f.cases, "cases", 1, "an operating list with this `number` of cases")
	c.Flags().BoolVar(&f.technique, "technique", false, "a standing technique: the surgeon's habits")
	c.Flags().BoolVar(&f.site, "site", false, "site settings")
	c.Flags().StringVar(&f.followup, "followup", "", "a follow-up document for the operation of this `case`")
	c.Flags().StringVar(&f.to, "to", "", "write to a new `file` instead of the terminal")
	return c
}

// maxCases bounds a list that is to be filled in by hand.
const maxCases = 100

// writeNew writes a file that does not exist yet; it never replaces one.
func writeNew(path, text string, mode fs.FileMode) error {
	file, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, mode)
	if errors.Is(err, fs.ErrExist) {
		return &fault{status: statusIO, text: path + " exists already and is left as it is", hints: []string{"choose another name"}}
	}
	if err != nil {
		return unwritten(path, err)
	}
	_, err = file.WriteString(text)
	if err == nil {
		err = file.Sync()
	}
	if closed := file.Close(); err == nil {
		err = closed
	}
	if err != nil {
		_ = os.Remove(path) // half a file is worse than none
		return unwritten(path, err)
	}
	return nil
}
