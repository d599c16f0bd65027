package main

import (
	"io"
	"io/fs"
	"os"
	"time"
)

// disk is what writing needs from the file system. Tests put one in that fails
// at a chosen step.
type disk interface {
	createTemp(dir, pattern string) (tempFile, error) // readable by the owner only
	rename(from, to string) error
	remove(name string) error
	link(from, to string) error // fails when to exists
	readFile(name string) ([]byte, error)
	lstat(name string) (fs.FileInfo, error)
	syncFolder(dir string) error
	held(err error) bool // another program holds the file for the moment
	wait(time.Duration)
}

// tempFile is a file that is not yet in its place.
type tempFile interface {
	io.WriteCloser
	Sync() error
	Name() string
}

type systemDisk struct{}

func (systemDisk) createTemp(dir, pattern string) (tempFile, error) {
	return os.CreateTemp(dir, pattern) // mode 0600
}
func (systemDisk) rename(from, to string) error           { return os.Rename(from, to) }
func (systemDisk) remove(name string) error               { return os.Remove(name) }
func (systemDisk) link(from, to string) error             { return os.Link(from, to) }
func (systemDisk) readFile(name string) ([]byte, error)   { return readInput(name, maxVerified) }
func (systemDisk) lstat(name string) (fs.FileInfo, error) { return os.Lstat(name) }
func (systemDisk) syncFolder(dir string) error            { return syncFolder(dir) }
func (systemDisk) held(err error) bool                    { return isHeld(err) }
func (systemDisk) wait(d time.Duration)                   { time.Sleep(d) }
