package main

import (
	"crypto/sha256"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"graftnote/schema"
)

// input is one entry file, or standard input.
type input struct {
	path  string
	shown string // as it appears in findings, control characters escaped
	stdin bool
}

const stdinName = "standard input"

// gather turns the arguments into files: a folder gives the entries in it, and a
// pattern is expanded where the shell did not. What can't be found is a fault of
// its own and does not stop the rest.
func gather(args []string) (files []input, faults []*fault) {
	seen := map[string]bool{}
	add := func(path string) {
		key, err := filepath.Abs(path)
		if err != nil {
			key = path
		}
		if !seen[key] {
			seen[key] = true
			files = append(files, input{path: path, shown: schema.Visible(filepath.ToSlash(path))})
		}
	}
	for _, arg := range args {
		if arg == "-" {
			if !seen["-"] {
				seen["-"] = true
				files = append(files, input{path: "-", shown: stdinName, stdin: true})
			}
			continue
		}
		info, err := os.Stat(arg)
		if err != nil {
			if found, _ := filepath.Glob(arg); len(found) > 0 {
				for _, f := range found {
					add(f)
				}
				continue
			}
			faults = append(faults, unread(arg, err))
			continue
		}
		if !info.IsDir() {
			add(arg)
			continue
		}
		names, err := entriesIn(arg)
		switch {
		case err != nil:
			faults = append(faults, unread(arg, err))
		case len(names) == 0:
			faults = append(faults, &fault{status: statusIO, text: "no entry in the folder " + arg,
				hints: []string{"entries end in .yaml, .yml or .json; folders inside it are not searched"}})
		}
		for _, n := range names {
			add(filepath.Join(arg, n))
		}
	}
	return files, faults
}

// entriesIn lists the entry files of a folder in the order of their names. The
// settings that 'setup' writes and graftnote's own products are no entries.
func entriesIn(dir string) ([]string, error) {
	list, err := os.ReadDir(dir)
	if err != nil {
		return nil, err
	}
	var names []string
	for _, e := range list {
		name := strings.ToLower(e.Name())
		switch ext := filepath.Ext(name); {
		case e.IsDir(), strings.HasPrefix(name, "."), name == siteName, name == techniqueName, isProduct(name):
		case ext == ".yaml", ext == ".yml", ext == ".json":
			names = append(names, e.Name())
		}
	}
	slices.Sort(names)
	return names, nil
}

// load reads a file, one byte past the limit at most: the reader then says that
// it is too large.
func (a *app) load(in input) (schema.Source, error) {
	var from io.Reader = a.stdin
	if !in.stdin {
		f, err := openInput(in.path, anySize)
		if err != nil {
			return schema.Source{}, err
		}
		defer f.Close()
		from = f
	}
	data, err := io.ReadAll(io.LimitReader(from, maxEntry+1))
	return schema.Source{Name: in.shown, Data: data}, err
}

type digest = [sha256.Size]byte
