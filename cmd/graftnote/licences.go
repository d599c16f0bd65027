package main

import (
	_ "embed"

	"github.com/spf13/cobra"
)

// thirdParty are the notices that go with every copy of the program: licences such
// as BSD, MIT and Apache ask for them where no source is.
//
//go:embed third-party.txt
var thirdParty string

func (a *app) licencesCommand() *cobra.Command {
	return &cobra.Command{
		Use:   "licences",
		Short: "Print the licences of what the program holds of others",
		Long: `Prints the licences and notices of the software, fonts, codes and terms of others
that this program holds. Pass them on with the program.`,
		Example: `  graftnote licences`,
		Args:    needArgs(0, 0, ""),
		RunE: func(*cobra.Command, []string) error {
			a.print.line("%s", thirdParty)
			return nil
		},
	}
}
