package month

import (
	"bytes"
	"crypto/sha256"
	"encoding/csv"
	"encoding/json"
	"hash"
	"io"
)

// Names of the files of a package. Parquet files stand below ParquetFolder, in
// a folder for each table and period: see Package.parquetPath.
const (
	ManifestName   = "manifest.json"
	DescriptorName = "datapackage.json"
	ExceptionsName = "exceptions.csv"
	CoverName      = "cover.txt"
	ReadingFolder  = "reading"
	ParquetFolder  = "parquet"
)

// File is a file of a package held in memory.
type File struct {
	Name string // with forward slashes
	Data []byte
}

// Files are all files of the package in memory, the manifest last. Large packages
// are better written with Write.
func (p *Package) Files() ([]File, error) {
	var out []File
	err := p.Write(func(name string) (io.WriteCloser, error) {
		out = append(out, File{Name: name})
		at := len(out) - 1
		return &memory{close: func(data []byte) { out[at].Data = data }}, nil
	})
	return out, err
}

type memory struct {
	bytes.Buffer
	close func(data []byte)
}

// Close hands the bytes over.
func (m *memory) Close() error {
	m.close(m.Bytes())
	return nil
}

// Write asks create for each file in turn, fills it and closes it; the manifest
// comes last and names the digests of the others, so a folder without one is not
// whole. It ends at the first error. The same package always gives the same bytes.
func (p *Package) Write(create func(name string) (io.WriteCloser, error)) error {
	w := &writer{p: p, create: create}
	p.Manifest.Files, p.Manifest.Octets = nil, 0
	for _, t := range p.tables {
		w.rows(t.name+".csv", len(t.lines), t.csv)
		w.rows(t.name+".ndjson", len(t.lines), t.ndjson)
		w.rows(p.parquetPath(t), len(t.lines), t.parquet)
		w.rows(ReadingFolder+"/"+t.name+".csv", len(t.lines), t.reading)
	}
	w.rows(ExceptionsName, len(p.leftOut()), p.exceptionsCSV)
	w.file(CoverName, nil, func(out io.Writer) error { _, err := io.WriteString(out, p.cover); return err })
	w.file(DescriptorName, nil, p.descriptor)
	if w.err != nil {
		return w.err
	}
	files := p.Manifest.Files
	w.file(ManifestName, nil, func(out io.Writer) error { return writeJSON(out, p.Manifest) })
	p.Manifest.Files = files // the manifest does not name itself
	return w.err
}

type writer struct {
	p      *Package
	create func(name string) (io.WriteCloser, error)
	err    error
}

func (w *writer) rows(name string, n int, fill func(io.Writer) error) { w.file(name, &n, fill) }

func (w *writer) file(name string, rows *int, fill func(io.Writer) error) {
	if w.err != nil {
		return
	}
	out, err := w.create(name)
	if err != nil {
		w.err = err
		return
	}
	counted := &counter{w: out, hash: sha256.New()}
	err = fill(counted)
	if closing := out.Close(); err == nil {
		err = closing
	}
	if err != nil {
		w.err = err
		return
	}
	entry := FileEntry{Path: name, Bytes: counted.n, Rows: rows}
	counted.hash.Sum(entry.SHA256[:0])
	w.p.Manifest.Files = append(w.p.Manifest.Files, entry)
	if name != ManifestName {
		w.p.Manifest.Octets += counted.n
	}
}

func (p *Package) entry(path string) FileEntry {
	for _, f := range p.Manifest.Files {
		if f.Path == path {
			return f
		}
	}
	return FileEntry{}
}

// counter counts and digests what goes through.
type counter struct {
	w    io.Writer
	hash hash.Hash
	n    int64
}

func (c *counter) Write(b []byte) (int, error) {
	n, err := c.w.Write(b)
	c.hash.Write(b[:n])
	c.n += int64(n)
	return n, err
}

func writeJSON(out io.Writer, v any) error {
	enc := json.NewEncoder(out)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", "  ")
	return enc.Encode(v)
}

// csv writes the table by RFC 4180: UTF-8 without a byte order mark, a header,
// CRLF after each record.
func (t *table) csv(out io.Writer) error {
	w := csv.NewWriter(out)
	w.UseCRLF = true
	record := make([]string, len(t.columns))
	for i, c := range t.columns {
		record[i] = c.Name
	}
	if err := w.Write(record); err != nil {
		return err
	}
	for n := range t.lines {
		for i := range t.columns {
			record[i] = t.columns[i].cell(&t.lines[n])
		}
		if err := w.Write(record); err != nil {
			return err
		}
	}
	w.Flush()
	return w.Error()
}
