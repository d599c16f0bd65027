package main

import (
	"go/parser"
	"go/token"
	"io/fs"
	"path"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// floors is the import diagram of DEVELOPERS.md: what each package may import of
// this module, and why it may import no more.
var floors = map[string]struct {
	may []string
	why string
}{
	"templates":               {nil, "it is text and knows no Go type of ours"},
	"schema/quantity":         {nil, "it knows one value at a time, not the entry"},
	"schema/ident":            {nil, "it knows one number at a time, not the entry"},
	"schema":                  {[]string{"schema/quantity", "schema/ident"}, "it must know nothing of pages, FHIR, CSV or the terminal"},
	"schema/gen":              {nil, "it makes the Go types of schema, before schema can be built"},
	"note":                    {[]string{"schema", "schema/quantity", "schema/ident", "templates"}, "a note knows no fonts, pages or FHIR codes"},
	"registry":                {[]string{"schema", "schema/quantity", "schema/ident"}, "a row must know no names, note text or FHIR"},
	"registry/gen":            {[]string{"registry", "schema"}, "it writes the dictionary page of the row"},
	"casebook":                {[]string{"schema", "schema/quantity", "schema/ident"}, "it keeps and proves entries; it knows no exporter"},
	"registry/disclosure":     {nil, "it counts people in rows that the caller hands it and knows no clinical value"},
	"registry/figures":        {nil, "it computes with plain numbers and knows neither entry nor row"},
	"registry/report":         {[]string{"registry", "registry/figures", "note"}, "a report is made of rows alone, and of note it knows the report type; it knows no pages"},
	"registry/month":          {[]string{"registry", "registry/disclosure", "schema", "schema/quantity", "templates"}, "a package is made of rows and intervals; it knows no casebook, names or pages"},
	"registry/month/scenario": {[]string{"schema", "schema/quantity", "registry", "registry/month"}, "it invents operations for demonstrations and benchmarks"},
	"pdf":                     {[]string{"note"}, "it lays out and decides nothing, so it must not see the entry"},
	"fhir":                    {[]string{"schema", "schema/quantity", "schema/ident", "note"}, "a bundle knows no fonts and pages; siblings do not know about one another"},
	"cmd/graftnote/gen":       {nil, "it gathers the licences of what is linked, before the program is built"},
	"cmd/graftnote":           {[]string{"schema", "note", "pdf", "fhir", "registry", "registry/report", "registry/month", "registry/month/scenario", "casebook"}, "it holds flags, streams and files and reaches values through schema"},
}

// The arrows point down only (habit 1 of the contributor guide).
func TestFloors(t *testing.T) {
	root := filepath.Join("..", "..")
	seen := map[string]bool{}
	err := filepath.WalkDir(root, func(file string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if d.IsDir() {
			if name := d.Name(); file != root && (strings.HasPrefix(name, ".") || name == "testdata" || name == "node_modules") {
				return filepath.SkipDir
			}
			return nil
		}
		if filepath.Ext(file) != ".go" || strings.HasSuffix(file, "_test.go") {
			return nil
		}
		rel, err := filepath.Rel(root, file)
		if err != nil {
			return err
		}
		pkg := path.Dir(filepath.ToSlash(rel))
		floor, known := floors[pkg]
		if !known {
			if !seen[pkg] {
				t.Errorf("package %s is not in the diagram; say what it may import and why", pkg)
			}
			seen[pkg] = true
			return nil
		}
		seen[pkg] = true
		src, err := parser.ParseFile(token.NewFileSet(), file, nil, parser.ImportsOnly)
		if err != nil {
			return err
		}
		for _, i := range src.Imports {
			name, err := strconv.Unquote(i.Path.Value)
			if err != nil {
				return err
			}
			if own, ours := strings.CutPrefix(name, "graftnote/"); ours && !slices.Contains(floor.may, own) {
				t.Errorf("%s imports %s; it must not: %s", rel, own, floor.why)
			}
			if pkg != "cmd/graftnote" && !slices.Contains(storage[pkg], name) && slices.Contains(onlyCmd, name) && !strings.HasSuffix(pkg, "/gen") {
				t.Errorf("%s imports %s; only cmd touches the machine", rel, name)
			}
			if (name == "net" || name == "net/http") && !slices.Contains(storage[pkg], name) {
				t.Errorf("%s imports %s; only a casebook shared by several machines needs a network", rel, name)
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	for pkg := range floors {
		if !seen[pkg] {
			t.Errorf("the diagram names %s, which holds no Go file", pkg)
		}
	}
}

// storage names what the packages that keep files themselves may use for it; the
// scenarios draw from generators seeded by the caller, so the same seed gives the
// same operations.
var storage = map[string][]string{"casebook": {"os", "syscall", "net"}, "registry/month/scenario": {"math/rand/v2"}}

// onlyCmd are the packages through which a program reads or changes the machine.
var onlyCmd = []string{"os", "os/exec", "os/user", "os/signal", "syscall", "log", "log/slog", "crypto/rand", "math/rand", "math/rand/v2",
	"github.com/spf13/cobra", "golang.org/x/term", "github.com/schollz/progressbar/v3"}
