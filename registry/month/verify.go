package month

import (
	"crypto/sha256"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"path"
	"slices"
	"strings"
)

// Problem is one way in which a folder is not the package that was made. Neither
// part holds a cell of a row.
type Problem struct {
	File string
	Says string
}

// String is the problem on one line.
func (p Problem) String() string { return p.File + ": " + p.Says }

// Verify compares a folder with its manifest. No problem means that every file
// is there and no other, and each but the copies for people byte for byte; those
// are ChangedCopies' to judge. Where a table was changed it says what
// was done to it: the marks of a spreadsheet that opened and saved it are told
// apart. The error is ErrPackage when there is no manifest to compare with.
//
// The manifest itself is not signed; compare its digest with the one that the
// casebook noted when the package was made.
func Verify(folder fs.FS) ([]Problem, error) {
	m, err := readManifest(folder)
	if err != nil {
		return nil, err
	}
	var out []Problem
	listed := map[string]bool{ManifestName: true}
	for _, f := range m.Files {
		if !fs.ValidPath(f.Path) || listed[f.Path] {
			return nil, fmt.Errorf("%w: the manifest lists a file that cannot be one", ErrPackage)
		}
		listed[f.Path] = true
		sum, size, err := digestOf(folder, f.Path)
		switch {
		case errors.Is(err, fs.ErrNotExist):
			out = append(out, Problem{f.Path, "the file is missing"})
		case err != nil:
			out = append(out, Problem{f.Path, "the file cannot be read"})
		case sum != f.SHA256:
			out = append(out, changed(folder, f, size)...)
		}
	}
	for _, need := range []string{DescriptorName, ExceptionsName, CoverName} {
		if !listed[need] {
			return nil, fmt.Errorf("%w: the manifest does not list %s", ErrPackage, need)
		}
	}
	err = fs.WalkDir(folder, ".", func(name string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if !d.IsDir() && !listed[name] {
			out = append(out, Problem{name, "the file does not belong to the package"})
		}
		return nil
	})
	if err != nil {
		return nil, fmt.Errorf("%w: the folder cannot be read", ErrPackage)
	}
	out = append(out, m.sums()...)
	slices.SortStableFunc(out, func(a, b Problem) int { return strings.Compare(a.File, b.File) })
	return out, nil
}

// ChangedCopies are the copies for people that are no longer as the manifest says.
// People may write in them, so it is no fault of the package; but nobody should
// read one for the other.
func ChangedCopies(folder fs.FS) ([]string, error) {
	m, err := readManifest(folder)
	if err != nil {
		return nil, err
	}
	var out []string
	for _, f := range m.Files {
		if path.Dir(f.Path) != ReadingFolder {
			continue
		}
		if sum, _, err := digestOf(folder, f.Path); err == nil && sum != f.SHA256 {
			out = append(out, f.Path)
		}
	}
	return out, nil
}

// ReadManifest reads the manifest of a package.
func ReadManifest(folder fs.FS) (Manifest, error) { return readManifest(folder) }

func readManifest(folder fs.FS) (Manifest, error) {
	var m Manifest
	data, err := fs.ReadFile(folder, ManifestName)
	if err != nil {
		return m, fmt.Errorf("%w: no %s, so the package was not finished or is none", ErrPackage, ManifestName)
	}
	if err := json.Unmarshal(data, &m); err != nil || m.Format != Format {
		return m, fmt.Errorf("%w: %s is not one of this format", ErrPackage, ManifestName)
	}
	return m, nil
}

// sums are the faults of the manifest's own numbers.
func (m Manifest) sums() []Problem {
	held := 0
	for _, n := range m.Counts.HeldBack {
		held += n
	}
	var octets int64
	for _, f := range m.Files {
		octets += f.Bytes
	}
	var out []Problem
	if m.Counts.Sent+held != m.Counts.Entered {
		out = append(out, Problem{ManifestName, "sent and held back do not make the operations entered"})
	}
	if octets != m.Octets {
		out = append(out, Problem{ManifestName, "the sizes of the files do not make the sum"})
	}
	return out
}

func digestOf(folder fs.FS, name string) (sum Digest, size int64, err error) {
	f, err := folder.Open(name)
	if err != nil {
		return sum, 0, err
	}
	defer f.Close()
	h := sha256.New()
	size, err = io.Copy(h, f)
	h.Sum(sum[:0])
	return sum, size, err
}

// changed says what was done to a file.
func changed(folder fs.FS, f FileEntry, size int64) []Problem {
	if path.Dir(f.Path) == ReadingFolder {
		return nil // a copy for people, which they may change
	}
	what := fmt.Sprintf("it has %d bytes and should have %d", size, f.Bytes)
	if size == f.Bytes {
		what = "it has its size, and other bytes"
	}
	out := []Problem{{f.Path, "the file was changed after the package was made: " + what}}
	if path.Ext(f.Path) != ".csv" {
		return out
	}
	data, err := fs.ReadFile(folder, f.Path)
	if err != nil {
		return append(out, Problem{f.Path, "the file cannot be read"})
	}
	made := readAsMade(folder, strings.TrimSuffix(f.Path, ".csv"))
	for _, says := range spreadsheetMarks(data, f, made) {
		out = append(out, Problem{f.Path, says})
	}
	return out
}
