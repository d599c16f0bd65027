// Command graftnote turns a short entry for one deep anterior lamellar
// keratoplasty into a checked operative note, a FHIR bundle and a
// de-identified registry row.
//
// This package holds flags, exit statuses, streams and file names, and nothing
// clinical. It is the only one that reads the clock, random numbers and the
// environment, writes to the terminal and touches files; all other packages get
// what they need as arguments.
package main

import (
	"bufio"
	"crypto/rand"
	"io"
	"os"
	"runtime/debug"
	"time"

	"golang.org/x/term"
)

//go:generate go generate ../../schema ../../registry
//go:generate go run ./gen third-party.txt
//go:generate go run . docs ../../docs

// environment is everything that run takes from the machine.
type environment struct {
	now      func() time.Time
	random   io.Reader
	getenv   func(string) string
	terminal func(io.Writer) bool // whether the stream is shown to a person
	disk     disk
	console  func(io.Reader) bool            // whether a person types into the stream; nil: never
	secret   func(io.Reader) ([]byte, error) // reads a line without showing it
}

// gcPercent lets the heap grow further between collections. A run over many
// entries makes short-lived garbage and keeps almost nothing, so this buys speed
// for a few dozen megabytes. GOGC in the environment has the last word.
const gcPercent = 400

// memoryLimit ends that generosity where it would be felt: near it, in bytes,
// garbage is collected sooner. It never fails a run. GOMEMLIMIT has the last word.
const memoryLimit = 400 << 20

func main() {
	if os.Getenv("GOGC") == "" {
		debug.SetGCPercent(gcPercent)
	}
	if os.Getenv("GOMEMLIMIT") == "" {
		debug.SetMemoryLimit(memoryLimit)
	}
	code := run(os.Args[1:], os.Stdin, os.Stdout, os.Stderr, machine())
	holdWindow()
	os.Exit(code)
}

// machine is the environment of the real program.
func machine() environment {
	return environment{
		now:      time.Now,
		random:   rand.Reader,
		getenv:   os.Getenv,
		terminal: isTerminal,
		disk:     systemDisk{},
		console:  isConsole,
		secret:   readSecret,
	}
}

func isTerminal(w io.Writer) bool {
	f, ok := w.(*os.File)
	return ok && term.IsTerminal(int(f.Fd()))
}

// run is the whole program: it returns the exit status. A panic anywhere below
// ends in a fixed sentence, because its text may hold what was entered.
func run(args []string, stdin io.Reader, stdout, stderr io.Writer, env environment) (code int) {
	a := &app{env: env, stdin: stdin}
	a.print = newPrinter(stdout, stderr, env)
	defer func() {
		if r := recover(); r != nil {
			a.print.fault(internalFault(panicPlace()))
			code = statusIO
		}
	}()
	root := a.rootCommand()
	root.SetArgs(args)
	root.SetIn(stdin)
	root.SetOut(a.print.out)
	root.SetErr(a.print.errs)
	if err := root.Execute(); err != nil {
		a.fail(asFault(err))
	}
	if err := a.print.close(); err != nil {
		a.fail(&fault{status: statusIO, text: "cannot write standard output: " + cause(err)})
	}
	return a.status
}

// app is one run.
type app struct {
	env    environment
	stdin  io.Reader
	print  *printer
	status int
	lines  *bufio.Reader   // standard input while questions are asked
	named  map[string]bool // cases of the casebook that were refused by name
}

// fail prints an error and keeps the gravest status.
func (a *app) fail(f *fault) {
	a.print.fault(f)
	a.raise(f.status)
}

func (a *app) raise(status int) { a.status = max(a.status, status) }
