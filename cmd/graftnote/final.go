package main

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"strings"
	"time"

	"graftnote/casebook"
	"graftnote/note"
	"graftnote/schema"
)

// proofName is the file inside a signed note that proves it.
const proofName = "proof.json"

// codeFormat is the first word of what the two-dimensional code carries.
const codeFormat = "graftnote 1"

// dossier is a signed case as its proofs tell it. The note is made from this
// alone, never from the casebook's tables, so that whoever has the entry and the
// proofs can make the same bytes again.
type dossier struct {
	history casebook.History
	proofs  []casebook.Proof
	entry   schema.Checked // in force
	words   []byte         // the note as it was shown and signed; nil when its signature binds no words
}

// newDossier replays the proofs of a case and opens the entry in force. It
// verifies no signature.
func newDossier(proofs []casebook.Proof, o schema.Options) (*dossier, error) {
	h, err := casebook.Replay(proofs)
	if err != nil {
		return nil, err
	}
	d := &dossier{history: h, proofs: proofs, words: h.Document(len(h.Revisions))}
	if d.entry, err = schema.Sealed(h.Entry(len(h.Revisions)), o); err != nil {
		return nil, err
	}
	return d, nil
}

func (d *dossier) revision() int { return len(d.history.Revisions) }

func (d *dossier) last() *casebook.Statement { return d.history.Current().Statement }

// inForce is the statement that carries the entry in force.
func (d *dossier) inForce() *casebook.Statement {
	for i := d.revision() - 1; i > 0; i-- {
		if s := d.history.Revisions[i].Statement; s.CarriesEntry() {
			return s
		}
	}
	return d.history.Revisions[0].Statement
}

// actWords are the words of the acts in the list of revisions.
var actWords = map[casebook.Kind]string{
	casebook.Signed: "Signed", casebook.CounterSigned: "Counter-signed", casebook.Corrected: "Corrected",
	casebook.Addendum: "Addendum", casebook.Withdrawn: "Withdrawn",
}

// signoff says what the note shows of its signatures.
func (d *dossier) signoff(p *note.Phrases) (*note.Signoff, error) {
	so := &note.Signoff{Withdrawn: d.history.State == casebook.StateWithdrawn}
	if d.history.State == casebook.StateAwaiting {
		so.Awaiting = "the responsible surgeon"
	}
	for _, r := range d.history.Revisions {
		s := r.Statement
		so.Signatures = append(so.Signatures, note.Signature{Name: s.Signer.Name, Role: s.Signer.Role, Meaning: s.Meaning, At: s.At(), Zone: s.Zone, Key: s.Signer.Key})
		so.Revisions = append(so.Revisions, revisionOf(s, p))
	}
	if so.Digest = d.inForce().DocumentSHA256; so.Digest == "" {
		so.Unsigned = wordsUnsigned
	}
	cp, err := casebook.ParseCheckpoint(d.history.Current().Checkpoint)
	if err != nil {
		return nil, err
	}
	for _, line := range strings.Split(strings.TrimSuffix(d.history.Current().Checkpoint, "\n"), "\n") {
		if line != "" {
			so.Checkpoint = append(so.Checkpoint, line)
		}
	}
	so.Code = fmt.Sprintf("%s / %s / rev %d / sha256:%s / size %d / root %s", codeFormat, d.history.Case, d.revision(), d.last().EntrySHA256, cp.Size, cp.Root)
	proof, err := encodeProofs(d.proofs)
	if err != nil {
		return nil, err
	}
	so.Proof = note.Attachment{Name: proofName, MIME: "application/json", Data: proof,
		Description: proofDescription()}
	return so, nil
}

