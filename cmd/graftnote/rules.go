package main

import (
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"graftnote/schema"
)

func (a *app) rulesCommand() *cobra.Command {
	var profiles bool
	c := &cobra.Command{
		Use:   "rules [NAME]",
		Short: "List the rules that entries are checked against, or explain one",
		Long: `Without an argument lists all rules by group. With the name of a rule, which
every finding ends with, it says what is checked, why, what to write and on which
source it rests. --profiles lists the published contents of an operative report
and who asks for them; a site chooses which of these bodies block sign-off.`,
		Example: `  graftnote rules
  graftnote rules eye-not-as-listed
  graftnote rules --profiles`,
		Args: needArgs(0, 1, ""),
		RunE: func(_ *cobra.Command, args []string) error {
			switch {
			case profiles && len(args) > 0:
				return usage("give the name of a rule or --profiles, not both")
			case profiles:
				a.profiles()
				return nil
			case len(args) == 0:
				a.ruleList()
				return nil
			}
			name := strings.ToLower(strings.Trim(strings.TrimSpace(args[0]), "[]"))
			r, ok := schema.Content().Rule(name)
			if !ok {
				return usage("there is no rule of this name", nearRules(name)...)
			}
			a.rulePage(r)
			return nil
		},
	}
	c.Flags().BoolVar(&profiles, "profiles", false, "list the bodies and the contents that they ask for")
	return c
}

// nearRules are the rules that share a word with a name that is none.
func nearRules(name string) []string {
	var found []string
	for _, r := range schema.Content().Rules {
		for _, w := range strings.Split(name, "-") {
			if len(w) > 3 && strings.Contains(r.Name, w) && len(found) < 8 {
				found = append(found, r.Name)
				break
			}
		}
	}
	if len(found) > 0 {
		return []string{"rules that share a word: " + strings.Join(found, ", ")}
	}
	return []string{"'graftnote rules' lists all rules"}
}

// ruleGroups are the groups of rules in the order of the rule files.
func ruleGroups() (names []string, rules map[string][]*schema.Rule) {
	rules = map[string][]*schema.Rule{}
	for _, r := range schema.Content().Rules {
		if !slices.Contains(names, r.Group) {
			names = append(names, r.Group)
		}
		rules[r.Group] = append(rules[r.Group], r)
	}
	return names, rules
}

func (a *app) ruleList() {
	names, rules := ruleGroups()
	for _, g := range names {
		a.print.line("%s", a.print.paint(bold, sentenceCase(g)))
		for _, r := range rules[g] {
			a.print.line("  %-36s %-10s %s", r.Name, r.Severity, r.What)
		}
		a.print.line("")
	}
	a.print.line("%s.", count(len(schema.Content().Rules), "rule"))
}

func sentenceCase(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + strings.ReplaceAll(s[1:], "-", " ")
}

func (a *app) rulePage(r *schema.Rule) {
	p := a.print
	p.line("%s", p.paint(bold, fmt.Sprintf("%s: %s", r.Name, r.Severity)))
	fact := func(label, text string) {
		if text != "" {
			pad := strings.Repeat(" ", 10)
			p.line("%-10s%s", label, strings.TrimPrefix(wrap(text, textWidth, pad), pad))
		}
	}
	fact("what", sentence(r.What))
	fact("why", sentence(r.Why))
	fact("fix", sentence(r.Remedy()))
	fact("tests", ruleTests(r))
	fact("source", schema.Finding{Source: r.Source}.Citations())
	fact("rests on", ruleBasis[r.Basis])
	if r.Number > 0 {
		fact("number", fmt.Sprint(r.Number))
	}
}

// ruleBasis says how far a rule can be trusted.
var ruleBasis = map[string]string{
	"arithmetic":      "arithmetic",
	"cited":           "a published source",
	"common-practice": "common practice, no source",
	"memory":          "memory, unverified",
}

// ruleTests shows the tests of a rule as they stand in its row.
func ruleTests(r *schema.Rule) string {
	if len(r.When) == 0 {
		return ""
	}
	text := strings.Join(r.When, ", and ")
	if r.Each != "" {
		text = "for each item of " + r.Each + ": " + text
	}
	return text
}

func (a *app) profiles() {
	d := schema.Content()
	p := a.print
	p.line("%s", p.paint(bold, "Bodies; a site names those that block in its settings"))
	for _, b := range d.Profiles {
		state := "reminds"
		if b.Blocks {
			state = "blocks"
		}
		p.line("  %-22s %-8s %s (seen: %s)", b.Key, state, b.Title, b.Seen)
	}
	p.line("\n%s", p.paint(bold, "Contents of an operative report"))
	for _, e := range d.Elements {
		p.line("%4d  %s", e.Number, e.Name)
		for _, b := range d.Profiles {
			if how, ok := e.Asks[b.Key]; ok {
				p.line("        %-22s %s", b.Key, how)
			}
		}
		if e.Missed != "" {
			p.line("%s", wrap("missed in "+e.Missed, textWidth, "        "))
		}
	}
}
