package pdf

import (
	"bytes"
	"compress/zlib"
	"io"
	"regexp"
	"strconv"
	"strings"
	"unicode/utf16"
)

// maxPrinted bounds the operators of all pages together, inflated, in bytes.
const maxPrinted = 64 << 20

var (
	kidsKey  = regexp.MustCompile(`/Kids \[([^\]]*)\]`)
	refKey   = regexp.MustCompile(`(\d+) 0 R`)
	pagesKey = regexp.MustCompile(`/Pages (\d+) 0 R`)
	drawnKey = regexp.MustCompile(`/Contents (\d+) 0 R`)
	facesKey = regexp.MustCompile(`/F([0-9a-f]{40}) (\d+) 0 R`)
	glyphKey = regexp.MustCompile(`/ToUnicode (\d+) 0 R`)
	glyphRow = regexp.MustCompile(`<([0-9A-F]{4})> <((?:[0-9A-F]{4})+)>`)
	faceOp   = regexp.MustCompile(`^BT /F([0-9a-f]{40}) [0-9.]+ Tf ET`)
	showOp   = regexp.MustCompile(`^(?:q [0-9. rg]+ )?BT -?[0-9.]+ -?[0-9.]+ Td \(`)
)

// Printed gives the text of each page of a file that Render wrote, in this version
// or another: one line for each run of text, in the order of drawing. It accepts
// what Attachments accepts, and the same errors come back.
//
// Like Attachments it proves nothing; it tells which words are on the paper.
func Printed(file []byte) ([]string, error) {
	if len(file) > maxFile {
		return nil, ErrLarge
	}
	own, err := readOwn(file)
	if err != nil {
		return nil, err
	}
	r := &printed{own: own, room: maxPrinted, faces: map[string]map[uint16]string{}}
	for _, b := range own.bodies {
		for _, m := range facesKey.FindAllSubmatch(dictionary(b), -1) {
			if r.faces[string(m[1])] == nil {
				r.faces[string(m[1])] = r.face(m[2])
			}
		}
	}
	root, err := own.body(own.root)
	if err != nil {
		return nil, err
	}
	kids := kidsKey.FindSubmatch(r.object(pagesKey.FindSubmatch(root)))
	if kids == nil {
		return nil, foreign("its list of pages")
	}
	var out []string
	for _, k := range refKey.FindAllSubmatch(kids[1], -1) {
		if len(out) == maxPages {
			return nil, ErrLarge
		}
		out = append(out, r.page(string(r.stream(r.object(drawnKey.FindSubmatch(r.object(k)))))))
	}
	if r.room <= 0 {
		return nil, ErrLarge
	}
	return out, nil
}

type printed struct {
	own   *ownFile
	room  int
	faces map[string]map[uint16]string // by the name of the resource
}

// object is the body that a reference names; nil when there is none.
func (r *printed) object(ref [][]byte) []byte {
	if len(ref) < 2 {
		return nil
	}
	n, err := strconv.Atoi(string(ref[len(ref)-1]))
	if err != nil {
		return nil
	}
	b, err := r.own.body(n)
	if err != nil {
		return nil
	}
	return b
}

// dictionary is a body without its stream.
func dictionary(body []byte) []byte {
	dict, _, _ := bytes.Cut(body, []byte("stream\n"))
	return dict
}

// stream inflates what a body carries.
func (r *printed) stream(body []byte) []byte {
	dict, data, found := bytes.Cut(body, []byte("stream\n"))
	if !found || r.room <= 0 {
		return nil
	}
	if !bytes.Contains(dict, []byte("/FlateDecode")) {
		r.room -= len(data)
		return data
	}
	z, err := zlib.NewReader(bytes.NewReader(data))
	if err != nil {
		return nil
	}
	out, _ := io.ReadAll(io.LimitReader(z, int64(r.room)))
	r.room -= len(out)
	return out
}

// face reads which characters the glyphs of a face stand for (ISO 32000-1 section
// 9.10.3).
func (r *printed) face(ref []byte) map[uint16]string {
	out := map[uint16]string{}
	font := r.object([][]byte{nil, ref})
	for _, m := range glyphRow.FindAllSubmatch(r.stream(r.object(glyphKey.FindSubmatch(font))), -1) {
		code, _ := strconv.ParseUint(string(m[1]), 16, 16) // four hexadecimal digits
		var units []uint16
		for i := 0; i < len(m[2]); i += 4 {
			u, _ := strconv.ParseUint(string(m[2][i:i+4]), 16, 16)
			units = append(units, uint16(u))
		}
		out[uint16(code)] = string(utf16.Decode(units))
	}
	return out
}

// page reads the runs of text out of the operators of one page.
func (r *printed) page(ops string) string {
	var out strings.Builder
	var face map[uint16]string
	for ops != "" {
		if m := faceOp.FindStringSubmatch(ops); m != nil {
			face = r.faces[m[1]]
		} else if m := showOp.FindString(ops); m != "" {
			codes, n := shown(ops[len(m):])
			ops = ops[len(m)+n:]
			for i := 0; i+1 < len(codes); i += 2 {
				out.WriteString(face[uint16(codes[i])<<8|uint16(codes[i+1])])
			}
			out.WriteByte('\n')
		}
		_, ops, _ = strings.Cut(ops, "\n")
	}
	return out.String()
}

// shown reads a string up to its closing bracket (ISO 32000-1 section 7.3.4.2).
func shown(s string) (codes []byte, length int) {
	for i := 0; i < len(s); i++ {
		switch s[i] {
		case '\\':
			if i++; i == len(s) {
				return codes, i
			}
			if s[i] == 'r' {
				codes = append(codes, '\r')
			} else {
				codes = append(codes, s[i])
			}
		case ')':
			return codes, i + 1
		default:
			codes = append(codes, s[i])
		}
	}
	return codes, len(s)
}
