package main

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"syscall"
	"testing"
	"time"
)

// faultyDisk works until its nth operation and then fails as a full disk does;
// with stays, all later operations fail too.
type faultyDisk struct {
	systemDisk
	left    int // operations until the failure
	stays   bool
	failed  int
	renames int
}

func (d *faultyDisk) fail() error {
	if d.left--; d.left < 0 && (d.failed == 0 || d.stays) {
		d.failed++
		return syscall.ENOSPC
	}
	return nil
}

type faultyFile struct {
	tempFile
	d *faultyDisk
}

func (f faultyFile) Write(b []byte) (int, error) {
	if err := f.d.fail(); err != nil {
		n, _ := f.tempFile.Write(b[:len(b)/2]) // half of it reaches the disk
		return n, err
	}
	return f.tempFile.Write(b)
}

func (f faultyFile) Sync() error {
	if err := f.d.fail(); err != nil {
		return err
	}
	return f.tempFile.Sync()
}

func (f faultyFile) Close() error {
	err := f.tempFile.Close()
	if fault := f.d.fail(); fault != nil {
		return fault
	}
	return err
}

func (d *faultyDisk) createTemp(dir, pattern string) (tempFile, error) {
	if err := d.fail(); err != nil {
		return nil, err
	}
	t, err := d.systemDisk.createTemp(dir, pattern)
	return faultyFile{t, d}, err
}

func (d *faultyDisk) rename(from, to string) error {
	if err := d.fail(); err != nil {
		return &os.LinkError{Op: "rename", Old: from, New: to, Err: err}
	}
	d.renames++
	return d.systemDisk.rename(from, to)
}

func (d *faultyDisk) readFile(name string) ([]byte, error) {
	if err := d.fail(); err != nil {
		return nil, err
	}
	return d.systemDisk.readFile(name)
}

func (d *faultyDisk) lstat(name string) (fs.FileInfo, error) {
	if err := d.fail(); err != nil {
		return nil, err
	}
	return d.systemDisk.lstat(name)
}

func (d *faultyDisk) syncFolder(dir string) error {
	if err := d.fail(); err != nil {
		return err
	}
	return d.systemDisk.syncFolder(dir)
}

func (d *faultyDisk) wait(time.Duration) {}

var (
	oldSet = map[string]string{"c.note.pdf": "old note", "c.bundle.json": "old bundle", "c.row.csv": "old row"}
	newSet = map[string]string{"c.note.pdf": "new note", "c.bundle.json": "new bundle", "c.document.json": "new document"}
)

