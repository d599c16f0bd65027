package main

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"
)

// No file system renames several files in one act. The products of a case are
// therefore made under other names, and a list of the renames that are left to do
// is put beside them before the first: CASE.unfinished. While it is there the files
// of the case may not belong together; whoever collects files from the folder
// leaves the case alone. It is removed when all is done. When the run was killed,
// the next one does what the list says.

// unfinishedEnd ends the name of such a list.
const unfinishedEnd = ".unfinished"

const (
	unfinishedFormat = "graftnote unfinished 1"
	unfinishedSays   = "The files of this case are being replaced and may not belong together. Leave them until this file is gone. " +
		"If it stays, a run was stopped: write the case again into this folder."
	maxUnfinished = 1 << 20 // bytes
)

// step renames an unfinished file to its place, or removes a product that no longer
// holds when From is empty.
type step struct {
	From   string `json:"from,omitempty"`
	To     string `json:"to"`
	SHA256 string `json:"sha256,omitempty"` // of what comes to stand there
}

type unfinished struct {
	Format string `json:"format"`
	Says   string `json:"says"`
	Run    string `json:"run"`
	Steps  []step `json:"steps"`
}

// unfinishedName is the list's name for a product.
func unfinishedName(product string) string {
	id, _, _ := strings.Cut(product, ".")
	return id + unfinishedEnd
}

// isUnfinished reports whether the products of a file's case are being replaced, or
// were when a run was killed.
func isUnfinished(path string) bool {
	_, err := os.Lstat(filepath.Join(filepath.Dir(path), unfinishedName(filepath.Base(path))))
	return err == nil
}

// errOtherRun: two runs want to replace the products of one case.
var errOtherRun = errors.New("another run is replacing the files of this case; run the command again when it has ended")

// announce puts the list in place. again replaces the run's own list.
func (f *folder) announce(name string, steps []step, again bool) error {
	text, err := json.MarshalIndent(unfinished{unfinishedFormat, unfinishedSays, f.lease.number(), steps}, "", " ")
	if err != nil {
		return err
	}
	temp, err := f.writeTemp(product{name, append(text, '\n')})
	if temp != "" {
		defer func() { _ = f.disk.remove(temp) }() // gone already when it was renamed
	}
	if err != nil {
		return err
	}
	to := filepath.Join(f.path, name)
	if again {
		return f.insist(func() error { return f.disk.rename(temp, to) })
	}
	for pause := 10 * time.Millisecond; ; pause *= 2 {
		err := f.disk.link(temp, to) // never replaces what is there
		switch {
		case err == nil:
			return nil
		case !errors.Is(err, fs.ErrExist):
			if _, there := f.disk.lstat(to); there == nil {
				break
			}
			return f.insist(func() error { return f.disk.rename(temp, to) }) // no links here
		}
		if !f.held(to) { // of a killed run: what could be completed is; all is replaced now
			return f.insist(func() error { return f.disk.rename(temp, to) })
		}
		if pause > 3*time.Second {
			return errOtherRun
		}
		f.disk.wait(pause)
	}
}

// held reports whether a run that still goes has put this list there.
func (f *folder) held(path string) bool {
	u, err := readUnfinished(path)
	if errors.Is(err, fs.ErrNotExist) {
		return true // gone meanwhile: try again
	}
	dead, alive := deadLeases(f.path, f.lease, time.Now())
	for _, l := range dead {
		_ = l.file.Close()
	}
	return err == nil && alive[u.Run]
}

// completeAll does what the lists of killed runs say. It gives the runs with a list
// that could not be completed.
func (f *folder) completeAll(alive map[string]bool) (kept map[string]bool) {
	kept = map[string]bool{}
	lists, _ := filepath.Glob(filepath.Join(escapeGlob(f.path), "*"+unfinishedEnd))
	for _, path := range lists {
		u, err := readUnfinished(path)
		if err != nil || alive[u.Run] {
			continue
		}
		if err := f.complete(u); err != nil {
			kept[u.Run] = true
			continue
		}
		_ = f.disk.remove(path)
	}
	return kept
}

// complete does the steps that a killed run left. A file that is in its place
// already is told by its bytes.
func (f *folder) complete(u unfinished) error {
	for _, s := range u.Steps {
		to := filepath.Join(f.path, s.To)
		if s.From == "" {
			if err := f.disk.remove(to); err != nil && !errors.Is(err, fs.ErrNotExist) {
				return err
			}
			continue
		}
		err := f.disk.rename(filepath.Join(f.path, s.From), to)
		if errors.Is(err, fs.ErrNotExist) {
			var b []byte
			if b, err = f.disk.readFile(to); err == nil && sumText(b) != s.SHA256 {
				err = errors.New("an unfinished file is gone")
			}
		}
		if err != nil {
			return err
		}
	}
	return nil
}

// readUnfinished reads a list. Its names must be plain names of unfinished files
// and of products, whoever wrote it.
func readUnfinished(path string) (unfinished, error) {
	var u unfinished
	b, err := readInput(path, maxUnfinished)
	if err != nil {
		return u, err
	}
	bad := fmt.Errorf("%s is not a list of unfinished files", filepath.Base(path))
	if json.Unmarshal(b, &u) != nil || u.Format != unfinishedFormat {
		return u, bad
	}
	own := strings.TrimSuffix(filepath.Base(path), unfinishedEnd) + "."
	if slices.ContainsFunc(u.Steps, func(s step) bool {
		temp := ofRun.FindStringSubmatch(s.From)
		return s.To != filepath.Base(s.To) || !strings.HasPrefix(s.To, own) ||
			s.From != "" && (s.From != filepath.Base(s.From) || temp == nil || temp[1] != u.Run)
	}) {
		return u, bad
	}
	return u, nil
}

func sumText(b []byte) string {
	sum := sha256.Sum256(b)
	return hex.EncodeToString(sum[:])
}
