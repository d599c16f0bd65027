package main

import (
	"bytes"
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"strings"
	"time"

	"graftnote/casebook"
	"graftnote/note"
	"graftnote/pdf"
	"graftnote/schema"
)

// remade remembers the products made again of one case, on each paper, since a
// note and its bundles are made of the same proofs.
type remade struct {
	of map[string]remadeOnce
}

type remadeOnce struct {
	files map[kind][]byte
	err   error
}

// mostRemade bounds what is remembered: two papers of two revisions.
const mostRemade = 4

// again makes the products of a case as they would be written today.
func (v *verifier) again(d *dossier, paper pdf.Paper, held []byte) (map[kind][]byte, error) {
	text, err := encodeProofs(d.proofs)
	if err != nil {
		return nil, err
	}
	sum := sha256.Sum256(append(text, held...))
	key := paper.Name + string(sum[:])
	once, known := v.made.of[key]
	if !known {
		if v.made.of == nil || len(v.made.of) >= mostRemade {
			v.made.of = map[string]remadeOnce{}
		}
		once.files, _, once.err = v.maker.final(d, paper, held)
		v.made.of[key] = once
	}
	return once.files, once.err
}

// pdf verifies a note: the file's form, the proofs, the entry inside and the
// pages.
func (v *verifier) pdf(out *verified, data []byte) {
	files, err := pdf.Attachments(data)
	if err != nil {
		out.say("file", fails, "%s", v.strangePDF(data, err))
		return
	}
	var entry, proof *note.Attachment
	for i := range files {
		switch files[i].Name {
		case "entry.json":
			entry = &files[i]
		case proofName:
			proof = &files[i]
		}
	}
	if proof == nil {
		out.say("signature", notShown, "not signed: there is no proof inside, as in a draft")
		return
	}
	if !v.proofs(out, proof.Data) || out.dossier == nil {
		return
	}
	d := out.dossier
	switch {
	case entry == nil || len(files) != 2:
		out.say("attachment", fails, "swapped attachment: the files inside are not the entry and its proof")
		return
	case !bytes.Equal(entry.Data, d.entry.Canonical()):
		out.say("attachment", fails, "swapped attachment: the entry inside is not the signed one")
		return
	}
	out.say("attachment", holds, "the entry inside is the signed one")
	v.page(out, data, proof.Description)
}

// strangePDF says what was done to a file that is not of our form.
func (v *verifier) strangePDF(data []byte, err error) string {
	if errors.Is(err, pdf.ErrLarge) {
		return "the file is larger than anything that graftnote writes"
	}
	const end = "%%EOF\n"
	for at := bytes.Index(data, []byte(end)); at >= 0 && at+len(end) < len(data); {
		if _, err := pdf.Attachments(data[:at+len(end)]); err == nil {
			return "appended update: another program added to the file after it was written"
		}
		next := bytes.Index(data[at+1:], []byte(end))
		if next < 0 {
			break
		}
		at += 1 + next
	}
	return "re-saved or altered: the file does not have the form that graftnote writes"
}

// page makes the pages again from the signed words and the proofs, on both papers.
func (v *verifier) page(out *verified, data []byte, madeBy string) {
	for _, paper := range []pdf.Paper{pdf.A4, pdf.Letter} {
		files, err := v.again(out.dossier, paper, nil)
		if err == nil && bytes.Equal(files[kindNote], data) {
			out.paper = paper
			if out.dossier.words == nil {
				out.say("page", notShown, "made again from the signed entry with these settings it is the same, byte for byte; but its words were not bound when it was signed")
				return
			}
			out.say("page", holds, "made again from the signed words and the proof it is the same, byte for byte")
			return
		}
	}
	if madeBy != proofDescription() {
		if why := v.otherVersion(out.dossier, data, madeBy); why != "" {
			out.say("page", fails, "altered page: %s", why)
			return
		}
		out.say("page", notShown, "drawn by another version, or altered: this version draws it otherwise from the signed words; verify it with the version that drew it, or write it again")
		return
	}
	out.say("page", fails, "altered page: it differs from the page made again from the signed words and the proof")
}

// otherVersion looks at a page that says another version drew it. It gives what
// shows that the page was altered all the same, or "".
func (v *verifier) otherVersion(d *dossier, data []byte, madeBy string) string {
	doc, err := d.build(v.maker.phrases, v.maker.language)
	if err != nil {
		return ""
	}
	if missing, ok := printedWords(doc, data); ok && d.words != nil && missing > 0 {
		return count(missing, "word") + " of the signed text " + map[bool]string{true: "is", false: "are"}[missing == 1] + " not on it, whatever version drew it"
	}
	for i := range doc.Sources {
		if doc.Sources[i].Name == proofName {
			doc.Sources[i].Description = madeBy
		}
	}
	for _, paper := range []pdf.Paper{pdf.A4, pdf.Letter} {
		if page, err := v.maker.page(doc, paper); err == nil && bytes.Equal(page, data) {
			return "this version drew it, and the name of the version was edited"
		}
	}
	return ""
}