func lay(t *testing.T, set map[string]string) string {
	t.Helper()
	dir := t.TempDir()
	for name, text := range set {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	return dir
}

func contents(t *testing.T, dir string) map[string]string {
	t.Helper()
	list, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	out := map[string]string{}
	for _, f := range list {
		b, err := os.ReadFile(filepath.Join(dir, f.Name()))
		if err != nil {
			t.Fatal(err)
		}
		out[f.Name()] = string(b)
	}
	return out
}

func same(a, b map[string]string) bool {
	if len(a) != len(b) {
		return false
	}
	for k, v := range a {
		if b[k] != v {
			return false
		}
	}
	return true
}

func products() []product {
	var out []product
	for name, text := range newSet {
		out = append(out, product{name, []byte(text)})
	}
	slices.SortFunc(out, func(a, b product) int { return strings.Compare(a.name, b.name) })
	return out
}

// Old state or new state, never between: every operation of the disk fails once,
// in turn, as a full disk does (ENOSPC, POSIX write(2)). Only a failure after the
// renames, when the old row is removed or the folder flushed, may leave the new
// state with an error.
func TestOldOrNewNeverBetween(t *testing.T) {
	for n := 0; ; n++ {
		dir := lay(t, oldSet)
		d := &faultyDisk{left: n}
		f := &folder{disk: d, path: dir}
		err := f.replace(products(), []string{"c.row.csv"})
		if err == nil {
			err = f.settle()
		}
		got := contents(t, dir)
		if d.failed == 0 {
			if err != nil || !same(got, newSet) {
				t.Fatalf("no fault: %v, %v", err, got)
			}
			if n < 15 {
				t.Fatalf("only %d operations were tried", n)
			}
			return
		}
		withOldRow := map[string]string{"c.row.csv": "old row"}
		for k, v := range newSet {
			withOldRow[k] = v
		}
		switch {
		case same(got, oldSet) && err != nil:
		case d.renames >= len(newSet) && err != nil && (same(got, newSet) || same(got, withOldRow)):
		default:
			t.Errorf("fault at operation %d: error %v, folder %v", n, err, got)
		}
	}
}

// A disk that stays full: what can't be taken back is told, and either no
// unfinished file is left, or a list marks the case and the next run in the folder
// completes it.
func TestDiskStaysFull(t *testing.T) {
	marks := 0
	for n := range 40 {
		dir := lay(t, oldSet)
		d := &faultyDisk{left: n, stays: true}
		f := &folder{disk: d, path: dir}
		var err error
		if f.lease, err = takeLease(dir); err != nil {
			t.Fatal(err)
		}
		err = f.replace(products(), []string{"c.row.csv"})
		if err == nil {
			err = f.settle()
		}
		f.close()
		got := contents(t, dir)
		if d.failed == 0 {
			if marks == 0 {
				t.Error("no change was left unfinished")
			}
			return
		}
		if _, marked := got["c.unfinished"]; marked {
			var part *partError
			if !errors.As(err, &part) || part.left == 0 {
				t.Errorf("fault at operation %d: a mixed state is not told: %v", n, err)
			}
			next, err := openFolder(systemDisk{}, dir, time.Now())
			if err != nil {
				t.Fatal(err)
			}
			next.close()
			if got = contents(t, dir); !same(got, oldSet) && !same(got, newSet) {
				t.Errorf("fault at operation %d: the next run left %v", n, got)
			}
			marks++
			continue
		}
		if err == nil {
			t.Errorf("fault at operation %d was not told", n)
		}
		for name, text := range got {
			if strings.HasPrefix(name, tempPrefix) {
				t.Errorf("fault at operation %d left %s", n, name)
			}
			if oldSet[name] != text && newSet[name] != text {
				t.Errorf("fault at operation %d: half a file in %s", n, name)
			}
		}
		var part *partError
		if mixed := !same(got, oldSet) && got["c.document.json"] == ""; mixed && (!errors.As(err, &part) || part.left == 0) {
			t.Errorf("fault at operation %d: a mixed state is not told: %v", n, err)
		}
	}
	t.Error("the disk never worked")
}

// heldDisk lets a file go after some tries, as a virus scanner does; the error is
// the one of Windows (ERROR_SHARING_VIOLATION, 32, winerror.h).
type heldDisk struct {
	systemDisk
	tries, until int
	waited       time.Duration
}

var errHeld = errors.New("sharing violation")

func (d *heldDisk) rename(from, to string) error {
	if d.tries++; d.tries < d.until {
		return errHeld
	}
	return d.systemDisk.rename(from, to)
}

func (d *heldDisk) held(err error) bool  { return errors.Is(err, errHeld) }
func (d *heldDisk) wait(p time.Duration) { d.waited += p }

func TestHeldFile(t *testing.T) {
	dir := lay(t, oldSet)
	d := &heldDisk{until: 5}
	if err := (&folder{disk: d, path: dir}).replace(products(), []string{"c.row.csv"}); err != nil || !same(contents(t, dir), newSet) {
		t.Errorf("a file let go: %v", err)
	}
	dir = lay(t, oldSet)
	d = &heldDisk{until: 1 << 30}
	err := (&folder{disk: d, path: dir}).replace(products(), []string{"c.row.csv"})
	if !errors.Is(err, errHeld) || !same(contents(t, dir), oldSet) {
		t.Errorf("a file never let go: %v, %v", err, contents(t, dir))
	}
	if d.waited > 4*time.Second || d.waited < time.Second {
		t.Errorf("waited %v for a file that is never let go", d.waited)
	}
}

func TestDiskFullIsTold(t *testing.T) {
	f := unwritten("out", &fs.PathError{Op: "write", Path: "out/x", Err: syscall.ENOSPC})
	if f.status != statusIO || len(f.hints) != 1 || !strings.Contains(f.hints[0], "space") {
		t.Errorf("%+v", f)
	}
}

// A killed run leaves unfinished files, which hold patient data: the next run
// removes them, but not those of a run that may still be going.
func TestSweep(t *testing.T) {
	dir := lay(t, map[string]string{tempPrefix + "a.note.pdf-1.tmp": "x", tempPrefix + "b.note.pdf-2.tmp": "y", "note.tmp": "z"})
	now := time.Date(2026, 11, 25, 12, 0, 0, 0, time.UTC)
	if err := os.Chtimes(filepath.Join(dir, tempPrefix+"a.note.pdf-1.tmp"), now, now.Add(-2*staleTemp)); err != nil {
		t.Fatal(err)
	}
	if err := os.Chtimes(filepath.Join(dir, tempPrefix+"b.note.pdf-2.tmp"), now, now.Add(-staleTemp/2)); err != nil {
		t.Fatal(err)
	}
	f, err := openFolder(systemDisk{}, dir, now)
	if err != nil {
		t.Fatal(err)
	}
	f.close()
	if got := contents(t, dir); !same(got, map[string]string{tempPrefix + "b.note.pdf-2.tmp": "y", "note.tmp": "z"}) {
		t.Errorf("%v", got)
	}
}

// Products are for their owner: 0600, and 0700 for a folder that is made (POSIX
// modes; Windows keeps access lists instead, where the folder decides).
func TestModes(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "out")
	f, err := openFolder(systemDisk{}, dir, time.Now())
	if err != nil {
		t.Fatal(err)
	}
	if err := f.replace(products(), nil); err != nil {
		t.Fatal(err)
	}
	if filepath.Separator == '\\' {
		return
	}
	for name, want := range map[string]fs.FileMode{"": 0o700, "c.note.pdf": 0o600, "c.bundle.json": 0o600} {
		info, err := os.Stat(filepath.Join(dir, name))
		if err != nil {
			t.Fatal(err)
		}
		if info.Mode().Perm() != want {
			t.Errorf("%q has mode %o, want %o", name, info.Mode().Perm(), want)
		}
	}
}

// An entry that is reached through a link is the same entry.
func TestInputBehindLink(t *testing.T) {
	dir := lay(t, oldSet)
	link := filepath.Join(t.TempDir(), "case.yaml")
	if err := os.Symlink(filepath.Join(dir, "c.note.pdf"), link); err != nil {
		if filepath.Separator == '\\' {
			return // links need a privilege on Windows
		}
		t.Fatal(err)
	}
	f := &folder{disk: systemDisk{}, path: dir}
	f.guard([]input{{path: link}})
	if err := f.replace(products(), nil); !errors.Is(err, errInput) {
		t.Errorf("got %v", err)
	}
	if got := contents(t, dir); !same(got, oldSet) {
		t.Errorf("%v", got)
	}
}
