package main

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/cobra/doc"

	"graftnote/fhir"
	"graftnote/schema"
)

// docsCommand writes the generated pages of the project; go generate runs it.
func (a *app) docsCommand() *cobra.Command {
	return &cobra.Command{
		Use:    "docs DIR",
		Short:  "Write the generated reference pages",
		Hidden: true,
		Args:   needArgs(1, 1, "a folder"),
		RunE: func(c *cobra.Command, args []string) error {
			entry, err := schema.JSONSchema()
			if err != nil {
				return err
			}
			if err := os.MkdirAll(args[0], 0o755); err != nil {
				return unwritten(args[0], err)
			}
			for name, page := range map[string]string{
				"fields.md": fieldsPage(), "rules.md": rulesPage(), "commands.md": commandsPage(c.Root()), "entry.schema.json": string(entry),
				"fhir.md": string(fhir.MappingMarkdown()),
			} {
				path := filepath.Join(args[0], name)
				if err := os.WriteFile(path, []byte(page), 0o644); err != nil {
					return unwritten(path, err)
				}
			}
			return nil
		},
	}
}

func (a *app) manCommand() *cobra.Command {
	return &cobra.Command{
		Use:     "man DIR",
		Short:   "Write the manual pages",
		Long:    `Writes one manual page for each command into a folder, for packagers.`,
		Example: "  graftnote man man1",
		Args:    needArgs(1, 1, "a folder"),
		RunE: func(c *cobra.Command, args []string) error {
			if err := os.MkdirAll(args[0], 0o755); err != nil {
				return unwritten(args[0], err)
			}
			c.Root().DisableAutoGenTag = true
			now := a.env.now()
			head := &doc.GenManHeader{Title: "GRAFTNOTE", Section: "1", Date: &now, Source: "graftnote " + programVersion(), Manual: "graftnote"}
			if err := doc.GenManTree(c.Root(), head, args[0]); err != nil {
				return unwritten(args[0], err)
			}
			return nil
		},
	}
}

const madeBy = "<!-- Written by go generate from the rows of the program. Do not edit. -->\n\n"

// cell escapes what would end a cell of a table.
func cell(s string) string {
	return strings.ReplaceAll(strings.ReplaceAll(s, "|", `\|`), "\n", " ")
}

func fieldsPage() string {
	var b strings.Builder
	b.WriteString(madeBy + "# Fields of an entry\n\nA field is written under its group. One that must be answered and cannot be is\n" +
		"written as `not recorded: <reason>`. *Technique* marks habits that the standing\ntechnique may fill. *Column* is the column of the registry row; a field without one\nnever leaves in it.\n")
	for _, g := range schema.Content().Groups {
		fmt.Fprintf(&b, "\n## %s\n\n", g.Title)
		switch {
		case g.MayBeNone:
			fmt.Fprintf(&b, "`%s` is a list; one item is one %s. The word `none` must be said when there is none.\n\n", g.Key, g.Many)
		case g.Many != "":
			fmt.Fprintf(&b, "`%s` is a list; one item is one %s.\n\n", g.Key, g.Many)
		}
		b.WriteString("| Field | Meaning | Example | Asked for | Usual | Possible | Technique | Column | Source |\n|---|---|---|---|---|---|---|---|---|\n")
		for _, r := range g.Fields {
			habit, column := "", ""
			if r.Habit() {
				habit = "yes"
			}
			if r.Column != "" {
				column = "`" + r.Column + "`"
			}
			meaning := r.Title + "."
			if r.Help != "" {
				meaning += " " + r.Help
			}
			if r.Safety {
				meaning += " " + safetyHelp
			}
			fmt.Fprintf(&b, "| `%s` | %s | `%s` | %s | %s | %s | %s | %s | %s |\n", r.Path(), cell(meaning), cell(r.Example), asked(r),
				span(r.Soft, r), span(r.Hard, r), habit, column, cell(schema.Finding{Source: r.Source}.Citations()))
		}
	}
	b.WriteString("\n# Code lists\n")
	for _, name := range schema.Content().ListNames() {
		fmt.Fprintf(&b, "\n## `%s`\n\n", name)
		for _, c := range schema.Content().Lists[name].Codes {
			fmt.Fprintf(&b, "- `%s`: %s\n", c.Code, c.Words)
		}
	}
	return b.String()
}

// safetyHelp says what a gap in a field of safety takes.
const safetyHelp = "Where it matters 'not recorded' blocks until the signer confirms that it is true."

func rulesPage() string {
	var b strings.Builder
	fmt.Fprintf(&b, madeBy+"# Rules\n\n%s. A rule blocks sign-off, asks to look again, or remarks. What rests on common\npractice or memory says so.\n", count(len(schema.Content().Rules), "rule"))
	names, rules := ruleGroups()
	for _, g := range names {
		fmt.Fprintf(&b, "\n## %s\n", sentenceCase(g))
		for _, r := range rules[g] {
			fmt.Fprintf(&b, "\n### %s\n\n*%s.* %s %s\n", r.Name, sentenceCase(r.Severity.String()), sentence(r.What), sentence(r.Why))
			if r.Fix != "" {
				fmt.Fprintf(&b, "\nFix: %s\n", sentence(r.Remedy()))
			}
			if tests := ruleTests(r); tests != "" {
				fmt.Fprintf(&b, "\nTests: `%s`\n", tests)
			}
			fmt.Fprintf(&b, "\nRests on %s.", ruleBasis[r.Basis])
			if cited := (schema.Finding{Source: r.Source}).Citations(); cited != "" {
				fmt.Fprintf(&b, " Source: %s", sentence(cited))
			}
			b.WriteString("\n")
		}
	}
	return b.String()
}

func commandsPage(root *cobra.Command) string {
	var b strings.Builder
	b.WriteString(madeBy + "# Commands\n\n")
	b.WriteString(strings.TrimSuffix(root.Long, "\n\n"+exitHelp) + "\n\nThe same for every command:\n\n```text\n" + exitHelp + "\n```\n\nA status is never a count. When several apply, the highest is given.\n")
	eachCommand(root, func(c *cobra.Command) {
		if c == root || !c.IsAvailableCommand() || c.Name() == "help" || c.Name() == "completion" || c.Parent().Name() == "completion" {
			return
		}
		fmt.Fprintf(&b, "\n## %s\n\n%s\n\n```text\n%s\n```\n", c.CommandPath(), strings.TrimSuffix(c.Long, "\n\n"+exitHelp), c.UseLine())
		if c.Example != "" {
			fmt.Fprintf(&b, "\n```sh\n%s\n```\n", strings.ReplaceAll("\n"+c.Example, "\n  ", "\n")[1:])
		}
		if flags := c.NonInheritedFlags(); flags.HasAvailableFlags() {
			fmt.Fprintf(&b, "\n```text\n%s```\n", flags.FlagUsages())
		}
	})
	return b.String()
}
