//go:build !windows

package main

import (
	"errors"
	"os"
	"syscall"
)

// isHeld is false: here a rename replaces a file that others have open.
func isHeld(error) bool { return false }

func isDiskFull(err error) bool {
	return errors.Is(err, syscall.ENOSPC) || errors.Is(err, syscall.EDQUOT)
}

// syncFolder makes renames in the folder last through a loss of power. Some
// network file systems refuse it; the files themselves are then on disk already.
func syncFolder(dir string) error {
	d, err := os.Open(dir)
	if err != nil {
		return err
	}
	defer d.Close()
	if err := d.Sync(); err != nil && !errors.Is(err, syscall.EINVAL) && !errors.Is(err, syscall.ENOTSUP) {
		return err
	}
	return nil
}