// proofs verifies the proofs of a case and what is asked of its chain. It is
// false when there are none that can be read.
func (v *verifier) proofs(out *verified, text []byte) bool {
	list, err := parseProofs(text)
	if err != nil {
		out.say("signature", fails, "malformed proof: %s", err.Error())
		return false
	}
	keys := v.keysFor(list)
	trust := casebook.Trust{Keys: keys, Checkpoints: v.against}
	names := []string{"content", "words", "signature", "inclusion", "checkpoint", "key"}
	good := map[string]int{}
	var faults []proven
	said := map[string]bool{}
	for i, p := range list {
		w, err := casebook.VerifyProof(p, trust)
		for check, held := range map[string]bool{"content": w.Content, "words": w.Words || err == nil && w.Statement.DocumentSHA256 == "", "signature": w.Signature, "inclusion": w.Inclusion, "checkpoint": w.Sealed, "key": w.KeyTrusted} {
			if held {
				good[check]++
			}
		}
		for _, f := range w.Faults {
			check := checkOf[f.Kind]
			if check == "" {
				check = "signature"
			}
			line := fmt.Sprintf("%s: revision %d: %s", f.Kind, i+1, f.What)
			if !said[line] {
				said[line] = true
				faults = append(faults, proven{check, fails, line})
			}
		}
		if err == nil {
			v.untrusted(out, w, i+1)
		}
	}
	words := map[string]string{"content": "the entry has the digest that was signed", "words": "the words have the digest that was signed", "signature": signatureWords(list),
		"inclusion": "it stands in the log of its checkpoint", "checkpoint": "the checkpoint is signed", "key": v.keyWords()}
	for _, check := range names {
		switch {
		case check == "words" && !bound(list):
			out.say(check, notShown, "what was signed binds the entry and no words: those on the page were made from it later")
		case good[check] == len(list):
			out.say(check, holds, "%s%s", words[check], ofAll(len(list)))
		case check == "key" && len(keys) == 0:
			out.say(check, notShown, "whose key signed is not known here: name the keys (--trust) or the founders (--founders) that you know, and the casebook")
		}
	}
	out.Lines = append(out.Lines, faults...)
	v.vouched(out, list)
	d, err := newDossier(list, v.given.options)
	if err != nil {
		var f casebook.Fault
		if errors.As(err, &f) {
			out.say("chain", fails, "%s: %s", f.Kind, f.What)
		} else {
			out.say("content", notShown, "the entry cannot be opened by this version of graftnote")
		}
		return true
	}
	out.dossier, out.Case, out.Revision = d, d.history.Case, d.revision()
	out.say("chain", holds, "%s, each continues the one before", count(d.revision(), "revision"))
	if d.history.State == casebook.StateWithdrawn {
		out.say("standing", withdrawn, "the note was withdrawn as entered in error")
	}
	if v.book == nil {
		out.say("standing", notShown, "whether a later revision or a withdrawal followed, and whether the key was revoked, is known to the casebook only (--casebook)")
	}
	v.growth(out, d.history.Current().Checkpoint)
	v.newest(out, d)
	v.seen[out.Case] = out
	return true
}

// bound reports whether the signature on the entry in force binds words.
func bound(list []casebook.Proof) bool {
	for i := len(list) - 1; i >= 0; i-- {
		if s, err := casebook.ParseStatement(list[i].Statement); err == nil && s.CarriesEntry() {
			return s.DocumentSHA256 != ""
		}
	}
	return false
}

// checkOf names the line that a fault belongs to.
var checkOf = map[casebook.FaultKind]string{
	casebook.EditedEntry: "content", casebook.EditedWords: "words", casebook.BadStatement: "content", casebook.UnknownKey: "key", casebook.RevokedKey: "key", casebook.NoVoucher: "key",
	casebook.WrongSigner: "key", casebook.NotInLog: "inclusion", casebook.Reordered: "inclusion", casebook.BadCheckpoint: "checkpoint",
	casebook.OtherCasebook: "checkpoint", casebook.Forked: "growth",
}

func ofAll(n int) string {
	if n == 1 {
		return ""
	}
	return fmt.Sprintf(" (all %d revisions)", n)
}

