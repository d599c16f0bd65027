package main

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/spf13/cobra"

	"graftnote/schema"
)

// canary is a word that no file of the project holds.
const canary = "zqcanary"

// everywhere plants a numbered canary in every field of the entry, as the value
// of each field. Codes, numbers and dates are then refused, and a refusal is
// where a value leaks most easily.
func everywhere() string {
	var b strings.Builder
	n := 0
	for _, g := range schema.Content().Groups {
		if g.Key != "" {
			fmt.Fprintf(&b, "%s:\n", g.Key)
		}
		for i, r := range g.Fields {
			lead := ""
			switch {
			case g.Many != "" && i == 0:
				lead = "  - "
			case g.Many != "":
				lead = "    "
			case g.Key != "":
				lead = "  "
			}
			if r.Path() == "case" { // random by design, and in every finding and file name
				b.WriteString("case: k7mq-2f9x\n")
				continue
			}
			fmt.Fprintf(&b, "%s%s: %q\n", lead, r.Key, fmt.Sprintf("%s%03d", canary, n))
			n++
		}
	}
	return b.String()
}

// leaky are entries that hold canaries where they have no business to come out.
func leaky(t *testing.T) map[string]string {
	numbers := strings.NewReplacer(canary, "9"+canary)
	return map[string]string{
		"every field":      everywhere(),
		"every number":     numbers.Replace(everywhere()),
		"unknown fields":   "case: k7mq-2f9x\n" + canary + ": 1\npatient: {" + canary + ": x, id: " + canary + "}\n" + canary + "2: {a: b}\n",
		"doubled keys":     "patient: {name: " + canary + ", name: " + canary + "2}\npatient: {" + canary + ": 1, " + canary + ": 2}\n",
		"broken":           "patient: {name: " + canary + "\n  id: " + canary + "\n: [" + canary,
		"colon in value":   "patient:\n  name: " + canary + ": " + canary + "\n",
		"anchor and alias": "patient: &" + canary + " {name: x}\neye: *" + canary + "\nend: *" + canary + "x\n",
		"tag":              "patient: !!" + canary + " {name: x}\n",
		"wrong shapes":     "patient: " + canary + "\neye: [" + canary + "]\nteam: {name: {" + canary + ": {" + canary + ": x}}}\nevents: " + canary + "\n",
		"not recorded":     "patient: {id: 'not recorded: " + canary + "', born: 'not recorded: " + canary + "'}\nevents: 'not recorded: " + canary + "'\n",
		"control":          "patient: {name: \"" + canary + "\\e[2J\", id: \"" + canary + "\\u202e\"}\n",
		"script":           "patient: {name: " + canary + " 甲乙, id: " + canary + "}\n",
		"complete": sampleText(t, "Ines Calloway", canary+" One", "FIC-0101", canary+"-id", "Lindow Eye Unit", canary+" site", "Lindow Tissue Bank", canary+" bank",
			"T-FIC-9001", canary+"-tissue", "Imara Voss", canary+" surgeon", "all surgical steps", canary+" did", "cold storage medium", canary+" medium",
			"dexamethasone 4 mg", canary+" drug", "events: none", "events: none\nstory: "+canary+" story"),
		"blocked": sampleText(t, "Ines Calloway", canary+" One", "FIC-0101", canary+"-id", "case: a1k7-double-bubble", "case: "+canary+" "+canary, "7.75 mm", "775 "+canary),
		"list":    "list: {episode: {site: " + canary + ", " + canary + ": x}, " + canary + ": y}\ncases: " + canary + "\n" + canary + ": z\n",
	}
}

// No entered value in what may be passed on: the JSON and SARIF forms, standard
// error, file names, the row and its description (OWASP Logging Cheat Sheet: data
// to exclude; from memory, unverified).
func TestCanaries(t *testing.T) {
	for name, entry := range leaky(t) {
		t.Run(name, func(t *testing.T) {
			clean := func(where, text string) {
				t.Helper()
				if i := strings.Index(strings.ToLower(text), canary); i >= 0 {
					t.Errorf("%s: ...%s", where, text[max(0, i-120):min(len(text), i+60)])
				}
			}
			if !strings.Contains(entry, canary) {
				t.Fatal("no canary is planted")
			}
			dir := t.TempDir()
			file, out := filepath.Join(dir, "case.yaml"), filepath.Join(dir, "out")
			if err := os.WriteFile(file, []byte(entry), 0o600); err != nil {
				t.Fatal(err)
			}
			env := testEnvironment()
			for _, form := range []string{"json", "sarif"} {
				_, stdout, stderr := runIn(env, "", "check", file, "--format", form)
				clean(form, stdout)
				clean("standard error of "+form, stderr)
				if stdout == "" {
					t.Errorf("%s is empty", form)
				}
			}
			_, text, stderr := runIn(env, "", "check", file)
			clean("standard error of text", stderr)
			if text == "" {
				t.Error("no text")
			}
			for _, command := range [][]string{{"text", file}, {"brief", file}, {"write", file, "--out", out, "--site", "../../testdata/site", "--digests"}, {"check", file, "--technique", file, "--format", "json"}} {
				_, stdout, stderr := runIn(env, "", command...)
				clean("standard error of "+command[0], stderr)
				if command[0] == "check" {
					clean("findings on a technique", stdout)
				}
			}
			list, err := os.ReadDir(out)
			if err != nil {
				t.Fatal(err)
			}
			for _, f := range list {
				clean("file name", f.Name())
				if strings.HasSuffix(f.Name(), ".csv") || f.Name() == rowSchemaName {
					b, err := os.ReadFile(filepath.Join(out, f.Name()))
					if err != nil {
						t.Fatal(err)
					}
					clean(f.Name(), string(b))
				}
			}
			if name == "complete" && len(list) < 3 {
				t.Errorf("the complete entry gave only %d files", len(list))
			}
		})
	}
}

// noPatient are flags that are named like a private field and hold no patient
// data, with what they hold.
var noPatient = map[string]string{"new name": "the printed name of a signer"}

// No flag takes patient data, because arguments are seen by every user of the
// machine and kept in the shell's history (CWE-214).
func TestNoFlagTakesPatientData(t *testing.T) {
	a := &app{env: testEnvironment()}
	a.print = newPrinter(&strings.Builder{}, &strings.Builder{}, a.env)
	flags := ""
	eachCommand(a.rootCommand(), func(c *cobra.Command) {
		usages := c.Flags().FlagUsages()
		flags += usages
		for _, g := range schema.Content().Groups {
			for _, r := range g.Fields {
				if r.Private && strings.Contains(usages, "--"+r.Key+" ") && noPatient[c.Name()+" "+r.Key] == "" && r.Key != "site" {
					t.Errorf("a flag of %s is named like the private field %s", c.CommandPath(), r.Path())
				}
			}
		}
	})
	if !strings.Contains(flags, "--site") {
		t.Error("no flags were read")
	}
}
