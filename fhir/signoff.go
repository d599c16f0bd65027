package fhir

import (
	"crypto/sha256"
	"encoding/base64"
	"fmt"
	"time"

	"github.com/samply/golang-fhir-models/fhir-models/fhir"

	"graftnote/note"
	"graftnote/schema"
)

// Signoff is what the casebook knows of a signed note beyond the words of its
// document. Names and times of the signatures are the document's.
type Signoff struct {
	Awaiting   bool      // a counter-signature is missing: the note is preliminary
	Amended    bool      // corrected or added to after the first signature
	Withdrawn  bool      // entered in error
	Revision   int       // counted from 1
	Acts       []Act     // one for each signature of the document, in its order
	Checkpoint string    // the casebook's signed checkpoint after the last act
	Earlier    []Earlier // the revisions before this one, the oldest first
}

// Act is one signed statement.
type Act struct {
	Kind      string // row of tables.yaml, signature-types
	Statement []byte // the signed bytes
	Signature []byte // Ed25519 (RFC 8032)
}

// Earlier is the note as it stood before. Its document goes along as superseded,
// and what its entry said and the one in force no longer says as entered in error:
// whatever of it a server holds, the newest revision sets right.
type Earlier struct {
	Entry    schema.Checked // in force then
	PDF      []byte
	At       time.Time // when that revision was signed
	Awaiting bool
	Amended  bool
}

// revision is the number of the revision, 1 when the casebook is not asked.
func (b *builder) revision() int {
	if b.o.Signoff == nil {
		return 1
	}
	return max(1, b.o.Signoff.Revision)
}

// pdfRole names the document of a revision. The first keeps the name of the
// draft, so that it takes the draft's place.
func pdfRole(revision int) string {
	if revision < 2 {
		return "note-pdf"
	}
	return fmt.Sprintf("note-pdf.%d", revision)
}

// sends reports whether what this program owns goes out as an update: a signed
// note takes the place of its draft, and a revision that of the one before.
func (b *builder) sends() bool { return b.o.Update || b.o.Signoff != nil }

// documentRole names a document Bundle: each revision is another document.
func (b *builder) documentRole() string {
	if n := b.revision(); n > 1 {
		return fmt.Sprintf("document.%d", n)
	}
	return "document"
}

func statusOf(signed, awaiting, amended, withdrawn bool) fhir.CompositionStatus {
	switch {
	case withdrawn:
		return fhir.CompositionStatusEnteredInError
	case !signed || awaiting:
		return fhir.CompositionStatusPreliminary
	case amended:
		return fhir.CompositionStatusAmended
	}
	return fhir.CompositionStatusFinal
}

func (b *builder) status() fhir.CompositionStatus {
	s := b.o.Signoff
	if s == nil {
		return statusOf(b.signed, false, false, false)
	}
	return statusOf(b.signed, s.Awaiting, s.Amended, s.Withdrawn)
}

// provisional reports a note that somebody has still to sign: nothing in it is
// final yet.
func (b *builder) provisional() bool { return b.status() == fhir.CompositionStatusPreliminary }

// attesters are the signers with their times: the manifestation of each
// signature. HL7's Operative Note has one legal attester at most: who answers for
// the whole note as it stands. The others attest as professionals. Without the
// document's signatures it is the team's signer.
func (b *builder) attesters() []fhir.CompositionAttester {
	if !b.signed {
		return nil
	}
	var out []fhir.CompositionAttester
	legal, answers := fhir.CompositionAttestationModeLegal, b.answers()
	for i, s := range b.d.Signatures {
		who, mode := b.signer(s), legal
		if i != answers {
			mode = fhir.CompositionAttestationModeProfessional
		}
		out = append(out, fhir.CompositionAttester{Mode: mode, Time: ptr(stamp(s.At)), Party: &who})
	}
	if len(out) > 0 {
		return out
	}
	for i, who := range b.with("signer") {
		if i > 0 {
			legal = fhir.CompositionAttestationModeProfessional
		}
		a := fhir.CompositionAttester{Mode: legal, Party: &who}
		if !b.o.Signed.IsZero() {
			a.Time = ptr(stamp(b.o.Signed))
		}
		out = append(out, a)
	}
	return out
}