// signatureWords show each signature as 21 CFR 11.50 asks of every readable form:
// name, time and meaning.
func signatureWords(list []casebook.Proof) string {
	var out []string
	for _, p := range list {
		s, err := casebook.ParseStatement(p.Statement)
		if err != nil {
			continue
		}
		at := note.Signature{At: s.At(), Zone: s.Zone}
		out = append(out, fmt.Sprintf("%s (%s), %s, %s", schema.Visible(s.Signer.Name), s.Signer.Role, at.When(), schema.Visible(s.Meaning)))
	}
	return strings.Join(out, "; ")
}

// untrusted remarks on a key whose owner says that it is not to be trusted from
// a time before the signature on.
func (v *verifier) untrusted(out *verified, w casebook.Verdict, revision int) {
	for _, k := range v.keys {
		if k.ID != w.Signer.ID || k.Since == "" {
			continue
		}
		since, err := time.Parse(time.RFC3339, k.Since)
		if err == nil && !w.Statement.At().Before(since) {
			out.say("key", notShown, "revoked key: revision %d is dated after the time from which the key is not to be trusted", revision)
		}
	}
}

// newest compares the note with the casebook: the same statements, and whether
// there are later ones.
func (v *verifier) newest(out *verified, d *dossier) {
	if v.book == nil {
		return
	}
	h, err := v.book.Get(context.Background(), d.history.Case)
	switch {
	case errors.Is(err, casebook.ErrNoCase):
		out.say("casebook", fails, "deleted note, or another casebook: the casebook holds no such case")
		return
	case err != nil:
		out.say("casebook", fails, "%s", bookFault("damaged", err).Error())
		return
	case len(h.Revisions) < d.revision():
		out.say("casebook", fails, "rolled-back casebook: it holds %s of the case, fewer than the note", count(len(h.Revisions), "revision"))
		return
	}
	for i, r := range d.history.Revisions {
		if h.Revisions[i].Leaf != r.Leaf {
			out.say("casebook", fails, "forked: revision %d stands otherwise in the casebook", i+1)
			return
		}
	}
	out.say("casebook", holds, "the casebook holds the same revisions")
	if n := len(h.Revisions); n > d.revision() {
		if h.State == casebook.StateWithdrawn {
			out.say("standing", withdrawn, "withdrawn since, by revision %d, as entered in error", n)
			return
		}
		out.say("standing", superseded, "superseded by revision %d: the note is now %s", n, h.State)
	}
}

// growth says whether the casebook continues a checkpoint and the kept ones.
func (v *verifier) growth(out *verified, checkpoint string) {
	if v.book == nil {
		if len(v.against) > 0 {
			v.sameTree(out, checkpoint)
		}
		return
	}
	for i, old := range append([]string{checkpoint}, v.against...) {
		what := "its checkpoint"
		if i > 0 {
			what = "the kept checkpoint"
			if len(v.against) > 1 {
				what += fmt.Sprintf(" %d", i)
			}
		}
		g, err := v.book.ProveGrowth(context.Background(), old)
		if err == nil {
			err = casebook.VerifyGrowth(g, casebook.Trust{Keys: v.keys})
		}
		var f casebook.Fault
		switch {
		case errors.As(err, &f) && f.Kind == casebook.UnknownKey:
			// Another person's act since, whose key the reader did not name: no fault of this note.
			out.say("growth", notShown, "whether the casebook continues %s: one of the two is signed with a key that you did not name (--trust, or --founders)", what)
		case errors.As(err, &f):
			out.say("growth", fails, "%s: %s: %s", f.Kind, what, f.What)
		case err != nil:
			out.say("growth", fails, "damaged: %s could not be compared with the casebook", what)
		default:
			now, _ := casebook.ParseCheckpoint(g.New) // VerifyGrowth has read it
			was, _ := casebook.ParseCheckpoint(old)
			out.say("growth", holds, "the casebook, now of %s, continues %s of %d", count(int(now.Size), "statement"), what, was.Size)
		}
	}
}

// sameTree compares checkpoints without the casebook: only those of one size can
// be.
func (v *verifier) sameTree(out *verified, checkpoint string) {
	now, err := casebook.ParseCheckpoint(checkpoint)
	if err != nil {
		return // said before
	}
	for _, text := range v.against {
		old, err := casebook.ParseCheckpoint(text)
		if err == nil && old.Casebook == now.Casebook && old.Size == now.Size && old.Root == now.Root {
			out.say("growth", holds, "it is the checkpoint that was kept")
			continue
		}
		if err == nil && old.Casebook == now.Casebook && old.Size != now.Size {
			out.say("growth", notShown, "two checkpoints of different sizes can be compared with the casebook only (--casebook)")
		}
	}
}
