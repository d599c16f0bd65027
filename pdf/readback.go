package pdf

import (
	"bytes"
	"compress/zlib"
	"crypto/md5"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"strings"

	"graftnote/note"
)

// Limits of what Attachments reads, bytes. A file of ours has some 0.3 MB.
const (
	maxFile       = 32 << 20 // the PDF, and all attachments together
	maxAttachment = 16 << 20 // one attachment, inflated
	maxObjects    = 100_000
	maxFiles      = 100
)

var (
	// ErrForeign says that a file does not have the one form this package
	// writes. Its text never quotes the file.
	ErrForeign = errors.New("pdf: not written by graftnote or saved again by another program")
	// ErrLarge says that a file or an attachment is over the limits: 32 MiB
	// for the file and for all attachments together, 16 MiB for one, 100
	// attachments.
	ErrLarge = errors.New("pdf: file or attachment is too large")
)

func foreign(why string) error { return fmt.Errorf("%w: %s", ErrForeign, why) }

// Attachments returns the files inside a PDF that Render wrote, in the order
// of the note's Sources. It accepts only the exact form that Render writes:
// any other PDF, and one of ours to which another program added something,
// gives ErrForeign; one over the limits gives ErrLarge. A name or MIME type that was
// empty comes back as Render wrote it ("file-2", "application/octet-stream").
//
// It proves nothing about the pages. A caller who wants to know whether they
// say what the files say renders the note again and compares the bytes.
func Attachments(pdf []byte) ([]note.Attachment, error) {
	if len(pdf) > maxFile {
		return nil, ErrLarge
	}
	own, err := readOwn(pdf)
	if err != nil {
		return nil, err
	}
	root, err := own.body(own.root)
	if err != nil {
		return nil, err
	}
	// The catalogue holds no free text before this key.
	_, after, found := bytes.Cut(root, []byte(" /AF ["))
	if !found {
		if !bytes.HasSuffix(root, []byte(" /ViewerPreferences <</DisplayDocTitle true>>>>")) {
			return nil, foreign("another catalogue")
		}
		return nil, nil
	}
	list := scanner{b: after}
	var out []note.Attachment
	total := 0
	for {
		if len(out) == maxFiles {
			return nil, ErrLarge
		}
		n := list.number()
		list.literal(" 0 R")
		if list.failed {
			return nil, foreign("the list of files inside it")
		}
		a, err := own.attachment(n, maxFile-total)
		if err != nil {
			return nil, err
		}
		total += len(a.Data)
		out = append(out, a)
		if len(list.b) == 0 || list.b[0] != ' ' {
			break
		}
		list.literal(" ")
	}
	if list.literal("] /Names <<"); list.failed {
		return nil, foreign("the list of files inside it")
	}
	return out, nil
}

// ownFile is a file of ours taken apart by its cross-reference table.
type ownFile struct {
	bodies [][]byte // by object number less one
	root   int
}

func (f *ownFile) body(n int) ([]byte, error) {
	if n < 1 || n > len(f.bodies) {
		return nil, foreign("an object that is not there")
	}
	return f.bodies[n-1], nil
}

// readOwn takes the file apart. The objects must fill it without a gap, in
// front of one table and one trailer, so nothing can stand beside them: an
// incremental update (ISO 32000-1 section 7.5.6) appends a second table.
func readOwn(raw []byte) (*ownFile, error) {
	if !bytes.HasPrefix(raw, []byte(fileHeader)) {
		return nil, foreign("another file header")
	}
	i := bytes.LastIndex(raw, []byte("\nstartxref\n"))
	if i < 0 {
		return nil, foreign("no cross-reference table")
	}
	tail := scanner{b: raw[i+len("\nstartxref\n"):]}
	at := tail.number()
	tail.literal("\n%%EOF\n")
	if tail.failed || len(tail.b) > 0 {
		return nil, foreign("bytes after the end mark")
	}
	if at >= i {
		return nil, foreign("no cross-reference table")
	}
	table := scanner{b: raw[at : i+1]}
	table.literal("xref\n0 ")
	count := table.number()
	table.literal("\n0000000000 65535 f \n")
	if table.failed || count < 2 || count > maxObjects || 20*(count-1) > len(table.b) {
		return nil, foreign("a second or another cross-reference table")
	}
	rows := table.b[:20*(count-1)]
	table.b = table.b[len(rows):]
	f := &ownFile{bodies: make([][]byte, count-1)}
	if f.root = trailerOf(&table, count); table.failed || len(table.b) > 0 {
		return nil, foreign("another trailer")
	}
	byOffset := make(map[int]int, count)
	for n := 1; n < count; n++ {
		row := scanner{b: rows[20*(n-1) : 20*n]}
		o := row.digits(10)
		if row.literal(" 00000 n \n"); row.failed {
			return nil, foreign("another cross-reference table")
		}
		byOffset[o] = n
	}
	return f, f.fill(raw[:at], byOffset)
}

