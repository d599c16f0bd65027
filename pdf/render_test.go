package pdf

import (
	"bytes"
	"crypto/md5"
	"encoding/hex"
	"errors"
	"io"
	"math"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"graftnote/note"
)

var samples = map[string]docOf{"simple": simple, "worst": worst, "scripts": scripts,
	"signed": signed, "counter-signed": counterSigned, "revised": revised, "withdrawn": withdrawn,
	"empty": func() note.Document { return note.Document{} }}

// House rule: the same note and options give the same bytes, with a used or
// a fresh renderer.
func TestSameBytes(t *testing.T) {
	used, err := NewRenderer()
	if err != nil {
		t.Fatal(err)
	}
	if _, err := used.Render(worst(), Options{Made: made}); err != nil {
		t.Fatal(err)
	}
	for name, d := range samples {
		first := render(t, d, Options{Made: made, Paper: Letter})
		again, err := used.Render(d(), Options{Made: made, Paper: Letter})
		if err != nil || !bytes.Equal(first, again) {
			t.Errorf("%s: a used renderer gives other bytes (%v)", name, err)
		}
		var w bytes.Buffer
		if err := Render(&w, d(), Options{Made: made, Paper: Letter}); err != nil || !bytes.Equal(first, w.Bytes()) {
			t.Errorf("%s: Render gives other bytes (%v)", name, err)
		}
	}
}

// House rule: patient, id, birth date, eye in words, date, site, note id,
// page count and cautions stand on every page.
func TestEveryPage(t *testing.T) {
	for _, d := range []docOf{simple, worst} {
		doc := d()
		pages := open(t, render(t, d, Options{Made: made})).words()
		for i, p := range pages {
			got := strings.ReplaceAll(text(p), "\n", " ")
			want := []string{doc.Banner.PatientID, doc.Banner.Born, doc.Banner.Eye, doc.Banner.Operated, doc.Banner.Site, doc.ID,
				"page " + strconv.Itoa(i+1) + " of " + strconv.Itoa(len(pages)), doc.Cautions[0], doc.Cautions[1]}
			if doc.Draft {
				want = append(want, "DRAFT ")
			}
			for _, w := range append(want, strings.Fields(doc.Banner.Patient)[1:]...) {
				if !strings.Contains(got, w) {
					t.Errorf("page %d lacks %q", i+1, w)
				}
			}
			for _, w := range p {
				if w.text == doc.Banner.Eye && w.size >= 20 && w.bold {
					got = ""
				}
			}
			if got != "" {
				t.Errorf("page %d does not name the eye in large bold type", i+1)
			}
		}
	}
}

// House rule: a missing identifying fact is said, not left out.
func TestMissingIdentity(t *testing.T) {
	got := text(open(t, render(t, samples["empty"], Options{})).words()[0])
	for _, w := range []string{"EYE NOT RECORDED", "Patient name not recorded", "Patient id\nnot recorded", "Born\nnot recorded", "Site\nnot recorded"} {
		if !strings.Contains(got, w) {
			t.Errorf("no %q", w)
		}
	}
}

// Every label and value of the document is on paper: nothing is lost by
// cutting, wrapping or page breaks.
func TestNothingLost(t *testing.T) {
	for _, d := range []docOf{simple, worst, twoPages, signed, counterSigned, revised, withdrawn} {
		var all strings.Builder
		for _, p := range open(t, render(t, d, Options{Made: made})).words() {
			all.WriteString(text(p))
		}
		// Words only: a cell is broken over lines while its row goes on.
		got := map[string]int{}
		for _, w := range strings.Fields(all.String()) {
			got[w]++
		}
		want := map[string]int{}
		for _, s := range allText(d()) {
			for _, w := range strings.Fields(s) {
				if !strings.ContainsAny(w, "-/") { // may be broken after the sign
					want[w]++
				}
			}
		}
		unbroken := strings.ReplaceAll(all.String(), "\n", "")
		for w, n := range want {
			if len(w) > 40 && strings.Contains(unbroken, w) { // broken over lines
				continue
			}
			if got[w] < n {
				t.Errorf("%q: %d on paper, %d in the document", w, got[w], n)
			}
		}
	}
}

