package fhir

import (
	"crypto/sha1" // #nosec G505 -- R4 Attachment.hash is defined as SHA-1
	"crypto/sha256"
	"encoding/base64"
	"encoding/hex"
	"fmt"
	"slices"

	"github.com/samply/golang-fhir-models/fhir-models/fhir"

	"graftnote/note"
)

// composition is the note: its words in sections, each with the resources that
// say the same in codes. It takes the first place of the bundle (bdl-11). It has
// what HL7's Operative Note profile (C-CDA on FHIR, R4 1.1) demands; there
// confidentiality stands in meta.security.
func (b *builder) composition() {
	id := b.own("note", "composition")
	res := fhir.Composition{Identifier: id, Status: b.status(), Type: *b.t.concept("loinc:11504-8"), Subject: &b.subject, Encounter: b.meet,
		Date: b.written, Author: b.authors(), Title: b.title(), Custodian: b.home,
		Event:   []fhir.CompositionEvent{{Code: []fhir.CodeableConcept{*b.operationCode()}, Period: b.period(), Detail: []fhir.Reference{b.ref("procedure")}}},
		Section: b.noteSections()}
	if b.d.Language != "" {
		res.Language = &b.d.Language
	}
	res.Attester = b.attesters()
	_, entry := b.entry("composition", res, id, ours)
	b.entries[0] = entry
	b.targets = append(b.targets, b.ref("composition"))
}

func (b *builder) title() string {
	if b.d.Title == "" {
		return "Operative note"
	}
	return b.d.Title
}

// noteSections quotes the note section by section, in its order; sections that
// the note has not but a reader must find answered come after, and so do
// resources whose section the note left out.
func (b *builder) noteSections() []fhir.CompositionSection {
	var out []fhir.CompositionSection
	done := map[string]bool{}
	if s := b.acts(); len(s.Blocks) > 0 {
		out = append(out, b.section(s))
	}
	for _, s := range b.d.Sections {
		if done[s.Key] {
			continue
		}
		done[s.Key] = true
		out = append(out, b.section(s))
	}
	for _, row := range b.t.Sections {
		if !done[row.Key] && (row.Required || len(b.sections[row.Key]) > 0) {
			title := row.Title
			if title == "" {
				title = *b.t.coding(row.Code).Display
			}
			out = append(out, b.section(note.Section{Key: row.Key, Title: title}))
		}
	}
	return out
}

func (b *builder) section(s note.Section) fhir.CompositionSection {
	code, coded := b.t.OtherSection, false
	if i := slices.IndexFunc(b.t.Sections, func(r sectionRow) bool { return r.Key == s.Key }); i >= 0 {
		code, coded = b.t.Sections[i].Code, b.t.Sections[i].Coded
	}
	title := s.Title
	if title == "" {
		title = *b.t.coding(code).Display
	}
	out := fhir.CompositionSection{Title: &title, Code: b.t.concept(code), Entry: b.sections[s.Key]}
	words, own := narrative(s.Blocks)
	said := words != ""
	if !said {
		words = paragraph(b.t.NotStated)
	}
	// "generated" promises that every word is in the entries as well.
	status := fhir.NarrativeStatusGenerated
	if own || !coded || len(out.Entry) == 0 {
		status = fhir.NarrativeStatusAdditional
	}
	out.Text = &fhir.Narrative{Status: status, Div: div(words)}
	if len(out.Entry) == 0 { // cmp-2: a reason only for an empty section
		switch {
		case s.Key == "complications" && b.e.List("events").None:
			out.EmptyReason = b.t.concept("empty:nilknown")
		case !said || s.Key == "complications":
			out.EmptyReason = b.t.concept("empty:unavailable")
		}
	}
	return out
}

// documentReference carries the PDF inline: receivers lose a separate Binary.
func (b *builder) documentReference() {
	if len(b.o.PDF) == 0 || b.err != nil {
		return
	}
	status := b.status()
	res := b.reference(b.o.PDF, b.revision(), b.written)
	res.DocStatus = &status
	if status == fhir.CompositionStatusEnteredInError {
		res.Status = fhir.DocumentReferenceStatusEnteredInError
	}
	if b.signed {
		res.Authenticator = first(b.signers())
	}
	b.relate(&res, b.reference)
	b.add(pdfRole(b.revision()), res, &res.Identifier[0], ours)
	if b.err == nil {
		b.guard(b.mine[len(b.mine)-1])
	}
}

