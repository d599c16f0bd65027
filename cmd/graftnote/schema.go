package main

import (
	"github.com/spf13/cobra"

	"graftnote/fhir"
	"graftnote/registry"
	"graftnote/schema"
)

func (a *app) schemaCommand() *cobra.Command {
	made := map[string]func() ([]byte, error){
		"entry":    schema.JSONSchema,
		"followup": schema.FollowupJSONSchema,
		"row":      func() ([]byte, error) { return registry.TableSchema(registry.Options{}) },
		"codes":    fhir.CodeSystem,
	}
	return &cobra.Command{
		Use:   "schema [entry|followup|row|codes]",
		Short: "Print the schema of entries, of rows, or the code system",
		Long: `Prints a description for another program:

  entry     JSON Schema (2020-12) of an entry file, for editors that offer fields and
            codes while you type. It is made from the same rows as the checks and
            cannot say all that they say: 'graftnote check' has the last word.
  followup  the same of a follow-up document
  row       Table Schema of the registry row
  codes     FHIR R4 CodeSystem of the fields and words, for the receiver of bundles`,
		Example: `  graftnote schema > entry.schema.json
  graftnote schema codes > codesystem.json`,
		ValidArgs: []string{"entry", "followup", "row", "codes"},
		Args:      needArgs(0, 1, ""),
		RunE: func(_ *cobra.Command, args []string) error {
			what := "entry"
			if len(args) > 0 {
				what = args[0]
			}
			make, ok := made[what]
			if !ok {
				return usage("there is no schema of this name", "write entry, followup, row or codes")
			}
			b, err := make()
			if err == nil {
				_, err = a.print.out.Write(b)
			}
			return err
		},
	}
}
