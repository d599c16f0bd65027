// Command vulndb lays the reports of the Go vulnerability database, as the module
// golang.org/x/vulndb carries them, out in the form that govulncheck reads from a
// folder (https://go.dev/doc/security/vuln/database).
//
//	go run ./.ci/outside/vulndb MODULE_FOLDER TO
package main

import (
	"encoding/json"
	"fmt"
	"log"
	"os"
	"path/filepath"
	"slices"
	"strings"
)

type report struct {
	ID        string `json:"id"`
	Modified  string `json:"modified"`
	Withdrawn string `json:"withdrawn"`
	Affected  []struct {
		Package struct {
			Name string `json:"name"`
		} `json:"package"`
		Ranges []struct {
			Events []struct {
				Fixed string `json:"fixed"`
			} `json:"events"`
		} `json:"ranges"`
	} `json:"affected"`
}

type vuln struct {
	ID       string `json:"id"`
	Modified string `json:"modified"`
	Fixed    string `json:"fixed,omitempty"`
}

type module struct {
	Path  string `json:"path"`
	Vulns []vuln `json:"vulns"`
}

func main() {
	log.SetFlags(0)
	if len(os.Args) != 3 {
		log.Fatal("usage: vulndb MODULE_FOLDER TO")
	}
	if err := lay(filepath.Join(os.Args[1], "data", "osv"), os.Args[2]); err != nil {
		log.Fatal(err)
	}
}

func lay(from, to string) error {
	names, err := filepath.Glob(filepath.Join(from, "GO-*.json"))
	if err != nil {
		return err
	}
	if len(names) < 1000 {
		return fmt.Errorf("only %d reports in %s", len(names), from)
	}
	for _, dir := range []string{"ID", "index"} {
		if err := os.MkdirAll(filepath.Join(to, dir), 0o755); err != nil {
			return err
		}
	}
	of := map[string][]vuln{}
	newest := ""
	for _, name := range names {
		text, err := os.ReadFile(name)
		if err != nil {
			return err
		}
		var r report
		if err := json.Unmarshal(text, &r); err != nil {
			return fmt.Errorf("%s: %w", name, err)
		}
		if r.Withdrawn != "" {
			continue
		}
		newest = max(newest, r.Modified)
		for _, a := range r.Affected {
			v := vuln{ID: r.ID, Modified: r.Modified}
			for _, x := range a.Ranges {
				for _, e := range x.Events {
					if e.Fixed != "" {
						v.Fixed = e.Fixed // the last one; govulncheck reads the report itself
					}
				}
			}
			if !slices.ContainsFunc(of[a.Package.Name], func(o vuln) bool { return o.ID == v.ID }) {
				of[a.Package.Name] = append(of[a.Package.Name], v)
			}
		}
		if err := os.WriteFile(filepath.Join(to, "ID", filepath.Base(name)), text, 0o644); err != nil {
			return err
		}
	}
	var modules []module
	for path, list := range of {
		modules = append(modules, module{path, list})
	}
	slices.SortFunc(modules, func(a, b module) int { return strings.Compare(a.Path, b.Path) })
	for name, what := range map[string]any{"db.json": map[string]string{"modified": newest}, "modules.json": modules} {
		text, err := json.Marshal(what)
		if err != nil {
			return err
		}
		if err := os.WriteFile(filepath.Join(to, "index", name), text, 0o644); err != nil {
			return err
		}
	}
	return nil
}
