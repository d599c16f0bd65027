package casebook

import (
	"errors"
	"io/fs"
	"os"
	"sync"
)

// tip is a small file beside the database with the newest acknowledged
// checkpoint. SQLite drops a damaged end of its write-ahead log without a word;
// the tip tells that statements are missing then, and when an older copy of the
// database was put in place. It holds no patient data and is no part of the
// proof: without it only this warning is lost.
type tip struct {
	mu   sync.Mutex
	f    *os.File
	size int64
}

// openTip opens the file and never what a link of its name points at: it is
// written over. Where it can't be had, nothing is remembered.
func openTip(path string, readOnly bool) *tip {
	flag := os.O_RDWR
	if readOnly {
		flag = os.O_RDONLY
	}
	there, err := os.Lstat(path)
	switch {
	case errors.Is(err, fs.ErrNotExist) && !readOnly:
		flag |= os.O_CREATE | os.O_EXCL // follows no link that was put there meanwhile
	case err != nil || !there.Mode().IsRegular():
		return &tip{}
	}
	f, err := os.OpenFile(path, flag, 0o600)
	if err != nil {
		return &tip{}
	}
	info, err := f.Stat()
	if err != nil || there != nil && !os.SameFile(there, info) {
		_ = f.Close()
		return &tip{}
	}
	return &tip{f: f, size: info.Size()}
}

// write stores a checkpoint in one write. It is not forced to the disk: after a
// power cut an older tip may stand there, which claims less and never too much.
func (t *tip) write(checkpoint string) {
	t.mu.Lock()
	defer t.mu.Unlock()
	if t.f == nil {
		return
	}
	n, err := t.f.WriteAt([]byte(checkpoint), 0)
	if err == nil && int64(n) < t.size {
		_ = t.f.Truncate(int64(n))
	}
	t.size = int64(n)
}

func (t *tip) read() string {
	t.mu.Lock()
	defer t.mu.Unlock()
	if t.f == nil {
		return ""
	}
	b := make([]byte, 1024)
	n, _ := t.f.ReadAt(b, 0)
	return string(b[:n])
}

func (t *tip) close() {
	t.mu.Lock()
	defer t.mu.Unlock()
	if t.f != nil {
		_ = t.f.Close()
		t.f = nil
	}
}
