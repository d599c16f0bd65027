package main

import (
	"context"
	"fmt"

	"github.com/spf13/cobra"

	"graftnote/casebook"
)

func (a *app) keysListCommand() *cobra.Command {
	var b bookFlags
	var format string
	c := &cobra.Command{
		Use:   "list",
		Short: "List the keys of the casebook",
		Long: `Lists every key that was ever registered: its identifier, its person, its role,
who vouched for it, and whether it is in force. A key that nobody vouched for signs
nothing, unless it is the founder.`,
		Example: "  graftnote keys list --site lindow",
		Args:    needArgs(0, 0, ""),
		RunE: func(*cobra.Command, []string) error {
			if err := textOrJSON(format); err != nil {
				return err
			}
			return b.withBook(a, casebook.Options{ReadOnly: true}, func(ctx context.Context, book *casebook.Casebook) error {
				keys, err := book.Keys(ctx)
				if err != nil {
					return bookFault("the keys cannot be listed", err)
				}
				if format == "json" {
					if keys == nil {
						keys = []casebook.PublicKey{}
					}
					return a.writeJSON(keys)
				}
				for _, k := range keys {
					a.print.key(k)
					a.print.line("  since  %s, %s", k.ValidFrom, a.print.vouched(k))
					if k.Revoked != 0 {
						a.print.line("  %s %s by %s%s", a.print.paint(bold+red, "revoked"), k.RevokedAt, k.RevokedBy, notTrusted(k))
						a.print.line("%s", wrap(visibleProse(k.Reason), textWidth-9, "         "))
					}
					a.print.line("")
				}
				a.print.line("%s.", count(len(keys), "key"))
				return nil
			})
		},
	}
	b.flags(c, false)
	formatFlag(c, &format)
	return c
}

// vouched says on whose word a key stands.
func (p *printer) vouched(k casebook.PublicKey) string {
	switch {
	case k.Founder && k.Added == 0:
		return "the founder: nobody vouched"
	case k.Founder && k.Revoked == 0:
		return "another founder: nobody vouched: " + visibleProse(k.Reason)
	case k.Founder:
		return "another founder: nobody vouched"
	case !k.Stands():
		return p.paint(bold+yellow, "nobody has vouched yet") + ": it signs nothing"
	case k.Vouched == k.Added:
		return "vouched for by " + k.VouchedBy
	}
	return "vouched for by " + k.VouchedBy + " on " + k.VouchedAt
}

func notTrusted(k casebook.PublicKey) string {
	if k.Since == "" {
		return ""
	}
	return fmt.Sprintf("; not to be trusted since %s", k.Since)
}

// textOrJSON refuses any other form before anything is opened.
func textOrJSON(format string) error {
	if format != "text" && format != "json" {
		return usage("--format is text or json")
	}
	return nil
}

func formatFlag(c *cobra.Command, format *string) {
	c.Flags().StringVar(format, "format", "text", "`form` of the output: text or json")
}
