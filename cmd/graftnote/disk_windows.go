package main

import (
	"errors"
	"syscall"
)

// Error codes of Windows; the syscall package names only some of them.
const (
	errorAccessDenied     = syscall.Errno(5)
	errorSharingViolation = syscall.Errno(32)
	errorLockViolation    = syscall.Errno(33)
	errorHandleDiskFull   = syscall.Errno(39)
	errorDiskFull         = syscall.Errno(112)
)

// isHeld reports that another program, such as a viewer, a scanner or a sync
// client, holds the file for the moment.
func isHeld(err error) bool {
	return errors.Is(err, errorSharingViolation) || errors.Is(err, errorLockViolation) || errors.Is(err, errorAccessDenied)
}

func isDiskFull(err error) bool {
	return errors.Is(err, errorDiskFull) || errors.Is(err, errorHandleDiskFull)
}

// syncFolder has no counterpart on Windows: a folder cannot be flushed there.
func syncFolder(string) error { return nil }