// answers is the place of the signature that answers for the whole note: the
// newest that is no addition and no withdrawal. It is none while one is missing.
func (b *builder) answers() int {
	if b.provisional() {
		return -1
	}
	last := len(b.d.Signatures) - 1
	if b.o.Signoff == nil || len(b.o.Signoff.Acts) != len(b.d.Signatures) {
		return last
	}
	for i := last; i >= 0; i-- {
		if b.t.Attests[b.o.Signoff.Acts[i].Kind] {
			return i
		}
	}
	return -1
}

// answersFor reports whether the person is the one who answers for the note.
func (b *builder) answersFor(who fhir.Reference) bool {
	if len(b.d.Signatures) == 0 {
		return !b.provisional()
	}
	i := b.answers()
	return i >= 0 && who.Display != nil && *who.Display == b.d.Signatures[i].Name
}

// completion is the state of a signed note in the words of HL7's document
// completion: nullified, signed by some of those who must, or legally authenticated.
func (b *builder) completion() string {
	switch {
	case b.status() == fhir.CompositionStatusEnteredInError:
		return "NU"
	case b.provisional():
		return "AU"
	}
	return "LA"
}

// signer is the person of the team with the name of the signature, or the name
// alone: a name is no proof that two records are one person.
func (b *builder) signer(s note.Signature) fhir.Reference {
	for i, p := range b.e.Team {
		if p.Name.Recorded() && p.Name.Value() == s.Name {
			return b.people[i]
		}
	}
	return fhir.Reference{Type: ptr("Practitioner"), Display: ptr(s.Name)}
}

// signers are those of all signatures, each once; the team's signers when the
// document names none.
func (b *builder) signers() []fhir.Reference {
	if len(b.d.Signatures) == 0 {
		return b.with("signer")
	}
	var out []fhir.Reference
	seen := map[string]bool{}
	for _, s := range b.d.Signatures {
		who := b.signer(s)
		if key := *who.Display; !seen[key] {
			seen[key] = true
			out = append(out, who)
		}
	}
	return out
}

// signatures are the Ed25519 signatures, each over its own statement in RFC 8785
// JSON. What was signed is named by its digest in Provenance.entity.
func (b *builder) signatures(res *fhir.Provenance) {
	s := b.o.Signoff
	if s == nil || len(s.Acts) != len(b.d.Signatures) {
		return
	}
	for i, act := range s.Acts {
		by := b.d.Signatures[i]
		kind := b.t.SignatureTypes[act.Kind]
		if kind == "" {
			b.err = fmt.Errorf("fhir: tables.yaml: no signature type %q", act.Kind)
			return
		}
		res.Signature = append(res.Signature, fhir.Signature{Type: []fhir.Coding{b.t.published(kind)},
			When: stamp(by.At), Who: b.signer(by), TargetFormat: ptr("application/json"), SigFormat: ptr("application/octet-stream"),
			Data: ptr(base64.StdEncoding.EncodeToString(act.Signature))})
		sum := sha256.Sum256(act.Statement)
		role := fhir.ProvenanceEntityRoleRevision // R4: what came of it is a revised version of it
		if i == len(s.Acts)-1 {
			role = fhir.ProvenanceEntityRoleSource
		}
		res.Entity = append(res.Entity, fhir.ProvenanceEntity{Role: role,
			What: fhir.Reference{Identifier: b.digest(sum[:]), Display: ptr(fmt.Sprintf("the signed statement of revision %d, in canonical JSON", i+1))}})
	}
	if s.Checkpoint == "" {
		return
	}
	res.Extension = append(res.Extension, fhir.Extension{Url: b.t.CheckpointExtension, ValueBase64Binary: ptr(base64.StdEncoding.EncodeToString([]byte(s.Checkpoint)))})
	words := paragraph(fmt.Sprintf("Revision %d, signed in a casebook. Its checkpoint after the last signature:", s.Revision)) + element("pre", xmlText(s.Checkpoint))
	res.Text = &fhir.Narrative{Status: fhir.NarrativeStatusAdditional, Div: div(words)}
}

