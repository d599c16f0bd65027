// Package quantity turns what a surgeon types into an exact typed value, or
// into a Problem that shows the possible readings. It never guesses: a text
// with two readings is a Problem, not a value.
//
// Every parser trims its input, normalises it to Unicode NFC, reads no-break
// spaces as spaces and the minus sign U+2212 as a hyphen, refuses control and invisible characters and texts longer
// than 200 characters, and never panics. The package reads no clock, locale or
// environment. It imports nothing else of this module.
package quantity

import (
	"strings"
	"unicode"
	"unicode/utf8"

	"golang.org/x/text/unicode/norm"
)

// Problem says why a text is not a value. What, Why and Fix are fit for a log:
// they never carry the entered text. Readings quote it, so they are private
// and belong only on the screen of the person who typed it.
type Problem struct {
	What     string   // what is wrong, a short clause
	Why      string   // why it matters, one sentence
	Fix      string   // what to write instead, one sentence
	Readings []string // what the text could mean; private
}

// Error returns the public half: What, Why and Fix, without the Readings.
func (p *Problem) Error() string {
	parts := make([]string, 0, 3)
	for _, s := range []string{p.What, p.Why, p.Fix} {
		if s != "" {
			parts = append(parts, s)
		}
	}
	return strings.Join(parts, ". ")
}

// problem builds a Problem; readings are optional.
func problem(what, why, fix string, readings ...string) *Problem {
	return &Problem{What: what, Why: why, Fix: fix, Readings: readings}
}

// maxText is the longest text, in characters, that any parser reads. The
// longest real entry here, a running stitch with its material, is under 60.
const maxText = 200

// minusSign is U+2212, which word processors put for a hyphen before a number.
const minusSign = '\u2212'

// clean applies the rules every parser shares and returns the text to parse.
func clean(text string) (string, *Problem) {
	// Four bytes is the longest UTF-8 character, so a longer text is refused
	// before any work is spent on it.
	if len(text) > 4*maxText || utf8.RuneCountInString(text) > maxText {
		return "", problem("the text is too long",
			"no value of this kind needs more than 200 characters", "write only the value and its unit")
	}
	if !utf8.ValidString(text) {
		return "", problem("the text is not valid UTF-8",
			"its characters cannot be told apart for certain", "save the file as UTF-8 and type the value again")
	}
	text = norm.NFC.String(strings.TrimFunc(text, unicode.IsSpace))
	var b strings.Builder
	lastSpace := false
	for _, r := range text {
		if unicode.Is(unicode.Zs, r) {
			if !lastSpace {
				b.WriteByte(' ')
			}
			lastSpace = true
			continue
		}
		// Only what prints: control, format (zero-width, direction marks),
		// private-use and line-separator characters all fail IsPrint.
		if !unicode.IsPrint(r) {
			return "", problem("the text holds a control or invisible character",
				"what is stored must be what is seen", "type the value again by hand")
		}
		lastSpace = false
		if r == minusSign {
			r = '-'
		}
		b.WriteRune(r)
	}
	out := b.String()
	if out == "" {
		return "", problem("nothing is written",
			"an empty text is not a value", "write the value, or the reason why there is none")
	}
	return out, nil
}
