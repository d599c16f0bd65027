package main

import (
	"bytes"
	"errors"
	"io"
	"os"
	"strings"
	"sync/atomic"
	"syscall"
	"testing"
	"time"
)

// testNow is a moment after all samples.
var testNow = time.Date(2026, 11, 25, 12, 0, 0, 0, time.UTC)

// testEnvironment has a fixed clock and fixed random numbers.
func testEnvironment() environment {
	return environment{
		now:      func() time.Time { return testNow },
		random:   &counter{},
		getenv:   func(string) string { return "" },
		terminal: func(io.Writer) bool { return false },
		disk:     systemDisk{},
	}
}

type counter struct{ n byte }

func (c *counter) Read(b []byte) (int, error) {
	for i := range b {
		b[i] = c.n
		c.n++
	}
	return len(b), nil
}

func runIn(env environment, stdin string, args ...string) (code int, stdout, stderr string) {
	var out, errs bytes.Buffer
	code = run(args, strings.NewReader(stdin), &out, &errs, env)
	return code, out.String(), errs.String()
}

const sample = "../../testdata/entries/01-double-bubble.yaml"

func sampleText(t testing.TB, edits ...string) string {
	t.Helper()
	b, err := os.ReadFile(sample)
	if err != nil {
		t.Fatal(err)
	}
	text := string(b)
	for i := 0; i < len(edits); i += 2 {
		if !strings.Contains(text, edits[i]) {
			t.Fatalf("the sample does not hold %q", edits[i])
		}
		text = strings.ReplaceAll(text, edits[i], edits[i+1])
	}
	return text
}

// Colour follows no-color.org: NO_COLOR present and not empty prevents it. The
// words are the same with and without.
func TestColour(t *testing.T) {
	entry := sampleText(t, "events: none", "")
	env := testEnvironment()
	_, bare, _ := runIn(env, entry, "check", "-")
	env.terminal = func(io.Writer) bool { return true }
	_, painted, _ := runIn(env, entry, "check", "-")
	env.getenv = func(name string) string {
		if name == "NO_COLOR" {
			return "1"
		}
		return ""
	}
	_, asked, _ := runIn(env, entry, "check", "-")
	if strings.Contains(bare, "\x1b") || asked != bare {
		t.Error("colour where none is wanted")
	}
	if !strings.Contains(painted, "\x1b") {
		t.Error("no colour on a terminal")
	}
	for _, code := range []string{red, yellow, green, bold, plain} {
		painted = strings.ReplaceAll(painted, code, "")
	}
	if painted != bare {
		t.Errorf("colour changes the words:\n%s\n%s", painted, bare)
	}
}

type brokenWriter struct{}

func (brokenWriter) Write([]byte) (int, error) {
	return 0, &os.PathError{Op: "write", Err: syscall.ENOSPC}
}

// A verdict that could not be written must not end as success: a full disk
// behind "> findings.txt" (POSIX, section 1.4, Output Devices and Files).
func TestStandardOutputFails(t *testing.T) {
	var errs bytes.Buffer
	code := run([]string{"check", sample}, nil, brokenWriter{}, &errs, testEnvironment())
	if code != statusIO || !strings.Contains(errs.String(), "cannot write standard output") {
		t.Errorf("status %d, %s", code, errs.String())
	}
}

// A panic may carry entered text in its message. What is said is its place.
func TestPanicIsValueFree(t *testing.T) {
	env := testEnvironment()
	env.now = func() time.Time { panic("Ines Calloway, FIC-0101") }
	code, stdout, stderr := runIn(env, "", "check", sample)
	if code != statusIO || strings.Contains(stdout+stderr, "Calloway") {
		t.Errorf("status %d, %q, %q", code, stdout, stderr)
	}
	if !strings.Contains(stderr, "run_test.go:") {
		t.Errorf("no place: %q", stderr)
	}
	f := safely(func() error {
		var names []string
		_ = names[len("FIC-0101")]
		return nil
	})
	if f == nil || !strings.Contains(f.text, "run_test.go:") || strings.Contains(f.text, "index") {
		t.Errorf("%+v", f)
	}
}

// What is only once on this machine, the clock and random numbers, is injected:
// the same environment gives the same bytes.
func TestNewIsInjected(t *testing.T) {
	_, one, _ := runIn(testEnvironment(), "", "new")
	_, two, _ := runIn(testEnvironment(), "", "new")
	if one != two || !strings.Contains(one, "case: 0123-4567-89ab") || !strings.Contains(one, `"2026-11-25T12:00+00:00"`) {
		t.Errorf("%.300s", one)
	}
	env := testEnvironment()
	env.random = failingReader{}
	if code, out, _ := runIn(env, "", "new"); code == statusDone || strings.Contains(out, "case:") {
		t.Error("an identifier without random numbers")
	}
}

type failingReader struct{}

func (failingReader) Read([]byte) (int, error) { return 0, errors.New("no random numbers") }

// Results keep their order and all arrive, whatever the number of workers.
func TestInOrder(t *testing.T) {
	for _, workers := range []int{1, 2, 7} {
		var got []int
		inOrder(100, workers, func() bool { return true },
			func(i int) int {
				if i%7 == 0 {
					time.Sleep(time.Microsecond)
				}
				return i * i
			},
			func(i, v int) {
				if v != i*i {
					t.Errorf("result of %d is %d", i, v)
				}
				got = append(got, i)
			})
		for i := range got {
			if got[i] != i {
				t.Fatalf("%d workers: place %d holds %d", workers, i, got[i])
			}
		}
		if len(got) != 100 {
			t.Errorf("%d workers: %d results", workers, len(got))
		}
	}
	var n atomic.Int32
	inOrder(1000, 2, func() bool { return n.Load() < 5 }, func(int) int { return 0 }, func(int, int) { n.Add(1) })
	if n.Load() >= 100 {
		t.Errorf("a stopped run went on to %d", n.Load())
	}
}

// A run that was stopped must not end in the word complete, however well the
// cases before went.
func TestStoppedIsNotComplete(t *testing.T) {
	var out bytes.Buffer
	p := newPrinter(&out, io.Discard, testEnvironment())
	p.verdict(tally{cases: 3, complete: 3, stopped: true})
	if err := p.close(); err != nil || !strings.HasPrefix(out.String(), "Stopped before the end: 3 cases") {
		t.Errorf("%q %v", out.String(), err)
	}
}