// House rule: A4 and Letter carry the same content at the same distance from
// the top left. 297 mm less 279.4 mm is 49.89 points (25.4 mm = 72 points).
func TestPapersShareLayout(t *testing.T) {
	for name, d := range samples {
		a, l := open(t, render(t, d, Options{Made: made, Paper: A4})).words(), open(t, render(t, d, Options{Made: made, Paper: Letter})).words()
		if len(a) != len(l) {
			t.Fatalf("%s: %d pages on A4, %d on Letter", name, len(a), len(l))
		}
		for p := range a {
			for i, w := range a[p] {
				v := l[p][i]
				if w.text != v.text || w.x != v.x || w.size != v.size || !across(w) && math.Abs(w.y-v.y-49.89) > 0.011 {
					t.Fatalf("%s page %d: %q at %v,%v and %q at %v,%v", name, p+1, w.text, w.x, w.y, v.text, v.x, v.y)
				}
				// 15 mm is 42.5 points; both sheets keep that margin.
				if !across(w) && w.x < 42.5 || !across(w) && (v.y < 42.5 || w.y > 297/25.4*72-42.5) {
					t.Errorf("%s page %d: %q lies in the margin", name, p+1, w.text)
				}
			}
		}
	}
}

// ISO 216 and ANSI/ASME Y14.1 sizes, in points of 1/72 inch.
func TestPaper(t *testing.T) {
	for name, box := range map[string]string{"a4": "[0 0 595.28 841.89]", "LETTER": "[0 0 612.00 792.00]"} {
		p, err := PaperByName(name)
		if err != nil {
			t.Fatal(err)
		}
		if f := open(t, render(t, simple, Options{Paper: p})); !bytes.Contains(f.objects[1], []byte("/MediaBox "+box)) {
			t.Errorf("%s: no %s", name, box)
		}
	}
	if _, err := PaperByName("A5"); !errors.Is(err, ErrPaper) {
		t.Errorf("A5: %v", err)
	}
	if err := Render(&bytes.Buffer{}, simple(), Options{Paper: Paper{Width: 100, Height: 100}}); !errors.Is(err, ErrPaper) {
		t.Errorf("own sheet: %v", err)
	}
}

// House rule: no patient data in metadata. Text on the page is stored as
// glyph numbers, so no readable form of it may be anywhere but in the
// attached entry.
func TestNoPatientInMetadata(t *testing.T) {
	d := simple()
	d.Sources = nil
	raw := render(t, func() note.Document { return d }, Options{Made: made})
	f := open(t, raw)
	all := append([]byte(nil), raw...)
	for n := range f.objects {
		dict, data := f.stream(n)
		all = append(append(all, dict...), data...)
	}
	for _, secret := range []string{"Ashdown", "Miriam", "FIC-0118", "20 441", "March 1961", "Tarrant", "Lindow"} {
		wide := strings.Join(strings.Split(secret, ""), "\x00")
		for _, form := range []string{secret, wide, strings.ToUpper(hex.EncodeToString([]byte(wide)))} {
			if bytes.Contains(all, []byte(form)) {
				t.Errorf("%q is readable in the file", form)
			}
		}
	}
}

// ISO 32000-1 sections 14.3.2, 14.3.3, 14.4 and 12.2; the XMP properties are
// those of the XMP specification, part 1. Both must say the same.
func TestMetadata(t *testing.T) {
	f := open(t, render(t, simple, Options{Made: made, Producer: "graftnote 1.0 (test)"}))
	info := string(f.objects[f.info()])
	want := `<</Title (Operative note GN-2026-000118) /Producer (graftnote 1.0 \(test\)) /CreationDate (D:20260909160500+01'00') /ModDate (D:20260909160500+01'00')>>`
	if strings.TrimSpace(info) != want {
		t.Errorf("information dictionary: %s", info)
	}
	root := string(f.objects[f.root()])
	for _, s := range []string{"/Lang (en-GB)", "/DisplayDocTitle true"} {
		if !strings.Contains(root, s) {
			t.Errorf("catalogue lacks %s", s)
		}
	}
	_, xmp := f.stream(f.ref(f.root(), "/Metadata"))
	for _, s := range []string{">Operative note GN-2026-000118<", "<pdf:Producer>graftnote 1.0 (test)<", "<xmp:CreateDate>2026-09-09T16:05:00+01:00<", "<rdf:li>en-GB<"} {
		if !strings.Contains(string(xmp), s) {
			t.Errorf("XMP lacks %s", s)
		}
	}
	if !regexp.MustCompile(`/ID \[<([0-9a-f]{32})> <([0-9a-f]{32})>\]`).MatchString(f.trailer) {
		t.Error("no file identifier")
	}
}

