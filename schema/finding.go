package schema

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"unicode"
)

// Severity of a finding.
type Severity int

// The severities of a rule row, the gravest first, and what a confirmed state becomes.
const (
	Blocks    Severity = iota // blocks sign-off
	Look                      // look again: correct it or give a reason
	Remark                    // for information
	Confirmed                 // would block, and is confirmed as true in the entry
)

// String is the word printed.
func (s Severity) String() string {
	return [...]string{"blocks", "look again", "remark", "confirmed"}[s]
}

// UnmarshalText reads the word of a rule row.
func (s *Severity) UnmarshalText(text []byte) error {
	switch string(text) {
	case "blocks":
		*s = Blocks
	case "look":
		*s = Look
	case "remark":
		*s = Remark
	default:
		return fmt.Errorf("severity %q is none of blocks, look, remark", text)
	}
	return nil
}

// Finding is one thing missing or contradictory. The public half may go to a
// log or a support mail: it never carries an entered value. The private half
// may be shown only to the person who wrote the entry.
type Finding struct {
	Rule     string
	Severity Severity
	Case     string // the case identifier, "" when it has none
	Path     string // field, or group when the field is absent
	Pos      Pos
	What     string
	Why      string
	Fix      string
	Source   []string // keys of sources.yaml
	AskedBy  []string // bodies that ask for a missing element
	State    string   // of the list true-state, when what blocks can be true; else ""
	Related  []Related

	// Private half.
	Readings []string // what the text may have meant; quotes the entry
	Excerpt  string   // the original line
	Detail   string   // a computed value, e.g. "67 % of the ring"
}

// Related is another place that the finding rests on.
type Related struct {
	Path string
	Pos  Pos
}

// Citations are the sources as the reader sees them.
func (f Finding) Citations() string {
	var out []string
	for _, k := range f.Source {
		if c, ok := Content().Sources[k]; ok {
			out = append(out, c.Text)
		}
	}
	return strings.Join(out, "; ")
}

// Public is the finding without its private half.
func (f Finding) Public() Finding {
	f.Readings, f.Excerpt, f.Detail = nil, "", ""
	return f
}

// Sort puts findings in reading order: file, line, column, rule.
func Sort(f []Finding) {
	slices.SortStableFunc(f, func(a, b Finding) int {
		return cmp.Or(cmp.Compare(a.Pos.File, b.Pos.File), cmp.Compare(a.Pos.Line, b.Pos.Line),
			cmp.Compare(a.Pos.Col, b.Pos.Col), cmp.Compare(a.Rule, b.Rule), cmp.Compare(a.Path, b.Path))
	})
}

// Count the findings of each severity; confirmed states are none of them.
func Count(f []Finding) (blocks, look, remarks int) {
	for _, x := range f {
		switch x.Severity {
		case Blocks:
			blocks++
		case Look:
			look++
		case Remark:
			remarks++
		}
	}
	return
}

// Layout writes the finding in the one fixed form, the private half included:
// place and rule, what, the original line with a marker, then the remedy, the
// reason and the source.
func (f Finding) Layout() string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s:%d:%d: %s: %s [%s]\n", f.Pos.File, f.Pos.Line, f.Pos.Col, f.Severity, f.What, f.Rule)
	if f.Excerpt != "" {
		width := max(1, f.Pos.EndCol-f.Pos.Col)
		line, before := clip(f.Excerpt, f.Pos.Col-1)
		fmt.Fprintf(&b, "  %5d | %s\n        | %s%s\n", f.Pos.Line, Visible(line), pad(line, before), strings.Repeat("^", min(width, 60)))
	}
	line := func(label, text string) {
		if text != "" {
			fmt.Fprintf(&b, "  %-7s %s\n", label+":", text)
		}
	}
	line("detail", Visible(f.Detail))
	line("could be", Visible(strings.Join(f.Readings, " | ")))
	line("fix", f.Fix)
	line("why", f.Why)
	line("asked by", strings.Join(f.AskedBy, "; "))
	for _, r := range f.Related {
		if r.Pos.Known() {
			line("see", fmt.Sprintf("%s at %s:%d:%d", r.Path, r.Pos.File, r.Pos.Line, r.Pos.Col))
		}
	}
	line("source", f.Citations())
	return b.String()
}

// The part of a long line that is quoted, in characters: what stands before the
// place and what follows it.
const (
	shownBefore = 40
	shownAfter  = 60
)

// clip cuts a long line around the place that is meant. Dots stand for what was
// cut; before counts the characters in front of the place.
func clip(line string, before int) (string, int) {
	const dots = "… "
	r := []rune(line)
	before = min(max(before, 0), len(r))
	end := ""
	if to := before + shownAfter; to+len(dots) < len(r) {
		r, end = r[:to], " …"
	}
	if from := before - shownBefore; from > len(dots) {
		return dots + string(r[from:]) + end, before - from + len([]rune(dots))
	}
	return string(r) + end, before
}

// pad keeps the marker under the text when control characters are escaped.
func pad(line string, n int) string {
	r := []rune(line)
	n = min(max(n, 0), len(r))
	return strings.Repeat(" ", len([]rune(Visible(string(r[:n])))))
}

// Visible escapes what could move a cursor or turn text around: control
// characters, bidirectional overrides and invisible spaces.
func Visible(s string) string {
	var b strings.Builder
	for _, r := range s {
		if unsafeRune(r) {
			fmt.Fprintf(&b, "\\u{%04X}", r)
		} else {
			b.WriteRune(r)
		}
	}
	return b.String()
}

// unsafeRune: what is not seen, moves the cursor, breaks the line or turns the
// text around, and the sign that stands for a broken character.
func unsafeRune(r rune) bool {
	return r == unicode.ReplacementChar || unicode.In(r, unicode.Cc, unicode.Cf, unicode.Zl, unicode.Zp,
		unicode.Other_Default_Ignorable_Code_Point)
}
