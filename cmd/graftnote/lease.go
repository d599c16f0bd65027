package main

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"time"
)

// A run that makes unfinished files in a folder holds a lease there: an empty file
// that it keeps locked. The system lets go of the lock when the run ends, however
// it ends, so the next run in the folder knows at once which unfinished files
// belong to nobody. They may hold patient data.

// tempPrefix marks unfinished files; the name after it holds no patient data.
const tempPrefix = ".graftnote-"

// runPrefix is followed by the number of the run; a lease ends in leaseEnd, the
// unfinished files of its run go on after the number.
const (
	runPrefix = tempPrefix + "run-"
	leaseEnd  = ".lease"
)

// staleTemp is the age at which an unfinished file is taken for the remains of a
// killed run where nothing can be locked, as on some network shares. No run leaves
// one open that long.
const staleTemp = time.Hour

var ofRun = regexp.MustCompile(`^\.graftnote-run-([0-9]+)[-.]`)

// lease is a run's hold on a folder.
type lease struct {
	file *os.File
	run  string // "" for a folder without lease, in tests
}

// takeLease makes and locks a lease.
func takeLease(dir string) (*lease, error) {
	for {
		f, err := os.CreateTemp(dir, runPrefix+"*"+leaseEnd)
		if err != nil {
			return nil, err
		}
		name := filepath.Base(f.Name())
		l := &lease{f, strings.TrimSuffix(strings.TrimPrefix(name, runPrefix), leaseEnd)}
		_ = lockFile(f) // without locks its age tells
		// Another run may have taken it for a dead one before it was locked.
		mine, err := f.Stat()
		if err == nil {
			if now, gone := os.Lstat(f.Name()); gone == nil && os.SameFile(mine, now) {
				return l, nil
			}
		}
		_ = f.Close()
	}
}

// prefix begins the names of the run's unfinished files.
func (l *lease) prefix() string {
	if l == nil {
		return tempPrefix
	}
	return runPrefix + l.run + "-"
}

func (l *lease) number() string {
	if l == nil {
		return ""
	}
	return l.run
}

// release ends the hold. The file goes first: whoever finds it gone finds no
// unfinished file of the run either.
func (l *lease) release() {
	if l == nil {
		return
	}
	if os.Remove(l.file.Name()) != nil { // Windows removes no open file
		_ = l.file.Close()
		_ = os.Remove(l.file.Name())
		return
	}
	_ = l.file.Close()
}

// deadLeases locks the leases whose runs are gone, so that one run alone clears up
// after each. alive are the runs that still go.
func deadLeases(dir string, own *lease, now time.Time) (dead []*lease, alive map[string]bool) {
	alive = map[string]bool{own.number(): true}
	list, _ := filepath.Glob(filepath.Join(escapeGlob(dir), runPrefix+"*"+leaseEnd))
	for _, name := range list {
		run := strings.TrimSuffix(strings.TrimPrefix(filepath.Base(name), runPrefix), leaseEnd)
		if alive[run] {
			continue
		}
		info, err := os.Lstat(name)
		if err != nil || !info.Mode().IsRegular() {
			continue
		}
		f, err := os.OpenFile(name, os.O_RDWR, 0)
		if err != nil {
			alive[run] = !errors.Is(err, fs.ErrNotExist)
			continue
		}
		switch err := lockFile(f); {
		case err == nil, !isLocked(err) && now.Sub(info.ModTime()) > staleTemp:
			dead = append(dead, &lease{f, run})
		default:
			alive[run] = true
			_ = f.Close()
		}
	}
	return dead, alive
}

// sweep completes what a killed run had begun to put in place, and removes its
// unfinished files. What can't be done now is tried again by the next run.
func (f *folder) sweep(now time.Time) {
	dead, alive := deadLeases(f.path, f.lease, now)
	kept := f.completeAll(alive)
	list, err := os.ReadDir(f.path)
	if err != nil {
		return
	}
	for _, e := range list {
		name := filepath.Join(f.path, e.Name())
		run := ofRun.FindStringSubmatch(e.Name())
		switch {
		case !strings.HasPrefix(e.Name(), tempPrefix), strings.HasSuffix(e.Name(), leaseEnd):
		case run != nil && !alive[run[1]] && !kept[run[1]]:
			_ = os.RemoveAll(name)
		case run == nil && e.Type().IsRegular() && strings.HasSuffix(e.Name(), ".tmp"): // of another version
			if info, err := e.Info(); err == nil && now.Sub(info.ModTime()) > staleTemp {
				_ = f.disk.remove(name)
			}
		}
	}
	for _, l := range dead {
		if kept[l.run] {
			_ = l.file.Close()
			continue
		}
		l.release()
	}
}

func escapeGlob(path string) string {
	if filepath.Separator == '\\' {
		return path // Windows has no escape; the brackets are rare there
	}
	return strings.NewReplacer(`\`, `\\`, `[`, `\[`, `*`, `\*`, `?`, `\?`).Replace(path)
}