// relate sends the documents of the revisions before as superseded, whatever of them
// a server already holds, and names the last of them as replaced. They go out
// complete, so that an update of them loses nothing. A page of another patient goes
// nowhere.
func (b *builder) relate(res *fhir.DocumentReference, before func(pdf []byte, revision int, at string) fhir.DocumentReference) {
	s := b.o.Signoff
	if s == nil || len(s.Earlier) == 0 {
		return
	}
	if b.document { // the document is that of its revision: the one before is named, not sent
		before := fhir.Reference{Type: ptr("DocumentReference"), Identifier: b.own("note-revision", fmt.Sprintf("note-pdf.%d", len(s.Earlier)))}
		res.RelatesTo = []fhir.DocumentReferenceRelatesTo{{Code: fhir.DocumentRelationshipTypeReplaces, Target: before}}
		return
	}
	for i, e := range s.Earlier {
		res.Identifier = append(res.Identifier, *b.own("note-supersedes", pdfRole(i+1)))
		if !b.samePatient(e) {
			continue
		}
		old := before(e.PDF, i+1, stamp(e.At))
		status := statusOf(true, e.Awaiting, e.Amended, false)
		old.Status, old.DocStatus = fhir.DocumentReferenceStatusSuperseded, &status
		b.add(pdfRole(i+1), old, &old.Identifier[0], ours)
		if i == len(s.Earlier)-1 {
			res.RelatesTo = []fhir.DocumentReferenceRelatesTo{{Code: fhir.DocumentRelationshipTypeReplaces, Target: b.ref(pdfRole(i + 1))}}
		}
	}
}

// guard lets a server refuse a revision that is older than one it holds. The update
// goes to the page of this revision or to one that supersedes it: when both are
// there, two match, and the whole transaction fails (R4, conditional update: 412).
// The type narrows nothing. A widely used server that finds an identifier standing
// alone by a quick look-up takes the first of the two (HAPI FHIR 8.8.0, seen).
func (b *builder) guard(m owning) {
	if b.document || b.o.Signoff == nil {
		return
	}
	it, over, kind := b.own("note", m.role), b.own("note-supersedes", m.role), b.t.coding("loinc:11504-8")
	m.entry["request"].(map[string]any)["url"] = "DocumentReference?identifier=" + escape(*it.System+"|"+*it.Value) + "," + escape(*over.System+"|"+*over.Value) +
		"&type=" + escape(*kind.System+"|"+*kind.Code)
}

// acts says in the words of the Composition what was done to the note after it was
// signed first, and why.
func (b *builder) acts() note.Section {
	s := note.Section{Key: "revisions", Title: b.t.RevisionsTitle}
	for _, r := range b.d.Revisions {
		if r.Number < 2 {
			continue
		}
		words := fmt.Sprintf("%s: revision %d, %s, %s.", r.Kind, r.Number, r.When(), r.Who)
		if at := r.EventWhen(); at != "" {
			words += " Of " + at + "."
		}
		block := note.Block{Paragraph: words}
		for _, c := range r.Changes {
			block.List = append(block.List, fmt.Sprintf("%s: %s → %s", c.Label, orNothing(c.Old), orNothing(c.New)))
		}
		s.Blocks = append(s.Blocks, block)
		for _, own := range []string{r.Why, r.Text} {
			if own != "" {
				s.Blocks = append(s.Blocks, note.Block{Quote: own})
			}
		}
	}
	return s
}

func orNothing(s string) string {
	if s == "" {
		return "(nothing)"
	}
	return s
}
