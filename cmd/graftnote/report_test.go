package main

import (
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"unicode/utf8"

	"graftnote/schema"
)

// SARIF 2.1.0 as its text says: levels (3.27.10), ruleIndex leads to the rule of
// ruleId (3.27.6), regions are 1-based and in characters (3.30.2, 3.14.17), every
// rule has name, descriptions and help (3.49).
func TestSARIF(t *testing.T) {
	entry := sampleText(t, "listed: right", "listed: left", "name: Ines Calloway", "name: Ïnes Čalloway", "events: none", "", "sex: female", "sex: fmeale")
	_, stdout, _ := runIn(testEnvironment(), entry, "check", "-", "--format", "sarif")
	var log sarifLog
	if err := json.Unmarshal([]byte(stdout), &log); err != nil {
		t.Fatal(err)
	}
	lines := strings.Split(entry, "\n")
	run := log.Runs[0]
	if len(run.Results) < 3 {
		t.Fatalf("%d results", len(run.Results))
	}
	for _, r := range run.Results {
		rule := run.Tool.Driver.Rules[r.RuleIndex]
		if rule.ID != r.RuleID {
			t.Errorf("ruleIndex leads to %s, not to %s", rule.ID, r.RuleID)
		}
		row, _ := schema.Content().Rule(r.RuleID)
		if want := map[schema.Severity]string{schema.Blocks: "error", schema.Look: "warning", schema.Remark: "note"}[row.Severity]; r.Level != want {
			t.Errorf("%s has level %s, want %s", r.RuleID, r.Level, want)
		}
		for _, l := range append(r.Locations, r.Related...) {
			g := l.Physical.Region
			if g == nil || g.StartLine < 1 || g.StartLine > len(lines) || g.StartColumn < 1 {
				t.Fatalf("%s: region %+v", r.RuleID, g)
			}
			if n := utf8.RuneCountInString(lines[g.StartLine-1]); g.EndColumn > n+1 || g.EndColumn <= g.StartColumn {
				t.Errorf("%s: columns %d to %d of %d", r.RuleID, g.StartColumn, g.EndColumn, n)
			}
		}
	}
	for _, r := range run.Tool.Driver.Rules {
		if r.ID == "" || r.Name == "" || r.Short.Text == "" || r.Full.Text == "" || r.Help.Text == "" || r.Default.Level == "" {
			t.Errorf("rule %q is not described: %+v", r.ID, r)
		}
	}
	if strings.Contains(stdout, "alloway") || strings.Contains(stdout, "fmeale") {
		t.Error("an entered value")
	}
}

// RFC 3986 section 4.2 and 4.3: a relative reference for a relative name, else a
// file URI; a colon in the first segment must not look like a scheme.
func TestFileURI(t *testing.T) {
	for name, want := range map[string]string{
		"case.yaml": "case.yaml", "a b/ü.yaml": "a%20b/%C3%BC.yaml", "/srv/case.yaml": "file:///srv/case.yaml",
		"a:b.yaml": "./a:b.yaml", "standard input": "standard%20input", "50%.yaml": "50%25.yaml",
	} {
		if got := fileURI(name); got != want {
			t.Errorf("%s: %s, want %s", name, got, want)
		}
	}
}

// The generated pages in docs are those that this program writes.
func TestDocsAreCurrent(t *testing.T) {
	dir := t.TempDir()
	if code, _, stderr := runIn(testEnvironment(), "", "docs", dir); code != 0 {
		t.Fatal(stderr)
	}
	for name, text := range contents(t, dir) {
		kept, err := os.ReadFile(filepath.Join("../../docs", name))
		if err != nil {
			t.Fatal(err)
		}
		if string(kept) != text {
			t.Errorf("docs/%s is not current; run go generate ./cmd/graftnote", name)
		}
	}
}

// Every command is in the page of commands and says its exit statuses.
func TestCommandsPage(t *testing.T) {
	page, err := os.ReadFile("../../docs/commands.md")
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []string{"new", "check", "write", "text", "brief", "fields", "rules", "schema", "version", "setup", "man"} {
		if !strings.Contains(string(page), "\n## graftnote "+c+"\n") {
			t.Errorf("docs/commands.md lacks %s", c)
		}
		_, help, _ := runIn(testEnvironment(), "", c, "--help")
		if !strings.Contains(help, exitHelp) {
			t.Errorf("the help of %s lacks the exit statuses", c)
		}
	}
}
