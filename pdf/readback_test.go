package pdf

import (
	"bytes"
	"compress/zlib"
	"errors"
	"fmt"
	"maps"
	"reflect"
	"regexp"
	"slices"
	"strings"
	"testing"

	"graftnote/note"
)

// carrying is a note with files that are hard to carry.
func carrying() note.Document {
	d := signed()
	d.Sources = append(d.Sources,
		note.Attachment{Name: "zapis-\u0142.bin", MIME: "text/plain; charset=utf-8", Description: "two (kinds), a \\ and \U0001f441", Data: bytes.Repeat([]byte("\nendobj\n>>\nstream\n/Length 7\nstartxref\n1\n%%EOF\n"), 300)},
		note.Attachment{Name: "entry.json", MIME: "application/json", Data: []byte{}},
		note.Attachment{Name: "(", MIME: "a#b/c", Description: ") >>>> /AF [", Data: []byte("x")})
	return d
}

// What goes in comes out, and equals what the tests' own reader finds.
func TestAttachmentsRoundTrip(t *testing.T) {
	for _, d := range []docOf{simple, signed, revised, worst, carrying} {
		want := d().Sources
		raw := render(t, d, Options{Made: made})
		got, err := Attachments(raw)
		if err != nil || !reflect.DeepEqual(got, want) {
			t.Fatalf("%d files, want %d (%v)", len(got), len(want), err)
		}
		f := open(t, raw)
		n := 0
		for i := 1; i <= len(f.objects); i++ {
			if dict, data := f.stream(i); strings.Contains(dict, "/Type /EmbeddedFile ") {
				if !bytes.Equal(data, got[n].Data) {
					t.Errorf("file %d: other bytes", n)
				}
				n++
			}
		}
		if n != len(got) {
			t.Errorf("the tests' reader finds %d files", n)
		}
	}
	bare := simple()
	bare.Sources = []note.Attachment{{Data: []byte("x")}}
	got, err := Attachments(render(t, func() note.Document { return bare }, Options{}))
	if err != nil || len(got) != 1 || got[0].Name != "file-1" || got[0].MIME != "application/octet-stream" {
		t.Errorf("%v %v", got, err)
	}
	bare.Sources = nil
	if got, err := Attachments(render(t, func() note.Document { return bare }, Options{})); err != nil || len(got) != 0 {
		t.Errorf("no files: %v %v", got, err)
	}
}

// ISO 32000-1 section 7.5.6: an incremental update appends changed objects, a
// table with /Prev, a trailer and a second startxref.
func updated(raw []byte) []byte {
	at := regexp.MustCompile(`startxref\n(\d+)\n%%EOF\n$`).FindSubmatch(raw)[1]
	out := append([]byte(nil), raw...)
	object := len(out)
	out = append(out, "4 0 obj\n<</Type /Annot>>\nendobj\n"...)
	table := len(out)
	return append(out, fmt.Sprintf("xref\n4 1\n%010d 00000 n \ntrailer\n<</Size 20 /Root 1 0 R /Prev %s>>\nstartxref\n%d\n%%%%EOF\n", object, at, table)...)
}

func TestAttachmentsForeign(t *testing.T) {
	raw := render(t, signed, Options{Made: made})
	swap := func(old, new string) []byte {
		if !bytes.Contains(raw, []byte(old)) {
			t.Fatalf("no %q to change", old)
		}
		return bytes.Replace(raw, []byte(old), []byte(new), 1)
	}
	for name, b := range map[string][]byte{
		"empty":              nil,
		"no PDF":             []byte("%PDX-1.7\n"),
		"header only":        raw[:15],
		"incremental update": updated(raw),
		"bytes after":        append(append([]byte(nil), raw...), '\n'),
		"no end mark":        raw[:len(raw)-1],
		"another version":    swap("%PDF-1.7", "%PDF-1.6"),
		"object moved":       swap("\nendobj\n", "\n endobj"),
		"size":               swap("/Type /EmbeddedFile", "/Type /EmbeddedFil3"),
		"relationship":       swap("/AFRelationship /Source", "/AFRelationship /Sourse"),
		"checksum":           swap("/CheckSum <", "/CheckSum (<"),
		"trailer":            swap("trailer\n<</Size ", "trailer\n<</Sise "),
		"list of files":      swap(" /AF [", " /AF[ "),
		"twice":              append(append([]byte(nil), raw...), raw...),
	} {
		got, err := Attachments(b)
		if !errors.Is(err, ErrForeign) || got != nil {
			t.Errorf("%s: %v, %d files", name, err, len(got))
		}
	}
	for n := 0; n < len(raw); n += 97 {
		if _, err := Attachments(raw[:n]); !errors.Is(err, ErrForeign) {
			t.Errorf("cut at %d: %v", n, err)
		}
	}
}

