package main

import (
	"bufio"
	"errors"
	"io"
	"strings"
	"time"

	"graftnote/schema"
)

// talks reports whether a person can be asked.
func (a *app) talks() bool { return a.env.console != nil && a.env.console(a.stdin) }

// typed is standard input line by line.
func (a *app) typed() *bufio.Reader {
	if a.lines == nil {
		a.lines = bufio.NewReader(a.stdin)
	}
	return a.lines
}

// ask puts a question on standard error and reads one line. The question holds
// nothing that was entered.
func (a *app) ask(question string) (string, error) {
	a.print.prompt(question)
	var b strings.Builder
	for {
		part, err := a.typed().ReadSlice('\n')
		b.Write(part)
		switch {
		case b.Len() > mostTyped:
			return "", &fault{status: statusUsage, text: "the answer is too long; nothing was signed"}
		case err == nil:
			return strings.TrimSpace(b.String()), nil
		case errors.Is(err, io.EOF) && b.Len() > 0:
			return strings.TrimSpace(b.String()), nil
		case errors.Is(err, io.EOF):
			return "", &fault{status: statusBlocked, text: "no answer was given; nothing more was signed"}
		case !errors.Is(err, bufio.ErrBufferFull):
			return "", unread("the answer", err)
		}
	}
}

// askText reads several lines up to one that holds a dot alone.
func (a *app) askText(question string) (string, error) {
	var lines []string
	size := 0
	line, err := a.ask(question + " (end with a line that holds only a dot)\n")
	for ; err == nil && line != "."; line, err = a.ask("") {
		if size += len(line); size > mostTyped {
			return "", &fault{status: statusUsage, text: "the text is too long; nothing was signed"}
		}
		lines = append(lines, line)
	}
	return strings.TrimSpace(strings.Join(lines, "\n")), err
}

// wording is a text that goes into the record: given as a flag, in a file, on
// standard input, or asked for. A flag is seen by other users of the machine.
type wording struct {
	flag string // the text itself
	file string // - for standard input
	what string // for messages
	need bool
}

func (w wording) read(a *app) (string, error) {
	switch {
	case w.flag != "" && w.file != "":
		return "", usage(w.what + " is given twice; give it once")
	case w.flag != "":
		return strings.TrimSpace(w.flag), nil
	case w.file != "":
		var from io.Reader = a.stdin
		if w.file != "-" {
			f, err := openInput(w.file, anySize)
			if err != nil {
				return "", unread(w.file, err)
			}
			defer f.Close()
			from = f
		}
		b, err := io.ReadAll(io.LimitReader(from, mostTyped+1))
		switch {
		case err != nil:
			return "", unread(w.file, err)
		case len(b) > mostTyped:
			return "", usage(w.what + " is longer than 64 KiB")
		}
		text := strings.TrimSpace(strings.ReplaceAll(strings.TrimPrefix(string(b), "\ufeff"), "\r\n", "\n"))
		if text == "" {
			return "", usage(w.what + " is empty")
		}
		return text, nil
	case !w.need:
		return "", nil
	case !a.talks():
		return "", usage(w.what+" is asked for", "give it in a file where nobody is at a terminal")
	}
	text, err := a.askText(strings.ToUpper(w.what[:1]) + w.what[1:] + ":")
	if err == nil && text == "" {
		err = usage(w.what + " is empty; nothing was signed")
	}
	return text, err
}

// momentFlag reads a time given as a flag; the zero time when it is empty.
func momentFlag(name, text string) (time.Time, error) {
	if text == "" {
		return time.Time{}, nil
	}
	t, err := time.Parse(time.RFC3339, text)
	if err != nil {
		return t, usage(name+" is not a time in the form of RFC 3339", "write it as 2026-09-08T18:30:00+01:00")
	}
	return t, nil
}

// prompt shows a question at once.
func (p *printer) prompt(text string) {
	p.out.w.Flush() // what was shown before stands before; close reports a failure
	_, _ = io.WriteString(p.errs, text)
}

// hint is advice that comes without an error.
func (p *printer) hint(text string) {
	p.prompt("hint: " + schema.Visible(text) + "\n")
}