// Associated files as ISO 19005-3 asks: name in F and UF, relationship (ISO
// 32000-2 table 43: Source for the original, Supplement for what goes with
// it), MIME type, size; the checksum is MD5 (RFC 1321) as ISO 32000-1 table 46 says.
func TestAttachments(t *testing.T) {
	d := simple()
	big := bytes.Repeat([]byte("endobj\nendstream \x00\xFF"), 500)
	d.Sources = append(d.Sources, note.Attachment{Name: "zapis-\u0142.bin", Description: "two (kinds)", Data: big}, note.Attachment{Name: "entry.json", MIME: "text/plain; charset=utf-8"})
	f := open(t, render(t, func() note.Document { return d }, Options{Made: made}))
	refs := regexp.MustCompile(`/AF \[([^\]]*)\]`).FindStringSubmatch(string(f.objects[f.root()]))
	numbers := regexp.MustCompile(`(\d+) 0 R`).FindAllStringSubmatch(refs[1], -1)
	if len(numbers) != 3 {
		t.Fatalf("%d associated files", len(numbers))
	}
	mimes := []string{"/application#2Fjson ", "/application#2Foctet-stream ", "/text#2Fplain#3B#20charset#3Dutf-8 "}
	for i, m := range numbers {
		n, _ := strconv.Atoi(m[1])
		spec := string(f.objects[n])
		if want := []string{"/AFRelationship /Source ", "/AFRelationship /Supplement "}[min(i, 1)]; !strings.Contains(spec, want) {
			t.Errorf("file %d: %s", i, spec)
		}
		dict, data := f.stream(f.ref(n, "/UF"))
		if !bytes.Equal(data, d.Sources[i].Data) {
			t.Errorf("file %d: other bytes", i)
		}
		sum := md5.Sum(data)
		if !strings.Contains(dict, "/Subtype "+mimes[i]) || !strings.Contains(dict, "/CheckSum <"+hex.EncodeToString(sum[:])+">") || !strings.Contains(dict, "/Size "+strconv.Itoa(len(data))) {
			t.Errorf("file %d: %s", i, dict)
		}
	}
}

// House limit: 300 kB keeps a base64 copy under the 512,000 bytes that some
// servers accept.
func TestWorstCaseSize(t *testing.T) {
	raw := render(t, worst, Options{Made: made})
	if len(raw) > 300_000 {
		t.Errorf("%d bytes", len(raw))
	}
	if n := len(open(t, raw).contents()); n < 8 || n > 14 {
		t.Errorf("%d pages", n)
	}
	if n := len(open(t, render(t, twoPages, Options{})).contents()); n != 2 {
		t.Errorf("the benchmark's note has %d pages", n)
	}
}

// The same note after twenty revisions, with the densest code and a proof of
// 100 kB that cannot be packed.
func TestWorstCaseSigned(t *testing.T) {
	d, r := worst(), revised()
	d.Draft, d.Signatures, d.Revisions, d.Answers, d.Confirmed, d.Checkpoint = false, r.Signatures, r.Revisions, r.Answers, r.Confirmed, r.Checkpoint
	d.Code = strings.Repeat("0123456789abcdef/", 137)
	proof := make([]byte, 0, 100_000)
	for i := 0; len(proof) < cap(proof); i++ {
		sum := md5.Sum([]byte{byte(i), byte(i >> 8)})
		proof = append(proof, sum[:]...)
	}
	d.Sources = append(d.Sources, note.Attachment{Name: "proof.json", Data: proof})
	if raw := render(t, func() note.Document { return d }, Options{Made: made}); len(raw) > 300_000 {
		t.Errorf("%d bytes", len(raw))
	} else {
		t.Logf("%d bytes", len(raw))
	}
}

func TestTooLong(t *testing.T) {
	d := simple()
	d.Sections[0].Blocks[0].Paragraph = strings.Repeat("Ashdown ", 400_000)
	err := Render(&bytes.Buffer{}, d, Options{})
	if err == nil || strings.Contains(err.Error(), "Ashdown") {
		t.Errorf("%v", err)
	}
}

// Workers share the prepared faces; each gets the same bytes (run with -race
// to see that nothing else is shared).
func TestParallel(t *testing.T) {
	want := render(t, twoPages, Options{Made: made})
	got := make(chan []byte, 8)
	for range cap(got) {
		go func() {
			var b bytes.Buffer
			if err := Render(&b, twoPages(), Options{Made: made}); err != nil {
				b.Reset()
			}
			got <- b.Bytes()
		}()
	}
	for range cap(got) {
		if !bytes.Equal(<-got, want) {
			t.Error("a worker gave other bytes")
		}
	}
}

// Render draws the note with a renderer of its own and writes the file to w.
func Render(w io.Writer, d note.Document, o Options) error {
	r, err := NewRenderer()
	if err != nil {
		return err
	}
	b, err := r.Render(d, o)
	if err != nil {
		return err
	}
	_, err = w.Write(b)
	return err
}