// fill walks from object to object as they stand in the file.
func (f *ownFile) fill(raw []byte, byOffset map[int]int) error {
	for at := len(fileHeader); at < len(raw); {
		n, ok := byOffset[at]
		head := fmt.Sprintf("%d 0 obj\n", n)
		rest, frame := bytes.CutPrefix(raw[at:], []byte(head))
		if !ok || !frame || f.bodies[n-1] != nil {
			return foreign("bytes between its objects")
		}
		end := objectEnd(rest)
		if end < 0 {
			return foreign("an object without end")
		}
		f.bodies[n-1] = rest[:end:end]
		at += len(head) + end + len("\nendobj\n")
	}
	for _, b := range f.bodies {
		if b == nil {
			return foreign("an object that is not there")
		}
	}
	return nil
}

// objectEnd finds where a body ends; a stream is skipped by its length. A
// dictionary of ours holds no line feed outside a stream's own dictionary, but
// those of the page library do; they never hold these words.
func objectEnd(b []byte) int {
	const frame = "\nendobj\n"
	e := bytes.Index(b, []byte(frame))
	if e < 0 {
		return -1
	}
	s := bytes.Index(b[:e], []byte(">>\nstream\n"))
	if s < 0 {
		return e
	}
	i := bytes.LastIndex(b[:s], []byte("/Length "))
	if i < 0 {
		return -1
	}
	length := scanner{b: b[i+len("/Length ") : s]}
	n := length.number()
	end := s + len(">>\nstream\n") + n + len("\nendstream")
	if length.failed || len(length.b) > 0 || n > len(b) || end > len(b) || !bytes.HasPrefix(b[end:], []byte(frame)) ||
		!bytes.HasSuffix(b[:end], []byte("\nendstream")) {
		return -1
	}
	return end
}

// trailerOf reads the trailer up to startxref and returns the catalogue's number.
func trailerOf(s *scanner, count int) int {
	s.literal(fmt.Sprintf("trailer\n<</Size %d /Root ", count))
	root := s.number()
	s.literal(" 0 R /Info ")
	s.number()
	s.literal(" 0 R /ID [<")
	id := s.hexadecimal(32)
	s.literal("> <" + id + ">]>>\n")
	return root
}

// attachment reads one file specification and its stream.
func (f *ownFile) attachment(n, room int) (a note.Attachment, err error) {
	b, err := f.body(n)
	if err != nil {
		return a, err
	}
	s := scanner{b: b}
	s.literal("<</Type /Filespec /F ")
	a.Name = s.text()
	s.literal(" /UF " + pdfText(a.Name) + " /Desc ")
	a.Description = s.text()
	s.literal(" /AFRelationship /")
	if bytes.HasPrefix(s.b, []byte("Source")) {
		s.literal("Source")
	} else {
		s.literal("Supplement")
	}
	s.literal(" /EF <</F ")
	data := s.number()
	if s.literal(fmt.Sprintf(" 0 R /UF %d 0 R>>>>", data)); s.failed || len(s.b) > 0 {
		return a, foreign("the description of a file inside it")
	}
	if b, err = f.body(data); err != nil {
		return a, err
	}
	s = scanner{b: b}
	s.literal("<</Type /EmbeddedFile /Subtype ")
	a.MIME = s.name()
	s.literal(" /Params <</Size ")
	size := s.number()
	s.literal(" /CheckSum <")
	sum := s.hexadecimal(2 * md5.Size)
	s.literal(">")
	if bytes.HasPrefix(s.b, []byte(" /ModDate (")) {
		s.until(")")
	}
	s.literal(">> /Filter /FlateDecode /Length ")
	packed := s.number()
	s.literal(">>\nstream\n")
	if s.failed || packed > len(s.b) || string(s.b[packed:]) != "\nendstream" {
		return a, foreign("the description of a file inside it")
	}
	if size > maxAttachment || size > room {
		return a, ErrLarge
	}
	a.Data, err = inflate(s.b[:packed], size)
	if err == nil && sum != checkSum(a.Data) {
		err = foreign("a file inside it does not match its checksum")
	}
	return a, err
}

func checkSum(b []byte) string {
	sum := md5.Sum(b) // named by ISO 32000-1 table 46; no protection
	return hex.EncodeToString(sum[:])
}

// inflate unpacks exactly size bytes from all of the data.
func inflate(packed []byte, size int) ([]byte, error) {
	in := bytes.NewReader(packed)
	z, err := zlib.NewReader(in)
	if err != nil {
		return nil, foreign("a file inside it cannot be unpacked")
	}
	out, err := io.ReadAll(io.LimitReader(z, int64(size)+1))
	if err != nil || len(out) != size || in.Len() > 0 {
		return nil, foreign("a file inside it cannot be unpacked")
	}
	return out, nil
}

// unescape turns a name's body back (ISO 32000-1 section 7.3.5).
func unescape(s string) string {
	var out strings.Builder
	for i := 0; i < len(s); i++ {
		if s[i] == '#' && i+3 <= len(s) {
			if b, err := hex.DecodeString(s[i+1 : i+3]); err == nil {
				out.WriteByte(b[0])
				i += 2
				continue
			}
		}
		out.WriteByte(s[i])
	}
	return out.String()
}