func revisionOf(s *casebook.Statement, p *note.Phrases) note.Revision {
	r := note.Revision{Number: s.Revision, Kind: actWords[s.Kind], Who: s.Signer.Name + " (" + s.Signer.Role + ")", At: s.At(), Zone: s.Zone, Why: s.Why, Text: s.Text}
	if s.Kind == casebook.Addendum && s.Event != "" {
		if at, err := time.Parse(time.RFC3339, s.Event); err == nil {
			r.Kind, r.Event = "Late entry", &at
		}
	}
	for _, c := range s.Changes {
		r.Changes = append(r.Changes, note.Change{Label: p.Label(c.Path), Old: p.SayText(c.Path, c.Old), New: p.SayText(c.Path, c.New)})
	}
	if s.ClockBefore != "" {
		r.Why = strings.TrimSpace(r.Why + " (The clock stood before the time of the act that precedes this one in the casebook.)")
	}
	return r
}

// findingWords say what the signer was asked to look at again.
func findingWords(a casebook.Answer, p *note.Phrases) string {
	words := a.Rule
	if rule, ok := schema.Content().Rule(a.Rule); ok && rule.What != "" {
		words = rule.What
	}
	if a.Path == "" {
		return words
	}
	return p.Label(a.Path) + ": " + words
}

// encodeProofs writes the proofs of a case, the oldest first.
func encodeProofs(proofs []casebook.Proof) ([]byte, error) {
	var b bytes.Buffer
	b.WriteByte('[')
	for i, p := range proofs {
		text, err := p.Encode()
		if err != nil {
			return nil, err
		}
		if i > 0 {
			b.WriteByte(',')
		}
		b.Write(text)
	}
	b.WriteByte(']')
	return b.Bytes(), nil
}

var errProofs = errors.New("the proof is malformed")

// maxProofs is the number of revisions of one case that are read.
const maxProofs = 10_000

// parseProofs accepts only what encodeProofs writes, byte for byte.
func parseProofs(b []byte) ([]casebook.Proof, error) {
	var list []json.RawMessage
	if err := json.Unmarshal(b, &list); err != nil || len(list) == 0 || len(list) > maxProofs {
		return nil, errProofs
	}
	out := make([]casebook.Proof, len(list))
	for i, text := range list {
		var err error
		if out[i], err = casebook.ParseProof(text); err != nil {
			return nil, errProofs
		}
	}
	if again, err := encodeProofs(out); err != nil || !bytes.Equal(again, b) {
		return nil, errProofs
	}
	return out, nil
}

// wordsUnsigned stands on a note whose signature binds its entry and no words.
const wordsUnsigned = "The signature of this note covers its entry (entry.json). The words on these pages were made from that entry later; they were not shown to the signer and are not part of what was signed."

// build is the document of the case as it stands: the words that were shown and
// signed, whatever this version or the site's phrases would say today, and its
// signatures and later acts around them.
func (d *dossier) build(p *note.Phrases, language string) (note.Document, error) {
	so, err := d.signoff(p)
	if err != nil {
		return note.Document{}, err
	}
	doc, err := d.document(p, language)
	if err != nil {
		return note.Document{}, err
	}
	doc.Sources = []note.Attachment{note.EntrySource(d.entry)}
	return doc.Sign(*so), nil
}

// document is the note without its signatures. Where the signature binds no words,
// they are made from the signed entry.
func (d *dossier) document(p *note.Phrases, language string) (note.Document, error) {
	if d.words == nil {
		doc, err := note.Build(d.entry, p, note.Options{Language: language, ToSign: true})
		for _, a := range d.inForce().Answers {
			doc.Answers = append(doc.Answers, note.Item{Label: findingWords(a, p), Value: a.Reason})
		}
		return doc, err
	}
	doc, err := note.ParseDocument(d.words)
	if err != nil || doc.ID != d.history.Case {
		return doc, &fault{status: statusIO, text: "the signed words cannot be read by this version of graftnote", hints: []string{"use the version that the note was signed with, or a later one"}}
	}
	return doc, nil
}

// proofDescription stands on the page beside the proof. It names the version,
// because only the same version makes the same pages again.
func proofDescription() string {
	return "The proof of every signature. Made by graftnote, version " + programVersion() + "."
}
