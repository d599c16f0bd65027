package main

import (
	"fmt"
	"runtime"
	"strings"

	"github.com/spf13/cobra"

	"graftnote/schema"
)

func (a *app) checkCommand() *cobra.Command {
	var s settings
	var format string
	var each bool
	c := &cobra.Command{
		Use:   "check ENTRY...",
		Short: "Find what is missing or contradictory",
		Long: `Reads entries and shows every finding of every file in one run, in the order of
the files and lines, then a verdict: whether the entries may be signed.

ENTRY is a file, a folder (all .yaml, .yml and .json files in it) or - for
standard input. A file that names no case and holds habits is checked as a
standing technique. A file holds one case, several, or an operating list.

A finding blocks sign-off, asks to look again, or remarks. One that would block and
is confirmed as true in the entry is named as confirmed. The text form quotes
the lines of the entry and is for you. The forms json and sarif (SARIF 2.1.0)
hold no entered value and may be passed on.`,
		Example: `  graftnote check case.yaml
  graftnote check monday.yaml --technique lindow/technique.yaml --site lindow
  graftnote check entries --format sarif > findings.sarif`,
		Args: needArgs(1, -1, "an entry"),
		RunE: func(_ *cobra.Command, args []string) error {
			report, ok := reports[format]
			if !ok {
				return usage("--format is text, json or sarif")
			}
			if err := s.parse(a); err != nil {
				return err
			}
			return a.check(args, &s, report, each)
		},
	}
	s.flags(c)
	c.Flags().StringVar(&format, "format", "text", "`form` of the findings: text, json or sarif")
	c.Flags().BoolVar(&each, "habits", false, "show each habit of the standing technique: filled, or not and why")
	return c
}

// outcome is everything that a check found.
type outcome struct {
	tally
	findings []schema.Finding
	faults   []*fault
	habits   [][]schema.Habit // of each case
	each     bool             // habits are shown one by one
	// techniques are the files that were checked as a standing technique.
	techniques []string
}

// reports writes an outcome in each form.
var reports = map[string]func(*app, *outcome) error{
	"text":  (*app).reportText,
	"json":  (*app).reportJSON,
	"sarif": (*app).reportSARIF,
}

func (a *app) check(args []string, s *settings, report func(*app, *outcome) error, each bool) error {
	files, faults := gather(args)
	g, err := s.open(a)
	if err != nil {
		return err
	}
	o := &outcome{faults: faults, findings: g.findings, each: each}
	o.add(g.findings)
	o.unread = len(faults)
	goOn := func() bool { return true }
	sv := a.survey(files, g, goOn, func() {}, checkTechniques)
	type found struct {
		cases []schema.Checked
		fault *fault
	}
	inOrder(len(sv.files), runtime.GOMAXPROCS(0), goOn,
		func(i int) (r found) {
			r.fault = safely(func() error {
				cases, err := sv.casesOf(sv.files[i])
				for _, cs := range cases {
					c, err := schema.Check(cs, g.options, sv.batch)
					if err != nil {
						return err
					}
					r.cases = append(r.cases, c)
				}
				return err
			})
			return r
		},
		func(i int, r found) {
			f := sv.files[i]
			if f.fault == nil {
				f.fault = r.fault
			}
			if f.fault != nil {
				o.faults = append(o.faults, f.fault)
				o.unread++
			}
			o.take(f.findings)
			if f.technique {
				o.techniques = append(o.techniques, f.shown)
			}
			for _, c := range r.cases {
				o.cases++
				o.habits = append(o.habits, g.options.Technique.Habits(c.Entry()))
				o.take(c.Findings())
				if c.Complete() {
					o.complete++
				}
			}
		})
	schema.Sort(o.findings)
	if err := report(a, o); err != nil {
		return err
	}
	for _, f := range o.faults {
		a.fail(f)
	}
	if o.blocks > 0 {
		a.raise(statusBlocked)
	}
	return nil
}

func (o *outcome) take(f []schema.Finding) {
	o.findings = append(o.findings, f...)
	o.add(f)
}

func (a *app) reportText(o *outcome) error {
	for _, f := range o.findings {
		a.print.finding(f)
	}
	for _, h := range o.habits {
		a.print.habits(h, o.each)
	}
	for _, name := range o.techniques {
		a.print.line("%s: checked as a standing technique, not as a case.", visibleProse(name))
	}
	if len(o.techniques) > 0 && o.cases == 0 && o.unread == 0 {
		a.print.line("%s, %d to look at again, %s.", countFinding(o.blocks), o.look, count(o.remarks, "remark"))
		return nil
	}
	a.print.verdict(o.tally)
	return nil
}

// verdict is the last line of every run over entries.
func (p *printer) verdict(t tally) {
	counts := fmt.Sprintf("%s, %d to look at again, %s", countFinding(t.blocks), t.look, count(t.remarks, "remark"))
	if t.confirmed > 0 {
		counts += fmt.Sprintf(", %d confirmed as true", t.confirmed)
	}
	var parts []string
	if t.cases > 0 {
		parts = append(parts, fmt.Sprintf("%s, %d complete", count(t.cases, "case"), t.complete))
	} else {
		parts = append(parts, "no case was read")
	}
	parts = append(parts, counts)
	if t.unread > 0 {
		parts = append(parts, count(t.unread, "file")+" not read")
	}
	if t.unwritten > 0 {
		parts = append(parts, count(t.unwritten, "case")+" not written")
	}
	p.line("%s: %s.", p.verdictWord(t), strings.Join(parts, "; "))
}

func (p *printer) verdictWord(t tally) string {
	switch {
	case t.stopped:
		return p.paint(bold+red, "Stopped before the end")
	case t.unwritten > 0:
		return p.paint(bold+red, "Not all could be written")
	case t.mayBeSigned():
		return p.paint(bold+green, "Complete, may be signed")
	case t.blocks == 0 && t.unread > 0:
		return p.paint(bold+red, "Not all could be read")
	case t.complete > 0:
		return p.paint(bold+red, "Not all may be signed")
	}
	return p.paint(bold+red, "May not be signed")
}

func countFinding(n int) string {
	if n == 1 {
		return "1 finding blocks"
	}
	return fmt.Sprintf("%d findings block", n)
}

// habits says what the standing technique filled into one case: how many values
// by default, each with its reason when it is asked for.
func (p *printer) habits(all []schema.Habit, each bool) {
	if len(all) == 0 {
		return
	}
	filled := 0
	for _, h := range all {
		if h.Filled {
			filled++
		}
	}
	hint := ""
	if !each {
		hint = " ('--habits' lists them)"
	}
	p.line("From the standing technique: %s filled, %d not%s.", count(filled, "value"), len(all)-filled, hint)
	if !each {
		return
	}
	for _, h := range all {
		if what := "filled, not yet confirmed"; h.Filled {
			p.line("  %-34s %s", h.Path, what)
		} else {
			p.line("  %-34s not filled: %s", h.Path, h.Why)
		}
	}
}
