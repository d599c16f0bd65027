package pdf

import (
	"encoding/binary"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/go-fonts/liberation/liberationsansregular"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"

	"graftnote/note"
)

func faces(t testing.TB) *faceSet {
	t.Helper()
	s, err := loadFaces()
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// Letters by script: Unicode 15 code charts. The last two are the composed
// and decomposed example of Unicode Standard Annex 15 (NFC).
func TestCovers(t *testing.T) {
	for _, s := range []string{"Zo\u00eb M\u00fcller-\u0141\u00f3d\u017a", "\u0130zmir \u011f\u0131\u015f", "Nguy\u1ec5n", "\u039a\u03cc\u03bd\u03b9\u03c4\u03c3\u03b1", "\u0429\u0435\u0440\u0431\u0430\u043a\u043e\u0432\u0430 \u0454\u0456\u0457\u0491", "8.25\u00a0mm \u00b15\u00a0\u00b5m \u2265 2 \u2013 \u2019", "two\nlines\tand tab", "\u00c5", "A\u030a", "Ad\u00e9b\u1ecd\u0301l\u00e1", "\u0429\u0435\u0440\u0431\u0430\u043a\u043e\u0301\u0432\u0430"} {
		if m := Covers(s); m != nil {
			t.Errorf("%q: missing %q", s, m)
		}
	}
	for s, want := range map[string][]rune{
		"\u5c71\u7530\u5c71":   {0x5c71, 0x7530},
		"a\u202eb\u200d":       {0x202e, 0x200d}, // direction override and joiner: invisible
		"\U0001f441 eye":       {0x1f441},
		"\u05d3\u05e0\u05d4":   {0x05d3, 0x05e0, 0x05d4},
		"bad \xff byte":        {0xfffd},
		"\u0301a \u0302":       {0x0301, 0x0302}, // no letter before
		"q\u0301\u0302\u0303":  {0x0303},         // more than two on one letter
		"\x1b[31m":             {0x1b},
		"\u0634\u0645\u0633 x": {0x0634, 0x0645, 0x0633},
	} {
		if got := Covers(s); !slices.Equal(got, want) {
			t.Errorf("%q: %q", s, got)
		}
	}
}

// House rule: what cannot be drawn is spelled out, never dropped.
func TestClean(t *testing.T) {
	for in, want := range map[string]string{
		"plain":             "plain",
		"e\u0301":           "\u00e9",
		"\u4e2d x":          "[U+4E2D] x",
		"\U0001f600":        "[U+1F600]",
		"a\tb\r\nc":         "a b\nc",
		"\x00\x7f":          "[U+0000][U+007F]",
		"x\xc3":             "x[0xC3]",
		"soft\u00adhyphen":  "soft[U+00AD]hyphen",
		"no\u2011break":     "no\u2010break",
		"<b>&nbsp;</b> ]]>": "<b>&nbsp;</b> ]]>",
	} {
		if got := faces(t).clean(in); got != want {
			t.Errorf("%q: %q, want %q", in, got, want)
		}
	}
}

// A mark stands over the middle of its letter and clear of it (Unicode 15,
// section 2.11: a mark is positioned relative to its base).
func TestMarks(t *testing.T) {
	set := faces(t)
	d := simple()
	d.Subtitle = "Q\u0301 i\u0330\u0304"
	var q, mark word
	for _, w := range open(t, render(t, func() note.Document { return d }, Options{})).words()[0] {
		if strings.HasSuffix(w.text, "Q") {
			q = w
		} else if w.text == "\u0301" {
			mark = w
		}
	}
	f, em := set.regular, q.size/2048
	base, acc := f.extent(q.codes[len(q.codes)-1]), f.extent(mark.codes[0])
	left, right := q.x+base[0]*em, q.x+base[2]*em
	if mid := mark.x + (acc[0]+acc[2])/2*em; mid < left+(right-left)*0.45 || mid > left+(right-left)*0.55 {
		t.Errorf("mark at %v, letter from %v to %v", mid, left, right)
	}
	if gap := mark.y + acc[1]*em - (q.y + base[3]*em); gap < 0.2 || gap > 2 {
		t.Errorf("gap of %v points", gap)
	}
}

// Breaking rules: Unicode Standard Annex 14, classes SP (break after), GL
// (no-break space, never) and HY (after a hyphen inside a word).
func TestWrap(t *testing.T) {
	set, st := faces(t), style{size: 10}
	if got := set.wrap("depth 8\u00a0mm", st, set.width("depth 8", st)+0.1); !slices.Equal(got, []string{"depth", "8\u00a0mm"}) {
		t.Errorf("no-break space: %q", got)
	}
	if got := set.wrap("Brand\u00eb-Smith", st, set.width("Brand\u00eb-Sm", st)); !slices.Equal(got, []string{"Brand\u00eb-", "Smith"}) {
		t.Errorf("hyphen: %q", got)
	}
	if got := set.wrap("a\n\nb", st, 50); !slices.Equal(got, []string{"a", "", "b"}) {
		t.Errorf("line feeds: %q", got)
	}
	if got := set.wrap("-12", st, 50); !slices.Equal(got, []string{"-12"}) {
		t.Errorf("minus: %q", got)
	}
	long := strings.Repeat("Amselfelderhagen", 20) + " [U+4E2D][U+6587][U+5B57]" + strings.Repeat("[U+4E2D]", 30)
	for _, w := range []float64{4, 13, 29, 60} {
		lines := set.wrap(long, st, w)
		if strings.ReplaceAll(strings.Join(lines, ""), " ", "") != strings.ReplaceAll(long, " ", "") {
			t.Errorf("width %v loses text", w)
		}
		for _, l := range lines {
			if set.width(l, st) > w+0.01 && len(l) > 1 {
				t.Errorf("width %v: %q is %v wide", w, l, set.width(l, st))
			}
			if w > 20 && strings.Count(l, "[") != strings.Count(l, "]") {
				t.Errorf("width %v cuts a code point: %q", w, l)
			}
		}
	}
}

// Widths are those of the face; the reference reader is golang.org/x/image.
func TestWidths(t *testing.T) {
	ref, err := sfnt.Parse(liberationsansregular.TTF)
	if err != nil {
		t.Fatal(err)
	}
	var buf sfnt.Buffer
	set := faces(t)
	for _, r := range "AW.i\u00e9\u0141\u0416\u03a9\u2265\u20ac" {
		g, _ := ref.GlyphIndex(&buf, r)
		adv, err := ref.GlyphAdvance(&buf, g, fixed.I(1000), 0)
		if err != nil {
			t.Fatal(err)
		}
		if got := set.regular.width[set.glyphOf[r]]; got != adv.Round() {
			t.Errorf("%q: %d, want %d", r, got, adv.Round())
		}
	}
}

// The embedded program is a sound TrueType file: directory, table checksums
// and the constant of the whole (OpenType 1.9, "Font File" and "head").
func TestFontProgram(t *testing.T) {
	f := open(t, render(t, worst, Options{}))
	fonts := 0
	for n, body := range f.objects {
		if !strings.Contains(string(body[:min(200, len(body))]), "/Length1 ") {
			continue
		}
		fonts++
		_, data := f.stream(n)
		sum := func(b []byte) (s uint32) {
			for i := 0; i+4 <= len(b); i += 4 {
				s += binary.BigEndian.Uint32(b[i:])
			}
			return s
		}
		if s := sum(data); s != 0xB1B0AFBA {
			t.Errorf("file sums to %X", s)
		}
		size := map[string]int{}
		for i := range int(binary.BigEndian.Uint16(data[4:])) {
			e := data[12+16*i:]
			at, n := binary.BigEndian.Uint32(e[8:]), binary.BigEndian.Uint32(e[12:])
			size[string(e[:4])] = int(n)
			if string(e[:4]) != "head" && sum(data[at:(at+n+3)&^3]) != binary.BigEndian.Uint32(e[4:]) {
				t.Errorf("table %s has a wrong checksum", e[:4])
			}
			if string(e[:4]) == "maxp" && size["hmtx"] != 4*int(binary.BigEndian.Uint16(data[at+4:])) {
				t.Error("metrics and glyph count differ")
			}
		}
	}
	if fonts != 2 {
		t.Errorf("%d font programs", fonts)
	}
}

var hostile = []string{"", " ", "\n\n\n", "\x00", "\xff\xfe", "\\", "((((", ")", "\r", "\u202eabc", "\U0001f600", strings.Repeat("W", 4000),
	strings.Repeat("\u4e2d", 300), "<script>]]></div>", "=cmd()", "%PDF-1.4\nendobj\nendstream", "endobj", strings.Repeat("a ", 3000), "e\u0301\u0301\u0301", "\u00a0\u00a0", "-/-/-/"}

// stuffed puts one string into every field.
func stuffed(s string) note.Document {
	items := []note.Item{{Label: s, Value: s}, {Label: "a", Value: s}, {Label: s, Value: "b"}}
	row := []string{s, "1", s}
	g := &note.Diagram{Eye: s, LeftLabel: s, RightLabel: s, Legend: []string{s, s}, NotDrawn: []string{s}, Marks: []note.Mark{{Kind: s, Text: s, Hour: 3, X: 1}}}
	when := time.Unix(int64(len(s)), 0)
	return note.Document{Mark: s, Code: s, Checkpoint: row, Answers: items, Confirmed: items,
		Signatures: []note.Signature{{Name: s, Role: s, Meaning: s, Zone: s, Key: s}, {}},
		Revisions:  []note.Revision{{}, {Number: -1, Kind: s, Who: s, Zone: s, Why: s, Text: s, Event: &when, Changes: []note.Change{{Label: s, Old: s, New: s}, {}}}},
		ID:         s, Language: s, Title: s, Subtitle: s, Draft: true, Status: s,
		Banner:   note.Banner{Patient: s, LatinName: s, PatientID: s, SecondID: s, Born: s, Eye: s, Operated: s, Site: s, Surgeon: s},
		Timeline: items, Alerts: row, Brief: items, Unconfirmed: items, Gaps: row, Cautions: row, Diagram: g,
		Sources: []note.Attachment{{Name: s, MIME: s, Description: s, Data: []byte(s)}, {Name: s}},
		Sections: []note.Section{{Title: s, Blocks: []note.Block{{Paragraph: s}, {Quote: s}, {List: row}, {},
			{Table: &note.Table{Header: row, Rows: [][]string{row, {s}, {s, s, s, s}, nil}}}, {Table: &note.Table{}},
			{Table: &note.Table{Header: slices.Repeat(row, 12), Rows: [][]string{slices.Repeat(row, 12)}}},
			{Events: []note.Event{{Title: s, Facts: items, Text: s}, {}}}}}, {Title: s}}}
}

// checkText fails when a page draws the missing-glyph box (glyph 0) or a code
// that its character map does not know.
func checkText(t *testing.T, raw []byte) {
	t.Helper()
	for i, p := range open(t, raw).words() {
		for _, w := range p {
			if slices.Contains(w.codes, 0) || len([]rune(w.text)) != len(w.codes) {
				t.Fatalf("page %d: %q drawn as %v", i+1, w.text, w.codes)
			}
		}
	}
}

func TestHostile(t *testing.T) {
	for _, s := range hostile {
		checkText(t, render(t, func() note.Document { return stuffed(s) }, Options{Made: made, Producer: s}))
	}
}

func FuzzRender(f *testing.F) {
	for _, s := range hostile {
		f.Add(s, 4.1, 0.5)
	}
	r, err := NewRenderer()
	if err != nil {
		f.Fatal(err)
	}
	f.Fuzz(func(t *testing.T, s string, x, y float64) {
		if len(s) > 2000 {
			s = s[:2000]
		}
		d := stuffed(s)
		d.Diagram.Limbus = &note.Circle{X: x, Y: y, Radius: y}
		d.Diagram.Marks = append(d.Diagram.Marks, note.Mark{Kind: "tunnel", Hour: x, X: y, Y: x, Size: x})
		d.Diagram.Stitches = []note.Stitch{{X1: x, Y1: y, X2: y, Y2: x, Running: x > y, Suture: int(x)}}
		raw, err := r.Render(d, Options{Made: time.Unix(0, 0).UTC()})
		if err != nil {
			t.Fatal(err)
		}
		checkText(t, raw)
	})
}
