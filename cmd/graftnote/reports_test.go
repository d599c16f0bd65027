package main

import (
	"bytes"
	"path/filepath"
	"strings"
	"testing"
)

// One page for each tissue opened, used or not, and none that names the patient;
// half a page for the coder. The pages are counted in the file: a page object has
// /Type /Page (ISO 32000-1 section 7.7.3.3).
func TestReports(t *testing.T) {
	b, ids := wholeLife(t)
	out := filepath.Join(t.TempDir(), "out")
	text := ""
	for _, what := range []string{"tissue", "coder"} {
		code, stdout, stderr := runIn(testEnvironment(), "", append([]string{"report", what, "--casebook", b.path, "--out", out}, ids...)...)
		if code != 0 {
			t.Fatalf("%s %s", stdout, stderr)
		}
		if what == "tissue" {
			text = stdout
		}
	}
	for _, private := range []string{"Calloway", "FIC-0101", "Marchbank", "1983-04", "April 1983"} {
		if strings.Contains(text, private) {
			t.Errorf("the tissue reports name %q", private)
		}
	}
	files := contents(t, out)
	for name, page := range files {
		if n := bytes.Count([]byte(page), []byte("/Type /Page\n")); n != 1 {
			t.Errorf("%s: %d pages", name, n)
		}
	}
	if files["f6w9-conversion.tissue-2.pdf"] == "" || files["f6w9-conversion.coder.pdf"] == "" || len(files) != 2*len(ids)+1 {
		t.Errorf("%d files", len(files))
	}
	code, stdout, _ := runIn(testEnvironment(), "", "report", "tissue", ids[0], "--casebook", b.path, "--with-name")
	if code != 0 || !strings.Contains(stdout, "Ines Calloway") {
		t.Error("the name that was asked for")
	}
	for args, want := range map[string]string{
		"report":        "report wants one of",
		"report tissue": "a signed note is asked for",
		"report coder none-such --casebook " + b.path: "holds no such case",
		"report coder x --paper a5":                   "--paper is a4 or letter",
	} {
		if code, _, stderr := runIn(testEnvironment(), "", strings.Fields(args)...); code == 0 || !strings.Contains(stderr, want) {
			t.Errorf("%s: %d %s", args, code, stderr)
		}
	}
}
