package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"graftnote/casebook"
)

// The copy of a casebook that was not closed, such as evidence after a crash, where
// nothing may be written: it says what it is and what to do, and does not speak of
// storing. Copied to a place that may be written to, it is read.
func TestUnclosedCopy(t *testing.T) {
	b := newBook(t)
	b.sign(sampleText(t), "Imara Voss")
	dir := filepath.Join(t.TempDir(), "copy")
	if err := os.Mkdir(dir, 0o700); err != nil {
		t.Fatal(err)
	}
	for _, end := range []string{"", "-wal"} {
		data, err := os.ReadFile(b.path + end)
		if err != nil || len(data) == 0 {
			t.Fatalf("%v, %d bytes", err, len(data))
		}
		if err := os.WriteFile(filepath.Join(dir, "casebook.db"+end), data, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	for _, command := range []string{"list", "check"} {
		code, stdout, stderr := asNobody(t, dir, []string{"casebook", command, "--casebook", filepath.Join(dir, "casebook.db")})
		if code != statusIO || !strings.Contains(stderr, "was not closed") || !strings.Contains(stderr, "-wal together") || strings.Contains(stderr, "stored") {
			t.Errorf("%s: %d %s %s", command, code, stdout, stderr)
		}
	}
	if out, err := child(t, dir, nil, "casebook", "check").CombinedOutput(); err != nil {
		t.Errorf("%v %s", err, out)
	}
}

// Two runs that make a package at once: the second is told so, in words that say what
// to do.
func TestTwoMonthsAtOnce(t *testing.T) {
	for _, err := range []error{casebook.ErrPackage, casebook.ErrNotAccepted} {
		f := asFault(meanwhile("the map of row keys", err))
		if f.status != statusBlocked || !strings.Contains(f.text, "another run made a package") || len(f.hints) != 1 {
			t.Errorf("%+v", f)
		}
	}
	if f := asFault(meanwhile("the map of row keys", casebook.ErrFull)); !strings.Contains(f.text, "disk is full") {
		t.Errorf("%+v", f)
	}
}
