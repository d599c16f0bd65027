package main

import (
	"bufio"
	"fmt"
	"io"
	"strings"

	"graftnote/schema"
)

// All that graftnote says passes through this file. Its rules:
//
//  1. Results go to standard output. Errors, hints and progress go to standard
//     error.
//  2. What was entered is shown on standard output only, to the person who may
//     read it: in the text form of a finding, by 'text' and 'brief', and by the
//     commands that sign or show a note. The form json holds none of it.
//  3. An error is one line "graftnote: error: ...", then "hint: ..." lines. It
//     says what could not be done, never what stands in an entry.
//  4. Every check ends in a verdict, so that silence is never taken for success.
//  5. Colour only on a terminal, and not when NO_COLOR is set (no-color.org). It
//     repeats what the words say and never says more.
//  6. Control characters in names are shown as escapes.

type printer struct {
	out    *sink
	errs   io.Writer
	colour bool
}

func newPrinter(stdout, stderr io.Writer, env environment) *printer {
	return &printer{
		out:    &sink{w: bufio.NewWriterSize(stdout, 1<<16)},
		errs:   stderr,
		colour: env.terminal(stdout) && env.getenv("NO_COLOR") == "",
	}
}

// sink is buffered standard output that remembers its first failure.
type sink struct {
	w   *bufio.Writer
	err error
}

// Write never reports short writes to its callers; close does, once.
func (s *sink) Write(b []byte) (int, error) {
	if s.err == nil {
		_, s.err = s.w.Write(b)
	}
	return len(b), nil
}

// flush shows what was said so far.
func (p *printer) flush() error {
	if err := p.out.w.Flush(); p.out.err == nil {
		p.out.err = err
	}
	return p.out.err
}

func (p *printer) close() error {
	if p.out.err == nil {
		p.out.err = p.out.w.Flush()
	}
	return p.out.err
}

// line prints one line. The format is handed on as it is, so that vet knows line
// for a printf and refuses a text put together in its place: a file name with a
// % in it must print as itself.
func (p *printer) line(format string, args ...any) {
	fmt.Fprintf(p.out, format, args...)
	fmt.Fprintln(p.out)
}

func (p *printer) fault(f *fault) {
	p.out.w.Flush() // what was said before stands before; close reports a failure
	fmt.Fprintf(p.errs, "graftnote: error: %s\n", schema.Visible(f.text))
	for _, h := range f.hints {
		fmt.Fprintf(p.errs, "hint: %s\n", schema.Visible(h))
	}
}

const (
	red    = "\x1b[31m"
	yellow = "\x1b[33m"
	green  = "\x1b[32m"
	bold   = "\x1b[1m"
	plain  = "\x1b[0m"
)

func (p *printer) paint(colour, text string) string {
	if !p.colour {
		return text
	}
	return colour + text + plain
}

// finding prints one finding in its fixed form, with the word of severity
// coloured on a terminal.
func (p *printer) finding(f schema.Finding) {
	text := f.Layout()
	head := fmt.Sprintf("%s:%d:%d: ", f.Pos.File, f.Pos.Line, f.Pos.Col)
	if rest, ok := strings.CutPrefix(text, head+f.Severity.String()); ok {
		colour := map[schema.Severity]string{schema.Blocks: bold + red, schema.Look: yellow, schema.Remark: ""}[f.Severity]
		if colour != "" {
			text = head + p.paint(colour, f.Severity.String()) + rest
		}
	}
	fmt.Fprintln(p.out, text)
}

// count writes "1 case", "2 cases".
func count(n int, noun string) string {
	if n == 1 {
		return "1 " + noun
	}
	return fmt.Sprintf("%d %ss", n, noun)
}

// countAre counts with the verb, for nouns with a plural of their own.
func countAre(n int, one, many string) string {
	if n == 1 {
		return "1 " + one + " is"
	}
	return fmt.Sprintf("%d %s are", n, many)
}

// wrap folds prose to a width in characters; a word longer than the width keeps
// its own line.
func wrap(text string, width int, indent string) string {
	var b strings.Builder
	for i, para := range strings.Split(text, "\n") {
		if i > 0 {
			b.WriteByte('\n')
		}
		at := 0
		for _, word := range strings.Fields(para) {
			n := len([]rune(word))
			switch {
			case at == 0:
				b.WriteString(indent)
				at = len(indent)
			case at+1+n > width:
				b.WriteString("\n" + indent)
				at = len(indent)
			default:
				b.WriteByte(' ')
				at++
			}
			b.WriteString(word)
			at += n
		}
	}
	return b.String()
}

// visibleProse is schema.Visible for text of several lines.
func visibleProse(s string) string {
	lines := strings.Split(s, "\n")
	for i, l := range lines {
		lines[i] = schema.Visible(l)
	}
	return strings.Join(lines, "\n")
}
