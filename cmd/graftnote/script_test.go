package main

import (
	"encoding/csv"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"
)

var update = flag.Bool("update", false, "rewrite the expected outputs in the scripts; read them afterwards")

func TestMain(m *testing.M) {
	if os.Getenv(programAsChild) != "" {
		program()
	}
	testscript.Main(m, map[string]func(){"graftnote": program})
}

// Each script shows one behaviour of the real program and begins with its
// reason. A script may use, besides the usual commands:
//
//	exits N COMMAND...   runs a command and holds it to an exit status
//	swap FILE OLD NEW    replaces a text that must be in the file
//	copies N FILE DIR    makes N entries that differ in their identifiers
//	lacks FILE WORD...   fails when the file holds one of the words
//	files DIR            lists a folder on standard output
//	keyfile NAME ROLE F  makes a signing key F under the passphrase in 'pass'
//	agekey FILE          makes an age identity and sets $RECIPIENT
//	truncate FILE        takes the last byte of a file away
//	tamper DB CASE A B   edits the signed entry in the database, with its digest
//	tell, acts, page     see page_test.go
func TestScripts(t *testing.T) {
	shared, err := filepath.Abs("../../testdata")
	if err != nil {
		t.Fatal(err)
	}
	founders := foundersFile(t)
	testscript.Run(t, testscript.Params{
		Dir:                 "testdata/script",
		UpdateScripts:       *update,
		RequireExplicitExec: true,
		RequireUniqueNames:  true,
		Setup: func(e *testscript.Env) error {
			e.Setenv("ENTRIES", filepath.Join(shared, "entries"))
			e.Setenv("SITE", filepath.Join(shared, "site"))
			e.Setenv("SHARED", shared)
			e.Setenv(foundersVariable, founders) // the key of Imara Voss that keyfile makes
			return nil
		},
		Cmds: map[string]func(*testscript.TestScript, bool, []string){
			"exits": exits, "swap": swap, "copies": copies, "lacks": lacks, "files": files,
			"keyfile": keyfile, "agekey": agekey, "truncate": truncate, "tell": tell, "acts": acts, "page": page, "answer": answer, "firstkey": firstKey, "tamper": tamper,
		},
	})
}

func exits(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 2 {
		ts.Fatalf("usage: exits STATUS COMMAND...")
	}
	got := 0
	var failed *exec.ExitError
	if err := ts.Exec(args[1], args[2:]...); errors.As(err, &failed) {
		got = failed.ExitCode()
	} else {
		ts.Check(err)
	}
	if strconv.Itoa(got) != args[0] {
		ts.Fatalf("exit status %d, want %s", got, args[0])
	}
}

func swap(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 3 {
		ts.Fatalf("usage: swap FILE OLD NEW")
	}
	text := ts.ReadFile(args[0])
	if !strings.Contains(text, args[1]) {
		ts.Fatalf("%s does not hold %q", args[0], args[1])
	}
	ts.Check(os.WriteFile(ts.MkAbs(args[0]), []byte(strings.ReplaceAll(text, args[1], args[2])), 0o600))
}

func copies(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 3 {
		ts.Fatalf("usage: copies N FILE DIR")
	}
	n, err := strconv.Atoi(args[0])
	ts.Check(err)
	text := ts.ReadFile(args[1])
	ts.Check(os.MkdirAll(ts.MkAbs(args[2]), 0o700))
	for i := range n {
		ts.Check(os.WriteFile(filepath.Join(ts.MkAbs(args[2]), fmt.Sprintf("%05d.yaml", i)), []byte(copyOf(text, i)), 0o600))
	}
}

// copyOf is the sample 01-double-bubble with identifiers of its own.
func copyOf(text string, i int) string {
	return strings.NewReplacer("a1k7-double-bubble", fmt.Sprintf("copy-%05d", i),
		"FIC-0101", fmt.Sprintf("FIC-9%05d", i), "T-FIC-9001", fmt.Sprintf("T-FIC-%05d", i)).Replace(text)
}

func lacks(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 2 {
		ts.Fatalf("usage: lacks FILE WORD...")
	}
	text := ts.ReadFile(args[0])
	for _, w := range args[1:] {
		if strings.Contains(text, w) {
			ts.Fatalf("%s holds %q", args[0], w)
		}
	}
}

// firstKey names the row key of the first line of a table in $ROW.
func firstKey(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 1 {
		ts.Fatalf("usage: firstkey TABLE")
	}
	rows, err := csv.NewReader(strings.NewReader(ts.ReadFile(args[0]))).ReadAll()
	ts.Check(err)
	ts.Setenv("ROW", rows[1][slices.Index(rows[0], "row_key")])
}

// answer writes a registry's answer to the package of a manifest, and names the
// package in $PACKAGE. With a table of operations it refuses the
// first row, named in $ROW.
func answer(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 3 {
		ts.Fatalf("usage: answer MANIFEST ANSWER FILE [OPERATIONS]")
	}
	var m struct {
		Package string `json:"package"`
	}
	ts.Check(json.Unmarshal([]byte(ts.ReadFile(args[0])), &m))
	ts.Setenv("PACKAGE", m.Package)
	text := "package,answer,kind,key,result,finding\r\n" + m.Package + "," + args[1] + ",,,,\r\n"
	if len(args) > 3 {
		rows, err := csv.NewReader(strings.NewReader(ts.ReadFile(args[3]))).ReadAll()
		ts.Check(err)
		key := rows[1][slices.Index(rows[0], "row_key")]
		ts.Setenv("ROW", key)
		text += ",,operation," + key + ",refused,E7\r\n"
	}
	ts.Check(os.WriteFile(ts.MkAbs(args[2]), []byte(text), 0o600))
}

func files(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 1 {
		ts.Fatalf("usage: files DIR")
	}
	list, err := os.ReadDir(ts.MkAbs(args[0]))
	ts.Check(err)
	for _, f := range list {
		fmt.Fprintln(ts.Stdout(), f.Name())
	}
}
