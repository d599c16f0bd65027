package main

import (
	"bytes"
	"context"
	"crypto/sha1" // #nosec G505 -- R4 Attachment.hash is defined as SHA-1
	"encoding/base64"
	"encoding/json"
	"slices"
	"strings"

	"github.com/gowebpki/jcs"

	"graftnote/casebook"
	"graftnote/pdf"
)

// bundleView is what verifying reads of a Bundle before it is compared as a
// whole with the one made again.
type bundleView struct {
	ResourceType string `json:"resourceType"`
	Type         string `json:"type"`
	Entry        []struct {
		Resource struct {
			ResourceType string          `json:"resourceType"`
			Status       string          `json:"status"`
			Identifier   json.RawMessage `json:"identifier"`
			Content      []struct {
				Attachment struct {
					Data string `json:"data"`
					Hash string `json:"hash"`
				} `json:"attachment"`
			} `json:"content"`
			Extension []struct {
				Value []byte `json:"valueBase64Binary"`
			} `json:"extension"`
			Signature []struct {
				Data string `json:"data"`
			} `json:"signature"`
			Agent []struct {
				Who struct {
					Type    string `json:"type"`
					Display string `json:"display"`
				} `json:"who"`
			} `json:"agent"`
		} `json:"resource"`
	} `json:"entry"`
}

// bundle verifies a FHIR bundle: the note inside, the signatures and the
// checkpoint of its Provenance, and then every byte.
func (v *verifier) bundle(out *verified, data []byte) error {
	var b bundleView
	if err := json.Unmarshal(data, &b); err != nil || b.ResourceType != "Bundle" {
		return errStrange
	}
	var of kind
	switch b.Type {
	case "transaction":
		of, out.Kind = kindBundle, "FHIR transaction"
	case "document":
		of, out.Kind = kindDocument, "FHIR document"
	default:
		return errStrange
	}
	page := v.inside(out, &b)
	signatures, checkpoint, tool := b.provenance()
	if len(signatures) == 0 {
		out.say("signature", notShown, "not signed: its Provenance holds no signature, as in a draft")
		return nil
	}
	switch {
	case page != nil:
		v.pdf(out, page)
	case of == kindBundle:
		out.say("attachment", fails, "the note as PDF is missing or is no base64")
		return nil
	default:
		v.borrow(out, &b)
	}
	d := out.dossier
	if d == nil {
		return nil
	}
	v.compareProvenance(out, d, signatures, checkpoint)
	v.compareBundle(out, of, data, tool)
	return nil
}

// inside takes the current note out of its DocumentReference and holds it to the
// hash beside it. It is nil when there is none.
func (v *verifier) inside(out *verified, b *bundleView) []byte {
	for _, e := range slices.Backward(b.Entry) { // those of earlier revisions come before
		r := e.Resource
		if r.ResourceType != "DocumentReference" || len(r.Content) == 0 {
			continue
		}
		a := r.Content[0].Attachment
		page, err := base64.StdEncoding.Strict().DecodeString(a.Data)
		if err != nil || len(page) == 0 {
			return nil
		}
		sum := sha1.Sum(page) // #nosec G401 -- R4's algorithm; the bytes are compared below
		if base64.StdEncoding.EncodeToString(sum[:]) != a.Hash {
			out.say("attachment", fails, "swapped attachment: the PDF inside has not the hash that stands beside it")
		}
		return page
	}
	return nil
}

func (b *bundleView) provenance() (signatures []string, checkpoint, tool string) {
	for _, e := range b.Entry {
		r := e.Resource
		if r.ResourceType != "Provenance" {
			continue
		}
		for _, s := range r.Signature {
			signatures = append(signatures, s.Data)
		}
		for _, x := range r.Extension {
			checkpoint = string(x.Value)
		}
		for _, agent := range r.Agent {
			if agent.Who.Type == "Device" {
				tool = agent.Who.Display
			}
		}
	}
	return signatures, checkpoint, tool
}

// caseOf is the case that a document names in its Composition.
func (b *bundleView) caseOf() string {
	for _, e := range b.Entry {
		var id struct {
			Value string `json:"value"`
		}
		if e.Resource.ResourceType == "Composition" && json.Unmarshal(e.Resource.Identifier, &id) == nil {
			name, _ := strings.CutSuffix(id.Value, ".composition")
			return name
		}
	}
	return ""
}

// borrow finds the proofs of a document that holds no PDF, as older versions wrote
// it: in the note or transaction of the same case in this run, or in the casebook.
func (v *verifier) borrow(out *verified, b *bundleView) {
	id := b.caseOf()
	out.Case = id
	if n := v.seen[id]; n != nil && n.dossier != nil {
		out.Revision, out.dossier, out.paper = n.Revision, n.dossier, n.paper
		out.say("content", n.verdict(), "the entry is that of %s", n.File)
		return
	}
	if v.book == nil || !safeID.MatchString(id) {
		out.say("content", notShown, "a document holds no entry: verify it together with the note of its case, or with --casebook")
		return
	}
	d, err := readDossier(context.Background(), v.book, id, v.given.options)
	if err != nil {
		out.say("content", fails, "%s", bookFault("the signed note", err).Error())
		return
	}
	text, err := encodeProofs(d.proofs)
	if err != nil || !v.proofs(out, text) {
		out.say("content", fails, "the casebook's proof cannot be read")
	}
}

