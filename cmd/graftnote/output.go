package main

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"time"
)

// tempPrefix marks unfinished files; the name after it holds no patient data.
const tempPrefix = ".graftnote-"

// staleTemp is the age at which an unfinished file is taken for the remains of a
// run that was killed. No run leaves one open that long.
const staleTemp = time.Hour

// product is one file to be written.
type product struct {
	name string // in the folder
	data []byte
}

// folder is a place for products. It is safe for several workers when their
// products have different names.
type folder struct {
	disk   disk
	path   string
	inputs []fs.FileInfo // entry files that lie in the folder; never overwritten
}

// openFolder makes the folder, readable by its owner only, when it is missing,
// and tries whether a file can be made in it, so that a run over many entries
// does not fail at each of them.
func openFolder(d disk, path string, now time.Time) (*folder, error) {
	info, err := os.Stat(path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		if err := os.MkdirAll(path, 0o700); err != nil {
			return nil, err
		}
	case err != nil:
		return nil, err
	case !info.IsDir():
		return nil, &fs.PathError{Op: "open", Path: path, Err: errors.New("a file of this name exists; a folder is needed")}
	}
	f := &folder{disk: d, path: path}
	probe, err := d.createTemp(path, tempPrefix+"*.tmp")
	if err != nil {
		return nil, err
	}
	err = errors.Join(probe.Close(), d.remove(probe.Name()))
	if err != nil {
		return nil, err
	}
	f.sweep(now)
	return f, nil
}

// sweep removes what a killed run left: such files hold patient data.
func (f *folder) sweep(now time.Time) {
	old, err := filepath.Glob(filepath.Join(escapeGlob(f.path), tempPrefix+"*.tmp"))
	if err != nil {
		return
	}
	for _, name := range old {
		if info, err := f.disk.lstat(name); err == nil && info.Mode().IsRegular() && now.Sub(info.ModTime()) > staleTemp {
			_ = f.disk.remove(name) // it is tried again by the next run
		}
	}
}

func escapeGlob(path string) string {
	if filepath.Separator == '\\' {
		return path // Windows has no escape; the brackets are rare there
	}
	return strings.NewReplacer(`\`, `\\`, `[`, `\[`, `*`, `\*`, `?`, `\?`).Replace(path)
}

// guard remembers the entry files that lie in the folder.
func (f *folder) guard(inputs []input) {
	here, err := os.Stat(f.path)
	if err != nil {
		return
	}
	for _, in := range inputs {
		real, err := filepath.EvalSymlinks(in.path)
		if in.stdin || err != nil {
			continue
		}
		dir, err := os.Stat(filepath.Dir(real))
		if err != nil || !os.SameFile(dir, here) {
			continue
		}
		if info, err := os.Stat(real); err == nil {
			f.inputs = append(f.inputs, info)
		}
	}
}

// errInput refuses to replace an entry by a product.
var errInput = errors.New("it is one of the entries that were read")

// replace writes all products or none. They are made under other names, flushed
// and renamed together at the end; when a rename fails, those already done are
// undone. The files of retired, products that no longer hold, are then removed.
func (f *folder) replace(products []product, retired []string) error {
	temps := make([]string, 0, len(products))
	defer func() {
		for _, t := range temps {
			_ = f.disk.remove(t) // gone already when its rename was done
		}
	}()
	for _, p := range products {
		if err := f.check(p.name); err != nil {
			return err
		}
		t, err := f.writeTemp(p)
		if t != "" {
			temps = append(temps, t)
		}
		if err != nil {
			return err
		}
	}
	var undo []func() error
	for i, p := range products {
		to := filepath.Join(f.path, p.name)
		before, err := f.disk.readFile(to)
		existed := err == nil
		if err == nil || errors.Is(err, fs.ErrNotExist) {
			err = f.insist(func() error { return f.disk.rename(temps[i], to) })
		}
		if err != nil {
			return &partError{name: p.name, err: err, left: f.takeBack(undo)}
		}
		undo = append(undo, func() error {
			if !existed {
				return f.disk.remove(to)
			}
			t, err := f.writeTemp(product{p.name, before})
			if err == nil {
				err = f.disk.rename(t, to)
			}
			if err != nil {
				return fmt.Errorf("%s: %w", p.name, err)
			}
			return nil
		})
	}
	for _, name := range retired {
		to := filepath.Join(f.path, name)
		if err := f.check(name); err != nil {
			return err
		}
		err := f.insist(func() error { return f.disk.remove(to) })
		if err != nil && !errors.Is(err, fs.ErrNotExist) {
			return &partError{name: name, err: err, stale: true}
		}
	}
	return nil
}

// settle makes the renames of a whole run last through a loss of power. The
// contents were flushed before each rename, so a case is never half a file.
func (f *folder) settle() error { return f.disk.syncFolder(f.path) }

// takeBack undoes renames, the last first, and says how many could not be.
func (f *folder) takeBack(undo []func() error) (left int) {
	for i := len(undo) - 1; i >= 0; i-- {
		if undo[i]() != nil {
			left++
		}
	}
	return left
}

// partError is a failure in the middle of the renames.
type partError struct {
	name  string
	err   error
	left  int  // products that are new although the others are old
	stale bool // an outdated product could not be removed
}

func (e *partError) Error() string {
	switch {
	case e.stale:
		return fmt.Sprintf("%s (outdated, but it could not be removed: %s)", e.name, cause(e.err))
	case e.left > 0:
		return fmt.Sprintf("%s (%s); %d of the other products are new already and do not fit it", e.name, cause(e.err), e.left)
	}
	return fmt.Sprintf("%s (%s)", e.name, cause(e.err))
}

func (e *partError) Unwrap() error { return e.err }

func (f *folder) check(name string) error {
	info, err := f.disk.lstat(filepath.Join(f.path, name))
	if err != nil {
		if errors.Is(err, fs.ErrNotExist) {
			return nil
		}
		return err
	}
	for _, in := range f.inputs {
		if os.SameFile(in, info) {
			return errInput
		}
	}
	if info.IsDir() {
		return &partError{name: name, err: errors.New("a folder of this name exists")}
	}
	return nil
}

// writeTemp makes the file beside its place. It gives the name even when it
// fails, so that the file can be removed.
func (f *folder) writeTemp(p product) (string, error) {
	t, err := f.disk.createTemp(f.path, tempPrefix+p.name+"-*.tmp")
	if err != nil {
		return "", err
	}
	_, err = t.Write(p.data)
	if err == nil {
		err = t.Sync()
	}
	if closed := t.Close(); err == nil {
		err = closed
	}
	return t.Name(), err
}

// insist tries again while another program holds the file, for two seconds at
// most: a virus scanner or a sync client lets go soon, a viewer does not.
func (f *folder) insist(try func() error) error {
	err := try()
	for pause := 15 * time.Millisecond; f.disk.held(err) && pause < 2*time.Second; pause *= 2 {
		f.disk.wait(pause)
		err = try()
	}
	return err
}
