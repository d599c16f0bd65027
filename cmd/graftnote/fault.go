package main

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"strings"
)

// The exit statuses. They are never a count. When several apply the highest is
// given.
const (
	statusDone    = 0 // done and complete
	statusBlocked = 1 // findings that block sign-off, a refusal to sign, a proof that fails
	statusUsage   = 2 // wrong use: nothing was read or written
	statusIO      = 3 // something could not be read or written
)

// exitHelp stands in the help of every command.
const exitHelp = `Exit status:
  0  done and complete
  1  done, and at least one finding blocks sign-off, or something was not signed
     or does not hold
  2  wrong use of the command line; nothing was done
  3  something could not be read or written`

// fault is an error as the user sees it. The text never carries what stands in
// an entry; file names are the user's own words and are shown.
type fault struct {
	status int
	text   string
	hints  []string
}

// Error is the text without the hints.
func (f *fault) Error() string { return f.text }

func usage(text string, hints ...string) *fault {
	return &fault{status: statusUsage, text: text, hints: hints}
}

func unread(name string, err error) *fault {
	f := &fault{status: statusIO, text: fmt.Sprintf("cannot read %s: %s", name, cause(err))}
	var other noFile
	switch {
	case errors.As(err, &other) && other.kind == aPipe:
		f.hints = []string{"entries, texts and reasons are read from a pipe with - as standard input, a passphrase with --passphrase-fd"}
	case errors.Is(err, fs.ErrNotExist):
		f.hints = []string{"check the name and the folder"}
	case errors.Is(err, fs.ErrPermission):
		f.hints = []string{"ask for the right to read this file"}
	}
	return f
}

func unwritten(name string, err error) *fault {
	f := &fault{status: statusIO, text: fmt.Sprintf("cannot write %s: %s", name, cause(err))}
	switch {
	case errors.Is(err, fs.ErrPermission):
		f.hints = []string{"choose a folder that you may write to, or close the program that holds the file"}
	case isDiskFull(err):
		f.hints = []string{"free some space and run the command again"}
	}
	return f
}

// asFault gives an error that did not come from this package, such as a wrong
// flag, the status of wrong use.
func asFault(err error) *fault {
	var f *fault
	if errors.As(err, &f) {
		return f
	}
	return usage(err.Error(), "'graftnote help' shows the commands")
}

// cause is what the system said, without the path that it repeats.
func cause(err error) string {
	var p *fs.PathError
	var l *os.LinkError
	var s *os.SyscallError
	switch {
	case errors.As(err, &p):
		return p.Err.Error()
	case errors.As(err, &l):
		return l.Err.Error()
	case errors.As(err, &s):
		return s.Err.Error()
	}
	return err.Error()
}

// internalFault is all that is said about a panic: where, never what.
func internalFault(place string) *fault {
	return &fault{status: statusIO, text: "a fault inside graftnote at " + place,
		hints: []string{"please report this place; it holds nothing of the entry"}}
}

// panicPlace names the line that panicked. It works inside a deferred function
// only, and gives no argument, because arguments may be entered values.
func panicPlace() string {
	pc := make([]uintptr, 64)
	frames := runtime.CallersFrames(pc[:runtime.Callers(1, pc)])
	panicking := false
	for {
		f, more := frames.Next()
		switch {
		case f.Function == "runtime.gopanic":
			panicking = true
		case panicking && !strings.HasPrefix(f.Function, "runtime."):
			return fmt.Sprintf("%s:%d", filepath.Base(f.File), f.Line)
		}
		if !more {
			return "an unknown place"
		}
	}
}
