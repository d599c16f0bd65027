package main

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"syscall"

	"graftnote/schema"
)

// All files that graftnote is given are opened here, each with a bound of its own,
// so that neither a slip (the wrong file, a device, a pipe that nobody fills) nor a
// hostile file costs more than a message. floors_test.go holds it.

// The bounds in bytes. Each is far above what the kind of file holds in use.
const (
	maxEntry     = schema.MaxFile // an entry, site settings, a technique, a follow-up
	mostTyped    = 64 << 10       // a text that is typed or read, a public key, a checkpoint
	maxPhraseSet = 4 << 20        // a file of phrases
	maxMapping   = 32 << 20       // a site's code mapping
	maxProfile   = 1 << 20        // a registry's profile
	maxForm      = 4 << 20        // a sign-off form
	maxReceipt   = 64 << 20       // a registry's answer
	maxRowFile   = 256 << 20      // a table of rows: some hundred thousand operations
	maxPackaged  = 512 << 20      // any file of a package
	maxManifest  = 16 << 20       // its manifest and its description
	// maxVerified is the largest product: a bundle with two PDF files of a hundred
	// pages is far below.
	maxVerified = 128 << 20
	anySize     = 1<<63 - 1 // read as a stream, in bounded memory
)

// errTooLarge and errNoFile are what is said of an input that is not read.
var errTooLarge = errors.New("it is larger than such a file may be")

const aPipe = "a pipe"

type noFile struct{ kind string }

// Error says what it is instead of a file.
func (n noFile) Error() string { return "it is " + n.kind + ", and only a regular file is read here" }

// openInput opens a regular file; anything else is refused before it is opened,
// because opening a pipe waits for somebody to write into it.
func openInput(path string, limit int64) (*os.File, error) {
	info, err := os.Stat(path)
	if err == nil {
		err = regular(path, info, limit)
	}
	if err != nil {
		return nil, err
	}
	f, err := os.OpenFile(path, os.O_RDONLY|syscall.O_NONBLOCK, 0) // it may have been swapped meanwhile
	if err != nil {
		return nil, err
	}
	if info, err = f.Stat(); err == nil {
		err = regular(path, info, limit)
	}
	if err != nil {
		_ = f.Close()
		return nil, err
	}
	return f, nil
}

func regular(path string, info fs.FileInfo, limit int64) error {
	var err error
	switch m := info.Mode(); {
	case m.IsDir():
		err = noFile{"a folder"}
	case m&(fs.ModeNamedPipe|fs.ModeSocket) != 0:
		err = noFile{aPipe}
	case !m.IsRegular():
		err = noFile{"a device"}
	case info.Size() > limit:
		err = fmt.Errorf("%w (%s)", errTooLarge, sizeWords(limit))
	default:
		return nil
	}
	return &fs.PathError{Op: "open", Path: path, Err: err}
}

// readInput reads a whole file.
func readInput(path string, limit int64) ([]byte, error) {
	f, err := openInput(path, limit)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	return readAtMost(f, limit)
}

// readAtMost reads a stream to its end, or refuses it past the limit.
func readAtMost(r io.Reader, limit int64) ([]byte, error) {
	b, err := io.ReadAll(io.LimitReader(r, limit+1))
	if err == nil && int64(len(b)) > limit {
		return nil, fmt.Errorf("%w (%s)", errTooLarge, sizeWords(limit))
	}
	return b, err
}

// maxValues bounds the values of a JSON file, of which a large bundle has some ten
// thousand: a value of two bytes takes a hundred times as much memory.
const maxValues = 500_000

// manyValues reports whether a JSON text holds more values than that. It counts the
// signs between them outside of strings and reads nothing.
func manyValues(text []byte) bool {
	n, inString := 0, false
	for i := 0; i < len(text); i++ {
		switch c := text[i]; {
		case c == '"':
			inString = !inString
		case inString && c == '\\':
			i++ // what follows is part of the string
		case !inString && (c == '{' || c == '[' || c == ','):
			n++
		}
	}
	return n > maxValues
}

// sizeWords is a limit for people.
func sizeWords(limit int64) string {
	if limit >= 1<<20 {
		return fmt.Sprintf("%d MiB", limit>>20)
	}
	return fmt.Sprintf("%d KiB", limit>>10)
}

// inputFolder is a folder whose files are opened as inputs.
type inputFolder struct {
	path  string
	limit int64 // of each file, in bytes
}

// Open makes it an fs.FS.
func (d inputFolder) Open(name string) (fs.File, error) {
	if !fs.ValidPath(name) {
		return nil, &fs.PathError{Op: "open", Path: name, Err: fs.ErrInvalid}
	}
	path := filepath.Join(d.path, filepath.FromSlash(name))
	info, err := os.Stat(path)
	if err == nil && info.IsDir() {
		return os.Open(path)
	}
	limit := d.limit
	if filepath.Ext(name) == ".json" {
		limit = min(limit, maxManifest)
	}
	return openInput(path, limit)
}
