package main

import (
	"errors"
	"os"

	"golang.org/x/sys/windows"
)

// lockFile takes the only lock on a file, or fails at once. The system lets go of
// it when the process ends.
func lockFile(f *os.File) error {
	return windows.LockFileEx(windows.Handle(f.Fd()), windows.LOCKFILE_EXCLUSIVE_LOCK|windows.LOCKFILE_FAIL_IMMEDIATELY, 0, 1, 0, new(windows.Overlapped))
}

// isLocked tells a lock that another process holds from a file system without
// locks.
func isLocked(err error) bool { return errors.Is(err, windows.ERROR_LOCK_VIOLATION) }
