package pdf

import (
	"bytes"
	"compress/zlib"
	"io"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"unicode/utf16"
)

// A small reader for the tests, written from ISO 32000-1:2008 and sharing no
// code with the writer. It knows the classic cross-reference table (7.5.4),
// Flate streams (7.4.4), text operators (9.4) and ToUnicode maps (9.10.3).

type pdfFile struct {
	t       testing.TB
	raw     []byte
	objects map[int][]byte
	trailer string
}

// word is one shown string: baseline in points from the bottom left.
type word struct {
	x, y, size float64
	bold       bool
	text       string
	codes      []uint16
}

func open(t testing.TB, raw []byte) *pdfFile {
	t.Helper()
	f := &pdfFile{t: t, raw: raw, objects: map[int][]byte{}}
	if !bytes.HasPrefix(raw, []byte("%PDF-1.7\n%")) || !bytes.HasSuffix(raw, []byte("%%EOF\n")) {
		t.Fatal("no PDF 1.7 header, binary comment or end mark")
	}
	for _, b := range raw[10:14] { // ISO 32000-1 section 7.5.2: four bytes of 128 or more
		if b < 128 {
			t.Fatal("the second line is no binary comment")
		}
	}
	m := regexp.MustCompile(`startxref\n(\d+)\n%%EOF\n$`).FindSubmatch(raw)
	if m == nil {
		t.Fatal("no startxref")
	}
	at, _ := strconv.Atoi(string(m[1]))
	head := regexp.MustCompile(`^xref\n0 (\d+)\n0000000000 65535 f \n`).FindSubmatch(raw[at:])
	if head == nil {
		t.Fatal("startxref does not point to a cross-reference table")
	}
	count, _ := strconv.Atoi(string(head[1]))
	entry := regexp.MustCompile(`^(\d{10}) 00000 n \n$`)
	p := at + len(head[0])
	for n := 1; n < count; n++ {
		e := entry.FindSubmatch(raw[p : p+20]) // section 7.5.4: exactly twenty bytes
		if e == nil {
			t.Fatalf("entry %d is malformed", n)
		}
		p += 20
		o, _ := strconv.Atoi(string(e[1]))
		start := strconv.Itoa(n) + " 0 obj\n"
		if !bytes.HasPrefix(raw[o:], []byte(start)) {
			t.Fatalf("entry %d does not point to its object", n)
		}
		f.objects[n] = f.until(raw[o+len(start):])
	}
	f.trailer = string(raw[p:])
	if !strings.HasPrefix(f.trailer, "trailer\n") || !strings.Contains(f.trailer, "/Size "+strconv.Itoa(count)+" ") {
		t.Fatal("trailer does not follow or has another size")
	}
	return f
}

var lengthKey = regexp.MustCompile(`/Length (\d+)>?`)

// until cuts an object's body, skipping a stream by its length.
func (f *pdfFile) until(b []byte) []byte {
	s := bytes.Index(b, []byte("stream\n"))
	e := bytes.Index(b, []byte("endobj"))
	if s < 0 || s > e {
		return b[:e]
	}
	all := lengthKey.FindAllSubmatch(b[:s], -1)
	n, _ := strconv.Atoi(string(all[len(all)-1][1]))
	end := s + len("stream\n") + n
	if !bytes.HasPrefix(b[end:], []byte("\nendstream\nendobj")) {
		f.t.Fatal("stream length is wrong")
	}
	return b[:end]
}

// stream returns an object's dictionary and its data, inflated.
func (f *pdfFile) stream(n int) (string, []byte) {
	dict, data, ok := bytes.Cut(f.objects[n], []byte("stream\n"))
	if !ok || !bytes.Contains(dict, []byte("/FlateDecode")) {
		return string(dict), data
	}
	z, err := zlib.NewReader(bytes.NewReader(data))
	if err != nil {
		f.t.Fatal(err)
	}
	out, err := io.ReadAll(z)
	if err != nil {
		f.t.Fatal(err)
	}
	return string(dict), out
}

func (f *pdfFile) ref(n int, key string) int {
	m := regexp.MustCompile(key + ` (\d+) 0 R`).FindSubmatch(f.objects[n])
	if m == nil {
		f.t.Fatalf("object %d has no %s", n, key)
	}
	r, _ := strconv.Atoi(string(m[1]))
	return r
}

func (f *pdfFile) root() int { return f.trailerRef("/Root") }
func (f *pdfFile) info() int { return f.trailerRef("/Info") }