func (v *verifier) compareProvenance(out *verified, d *dossier, signatures []string, checkpoint string) {
	// A document may be of an earlier revision than the casebook now holds.
	if n := len(signatures); n < d.revision() && out.Kind == "FHIR document" {
		if older, err := newDossier(d.proofs[:n], v.given.options); err == nil {
			out.say("standing", superseded, "the document is of revision %d; there is a later one", n)
			out.dossier, out.Revision, d = older, n, older
		}
	}
	if len(signatures) > d.revision() && out.Kind == "FHIR document" {
		out.say("provenance", notShown, "the document is of a later revision than the note it is compared with; use the newest note or --casebook")
		out.dossier = nil
		return
	}
	same := len(signatures) == d.revision()
	for i := range signatures {
		same = same && i < d.revision() && signatures[i] == base64.StdEncoding.EncodeToString(d.history.Revisions[i].Signature)
	}
	if same {
		out.say("provenance", holds, "its signatures are those of the note")
	} else {
		out.say("provenance", fails, "lifted signature: the signatures of its Provenance are not those of this note")
	}
	if checkpoint != d.history.Current().Checkpoint {
		out.say("provenance", fails, "its checkpoint is not that of this note")
	}
}

// compareBundle makes the bundle again and compares every byte.
func (v *verifier) compareBundle(out *verified, of kind, data []byte, tool string) {
	d := out.dossier
	if d == nil {
		return
	}
	papers := []pdf.Paper{out.paper}
	if out.paper == (pdf.Paper{}) {
		papers = []pdf.Paper{pdf.A4, pdf.Letter}
	}
	resaved := false
	for _, paper := range papers {
		files, err := v.again(d, paper, nil)
		if err != nil {
			continue
		}
		if of == kindBundle && !bytes.Equal(files[of], data) {
			// It may take back what a draft held, which the casebook never saw.
			if with, err := v.again(d, paper, data); err == nil && bytes.Equal(with[of], data) {
				files = with
			}
		}
		if bytes.Equal(files[of], data) {
			if d.words == nil {
				out.say("file", notShown, "made again from the signed entry with these settings it is the same, byte for byte; but its words were not bound when it was signed")
				return
			}
			out.say("file", holds, "made again from the signed entry and words it is the same, byte for byte")
			return
		}
		resaved = resaved || sameJSON(files[of], data)
	}
	switch {
	case resaved:
		out.say("file", fails, "re-saved: the content is that of the signed note, but the bytes were written by another program")
	case tool != v.maker.export.fhir.Tool && v.misquotes(d, data):
		out.say("file", fails, "altered: words of the signed text are not in its sections, whatever version wrote it")
	case tool != v.maker.export.fhir.Tool:
		out.say("file", notShown, "written by another version, or altered: this version writes it otherwise from what was signed; verify it with the version that wrote it, or write it again")
	default:
		out.say("file", fails, "altered, or written with other site settings (--site): it differs from the bundle made again from the signed entry")
	}
}

// misquotes reports whether the sections of a bundle lack signed words.
func (v *verifier) misquotes(d *dossier, data []byte) bool {
	doc, err := d.document(v.maker.phrases, v.maker.language)
	if err != nil || d.words == nil {
		return false
	}
	missing, ok := quotedWords(doc, data)
	return ok && missing > 0
}

// sameJSON reports whether two JSON texts say the same (RFC 8785 form).
func sameJSON(a, b []byte) bool {
	x, err := jcs.Transform(a)
	if err != nil {
		return false
	}
	y, err := jcs.Transform(b)
	return err == nil && bytes.Equal(x, y)
}

// whole verifies the whole casebook.
func (v *verifier) whole(name string) (*verified, error) {
	out := &verified{File: name, Kind: "casebook"}
	bar := v.app.newBar("verifying", 0)
	var shown int64
	report, err := v.book.Check(context.Background(), func(done, total int64) {
		if shown == 0 && total > 1 {
			bar = v.app.newBar("verifying", int(total))
			shown = 1
		}
		for ; shown < done; shown++ {
			bar.step()
		}
	}, v.against...)
	bar.end()
	if err != nil {
		return nil, bookFault("the casebook could not be verified", err)
	}
	for _, f := range report.Faults {
		check := checkOf[f.Kind]
		if check == "" {
			check = "log"
		}
		out.say(check, fails, "%s", f.Error())
	}
	if report.More > 0 {
		out.say("log", fails, "%d more", report.More)
	}
	if report.Clean() {
		out.say("content", holds, "every entry has the digest that was signed: %s", count(int(report.Cases), "case"))
		out.say("signature", holds, "every signature belongs to its statement: %s", count(int(report.Statements), "statement"))
		out.say("inclusion", holds, "every statement stands in its place in the log")
		for range v.against {
			out.say("growth", holds, "the casebook continues the kept checkpoint")
		}
	}
	for _, r := range report.Remarks {
		out.say("log", remark, "%s", r)
	}
	if len(v.named) > 0 {
		v.strangers(out)
	} else {
		v.founded(out)
	}
	return out, nil
}

// strangers are keys of the register that the reader did not name.
func (v *verifier) strangers(out *verified) {
	known := map[string]casebook.PublicKey{}
	for _, k := range v.named {
		known[k.ID] = k
	}
	held := true
	for _, k := range v.registered {
		if t, ok := known[k.ID]; !ok || t.Key != k.Key || t.Name != k.Name || t.Role != k.Role {
			out.say("key", fails, "unknown key: %s is registered, but not among those that you trust", k.ID)
			held = false
		}
	}
	if held {
		out.say("key", holds, "%s registered, all trusted", count(len(v.registered), "key"))
	}
}
