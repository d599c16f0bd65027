// Command make writes packages of an invented unit for the outside checks: a
// chain of months, each in reply to the one before, in both modes and in the form
// of each shipped profile, a small year, and a month with nothing.
//
//	go run ./.ci/outside/month/make OUT
package main

import (
	"fmt"
	"io"
	"io/fs"
	"log"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"graftnote/registry"
	"graftnote/registry/month"
	"graftnote/registry/month/scenario"
	"graftnote/schema"
	"graftnote/templates"
)

func main() {
	log.SetFlags(0)
	if len(os.Args) != 2 {
		log.Fatal("usage: make OUT")
	}
	if err := run(os.Args[1]); err != nil {
		log.Fatal(err)
	}
}

func run(out string) error {
	list, err := operations(600)
	if err != nil {
		return err
	}
	forms := map[string]*month.Profile{"own": nil}
	names, err := fs.Glob(templates.Registries, "registries/*.yaml")
	if err != nil {
		return err
	}
	for _, name := range names {
		data, err := fs.ReadFile(templates.Registries, name)
		if err != nil {
			return err
		}
		p, err := month.ParseProfile(data)
		if err != nil {
			return fmt.Errorf("%s: %w", name, err)
		}
		forms[p.Name] = p
	}
	for name, form := range forms {
		for _, mode := range []month.Mode{month.Pseudonymised, month.SafeHarbor} {
			if name == "northmere" && mode == month.SafeHarbor {
				continue // it asks for the person key
			}
			if err := chain(filepath.Join(out, name+"-"+string(mode)), list, mode, form); err != nil {
				return fmt.Errorf("%s, %s: %w", name, mode, err)
			}
		}
	}
	return nil
}

// chain writes four months, a year, and a month with nothing.
func chain(out string, list []month.Operation, mode month.Mode, form *month.Profile) error {
	list = slices.Clone(list)
	pattern := slices.IndexFunc(registry.Columns(), func(c registry.Column) bool { return c.Name == "suture_pattern" })
	var sent []month.Sent
	var steps map[string]int
	o := month.Options{Mode: mode, Key: []byte("an invented key of 32 bytes, no "), Keys: month.NewKeyMap(), Rand: rand.NewChaCha8([32]byte{1}), Profile: form}
	for n, p := range []month.Period{{Year: 2026, Month: 6}, {Year: 2026, Month: 7}, {Year: 2026, Month: 8}, {Year: 2026, Month: 9}} {
		if changed := &list[n*3]; changed.Cells != nil {
			changed.Cells = slices.Clone(changed.Cells)
			changed.Cells[pattern], changed.Revision = "double-running", n+2
		}
		list[n*5+1].State, list[n*5+1].Reason = month.Withdrawn, "note-withdrawn"
		in := month.Input{Period: p, Operations: month.Operations(list...), Sent: sent, Steps: steps, TheatreCount: 20, Checkpoint: "invented", By: "coordinator",
			At: time.Date(2026, time.Month(p.Month+1), 1, 9, 0, 0, 0, time.UTC)}
		made, err := month.Build(in, o)
		if err != nil {
			return err
		}
		if err := write(filepath.Join(out, p.String()), made); err != nil {
			return err
		}
		for c := range made.Changes {
			c.Accepted = true
			sent = append(sent, c)
		}
		steps = made.Steps
	}
	nothing := month.Input{Period: month.Period{Year: 2020, Month: 1}, Operations: month.Operations(), At: time.Date(2020, 2, 1, 9, 0, 0, 0, time.UTC)}
	made, err := month.Build(nothing, o)
	if err != nil {
		return err
	}
	return write(filepath.Join(out, "nothing"), made)
}

func write(folder string, p *month.Package) error {
	err := p.Write(func(name string) (io.WriteCloser, error) {
		path := filepath.Join(folder, filepath.FromSlash(name))
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			return nil, err
		}
		return os.Create(path)
	})
	if err != nil {
		return err
	}
	problems, err := month.Verify(os.DirFS(folder))
	if err == nil && len(problems) > 0 {
		err = fmt.Errorf("%s: %v", folder, problems)
	}
	return err
}

func operations(n int) ([]month.Operation, error) {
	plan := scenario.Plan{Seed: 4, From: time.Date(2025, 1, 1, 0, 0, 0, 0, time.UTC), Until: time.Date(2026, 9, 30, 0, 0, 0, 0, time.UTC)}
	o := schema.Options{Now: time.Date(2026, 10, 1, 0, 0, 0, 0, time.UTC)}
	var out []month.Operation
	for i := range n {
		r := schema.Read(schema.Source{Name: plan.Name(i), Data: plan.Entry(i)}, o)
		if len(r.Cases) != 1 {
			return nil, fmt.Errorf("entry %d cannot be read", i)
		}
		c, err := schema.Check(r.Cases[0], o, nil)
		if err != nil {
			return nil, err
		}
		s := month.Signing{State: month.Signed, Revision: 1}
		if !c.Complete() {
			s.State = month.Blocked
		}
		op, err := month.Take(c, s)
		if err != nil {
			return nil, fmt.Errorf("entry %d: %s", i, strings.TrimSpace(err.Error()))
		}
		out = append(out, op)
	}
	return out, nil
}
