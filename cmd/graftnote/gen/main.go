// Command gen gathers the licences of all that a graftnote binary holds, on each
// platform that it is built for, into the file that the binary carries.
//
//	go run ./gen third-party.txt
package main

import (
	"bytes"
	_ "embed"
	"fmt"
	"log"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
)

//go:embed data.txt
var data string

var platforms = []string{"linux", "darwin", "windows"}

// texts are the names of files that a licence asks to be passed on.
var texts = regexp.MustCompile(`(?i)^(licen[cs]e|copying|notice|patents|unlicense)([.-].*)?$`)

// more are such files at other places. The FreeType licence is the one chosen of two.
var more = map[string][]string{"github.com/golang/freetype": {"licenses/ftl.txt"}}

const line = "--------------------------------------------------------------------------------\n"

func main() {
	log.SetFlags(0)
	if len(os.Args) != 2 {
		log.Fatal("usage: gen FILE")
	}
	text, err := gather()
	if err != nil {
		log.Fatal(err)
	}
	if err := os.WriteFile(os.Args[1], text, 0o644); err != nil { // #nosec G306 -- a page for everybody
		log.Fatal(err)
	}
}

type part struct{ name, dir string }

func gather() ([]byte, error) {
	parts, err := modules()
	if err != nil {
		return nil, err
	}
	var b bytes.Buffer
	b.WriteString("Made by 'go generate ./...'; do not edit.\n\nTHIRD-PARTY NOTICES OF GRAFTNOTE\n\nA graftnote binary holds the software below, and fonts, codes and terms of others.\n\n")
	for _, p := range parts {
		fmt.Fprintf(&b, "* %s\n", p.name)
	}
	b.WriteString("* the Go standard library and runtime\n\nThe fonts in the PDF are Liberation Sans, under the SIL Open Font Licence 1.1 that stands\nbelow with the modules go-fonts/liberation.\n\n" + line + data + "\n")
	root, err := exec.Command("go", "env", "GOROOT").Output()
	if err != nil {
		return nil, err
	}
	parts = append(parts, part{"The Go standard library and runtime", strings.TrimSpace(string(root))})
	seen := map[string]string{} // texts, by where they stand
	for _, p := range parts {
		list, err := os.ReadDir(p.dir)
		if err != nil {
			return nil, err
		}
		var names []string
		for _, e := range list {
			if !e.IsDir() && texts.MatchString(e.Name()) {
				names = append(names, e.Name())
			}
		}
		path, _, _ := strings.Cut(p.name, " ")
		names = append(names, more[path]...)
		if len(names) == 0 {
			return nil, fmt.Errorf("%s has no licence text", p.name)
		}
		for _, name := range names {
			text, err := os.ReadFile(filepath.Join(p.dir, name))
			if err != nil {
				return nil, err
			}
			said := tidy(string(text))
			fmt.Fprintf(&b, "%s%s: %s\n\n", line, p.name, name)
			if where, again := seen[said]; again {
				fmt.Fprintf(&b, "The same text as of %s.\n\n", where)
				continue
			}
			seen[said] = p.name + ": " + name
			b.WriteString(said + "\n")
		}
	}
	return b.Bytes(), nil
}

// tidy takes what only differs between editors out of a text.
func tidy(text string) string {
	lines := strings.Split(strings.ReplaceAll(strings.TrimPrefix(text, "\ufeff"), "\r\n", "\n"), "\n")
	for i := range lines {
		lines[i] = strings.TrimRight(lines[i], " \t\f")
	}
	return strings.Trim(strings.Join(lines, "\n"), "\n") + "\n"
}

// modules are the modules of which some package is linked, each once.
func modules() ([]part, error) {
	var out []part
	for _, platform := range platforms {
		c := exec.Command("go", "list", "-deps", "-f", "{{with .Module}}{{if not .Main}}{{.Path}} {{.Version}}\t{{.Dir}}{{end}}{{end}}", ".")
		c.Env = append(os.Environ(), "GOOS="+platform, "GOARCH=amd64", "CGO_ENABLED=0")
		c.Stderr = os.Stderr
		text, err := c.Output()
		if err != nil {
			return nil, err
		}
		for l := range strings.Lines(string(text)) {
			name, dir, ok := strings.Cut(strings.TrimSuffix(l, "\n"), "\t")
			if p := (part{name, dir}); ok && !slices.Contains(out, p) {
				out = append(out, p)
			}
		}
	}
	slices.SortFunc(out, func(a, b part) int { return strings.Compare(a.name, b.name) })
	return out, nil
}