// One changed byte is refused or leaves the files as they were: a file's own
// bytes are covered by the checksums of zlib (RFC 1950) and MD5. The name, kind
// and description have none; the caller's comparison of the whole finds them.
func TestAttachmentsOneByte(t *testing.T) {
	raw := render(t, signed, Options{Made: made})
	want := signed().Sources
	b := append([]byte(nil), raw...)
	for i := 0; i < len(b); i += 3 {
		b[i] ^= 0x21
		if got, err := Attachments(b); err == nil {
			for k := range got {
				if !bytes.Equal(got[k].Data, want[k].Data) {
					t.Fatalf("byte %d: other files without an error", i)
				}
			}
		} else if !errors.Is(err, ErrForeign) && !errors.Is(err, ErrLarge) {
			t.Fatalf("byte %d: %v", i, err)
		}
		b[i] ^= 0x21
	}
}

// A small file that would unpack to very much is refused without unpacking
// it: the size it names is looked at first and never passed.
func TestAttachmentsTooLarge(t *testing.T) {
	d := simple()
	d.Sources = []note.Attachment{{Name: "a", Data: make([]byte, maxAttachment+1)}}
	if _, err := Attachments(render(t, func() note.Document { return d }, Options{})); !errors.Is(err, ErrLarge) {
		t.Errorf("one file: %v", err)
	}
	if _, err := Attachments(make([]byte, maxFile+1)); !errors.Is(err, ErrLarge) {
		t.Errorf("the PDF: %v", err)
	}
	d.Sources = make([]note.Attachment, maxFiles+1)
	if _, err := Attachments(render(t, func() note.Document { return d }, Options{})); !errors.Is(err, ErrLarge) {
		t.Errorf("many files: %v", err)
	}
	var packed bytes.Buffer
	z := zlib.NewWriter(&packed)
	z.Write(make([]byte, 1000))
	z.Close()
	for _, size := range []int{0, 999, 1001} {
		if _, err := inflate(packed.Bytes(), size); !errors.Is(err, ErrForeign) {
			t.Errorf("size %d: %v", size, err)
		}
	}
}

// assembled puts bodies together with a table that fits them, so that a
// changed object is read and not refused for its place.
func assembled(bodies map[int][]byte, trailer string) []byte {
	out := []byte("%PDF-1.7\n%\xE2\xE3\xCF\xD3\n")
	table := fmt.Sprintf("xref\n0 %d\n0000000000 65535 f \n", len(bodies)+1)
	for n := 1; n <= len(bodies); n++ {
		table += fmt.Sprintf("%010d 00000 n \n", len(out))
		out = append(out, fmt.Sprintf("%d 0 obj\n%s\nendobj\n", n, bodies[n])...)
	}
	tail, _, _ := strings.Cut(trailer, "startxref\n")
	return append(out, fmt.Sprintf("%s%sstartxref\n%d\n%%%%EOF\n", table, tail, len(out))...)
}

// FuzzAttachments changes one place of a file, or of one object in a file
// that is then put together rightly.
func FuzzAttachments(f *testing.F) {
	r, err := NewRenderer()
	if err != nil {
		f.Fatal(err)
	}
	raw, err := r.Render(carrying(), Options{Made: made})
	if err != nil {
		f.Fatal(err)
	}
	file := open(f, raw)
	for n, b := range file.objects { // as they stand between their frames
		if bytes.Contains(b, []byte("stream\n")) {
			file.objects[n] = append(b[:len(b):len(b)], "\nendstream"...)
		} else {
			file.objects[n] = bytes.TrimSuffix(b, []byte("\n"))
		}
	}
	if got, err := Attachments(assembled(file.objects, file.trailer)); err != nil || !reflect.DeepEqual(got, carrying().Sources) {
		f.Fatalf("put together unchanged: %v", err)
	}
	f.Add(-1, 0, 0, []byte(""))
	f.Add(-1, len(raw)-20, 3, []byte("9"))
	f.Add(0, 0, 1<<30, []byte("%PDF-1.7\n%\xE2\xE3\xCF\xD3\nstartxref\n0\n%%EOF\n"))
	for n, b := range file.objects {
		if bytes.Contains(b, []byte("/Filespec")) || bytes.Contains(b, []byte("/EmbeddedFile")) {
			f.Add(n, 20, 1, []byte("(\\"))
			f.Add(n, len(b)-30, 4, []byte("/Length 99999999"))
		}
	}
	f.Fuzz(func(t *testing.T, object, at, remove int, insert []byte) {
		edit := func(b []byte) []byte {
			from := min(max(at, 0), len(b))
			to := from + min(max(remove, 0), len(b)-from)
			return slices.Concat(b[:from], insert, b[to:])
		}
		changed := edit(raw)
		if b, ok := file.objects[object]; ok {
			bodies := maps.Clone(file.objects)
			bodies[object] = edit(b)
			changed = assembled(bodies, file.trailer)
		}
		got, err := Attachments(changed)
		if err != nil && !errors.Is(err, ErrForeign) && !errors.Is(err, ErrLarge) || err != nil && got != nil {
			t.Fatalf("%v", err)
		}
	})
}
