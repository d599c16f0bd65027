package main

import (
	"bytes"
	"encoding/base64"
	"encoding/json"
	"slices"
	"strings"
	"testing"

	"graftnote/casebook"
	"graftnote/note"
	"graftnote/pdf"
	"graftnote/schema"
)

// forge draws a note with our own renderer: the strongest forger has this very
// program.
func forge(t testing.TB, d note.Document) []byte {
	t.Helper()
	r, err := pdf.NewRenderer()
	if err != nil {
		t.Fatal(err)
	}
	page, err := r.Render(d, pdf.Options{Producer: "graftnote"})
	if err != nil {
		t.Fatal(err)
	}
	return page
}

// otherVersion is how a page of another version describes its proof.
const otherVersion = "The proof of every signature. Made by graftnote, version 0.0.1."

// Each kind of forgery has its name (21 CFR 11.70: a signature cannot be cut out,
// copied or moved to another record).
func TestForgeries(t *testing.T) {
	b := newBook(t)
	one := b.sign(sampleText(t), "Imara Voss")
	two := b.sign(entryFile(t, "02-failed-bubble-manual.yaml"), "Imara Voss")
	p, err := note.LoadPhrases(nil)
	if err != nil {
		t.Fatal(err)
	}
	docs, ds := map[string]note.Document{}, map[string]*dossier{}
	for _, id := range []string{one, two} {
		if ds[id], err = readDossier(t.Context(), b.book, id, schema.Options{Now: testNow}); err != nil {
			t.Fatal(err)
		}
		if docs[id], err = ds[id].build(p, "en-GB"); err != nil {
			t.Fatal(err)
		}
	}
	out := b.write(one, two)
	page, bundle := read(t, out, one+".note.pdf"), read(t, out, one+".bundle.json")
	with := func(edit func(*note.Document)) []byte {
		d, err := ds[one].build(p, "en-GB") // of its own: an edit goes deep
		if err != nil {
			t.Fatal(err)
		}
		edit(&d)
		return forge(t, d)
	}
	edited := bytes.Replace(ds[one].entry.Canonical(), []byte(`"7.75 mm"`), []byte(`"7.25 mm"`), 1)
	proofWith := func(edit func(*casebook.Proof)) []byte {
		x := ds[one].proofs[0]
		edit(&x)
		text, err := encodeProofs([]casebook.Proof{x})
		if err != nil {
			t.Fatal(err)
		}
		return text
	}
	swapPDF := func(text []byte, other []byte) []byte {
		return bytes.Replace(text, []byte(base64.StdEncoding.EncodeToString(page)), []byte(base64.StdEncoding.EncodeToString(other)), 1)
	}
	_, sums, _ := bytes.Cut(bundle, []byte(`"signature":[{"data":"`))
	sign1, _, _ := bytes.Cut(sums, []byte(`"`))
	for name, x := range map[string]struct {
		data []byte
		want string
	}{
		"altered page":       {with(func(d *note.Document) { d.Sections[0].Blocks[0].Paragraph = "Nothing was done." }), "altered page"},
		"other eye":          {with(func(d *note.Document) { d.Banner.Eye = "LEFT EYE" }), "altered page"},
		"swapped attachment": {with(func(d *note.Document) { d.Sources[0].Data = ds[two].entry.Canonical() }), "swapped attachment"},
		"edited entry":       {with(func(d *note.Document) { d.Sources[0].Data = edited }), "swapped attachment"},
		"no entry":           {with(func(d *note.Document) { d.Sources = d.Sources[1:] }), "swapped attachment"},
		"edited in the statement": {with(func(d *note.Document) {
			d.Sources[0].Data = edited
			d.Sources[1].Data = proofWith(func(p *casebook.Proof) {
				p.Statement = bytes.Replace(p.Statement, []byte(`"7.75 mm"`), []byte(`"7.25 mm"`), 1)
			})
		}), "edited entry"},
		"lifted signature": {with(func(d *note.Document) {
			d.Sources[1].Data = proofWith(func(p *casebook.Proof) { p.Signature = ds[two].proofs[0].Signature })
		}), "signature does not match"},
		"lifted proof":           {with(func(d *note.Document) { d.Sources[1] = docs[two].Sources[1] }), "swapped attachment"},
		"malformed proof":        {with(func(d *note.Document) { d.Sources[1].Data = []byte("[]") }), "malformed proof"},
		"another version's name": {with(func(d *note.Document) { d.Sources[1].Description = otherVersion }), "the name of the version was edited"},
		"another version":        {with(func(d *note.Document) { d.Sources[1].Description = otherVersion; d.Status = "Signiert" }), "drawn by another version, or altered"},
		"altered, another version's name": {with(func(d *note.Document) {
			d.Sources[1].Description, d.Banner.Eye = otherVersion, "LEFT EYE"
		}), "altered page"},
		"a section altered, another version's name": {with(func(d *note.Document) {
			d.Sources[1].Description = otherVersion
			d.Sections[0].Blocks = []note.Block{{Paragraph: "Nothing was done."}}
		}), "altered page"},
		"bundle, altered under another version's name": {bytes.ReplaceAll(bytes.ReplaceAll(bundle, []byte("graftnote "+programVersion()), []byte("graftnote 0.0.1")), []byte("right eye"), []byte("left eye")), "altered"},
		"bundle, of another version":                   {bytes.ReplaceAll(bundle, []byte("graftnote "+programVersion()), []byte("graftnote 0.0.1")), "written by another version, or altered"},
		"proof taken out":                              {with(func(d *note.Document) { d.Sources = d.Sources[:1] }), "not signed"},
		"appended update":                              {append(slices.Clone(page), page[len(page)/2:]...), "appended update"},
		"re-saved":                                     {bytes.Replace(page, []byte("\nxref\n"), []byte("\n\nxref\n"), 1), "re-saved or altered"},
		"bundle, swapped PDF":                          {swapPDF(bundle, read(t, out, two+".note.pdf")), "swapped attachment"},
		"bundle, lifted":                               {bytes.Replace(bundle, sign1, []byte(base64.StdEncoding.EncodeToString(ds[two].proofs[0].Signature)), 1), "lifted signature"},
		"bundle, another name":                         {bytes.Replace(bundle, []byte("Lindow Eye Unit"), []byte("Lindow Ear Unit"), 1), "altered"},
		"bundle, re-saved":                             {indented(t, bundle), "re-saved"},
		"row, another value":                           {bytes.Replace(read(t, out, one+".row.csv"), []byte("double-bubble"), []byte("hydrodelamination"), 1), "altered"},
	} {
		if verdict, why := said(t, b.verifier(), x.data); verdict == holds || !strings.Contains(why, x.want) {
			t.Errorf("%s: %s\n%s", name, verdict, why)
		}
	}
	if bytes.Equal(edited, ds[one].entry.Canonical()) || len(sign1) != 88 {
		t.Error("a forgery that changes nothing")
	}
}

func indented(t testing.TB, text []byte) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := json.Indent(&b, text, "", "  "); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}
