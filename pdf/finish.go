package pdf

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"github.com/klauspost/compress/zlib"
	"strconv"

	"graftnote/note"
)

var errLayout = errors.New("pdf: page library wrote an unexpected file")

// buffer is a writer whose memory is kept between notes.
type buffer struct{ b []byte }

func (w *buffer) Write(p []byte) (int, error) {
	w.b = append(w.b, p...)
	return len(p), nil
}

// packer compresses streams with one kept zlib writer.
type packer struct {
	zw  *zlib.Writer
	out buffer
}

// level trades bytes for time: files are 1 to 3 % larger than with level 6.
const level = 4

func (p *packer) pack(data []byte) []byte {
	p.out.b = p.out.b[:0]
	if p.zw == nil {
		p.zw, _ = zlib.NewWriterLevel(&p.out, level) // fails only for an unknown level
	} else {
		p.zw.Reset(&p.out)
	}
	p.zw.Write(data)
	p.zw.Close()
	return p.out.b
}

// object is one indirect object of the library's file, without its frame.
type object struct {
	number int
	body   []byte
}

// split takes the library's file apart by its cross-reference table.
func split(raw []byte) ([]object, error) {
	i := bytes.LastIndex(raw, []byte("startxref\n"))
	if i < 0 {
		return nil, errLayout
	}
	start, _, _ := bytes.Cut(raw[i+len("startxref\n"):], []byte("\n"))
	at, err := strconv.Atoi(string(start))
	if err != nil || at < 0 || at >= i {
		return nil, errLayout
	}
	rows := bytes.Split(raw[at:i], []byte("\n"))
	var count int
	if len(rows) < 3 {
		return nil, errLayout
	}
	if _, err := fmt.Sscanf(string(rows[1]), "0 %d", &count); err != nil || count+2 > len(rows) {
		return nil, errLayout
	}
	objects := make([]object, 0, count-1)
	for n := 1; n < count; n++ {
		row := rows[2+n]
		if len(row) < 10 {
			return nil, errLayout
		}
		o, err := strconv.Atoi(string(row[:10]))
		head := strconv.Itoa(n) + " 0 obj\n"
		if err != nil || o >= at || !bytes.HasPrefix(raw[o:], []byte(head)) {
			return nil, errLayout
		}
		body := raw[o+len(head) : at]
		end, err := bodyEnd(body)
		if err != nil {
			return nil, err
		}
		objects = append(objects, object{n, body[:end]})
	}
	return objects, nil
}

// bodyEnd finds where an object ends; a stream is skipped by its length, as
// its bytes may hold anything.
func bodyEnd(body []byte) (int, error) {
	skip := 0
	if rest, ok := bytes.CutPrefix(body, []byte("<</Length ")); ok {
		digits, _, _ := bytes.Cut(rest, []byte(">>\nstream\n"))
		n, err := strconv.Atoi(string(digits))
		skip = len("<</Length ") + len(digits) + len(">>\nstream\n") + n
		if err != nil || n < 0 || skip > len(body) {
			return 0, errLayout
		}
	}
	i := bytes.Index(body[skip:], []byte("endobj"))
	if i < 0 {
		return 0, errLayout
	}
	return skip + i, nil
}

// stream returns the data of a page's content object.
func (o object) stream() ([]byte, bool) {
	rest, ok := bytes.CutPrefix(o.body, []byte("<</Length "))
	if !ok {
		return nil, false
	}
	digits, data, ok := bytes.Cut(rest, []byte(">>\nstream\n"))
	n, err := strconv.Atoi(string(digits))
	if !ok || err != nil || n > len(data) {
		return nil, false
	}
	return data[:n], true
}

// assembly writes the final file (ISO 32000-1:2008, PDF 1.7).
type assembly struct {
	r       *Renderer
	offsets []int
	next    int // the next free object number
}

func (a *assembly) begin(n int) {
	for len(a.offsets) <= n {
		a.offsets = append(a.offsets, 0)
	}
	a.offsets[n] = len(a.r.out.b)
	fmt.Fprintf(&a.r.out, "%d 0 obj\n", n)
}

func (a *assembly) object(n int, body string) {
	a.begin(n)
	a.r.out.b = append(a.r.out.b, body...)
	a.r.out.b = append(a.r.out.b, "\nendobj\n"...)
}

// stream writes a compressed stream; dict is what its dictionary says more.
func (a *assembly) stream(n int, dict string, data []byte) {
	packed := a.r.pack.pack(data)
	a.begin(n)
	fmt.Fprintf(&a.r.out, "<<%s /Filter /FlateDecode /Length %d>>\nstream\n", dict, len(packed))
	a.r.out.b = append(a.r.out.b, packed...)
	a.r.out.b = append(a.r.out.b, "\nendstream\nendobj\n"...)
}

// free reserves numbers for new objects and returns the first.
func (a *assembly) free(count int) int {
	n := a.next
	a.next += count
	return n
}

// fileHeader is the version and a comment that marks the file as binary
// (ISO 32000-1 section 7.5.2).
const fileHeader = "%PDF-1.7\n%\xE2\xE3\xCF\xD3\n"

// finish turns the library's file into the final one: real fonts, packed
// pages, attachments, metadata and a file identifier.
func (r *Renderer) finish(m meta, sources []note.Attachment, o Options) ([]byte, error) {
	objects, err := split(r.raw.b)
	if err != nil {
		return nil, err
	}
	if len(objects) < 6 {
		return nil, errLayout
	}
	// The library always writes the information dictionary and the catalogue last.
	info, root := len(objects)-1, len(objects)
	r.out.b = append(r.out.b[:0], fileHeader...)
	a := &assembly{r: r, next: root + 1}
	fonts := 0
	for _, ob := range objects[:len(objects)-2] {
		if data, ok := ob.stream(); ok {
			a.stream(ob.number, "", data)
			continue
		}
		switch {
		case bytes.Contains(ob.body, []byte("/BaseFont /"+regularName+"\n")):
			a.font(ob.number, r.set, r.set.regular, r.regular)
			fonts++
		case bytes.Contains(ob.body, []byte("/BaseFont /"+boldName+"\n")):
			a.font(ob.number, r.set, r.set.bold, r.bold)
			fonts++
		default:
			a.object(ob.number, string(bytes.TrimRight(ob.body, "\n")))
		}
	}
	if fonts != 2 {
		return nil, errLayout
	}
	files, names := a.attachments(sources, o)
	xmp := a.free(1)
	a.object(xmp, m.xmpObject())
	a.object(info, m.info())
	a.object(root, m.catalog(xmp, files, names))
	a.trailer(info, root)
	return append([]byte(nil), r.out.b...), nil
}

func (a *assembly) trailer(info, root int) {
	w := &a.r.out
	sum := sha256.Sum256(w.b)
	id := hex.EncodeToString(sum[:16])
	at := len(w.b)
	fmt.Fprintf(w, "xref\n0 %d\n0000000000 65535 f \n", a.next)
	for _, o := range a.offsets[1:a.next] {
		fmt.Fprintf(w, "%010d 00000 n \n", o)
	}
	fmt.Fprintf(w, "trailer\n<</Size %d /Root %d 0 R /Info %d 0 R /ID [<%s> <%s>]>>\nstartxref\n%d\n%%%%EOF\n",
		a.next, root, info, id, id, at)
}

func digest(b []byte) string {
	sum := sha256.Sum256(b)
	return hex.EncodeToString(sum[:])
}
