package fhir

import (
	"fmt"
	"net/url"
	"strings"

	"github.com/google/uuid"
	"github.com/samply/golang-fhir-models/fhir-models/fhir"

	"graftnote/note"
	"graftnote/schema"
)

// Transaction is the import Bundle: every resource of the operation, created
// only where its business identifier is not yet there. A draft is refused with
// *Incomplete.
func Transaction(c schema.Checked, d note.Document, o Options) ([]byte, error) {
	b, err := newBuilder(c, d, o, false)
	if err != nil {
		return nil, err
	}
	b.build()
	b.takeBack()
	b.documentReference()
	b.provenance()
	return b.bundle(fhir.Bundle{Type: fhir.BundleTypeTransaction})
}

// DocumentBundle is the note as a FHIR document: the Composition first, then
// everything that it reaches, the PDF too: the Procedure names it as its report. A
// draft is refused with *Incomplete.
func DocumentBundle(c schema.Checked, d note.Document, o Options) ([]byte, error) {
	b, err := newBuilder(c, d, o, true)
	if err != nil {
		return nil, err
	}
	b.build()
	b.documentReference()
	b.provenance()
	// bdl-9, bdl-10: a document has an identifier and a date.
	return b.bundle(fhir.Bundle{Type: fhir.BundleTypeDocument, Identifier: b.own("note", b.documentRole()), Timestamp: &b.written})
}

// builder collects the entries of one bundle.
type builder struct {
	c        schema.Checked
	e        *schema.Entry
	d        note.Document
	o        Options
	t        *tables
	document bool
	eye      string // the operated eye: right or left
	written  string // when the note was written or signed, with its offset
	signed   bool

	entries  []any             // trees of the model's entries
	identity map[string]string // type and identifier to urn
	mine     []owning          // what this program owns, in the order made
	earlier  []*builder        // what the signed revisions before this one said
	targets  []fhir.Reference  // for Provenance
	sections map[string][]fhir.Reference
	subject  fhir.Reference
	meet     *fhir.Reference // Encounter
	home     *fhir.Reference // Organization
	place    *fhir.Reference // Location
	people   []fhir.Reference
	reasons  []fhir.Reference // Conditions that the operation was for
	tissues  []fhir.Reference
	supplies []fhir.Reference
	detail   []fhir.Reference // Conditions of events
	err      error
}

func newBuilder(c schema.Checked, d note.Document, o Options, document bool) (*builder, error) {
	if err := o.check(c); err != nil {
		return nil, err
	}
	b := &builder{c: c, e: c.Entry(), d: d, o: o, t: terms(), document: document, signed: !d.Draft,
		eye: string(c.Entry().Eye.Operated.Value()), identity: map[string]string{}, sections: map[string][]fhir.Reference{}}
	at, ok := b.moment()
	if !ok {
		return nil, ErrNoMoment
	}
	b.written = stamp(at)
	if err := b.before(); err != nil {
		return nil, err
	}
	return b, nil
}

// build makes all that both bundles hold, the Composition first.
func (b *builder) build() {
	b.say()
	b.amend()
	b.composition()
}

// say makes what the entry says in codes.
func (b *builder) say() {
	b.entries = make([]any, 1) // the Composition's place
	b.patient()
	b.organisation()
	b.team()
	b.encounter()
	b.diagnoses()
	b.products()
	b.devices()
	b.observations()
	b.events()
	b.request()
	b.procedures()
}

// space makes the names of resources: UUID version 5 (RFC 9562, 5.5) of the case
// and the role. Nothing of the patient goes into a name.
var space = uuid.NewSHA1(uuid.NameSpaceURL, []byte("https://graftnote.example/id/"))

func (b *builder) urn(role string) string {
	return "urn:uuid:" + uuid.NewSHA1(space, []byte(b.c.ID()+"\x00"+role)).String()
}

func (b *builder) ref(role string) fhir.Reference {
	return fhir.Reference{Reference: ptr(b.urn(role))}
}

// own is the business identifier of something that only this case gives a name.
// Its kinds are not those of the hospital's own numbers: a name made here must
// never stand among them.
func (b *builder) own(kind, role string) *fhir.Identifier {
	return identifier(b.o.system(kind), b.c.ID()+"."+role)
}

func identifier(system, value string) *fhir.Identifier {
	return &fhir.Identifier{System: &system, Value: &value}
}

