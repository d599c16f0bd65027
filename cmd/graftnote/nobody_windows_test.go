package main

import (
	"os"
	"os/exec"
	"path/filepath"
	"testing"
)

// asNobody runs the program over files that are marked read-only.
func asNobody(t *testing.T, dir string, args []string) (code int, stdout, stderr string) {
	t.Helper()
	book := filepath.Join(dir, casebookName)
	if err := os.Chmod(book, 0o400); err != nil {
		t.Fatal(err)
	}
	defer func() {
		if err := os.Chmod(book, 0o600); err != nil {
			t.Fatal(err)
		}
	}()
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	c := exec.Command(self, args...)
	c.Env = append(os.Environ(), programAsChild+"=1")
	return finished(c)
}
