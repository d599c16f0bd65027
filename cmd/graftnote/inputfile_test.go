package main

import (
	"errors"
	"os"
	"path/filepath"
	"regexp"
	"runtime"
	"strings"
	"testing"
)

// opens are the calls that open or read a file without a bound, and the files that
// may use them.
var opens = regexp.MustCompile(`\bos\.(ReadFile|Open|OpenFile|DirFS)\(|\bio\.ReadAll\(|\bioutil\.`)

var mayOpen = map[string]string{
	"cmd/graftnote/inputfile.go":   "the one place where inputs are opened",
	"cmd/graftnote/inputs.go":      "an entry, read through a bound so that a finding says that it is too large",
	"cmd/graftnote/receiptread.go": "an answer, the same",
	"cmd/graftnote/console.go":     "a text from standard input, through a bound",
	"cmd/graftnote/lease.go":       "leases of its own, whose kind is looked at before",
	"cmd/graftnote/disk_unix.go":   "a folder, to flush it",
	"cmd/graftnote/monthwork.go":   "makes new files",
	"cmd/graftnote/new.go":         "makes new files",
	"casebook/tip.go":              "its own small file, read through a bound; links are not followed",
	"casebook/key.go":              "a stream through a bound",
	"casebook/document.go":         "a document of the casebook, unpacked through a bound",
	"casebook/sqlite.go":           "the database, whose kind is looked at before",
	"casebook/network_linux.go":    "the list of mounts that the system makes",
	"pdf/readback.go":              "a stream inside a PDF through a bound",
	"pdf/printed.go":               "the operators of its pages through a bound",
	"cmd/graftnote/gen/main.go":    "a tool of the build",
	"schema/gen/main.go":           "a tool of the build",
}

// Every file that is given to the program is opened by openInput, with a bound.
func TestInputsAreBounded(t *testing.T) {
	root := filepath.Join("..", "..")
	used := map[string]bool{}
	for _, dir := range []string{"cmd", "casebook", "fhir", "note", "pdf", "registry", "schema"} {
		err := filepath.WalkDir(filepath.Join(root, dir), func(path string, d os.DirEntry, err error) error {
			if err != nil || d.IsDir() || filepath.Ext(path) != ".go" || strings.HasSuffix(path, "_test.go") {
				return err
			}
			text, err := os.ReadFile(path)
			if err != nil {
				return err
			}
			rel, err := filepath.Rel(root, path)
			if err != nil {
				return err
			}
			rel = filepath.ToSlash(rel)
			for n, line := range strings.Split(string(text), "\n") {
				if call := opens.FindString(line); call != "" && !strings.HasPrefix(strings.TrimSpace(line), "//") {
					used[rel] = true
					if mayOpen[rel] == "" {
						t.Errorf("%s:%d: %s without a bound: use openInput or readInput", rel, n+1, call)
					}
				}
			}
			return nil
		})
		if err != nil {
			t.Fatal(err)
		}
	}
	for name := range mayOpen {
		if !used[name] {
			t.Errorf("%s opens nothing any more: take it off the list", name)
		}
	}
}

// A file past its bound is refused by its size, before it is read.
func TestInputBound(t *testing.T) {
	path := filepath.Join(t.TempDir(), "large")
	f, err := os.Create(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	if err := f.Truncate(1 << 40); err != nil {
		t.Fatal(err)
	}
	if _, err := readInput(path, maxProfile); !errors.Is(err, errTooLarge) || !strings.Contains(err.Error(), "1 MiB") {
		t.Errorf("%v", err)
	}
	if _, err := readAtMost(strings.NewReader("abc"), 2); !errors.Is(err, errTooLarge) {
		t.Errorf("%v", err)
	}
}

// A bundle of very many empty entries costs no memory: it is none.
func TestManyEmptyEntries(t *testing.T) {
	text := []byte(`{"resourceType":"Bundle","type":"transaction","entry":[` + strings.Repeat("{},", 5<<20) + `{}]}`)
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	_, err := (&verifier{}).file("bundle.json", text)
	runtime.ReadMemStats(&after)
	if !errors.Is(err, errStrange) {
		t.Errorf("%v", err)
	}
	if took := after.TotalAlloc - before.TotalAlloc; took > 1<<20 {
		t.Errorf("%d bytes for a file of %d", took, len(text))
	}
	if manyValues([]byte(`{"a":"[[[[{{{{,,,,\"[["}`)) || !manyValues([]byte(strings.Repeat("[", maxValues+1))) {
		t.Error("values are counted inside of strings, or not outside")
	}
}
