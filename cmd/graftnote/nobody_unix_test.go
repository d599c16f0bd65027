//go:build !windows

package main

import (
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"syscall"
	"testing"
)

// asNobody runs the program as a user without rights over the files of dir: as
// user 65534 where this process may become one, else with the rights taken away.
func asNobody(t *testing.T, dir string, args []string) (code int, stdout, stderr string) {
	t.Helper()
	mode := func(file, folder fs.FileMode) {
		err := filepath.WalkDir(dir, func(path string, e fs.DirEntry, err error) error {
			if err != nil {
				return err
			}
			if e.IsDir() {
				return os.Chmod(path, folder)
			}
			return os.Chmod(path, file)
		})
		if err != nil {
			t.Fatal(err)
		}
	}
	mode(0o444, 0o555)
	defer mode(0o600, 0o700)
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	c := exec.Command(self, args...)
	c.Env = append(os.Environ(), programAsChild+"=1")
	if os.Geteuid() == 0 {
		// The binary and the folder lie in folders of the superuser.
		open := filepath.Join(dir, "..", "..")
		if err := os.Chmod(open, 0o711); err != nil {
			t.Fatal(err)
		}
		if err := os.Chmod(filepath.Join(dir, ".."), 0o711); err != nil {
			t.Fatal(err)
		}
		copied := filepath.Join(t.TempDir(), "program")
		b, err := os.ReadFile(self)
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(copied, b, 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.Chmod(filepath.Dir(copied), 0o755); err != nil {
			t.Fatal(err)
		}
		c.Path = copied
		c.SysProcAttr = &syscall.SysProcAttr{Credential: &syscall.Credential{Uid: 65534, Gid: 65534}}
	}
	return finished(c)
}
