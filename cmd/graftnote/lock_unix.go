//go:build !windows

package main

import (
	"errors"
	"os"

	"golang.org/x/sys/unix"
)

// lockFile takes the only lock on a file, or fails at once. The system lets go of
// it when the process ends.
func lockFile(f *os.File) error { return unix.Flock(int(f.Fd()), unix.LOCK_EX|unix.LOCK_NB) }

// isLocked tells a lock that another process holds from a file system without
// locks.
func isLocked(err error) bool { return errors.Is(err, unix.EWOULDBLOCK) }
