package main

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"sync"

	"github.com/rogpeppe/go-internal/testscript"
)

// A page of the docs that shows real output is written by a script:
//
//	tell TEXT                    a paragraph
//	acts STATUS CUT COMMAND...   runs a command, holds it to its exit status and
//	                             shows it with its output; CUT is 'all', or F+L
//	                             for the first F and the last L lines
//	page FILE                    compares the page with FILE below docs, which
//	                             -update rewrites
var pages sync.Map // work folder to *strings.Builder

func pageOf(ts *testscript.TestScript) *strings.Builder {
	b, _ := pages.LoadOrStore(ts.Getenv("WORK"), &strings.Builder{})
	return b.(*strings.Builder)
}

func tell(ts *testscript.TestScript, neg bool, args []string) {
	text := strings.Join(args, " ")
	if !strings.HasPrefix(text, "<!--") { // a comment keeps its line
		text = wrap(text, textWidth, "")
	}
	fmt.Fprintf(pageOf(ts), "%s\n\n", text)
}

func acts(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 3 {
		ts.Fatalf("usage: acts STATUS CUT COMMAND...")
	}
	status, cut, words := args[0], args[1], args[2:]
	got := 0
	var failed *exec.ExitError
	if err := ts.Exec(words[0], words[1:]...); errors.As(err, &failed) {
		got = failed.ExitCode()
	} else {
		ts.Check(err)
	}
	out := ts.ReadFile("stdout") + ts.ReadFile("stderr")
	if strconv.Itoa(got) != status {
		ts.Fatalf("exit status %d, want %s\n%s", got, status, out)
	}
	for i, w := range words {
		if strings.ContainsAny(w, " ") {
			words[i] = `"` + w + `"`
		}
	}
	b := pageOf(ts)
	fmt.Fprintf(b, "```text\n$ %s\n%s", strings.Join(words, " "), shorten(ts, out, cut))
	if got != 0 {
		fmt.Fprintf(b, "(exit status %d)\n", got)
	}
	b.WriteString("```\n\n")
}

func shorten(ts *testscript.TestScript, out, cut string) string {
	lines := strings.SplitAfter(strings.TrimRight(out, "\n")+"\n", "\n")
	lines = lines[:len(lines)-1]
	if cut == "all" {
		return strings.Join(lines, "")
	}
	head, tail, ok := strings.Cut(cut, "+")
	first, err := strconv.Atoi(head)
	last, err2 := strconv.Atoi(tail)
	if !ok || err != nil || err2 != nil {
		ts.Fatalf("CUT is 'all' or F+L, not %q", cut)
	}
	if first+last >= len(lines) {
		return strings.Join(lines, "")
	}
	return strings.Join(lines[:first], "") + "[...]\n" + strings.Join(lines[len(lines)-last:], "")
}

func page(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 1 {
		ts.Fatalf("usage: page FILE")
	}
	path := filepath.Join(ts.Getenv("SHARED"), "..", "docs", args[0])
	text := strings.TrimRight(pageOf(ts).String(), "\n") + "\n"
	if *update {
		ts.Check(os.WriteFile(path, []byte(text), 0o644))
		return
	}
	have, err := os.ReadFile(path)
	ts.Check(err)
	if !bytes.Equal(bytes.ReplaceAll(have, []byte("\r\n"), []byte("\n")), []byte(text)) {
		ts.Fatalf("docs/%s is not what the program prints now; run go test ./cmd/graftnote -run Scripts/life -update and read it", args[0])
	}
}