func (f *pdfFile) trailerRef(key string) int {
	m := regexp.MustCompile(key + ` (\d+) 0 R`).FindStringSubmatch(f.trailer)
	if m == nil {
		f.t.Fatalf("trailer has no %s", key)
	}
	n, _ := strconv.Atoi(m[1])
	return n
}

// contents returns the drawing operators of each page in order.
func (f *pdfFile) contents() []string {
	kids := regexp.MustCompile(`/Kids \[([^\]]*)\]`).FindSubmatch(f.objects[f.ref(f.root(), "/Pages")])
	var out []string
	for _, k := range regexp.MustCompile(`(\d+) 0 R`).FindAllSubmatch(kids[1], -1) {
		n, _ := strconv.Atoi(string(k[1]))
		_, data := f.stream(f.ref(n, "/Contents"))
		out = append(out, string(data))
	}
	return out
}

// fonts maps resource names to code maps; bold tells the weight.
func (f *pdfFile) fonts() (maps map[string]map[uint16]string, bold map[string]bool) {
	maps, bold = map[string]map[uint16]string{}, map[string]bool{}
	char := regexp.MustCompile(`<([0-9A-F]{4})> <([0-9A-F]+)>`)
	for _, m := range regexp.MustCompile(`/F([0-9a-f]{40}) (\d+) 0 R`).FindAllSubmatch(f.objects[2], -1) {
		n, _ := strconv.Atoi(string(m[2]))
		_, cmap := f.stream(f.ref(n, "/ToUnicode"))
		cmap = cmap[bytes.Index(cmap, []byte("endcodespacerange")):]
		one := map[uint16]string{}
		for _, c := range char.FindAllSubmatch(cmap, -1) {
			code, _ := strconv.ParseUint(string(c[1]), 16, 16)
			var units []uint16
			for i := 0; i < len(c[2]); i += 4 {
				u, _ := strconv.ParseUint(string(c[2][i:i+4]), 16, 16)
				units = append(units, uint16(u))
			}
			one[uint16(code)] = string(utf16.Decode(units))
		}
		maps[string(m[1])] = one
		bold[string(m[1])] = bytes.Contains(f.objects[n], []byte("-Bold"))
	}
	return maps, bold
}

var (
	fontOp = regexp.MustCompile(`^BT /F([0-9a-f]{40}) ([0-9.]+) Tf ET`)
	textOp = regexp.MustCompile(`^(?:q [0-9. rg]+ )?BT (-?[0-9.]+) (-?[0-9.]+) Td \(`)
)

// words reads the shown strings of every page.
func (f *pdfFile) words() [][]word {
	maps, bold := f.fonts()
	var pages [][]word
	for _, c := range f.contents() {
		var page []word
		var font string
		var size float64
		for len(c) > 0 {
			if m := fontOp.FindStringSubmatch(c); m != nil {
				font = m[1]
				size, _ = strconv.ParseFloat(m[2], 64)
			} else if m := textOp.FindStringSubmatch(c); m != nil {
				w := word{size: size, bold: bold[font]}
				w.x, _ = strconv.ParseFloat(m[1], 64)
				w.y, _ = strconv.ParseFloat(m[2], 64)
				raw, n := literal(c[len(m[0]):])
				c = c[len(m[0])+n:]
				for i := 0; i+1 < len(raw); i += 2 {
					code := uint16(raw[i])<<8 | uint16(raw[i+1])
					w.codes = append(w.codes, code)
					w.text += maps[font][code]
				}
				page = append(page, w)
			}
			_, c, _ = strings.Cut(c, "\n")
		}
		pages = append(pages, page)
	}
	return pages
}

// literal reads a string up to its closing bracket (section 7.3.4.2).
func literal(s string) ([]byte, int) {
	var out []byte
	for i := 0; i < len(s); i++ {
		switch s[i] {
		case '\\':
			i++
			if s[i] == 'r' {
				out = append(out, '\r')
			} else {
				out = append(out, s[i])
			}
		case ')':
			return out, i + 1
		default:
			out = append(out, s[i])
		}
	}
	return out, len(s)
}

// text joins a page's strings.
func text(page []word) string {
	var b strings.Builder
	for _, w := range page {
		b.WriteString(w.text + "\n")
	}
	return b.String()
}

func render(t *testing.T, d docOf, o Options) []byte {
	t.Helper()
	r, err := NewRenderer()
	if err != nil {
		t.Fatal(err)
	}
	b, err := r.Render(d(), o)
	if err != nil {
		t.Fatal(err)
	}
	return b
}
