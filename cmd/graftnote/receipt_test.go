package main

import (
	"context"
	"path/filepath"
	"slices"
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

// The two documented forms are read, and nothing else: what is wrong is named by
// its line, with what to write instead, and without a word of the registry. What
// each answer does to the rows is tested with the casebook.
func TestReceiptForms(t *testing.T) {
	const head = "package,answer,kind,key,result,finding\n"
	const ok = head + "p-1,accepted-with-findings,,,,\n"
	for name, x := range map[string]struct {
		text   string
		status int
		rows   int
		says   string // behind the name of the file
		fix    string
	}{
		"json":                {`{"package":"p-1","answer":"refused"}`, 0, 0, "", ""},
		"json with rows":      {`{"package":"p-1","answer":"accepted-with-findings","rows":[{"kind":"operation","key":"r1","result":"refused","finding":"E12"}]}`, 0, 1, "", ""},
		"csv":                 {head + "p-1,accepted,,,,\n", 0, 0, "", ""},
		"csv with rows":       {ok + ",,operation,r1,refused,E12\n,,operation,r2,accepted,\"W3, late\"\n", 0, 2, "", ""},
		"csv with CR and BOM": {"\ufeff" + strings.ReplaceAll(head+"p-1,pending,,,,\n", "\n", "\r\n"), 0, 0, "", ""},

		"empty":               {"", statusIO, 0, ":1: the file is empty", ""},
		"workbook":            {"PK\x03\x04zq", statusIO, 0, ":1: the file is a spreadsheet's workbook", "save it as CSV"},
		"columns left out":    {"package,answer\np-1,accepted\n", statusIO, 0, ":1: no column is called kind, key, result, finding", "the first line is to be package,answer,kind,key,result,finding"},
		"another column":      {strings.Replace(ok, "result", "zq", 1), statusIO, 0, ":1: no column is called result; the name in place 5 is none of an answer", ""},
		"a column more":       {"package,answer,kind,key,result,finding,zq\n", statusIO, 0, ":1: the name in place 7 is none", ""},
		"columns moved":       {"answer,package,kind,key,result,finding\n", statusIO, 0, ":1: the columns stand in another order", ""},
		"semicolons":          {strings.ReplaceAll(head+"p-1,accepted,,,,\n", ",", ";"), statusIO, 0, ":1: the cells are separated by semicolons", "the first line is to be package,answer"},
		"tabs":                {strings.ReplaceAll(head+"p-1,accepted,,,,\n", ",", "\t"), statusIO, 0, ":1: the cells are separated by tabs", ""},
		"semicolons below":    {ok + ";;operation;r1;refused;zq\n", statusIO, 0, ":3: the line has 1 cell and should have 6", "with commas between them"},
		"head alone":          {head, statusIO, 0, ":2: the line with package and answer is missing", "PACKAGE,accepted,,,,"},
		"no package":          {head + ",accepted,,,,\n", statusIO, 0, ":2: the package is not named", ""},
		"unknown answer":      {head + "p-1,zq,,,,\n", statusIO, 0, ":2: the answer is not one of the four words", "refused, pending, accepted or accepted-with-findings"},
		"unknown result":      {ok + ",,operation,r1,accepted,\n,,operation,r2,zq,\n", statusIO, 0, ":4: the result of the row is neither", "write accepted or refused"},
		"many unknown":        {ok + ",,operation,r1,zq,\n,,operation,r2,zq,\n,,operation,r3,zq,\n", statusIO, 0, ":3: the result of the row is neither of the two words, and so in 2 more lines", ""},
		"unknown kind":        {ok + ",,zq,r1,accepted,\n", statusIO, 0, ":3: the kind of the row", "write operation or followup"},
		"no key":              {ok + ",,operation,,accepted,\n", statusIO, 0, ":3: the key of the row is missing", ""},
		"row on line 2":       {head + "p-1,accepted,operation,r1,accepted,\n", statusIO, 0, ":2: the first line below", "begin the rows on the next line"},
		"a second head":       {ok + "p-2,accepted,,,,\n", statusIO, 0, ":3: a line that names a row repeats package or answer", "leave its first two cells empty"},
		"empty cells":         {ok + ",,,,,\n", statusIO, 0, ":3: the line has empty cells only", "delete it"},
		"open quotation mark": {ok + ",,operation,r1,refused,zq\"zq\n", statusIO, 0, ":3: a quotation mark", "write each one inside it twice"},
		"long finding":        {ok + "\n,,operation,r1,refused,\"zq\n" + strings.Repeat("zq", 260) + "\"\n", statusIO, 0, ":4: the finding is longer than 500 bytes", ""},
		"hidden character":    {ok + ",,operation,r1,refused,zq\u202e\n", statusIO, 0, ":3: the finding holds a character that cannot be seen", ""},
		"not UTF-8":           {ok + ",,operation,r1,refused,zq\xff\n", statusIO, 0, ":3: the line is not UTF-8", "save the file as UTF-8"},
		"refused in accepted": {head + "p-1,accepted,,,,\n,,operation,r1,refused,zq\n", statusBlocked, 0, ":3: a row is refused, and the answer to the package is accepted", "write accepted-with-findings"},
		"answered twice":      {ok + ",,operation,r1,accepted,\n,,operation,r1,refused,zq\n", statusBlocked, 0, ":4: the row was answered before: accepted on line 3, refused here", "one result"},
		"one row many times":  {ok + strings.Repeat(",,operation,r1,accepted,\n", 1000), statusBlocked, 0, ":4: the row was answered before: accepted on line 3, accepted here, and so in 998 more lines", "one result"},

		"json: answered twice": {"{\"package\":\"p-1\",\"answer\":\"accepted-with-findings\",\"rows\":[\n{\"kind\":\"operation\",\"key\":\"r1\",\"result\":\"accepted\"},\n{\"kind\":\"operation\",\"key\":\"r1\",\"result\":\"refused\"}]}", statusBlocked, 0, ":3: the row was answered before: accepted on line 2, refused here", "one result"},
		"json: answer":         {"{\"package\":\"p-1\",\n\"answer\":\"zq\"}", statusIO, 0, ":2: the answer is not one of the four words", "refused, pending"},
		"json: result":         {"{\"package\":\"p-1\",\"answer\":\"accepted-with-findings\",\"rows\":[\n{\"kind\":\"operation\",\"key\":\"r1\",\"result\":\"accepted\"},\n{\"kind\":\"operation\",\"key\":\"r2\",\n\"result\":\"zq\"}]}", statusIO, 0, ":3: the result of the row is neither", "accepted or refused"},
		"json: member":         {"{\"package\":\"p-1\",\"answer\":\"accepted\",\n\"zq\":[\"zq\"]}", statusIO, 0, ":2: the answer has a member that is not read", "write only package, answer, rows"},
		"json: row's member":   {"{\"package\":\"p-1\",\"answer\":\"accepted\",\"rows\":[\n{\"kind\":\"operation\",\"key\":\"r1\",\"result\":\"accepted\",\"zq\":1}]}", statusIO, 0, ":2: a row has a member that is not read", "write only kind, key, result, finding"},
		"json: no text":        {"{\"package\":\"p-1\",\n\"answer\":7}", statusIO, 0, ":2: answer is no text", `"answer": "..."`},
		"json: rows no list":   {"{\"package\":\"p-1\",\"answer\":\"accepted\",\n\"rows\":\"zq\"}", statusIO, 0, ":2: rows does not begin with [", ""},
		"json: twice":          {"{\"package\":\"p-1\",\"answer\":\"accepted\",\n\"answer\":\"refused\"}", statusIO, 0, ":2: answer stands twice", ""},
		"json: missing":        {`{"package":"p-1"}`, statusIO, 0, ":1: answer is missing", `write "answer": "..." in it`},
		"json: cut off":        {"{\"package\":\"p-1\",\n\"answer\":\"accepted\",\n", statusIO, 0, ":2: from here on it is not JSON, or ends too early", ""},
		"json: comma":          {"{\"package\":\"p-1\",\n\"answer\":\"accepted\" \"rows\":[]}", statusIO, 0, ":2: from here on it is not JSON", ""},
		"json: two documents":  {"{\"package\":\"p-1\",\"answer\":\"accepted\"}\n{}", statusIO, 0, ":2: something stands behind the answer", ""},
		"json: other package":  {`{"package":"p-2","answer":"accepted"}`, statusBlocked, 0, ":1: it answers another package", "manifest.json"},
		"json: a list of rows": {`{"package":"p-1","answer":"accepted","rows":["zq"]}`, statusIO, 0, ":1: a row does not begin with {", ""},
	} {
		t.Run(name, func(t *testing.T) {
			path := writeTemp(t, x.text)
			_, r, faults := readReceipt("p-1", path, testNow, "coordinator")
			if x.status == 0 {
				if len(faults) > 0 || len(r.Rows) != x.rows || r.Package != "p-1" || len(r.File) != 64 {
					t.Errorf("%+v, %v", r, faults)
				}
				return
			}
			if len(faults) != 1 {
				t.Fatalf("%d faults, want one: %v", len(faults), faults)
			}
			f := faults[0]
			hints := strings.Join(f.hints, "\n")
			if f.status != x.status || !strings.HasPrefix(f.text, path+x.says) || !strings.Contains(hints, x.fix) || !strings.Contains(hints, "nothing was recorded") {
				t.Errorf("status %d, %s\n%s", f.status, f.text, hints)
			}
			if strings.Contains(strings.TrimPrefix(f.text, path)+hints, "zq") {
				t.Errorf("a word of the file is repeated: %s\n%s", f.text, hints)
			}
		})
	}
}

// All faults of an answer are named in one run, up to a screenful.
func TestReceiptSaysAll(t *testing.T) {
	text := "package,answer,kind,key,result,finding\np-1,zq,,,,\n,,zq,r1,accepted,\n,,operation,,zq,\n"
	_, _, faults := readReceipt("p-1", writeTemp(t, text), testNow, "")
	if len(faults) != 4 || len(faults[0].hints) != 1 || len(faults[3].hints) != 2 {
		t.Errorf("%v", faults)
	}
	text = "package,answer,kind,key,result,finding\np-1,accepted,,,,\n"
	for n := range 25 {
		text += strings.Repeat(",", n+6) + "x\n"
	}
	_, _, faults = readReceipt("p-1", writeTemp(t, text), testNow, "")
	if len(faults) != maxReceiptFaults || !strings.Contains(strings.Join(faults[maxReceiptFaults-1].hints, "\n"), "5 more faults not shown") {
		t.Errorf("%d faults: %v", len(faults), faults[len(faults)-1].hints)
	}
}

// A row that the package does not hold is named by its line and kind, and by its
// key only where it has the form of one.
func TestReceiptRows(t *testing.T) {
	const key, visit, other = "rabcdefghijklmnopqrstuvwxyz", "vabcdefghijklmnopqrstuvwxyz", "r22222222222222222222222222"
	row := func(pkg, kind, key string) casebook.SubmittedRow {
		return casebook.SubmittedRow{SentRow: casebook.SentRow{Kind: kind, Key: key}, Package: pkg}
	}
	sent := []casebook.SubmittedRow{row("p-1", "operation", key), row("p-1", "followup", visit), row("p-2", "operation", other)}
	r := receiptFile{path: "answer", Package: "p-1", Rows: []receiptRow{
		{"operation", key, "accepted", "", 3}, {"operation", visit, "accepted", "", 4}, {"operation", other, "refused", "zq", 5},
		{"followup", strings.ToUpper(visit), "refused", "zq", 6}, {"operation", "zq Calloway", "refused", "zq", 7},
	}}
	r.compare(sent)
	var got []string
	for _, f := range r.said() {
		got = append(got, f.text+" | "+f.hints[0])
	}
	want := []string{
		"answer:4: the key is that of another kind of row: followup | write followup",
		"answer:5: the package does not hold the operation row " + other + " | check that the answer is to this package; a row that was not sent has no answer",
		"answer:6: the key is written with capitals or blanks | write it in small letters, as it stands in the package",
		"answer:7: the package does not hold this operation row: what stands there has not the form of a key | write the key as it stands in the package: r or v, and 26 small letters and digits",
	}
	if !slices.Equal(got, want) {
		t.Errorf("%s", strings.Join(got, "\n"))
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
		{"p-1", `{"package":"p-1","answer":"accepted-with-findings","rows":[{"kind":"operation","key":"r7","result":"refused","finding":"E1"}]}`, statusBlocked, ":1: the package does not hold this operation row"},
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