// reference is the document of one revision. The master identifier names this
// revision and no other (R4: a new version gets a new one).
func (b *builder) reference(pdf []byte, revision int, at string) fhir.DocumentReference {
	short := sha1.Sum(pdf) // #nosec G401 -- the algorithm is R4's, the identifier below has SHA-256
	long := sha256.Sum256(pdf)
	a := fhir.Attachment{ContentType: ptr("application/pdf"), Data: ptr(base64.StdEncoding.EncodeToString(pdf)), Size: ptr(len(pdf)),
		Hash: ptr(base64.StdEncoding.EncodeToString(short[:])), Title: ptr(b.c.ID() + ".note.pdf"), Creation: &at}
	if b.d.Language != "" {
		a.Language = &b.d.Language
	}
	res := fhir.DocumentReference{Identifier: []fhir.Identifier{*b.own("note", pdfRole(revision)), *b.digest(long[:])},
		Status: fhir.DocumentReferenceStatusCurrent, Type: b.t.concept("loinc:11504-8"), Subject: &b.subject,
		Date: &at, Author: b.authors(), Custodian: b.home, Description: ptr(b.title()),
		SecurityLabel: []fhir.CodeableConcept{*b.t.concept("confidentiality:N")},
		Content:       []fhir.DocumentReferenceContent{{Attachment: a}},
		Context:       &fhir.DocumentReferenceContext{Period: b.period(), Related: []fhir.Reference{b.ref("composition")}}}
	if b.o.Signoff != nil {
		res.MasterIdentifier = b.own("note-revision", fmt.Sprintf("note-pdf.%d", revision))
	}
	if b.meet != nil {
		res.Context.Encounter = []fhir.Reference{*b.meet}
	}
	return res
}

// digest names bytes by their SHA-256, as RFC 6920 writes it.
func (b *builder) digest(sum []byte) *fhir.Identifier {
	return identifier(b.t.URISystem, "ni:///sha-256;"+base64.RawURLEncoding.EncodeToString(sum))
}

// provenance says who made all this, from what, when and with which program.
func (b *builder) provenance() {
	if b.err != nil {
		return
	}
	sum, err := hex.DecodeString(b.c.Digest())
	if err != nil {
		b.err = err
		return
	}
	res := fhir.Provenance{Target: b.targets, OccurredDateTime: &b.written, Recorded: b.written, Location: b.place,
		Reason: []fhir.CodeableConcept{*b.t.concept("purpose:TREAT")}, Activity: b.t.concept("operation:CREATE"),
		Entity: []fhir.ProvenanceEntity{{Role: fhir.ProvenanceEntityRoleSource,
			What: fhir.Reference{Identifier: b.digest(sum), Display: ptr("the entry, in canonical JSON")}}}}
	if b.signed {
		res.Activity = b.t.concept("completion:" + b.completion())
		for _, r := range b.d.Revisions[max(0, len(b.d.Revisions)-1):] {
			for _, words := range []string{r.Why, r.Text} {
				if words != "" {
					res.Reason = append(res.Reason, fhir.CodeableConcept{Text: &words})
				}
			}
		}
	}
	agent := func(kind string, who fhir.Reference) {
		res.Agent = append(res.Agent, fhir.ProvenanceAgent{Type: b.t.concept("participant:" + kind), Who: who})
	}
	for _, who := range b.authors() {
		agent("author", who)
	}
	for _, who := range b.with("surgeon") {
		agent("performer", who)
	}
	if b.signed {
		for _, who := range b.signers() {
			kind := "attester"
			if b.answersFor(who) {
				kind = "legal"
			}
			agent(kind, who)
		}
		b.signatures(&res)
	}
	if b.o.Tool != "" {
		agent("assembler", fhir.Reference{Type: ptr("Device"), Identifier: identifier(b.o.system("software"), b.o.Tool), Display: &b.o.Tool})
	}
	state := "preliminary"
	if b.signed {
		state = "final"
	}
	if n := b.revision(); n > 1 {
		state = fmt.Sprintf("%s.%d", state, n)
	}
	b.add("provenance-"+state, res, nil, ours)
}