// owned says whose the resource is: what this program owns may be updated.
type owned bool

const (
	ours   owned = true
	theirs owned = false
)

// add puts a resource into the bundle under its role and business identifier.
// A nil identifier is for types that have none, or that no server can search by
// one (R4: Provenance, BiologicallyDerivedProduct); those are found by a tag. The
// same identity twice gives the first resource.
func (b *builder) add(role string, res any, id *fhir.Identifier, whose owned) fhir.Reference {
	kind, entry := b.entry(role, res, id, whose)
	if b.err != nil {
		return b.ref(role)
	}
	if id != nil {
		key := kind + "|" + *id.System + "|" + *id.Value
		if urn, ok := b.identity[key]; ok {
			return fhir.Reference{Reference: &urn}
		}
		b.identity[key] = b.urn(role)
	}
	b.entries = append(b.entries, entry)
	ref := b.ref(role)
	if whose == ours {
		b.mine = append(b.mine, owning{b.keyOf(kind, role, id), role, entry})
		if kind != "Practitioner" { // nobody was made by the note
			b.targets = append(b.targets, ref)
		}
	}
	return ref
}

func (b *builder) entry(role string, res any, id *fhir.Identifier, whose owned) (string, map[string]any) {
	urn := b.urn(role)
	kind := strings.TrimPrefix(fmt.Sprintf("%T", res), "fhir.")
	meta := map[string]any{}
	// What an entry is found by may not be its fullUrl: a server replaces that,
	// wherever it stands, by the address that it gives (R4, transaction).
	find := "identifier"
	if id == nil {
		find, id = "_tag", b.own("resource", role)
		meta["tag"] = []fhir.Coding{{System: id.System, Code: id.Value}}
	}
	if _, ok := res.(fhir.Composition); ok {
		meta["security"] = []fhir.Coding{b.t.coding("confidentiality:N")}
	}
	query := find + "=" + escape(*id.System+"|"+*id.Value)
	extra := map[string]any{}
	if o, ok := res.(fhir.Observation); ok && o.EffectiveDateTime == nil && o.EffectivePeriod == nil {
		extra["_effectiveDateTime"] = b.unknown()
	}
	if s := b.o.Site; s != nil && s.MetaProfiles[kind] != "" {
		meta["profile"] = []string{s.MetaProfiles[kind]}
	}
	if len(meta) > 0 {
		extra["meta"] = meta
	}
	tree, err := resource(res, extra)
	entry := map[string]any{"fullUrl": urn, "resource": tree}
	if !b.document && err == nil {
		request := fhir.BundleEntryRequest{Method: fhir.HTTPVerbPOST, Url: kind, IfNoneExist: &query}
		if bool(whose) && b.sends() {
			request = fhir.BundleEntryRequest{Method: fhir.HTTPVerbPUT, Url: kind + "?" + query}
		}
		entry["request"], err = asTree(request)
	}
	if err != nil && b.err == nil {
		b.err = fmt.Errorf("%s %s: %w", kind, role, err)
	}
	return kind, entry
}

// unknown stands in the place of a primitive value that nobody knows. Left out, a
// time would be taken from the import by many a reader (R4, extension
// data-absent-reason).
func (b *builder) unknown() map[string]any {
	return map[string]any{"extension": []fhir.Extension{{Url: "http://hl7.org/fhir/StructureDefinition/data-absent-reason",
		ValueCode: b.t.coding("absent:unknown").Code}}}
}

// escape writes a query value; a blank as %20, which every server reads.
func escape(s string) string { return strings.ReplaceAll(url.QueryEscape(s), "+", "%20") }

// quote puts references into a section of the note.
func (b *builder) quote(section string, refs ...fhir.Reference) {
	b.sections[section] = append(b.sections[section], refs...)
}

func (b *builder) bundle(out fhir.Bundle) ([]byte, error) {
	b.inError()
	if b.err != nil {
		return nil, b.err
	}
	tree, err := asTree(out)
	if err != nil {
		return nil, err
	}
	tree["entry"] = b.entries
	reached := map[string]bool{}
	references(b.entries, func(r string) { reached[r] = true })
	dropStrangers(tree, reached)
	if lost := dangling(tree, reached); lost != "" {
		return nil, fmt.Errorf("fhir: the reference %s leads nowhere", lost)
	}
	return encode(tree)
}
