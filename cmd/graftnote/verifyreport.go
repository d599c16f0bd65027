package main

import (
	"fmt"
	"slices"
	"strings"
)

type jsonVerify struct {
	Program string          `json:"program"`
	Version string          `json:"version"`
	Verdict outcomeWord     `json:"verdict"`
	Files   []jsonVerifyOne `json:"files"`
}

type jsonVerifyOne struct {
	Verdict outcomeWord `json:"verdict"`
	*verified
}

// worst is the verdict over all; nothing verified is nothing shown.
func worst(all []*verified) outcomeWord {
	gravest, counted := 0, 0
	for _, one := range all {
		if o := one.verdict(); o != unsigned {
			gravest = max(gravest, slices.Index(gravity, o))
			counted++
		}
	}
	if counted == 0 {
		return notShown
	}
	return gravity[gravest]
}

func (a *app) reportVerified(all []*verified, format string) error {
	if format == "json" {
		r := jsonVerify{"graftnote", programVersion(), worst(all), []jsonVerifyOne{}}
		for _, one := range all {
			r.Files = append(r.Files, jsonVerifyOne{one.verdict(), one})
		}
		return a.writeJSON(r)
	}
	counts := map[outcomeWord]int{}
	for _, one := range all {
		counts[one.verdict()]++
		head := one.Kind
		if one.Case != "" {
			head += ", case " + one.Case
		}
		if one.Revision > 0 {
			head += fmt.Sprintf(", revision %d", one.Revision)
		}
		a.print.line("%s: %s", one.File, head)
		for _, l := range one.Lines {
			text := wrap(visibleProse(l.What), textWidth, verifyPad)
			a.print.line("  %s %-13s %s", a.print.paint(l.Outcome.colour(), fmt.Sprintf("%-13s", l.Outcome)), l.Check, strings.TrimPrefix(text, verifyPad))
		}
		a.print.line("  %s\n", a.print.paint(bold+one.verdict().colour(), verdictWords[one.verdict()]))
	}
	if len(all) > 1 {
		also := ""
		if n := counts[unsigned]; n > 0 {
			also = fmt.Sprintf(" %d unsigned, and not counted.", n)
		}
		if n := counts[superseded] + counts[withdrawn]; n > 0 {
			also = fmt.Sprintf(" %d superseded or withdrawn.", n) + also
		}
		a.print.line("%d hold, %d do not hold, %d not shown.%s", counts[holds], counts[fails], counts[notShown], also)
	}
	return nil
}

var verifyPad = strings.Repeat(" ", 30)

// verdictWords end each file, so that silence is never taken for a proof.
var verdictWords = map[outcomeWord]string{
	holds: "It holds.", fails: "It does not hold.", notShown: "Not shown to hold.",
	unsigned: "Nothing to verify.", superseded: "Superseded: a later revision is in force.", withdrawn: "Withdrawn: not to be relied on.",
}

func (o outcomeWord) colour() string {
	switch o {
	case holds:
		return green
	case fails:
		return red
	case notShown, superseded, withdrawn:
		return yellow
	}
	return ""
}
