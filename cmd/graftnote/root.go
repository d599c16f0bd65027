package main

import (
	"fmt"
	"strings"

	"github.com/spf13/cobra"
)

const firstStep = `graftnote turns an entry for a deep anterior lamellar keratoplasty into a note.
To begin, write a blank entry and fill it in:   graftnote new --to case.yaml
Then look for what is missing:                  graftnote check case.yaml`

func (a *app) rootCommand() *cobra.Command {
	root := &cobra.Command{
		Use:   "graftnote",
		Short: "From a short entry to a checked operative note for lamellar corneal grafts",
		Long: `graftnote reads a short entry for one deep anterior lamellar keratoplasty, finds
what is missing or contradictory, and writes the operative note (PDF), a FHIR R4
bundle and, with consent, a de-identified registry row.`,
		Version:       programVersion(),
		SilenceErrors: true,
		SilenceUsage:  true,
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) == 0 {
				return nil
			}
			cmd.SuggestionsMinimumDistance = 2 // letters
			f := usage("there is no command of this name", "'graftnote help' shows the commands")
			if near := cmd.SuggestionsFor(args[0]); len(near) > 0 {
				f.hints = append([]string{"perhaps 'graftnote " + strings.Join(near, "' or 'graftnote ") + "' is meant"}, f.hints...)
			}
			return f
		},
		RunE: func(*cobra.Command, []string) error {
			a.print.line("%s", firstStep)
			return nil
		},
	}
	cobra.EnableCommandSorting = false
	cobra.MousetrapHelpText = "" // holdWindow keeps a double-clicked window open
	root.AddGroup(&cobra.Group{ID: "day", Title: "Every day:"},
		&cobra.Group{ID: "look", Title: "Looking things up:"}, &cobra.Group{ID: "once", Title: "Once:"})
	add := func(group string, commands ...*cobra.Command) {
		for _, c := range commands {
			c.GroupID = group
			root.AddCommand(c)
		}
	}
	add("day", a.newCommand(), a.checkCommand(), a.writeCommand(), a.textCommand(), a.briefCommand())
	root.AddGroup(&cobra.Group{ID: "sign", Title: "Signing and keeping:"})
	add("sign", a.signCommand(), a.counterSignCommand(), a.correctCommand(), a.addendumCommand(), a.withdrawCommand(),
		a.keysCommand(), a.casebookCommand())
	add("sign", a.verifyCommand(), a.reportCommand())
	add("look", a.seriesCommand())
	add("sign", a.followupCommand(), a.dueCommand(), a.monthCommand(), a.receiptCommand())
	add("look", a.fieldsCommand(), a.rulesCommand(), a.schemaCommand(), a.versionCommand(), a.licencesCommand())
	add("once", a.setupCommand(), a.demoCommand(), a.manCommand())
	root.AddCommand(a.docsCommand())
	root.SetHelpCommandGroupID("look")
	root.SetCompletionCommandGroupID("once")
	root.InitDefaultHelpCmd()
	root.InitDefaultCompletionCmd()
	root.SetFlagErrorFunc(func(cmd *cobra.Command, err error) error {
		return usage(err.Error(), fmt.Sprintf("'%s --help' shows the flags", cmd.CommandPath()))
	})
	eachCommand(root, func(c *cobra.Command) {
		c.Long = strings.TrimSpace(c.Long)
		if c.Long == "" {
			c.Long = c.Short + "."
		}
		c.Long += "\n\n" + exitHelp
	})
	return root
}

// eachCommand visits the tree, parents first.
func eachCommand(c *cobra.Command, visit func(*cobra.Command)) {
	visit(c)
	for _, sub := range c.Commands() {
		eachCommand(sub, visit)
	}
}

// needArgs refuses a wrong number of arguments; most is -1 for no limit.
func needArgs(least, most int, what string) cobra.PositionalArgs {
	return func(cmd *cobra.Command, args []string) error {
		hint := fmt.Sprintf("'%s --help' shows an example", cmd.CommandPath())
		switch {
		case len(args) < least:
			return usage(fmt.Sprintf("%s is asked for", what), hint)
		case most >= 0 && len(args) > most:
			return usage("too many arguments", hint)
		}
		return nil
	}
}
