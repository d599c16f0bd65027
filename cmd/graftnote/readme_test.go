package main

import (
	"bytes"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

// fences are the fenced blocks of a page with their language.
var fences = regexp.MustCompile("(?ms)^```([a-z]+)\n(.*?)^```$")

// The entry in README is whole: pasted as it stands it does what README shows, and
// with the slip that README tells of it says what README shows.
func TestREADMEEntry(t *testing.T) {
	page, err := os.ReadFile("../../README.md")
	if err != nil {
		t.Fatal(err)
	}
	var entry string
	var shown []string
	for _, m := range fences.FindAllStringSubmatch(string(page), -1) {
		switch {
		case m[1] == "yaml" && entry != "":
			t.Fatal("README has a second entry; hold it to what it does too")
		case m[1] == "yaml":
			entry = m[2]
		case m[1] == "text":
			shown = append(shown, m[2])
		}
	}
	if entry == "" || len(shown) != 2 {
		t.Fatalf("README has no entry, or %d outputs instead of two", len(shown))
	}
	technique, err := os.ReadFile("../../testdata/technique.yaml")
	if err != nil {
		t.Fatal(err)
	}
	slip := strings.Replace(entry, "listed: left", "listed: right", 1)
	if slip == entry {
		t.Fatal("the slip cannot be made")
	}
	for n, c := range []struct {
		entry  string
		status int
	}{{entry, statusDone}, {slip, statusBlocked}} {
		t.Chdir(t.TempDir())
		if err := os.MkdirAll("testdata", 0o700); err != nil {
			t.Fatal(err)
		}
		for name, text := range map[string][]byte{"case.yaml": []byte(c.entry), filepath.Join("testdata", "technique.yaml"): technique} {
			if err := os.WriteFile(name, text, 0o600); err != nil {
				t.Fatal(err)
			}
		}
		lines := strings.Split(strings.TrimSpace(shown[n]), "\n")
		command, found := strings.CutPrefix(lines[0], "$ graftnote ")
		if !found {
			t.Fatalf("no command: %s", lines[0])
		}
		var out, errs bytes.Buffer
		if got := run(strings.Fields(command), nil, &out, &errs, testEnvironment()); got != c.status {
			t.Errorf("%s: exit status %d, want %d: %s", lines[0], got, c.status, errs.String())
		}
		for _, l := range lines[1:] {
			if part := strings.TrimSuffix(l, " ..."); !strings.Contains(out.String(), part) {
				t.Errorf("%s does not say %q but:\n%s", lines[0], part, out.String())
			}
		}
		if strings.Contains(shown[n], "...") { // what is cut is marked; what is not is whole
			continue
		}
		if whole := strings.Join(lines[1:], "\n"); whole != strings.TrimSpace(out.String()) {
			t.Errorf("%s says more than is shown:\n%s", lines[0], out.String())
		}
	}
}
