package main

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"time"
)

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
	lease  *lease        // of this run; nil in tests
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
	if f.lease, err = takeLease(path); err != nil {
		return nil, err
	}
	f.sweep(now)
	return f, nil
}

// openParent is the folder of a file that is to be made; it must be there.
func (a *app) openParent(file string) (*folder, error) {
	f := &folder{disk: a.env.disk, path: filepath.Dir(file)}
	var err error
	if f.lease, err = takeLease(f.path); err != nil {
		return nil, err
	}
	f.sweep(a.env.now())
	return f, nil
}

// close ends the run in this folder.
func (f *folder) close() {
	if f != nil {
		f.lease.release()
	}
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
// and renamed together at the end; the files of retired, products that no longer
// hold, are then removed. When a rename fails, those already done are undone. A run
// that is killed in between leaves a list of what is left to do; see journal.go.
func (f *folder) replace(products []product, retired []string) error {
	var temps []string
	left := false // a list still needs them
	defer func() {
		for _, t := range temps {
			if !left {
				_ = f.disk.remove(t) // gone already when its rename was done
			}
		}
	}()
	var steps []step
	for _, p := range products {
		if _, err := f.check(p.name); err != nil {
			return err
		}
		t, err := f.writeTemp(p)
		if t != "" {
			temps = append(temps, t)
		}
		if err != nil {
			return err
		}
		steps = append(steps, step{filepath.Base(t), p.name, sumText(p.data)})
	}
	for _, name := range retired {
		there, err := f.check(name)
		if err != nil {
			return err
		}
		if there {
			steps = append(steps, step{To: name})
		}
	}
	if len(steps) == 0 {
		return nil
	}
	list := ""
	if len(steps) > 1 { // one is one act of the file system
		list = unfinishedName(steps[0].To)
		if err := f.announce(list, steps, false); err != nil {
			return err
		}
	}
	before, failed := f.run(steps)
	switch {
	case failed == nil:
		return f.over(list)
	case failed.stale:
		return failed // the list stays: the next run removes it
	case len(before) == 0:
		return errors.Join(failed, f.over(list))
	}
	// The way back is announced before it is gone, so that it too comes to an end.
	back, err := f.keep(before, &temps)
	if err == nil {
		err = f.announce(list, back, true)
	}
	if err == nil {
		if _, again := f.run(back); again == nil {
			return errors.Join(failed, f.over(list))
		}
	}
	left, failed.left = true, len(before)
	return failed
}

// over removes the list of what was left to do.
func (f *folder) over(list string) error {
	if list == "" {
		return nil
	}
	return f.insist(func() error { return f.disk.remove(filepath.Join(f.path, list)) })
}

// undone is a product as it was before a step replaced it.
type undone struct {
	name    string
	data    []byte
	existed bool
}

// run does the steps. When one fails it gives what those before it replaced; a
// product that no longer holds is removed after all others are in place, so that a
// failure there takes nothing back.
func (f *folder) run(steps []step) (before []undone, failed *partError) {
	for _, s := range steps {
		to := filepath.Join(f.path, s.To)
		if s.From == "" {
			err := f.insist(func() error { return f.disk.remove(to) })
			if err != nil && !errors.Is(err, fs.ErrNotExist) {
				return nil, &partError{name: s.To, err: err, stale: true}
			}
			continue
		}
		was := undone{name: s.To}
		b, err := f.disk.readFile(to)
		if was.data, was.existed = b, err == nil; err == nil || errors.Is(err, fs.ErrNotExist) {
			err = f.insist(func() error { return f.disk.rename(filepath.Join(f.path, s.From), to) })
		}
		if err != nil {
			return before, &partError{name: s.To, err: err}
		}
		before = append(before, was)
	}
	return nil, nil
}

// keep makes the files of the way back, the last step first.
func (f *folder) keep(before []undone, temps *[]string) ([]step, error) {
	var steps []step
	for i := len(before) - 1; i >= 0; i-- {
		b := before[i]
		if !b.existed {
			steps = append(steps, step{To: b.name})
			continue
		}
		t, err := f.writeTemp(product{b.name, b.data})
		if t != "" {
			*temps = append(*temps, t)
		}
		if err != nil {
			return nil, err
		}
		steps = append(steps, step{filepath.Base(t), b.name, sumText(b.data)})
	}
	return steps, nil
}

// settle makes the renames of a whole run last through a loss of power. The
// contents were flushed before each rename, so a case is never half a file.
func (f *folder) settle() error { return f.disk.syncFolder(f.path) }

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
		return fmt.Sprintf("%s (%s); %d of the other products are new already and do not fit it; the next run into this folder completes them", e.name, cause(e.err), e.left)
	}
	return fmt.Sprintf("%s (%s)", e.name, cause(e.err))
}

func (e *partError) Unwrap() error { return e.err }

// check refuses a name that no product may have here, and says whether it is taken.
func (f *folder) check(name string) (there bool, err error) {
	info, err := f.disk.lstat(filepath.Join(f.path, name))
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return false, nil
	case err != nil:
		return false, err
	case info.IsDir():
		return true, &partError{name: name, err: errors.New("a folder of this name exists")}
	}
	for _, in := range f.inputs {
		if os.SameFile(in, info) {
			return true, errInput
		}
	}
	return true, nil
}

// writeTemp makes the file beside its place. It gives the name even when it
// fails, so that the file can be removed.
func (f *folder) writeTemp(p product) (string, error) {
	t, err := f.disk.createTemp(f.path, f.lease.prefix()+p.name+"-*.tmp")
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
