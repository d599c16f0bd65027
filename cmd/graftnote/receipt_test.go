package main

import (
	"context"
	"path/filepath"
	"strings"
	"testing"

	"graftnote/casebook"
)

// submitted is a casebook of a file with one package of two rows.
func submitted(t *testing.T) (dsn string) {
	t.Helper()
	dsn = filepath.Join(t.TempDir(), "casebook.db")
	book, err := casebook.Open(context.Background(), dsn, casebook.Options{Rand: &counter{}})
	if err != nil {
		t.Fatal(err)
	}
	defer book.Close()
	zero := strings.Repeat("0", 64)
	row := func(key string) casebook.SentRow {
		return casebook.SentRow{Kind: "operation", Key: key, Revision: 1, Action: casebook.RowNew, Digest: zero, Case: "case-one"}
	}
	s := casebook.Submission{Package: "p-1", Month: "2026-11", Mode: "safe-harbor", Manifest: zero, At: "2026-12-01T08:00:00Z"}
	if err := book.RecordSubmission(context.Background(), withRows(s, row("r1"), row("r2"))); err == nil {
		t.Fatal("rows of a case that is not here are taken")
	}
	// Without cases in the casebook only rows that are taken back can be sent, and
	// nothing was; the package without rows stands for the others here.
	if err := book.RecordSubmission(context.Background(), s); err != nil {
		t.Fatal(err)
	}
	return dsn
}

func withRows(s casebook.Submission, rows ...casebook.SentRow) casebook.Submission {
	s.Rows = rows
	return s
}

// The two documented forms are read, and nothing else: an unknown column, answer
// or result, a second document, another package. What each answer does to the
// rows is tested with the casebook.
func TestReceiptForms(t *testing.T) {
	const head = "package,answer,kind,key,result,finding\n"
	for name, x := range map[string]struct {
		text   string
		status int
		rows   int
	}{
		"json":                {`{"package":"p-1","answer":"refused"}`, 0, 0},
		"json with rows":      {`{"package":"p-1","answer":"accepted-with-findings","rows":[{"kind":"operation","key":"r1","result":"refused","finding":"E12"}]}`, 0, 1},
		"csv":                 {head + "p-1,accepted,,,,\n", 0, 0},
		"csv with rows":       {head + "p-1,accepted-with-findings,,,,\n,,operation,r1,refused,E12\n,,operation,r2,accepted,\"W3, late\"\n", 0, 2},
		"csv with CR and BOM": {"\ufeff" + strings.ReplaceAll(head+"p-1,pending,,,,\n", "\n", "\r\n"), 0, 0},
		"empty":               {"", statusIO, 0},
		"another column":      {"package,answer\np-1,accepted\n", statusIO, 0},
		"semicolons":          {strings.ReplaceAll(head+"p-1,accepted,,,,\n", ",", ";"), statusIO, 0},
		"unknown answer":      {`{"package":"p-1","answer":"perhaps"}`, statusIO, 0},
		"unknown field":       {`{"package":"p-1","answer":"accepted","note":"x"}`, statusIO, 0},
		"unknown result":      {head + "p-1,accepted,,,,\n,,operation,r1,lost,\n", statusIO, 0},
		"two documents":       {`{"package":"p-1","answer":"accepted"}{}`, statusIO, 0},
		"not UTF-8":           {"{\"package\":\"p-1\",\"answer\":\"accepted\",\"rows\":[{\"kind\":\"operation\",\"key\":\"r1\",\"result\":\"refused\",\"finding\":\"\xff\"}]}", statusIO, 0},
		"of another package":  {`{"package":"p-2","answer":"accepted"}`, statusBlocked, 0},
		"a second head":       {head + "p-1,accepted,,,,\np-2,accepted,,,,\n", statusIO, 0},
	} {
		t.Run(name, func(t *testing.T) {
			path := writeTemp(t, x.text)
			r, err := readReceipt("p-1", path, testNow, "coordinator")
			if x.status == 0 {
				if err != nil || len(r.Rows) != x.rows || r.Package != "p-1" || len(r.File) != 64 {
					t.Errorf("%+v, %v", r, err)
				}
				return
			}
			if err == nil || asFault(err).status != x.status {
				t.Errorf("%+v, %v, want status %d", r, err, x.status)
			}
		})
	}
}

// A final answer stands, the same one again changes nothing, and a package that
// was never recorded has no answer.
func TestReceiptCommand(t *testing.T) {
	dsn := submitted(t)
	give := func(text string, args ...string) (int, string, string) {
		return runIn(testEnvironment(), "", append(append([]string{"receipt"}, args...), writeTemp(t, text), "--casebook", dsn)...)
	}
	for _, x := range []struct {
		pkg, text string
		status    int
		says      string
	}{
		{"p-9", `{"package":"p-9","answer":"accepted"}`, statusBlocked, "no package of this identifier"},
		{"p-1", `{"package":"p-1","answer":"pending"}`, 0, "Nothing of it counts as sent"},
		{"p-1", `{"package":"p-1","answer":"accepted-with-findings","rows":[{"kind":"operation","key":"r7","result":"refused","finding":"E1"}]}`, statusBlocked, "names a row that the package does not hold"},
		{"p-1", `{"package":"p-1","answer":"accepted"}`, 0, "package p-1: accepted; 0 of 0 rows accepted"},
		{"p-1", `{"package":"p-1","answer":"accepted"}`, 0, "package p-1: accepted"},
		{"p-1", `{"package":"p-1","answer":"refused"}`, statusBlocked, "the first final answer stands"},
	} {
		code, stdout, stderr := give(x.text, x.pkg)
		if code != x.status || !strings.Contains(stdout+stderr, x.says) {
			t.Errorf("%s: status %d, %s%s", x.text, code, stdout, stderr)
		}
	}
}

func writeTemp(t *testing.T, text string) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "answer")
	if err := writeNew(path, text, 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}
