package fhir

import (
	"encoding/json"
	"net/url"
	"reflect"
	"slices"
	"strings"

	"github.com/samply/golang-fhir-models/fhir-models/fhir"

	"graftnote/note"
)

// owning is a resource that this program owns: what a server finds it by, and its
// entry.
type owning struct {
	key, role string
	entry     map[string]any
}

// keyOf is the identity of a resource: its type and what a server finds it by.
func (b *builder) keyOf(kind, role string, id *fhir.Identifier) string {
	if id == nil {
		id = b.own("resource", role)
	}
	return kind + "|" + *id.System + "|" + *id.Value
}

// item is the role of an item of a list. It goes by the name that the item keeps
// through every correction: when one before it is taken out, it stays what it is.
func (b *builder) item(kind, group string, i int) string {
	return kind + "-" + b.e.ItemID(group, i)
}

// before makes what the signed revisions before this one said. An entry of another
// patient is left out: nothing of one chart may reach another.
func (b *builder) before() error {
	if b.o.Signoff == nil {
		return nil
	}
	for _, e := range b.o.Signoff.Earlier {
		if !b.samePatient(e) {
			continue
		}
		o := b.o
		o.PDF, o.Signoff = nil, &Signoff{Revision: 1, Awaiting: e.Awaiting}
		x := &builder{c: e.Entry, e: e.Entry.Entry(), d: note.Document{}, o: o, t: b.t, document: b.document, signed: true,
			eye: string(e.Entry.Entry().Eye.Operated.Value()), identity: map[string]string{}, sections: map[string][]fhir.Reference{}, written: b.written}
		x.say()
		if x.err != nil {
			return x.err
		}
		b.earlier = append(b.earlier, x)
	}
	return nil
}

func (b *builder) samePatient(e Earlier) bool {
	if !e.Entry.Valid() {
		return false
	}
	return e.Entry.Entry().Patient.ID.Text() == b.e.Patient.ID.Text()
}

// amend marks the Observations that a correction changed after they were final:
// R4 has amended for them. Those that it left alone stay final, and an addendum
// changes none.
func (b *builder) amend() {
	if b.provisional() {
		return
	}
	for _, m := range b.mine {
		now := m.entry["resource"].(map[string]any)
		if now["resourceType"] != "Observation" {
			continue
		}
		for _, x := range b.earlier {
			if was := x.byKey(m.key); was != nil && !x.o.Signoff.Awaiting && !sameWords(was.resource(), now) {
				now["status"] = fhir.ObservationStatusAmended.Code()
			}
		}
	}
}

func (b *builder) byKey(key string) *owning {
	if i := slices.IndexFunc(b.mine, func(m owning) bool { return m.key == key }); i >= 0 {
		return &b.mine[i]
	}
	return nil
}

func (m *owning) resource() map[string]any { return m.entry["resource"].(map[string]any) }

// frame are the members of a resource that are not what it says.
var frame = []string{"status", "meta", "subject", "encounter"}

func sameWords(a, b map[string]any) bool {
	for k := range a {
		if _, ok := b[k]; !ok && !slices.Contains(frame, k) {
			return false
		}
	}
	for k, v := range b {
		if !slices.Contains(frame, k) && !reflect.DeepEqual(a[k], v) {
			return false
		}
	}
	return true
}

// takeBack adds what earlier revisions said and this one no longer says, as entered
// in error: a server keeps all that nobody takes back. So does what an earlier
// bundle of the case held that no signed revision says, as of a draft.
func (b *builder) takeBack() {
	if !b.sends() || b.err != nil {
		return
	}
	for _, x := range slices.Backward(b.earlier) {
		for _, m := range x.mine {
			if b.byKey(m.key) == nil {
				b.retract(x, m)
			}
		}
	}
	for _, h := range b.held() {
		if b.byKey(h.key) == nil {
			b.tombstone(h)
		}
	}
}

// retract takes a resource of an earlier revision over, with what it refers to.
func (b *builder) retract(x *builder, m owning) {
	m.entry["fullUrl"] = b.freeURL(m)
	b.mark(m.resource())
	b.entries = append(b.entries, m.entry)
	b.mine = append(b.mine, m)
	if m.resource()["resourceType"] != "Practitioner" {
		b.targets = append(b.targets, fhir.Reference{Reference: ptr(m.entry["fullUrl"].(string))})
	}
	references(m.resource(), func(to string) {
		if !strings.HasPrefix(to, "urn:") || b.holds(to) {
			return
		}
		for _, e := range x.entries[1:] {
			entry := e.(map[string]any)
			if entry["fullUrl"] != to {
				continue
			}
			if i := slices.IndexFunc(x.mine, func(m owning) bool { return m.entry["fullUrl"] == to }); i < 0 {
				b.entries = append(b.entries, entry) // of the hospital; it is there, or is made
			} else if b.byKey(x.mine[i].key) == nil {
				b.retract(x, x.mine[i])
			}
			return
		}
	})
}

func (b *builder) holds(fullURL string) bool {
	return fullURL == b.urn("composition") || slices.ContainsFunc(b.entries, func(e any) bool {
		entry, _ := e.(map[string]any)
		return entry["fullUrl"] == fullURL
	})
}

// freeURL is the name of an entry in the bundle; where another has it, as when a
// person was given a registration number, one of its own.
func (b *builder) freeURL(m owning) string {
	if u := b.urn(m.role); !b.holds(u) {
		return u
	}
	return b.urn("taken-back/" + m.key)
}

// mark says of a resource that it was entered in error, by the nearest word that R4
// has for its type: a Condition by its verification (con-5: then without a clinical
// status), a person as no longer active, a tissue as not available and without its
// number. A superseded page is in error only with the whole note.
func (b *builder) mark(res map[string]any) {
	switch kind := res["resourceType"].(string); {
	case kind == "Condition":
		delete(res, "clinicalStatus")
		tree, err := asTree(*b.t.concept("verification:entered-in-error"))
		if err != nil {
			b.err = err
		}
		res["verificationStatus"] = tree
	case kind == "Practitioner":
		res["active"] = false
	case kind == "BiologicallyDerivedProduct":
		for k := range res { // its number is what was said in error
			if k != "resourceType" && k != "meta" && k != "productCategory" {
				delete(res, k)
			}
		}
		res["status"] = fhir.BiologicallyDerivedProductStatusUnavailable.Code()
	case b.t.InError[kind]:
		res["status"] = "entered-in-error"
		if kind == "DocumentReference" {
			res["docStatus"] = "entered-in-error"
		}
	}
}

// inError marks all that this note ever said as entered in error.
func (b *builder) inError() {
	if b.o.Signoff == nil || !b.o.Signoff.Withdrawn {
		return
	}
	mine := map[string]bool{}
	for _, t := range b.targets {
		mine[*t.Reference] = true
	}
	for _, e := range b.entries {
		entry, _ := e.(map[string]any)
		url, _ := entry["fullUrl"].(string)
		if res, _ := entry["resource"].(map[string]any); mine[url] && res != nil {
			b.mark(res)
		}
	}
}

// held are the resources of this case in the bundle that was written before.
// Nothing is taken from it but who they are.
func (b *builder) held() []owning {
	var before struct {
		Entry []struct {
			Request struct{ URL, IfNoneExist string }
		}
	}
	if len(b.o.Held) == 0 || json.Unmarshal(b.o.Held, &before) != nil {
		return nil
	}
	var out []owning
	for _, e := range before.Entry {
		kind, query, _ := strings.Cut(e.Request.URL, "?")
		if query == "" {
			query = e.Request.IfNoneExist
		}
		own, ok := b.t.TakenBack[kind]
		by, value, _ := strings.Cut(query, "=")
		value, err := url.QueryUnescape(value)
		if !ok || err != nil || by != "identifier" && by != "_tag" {
			continue
		}
		name, ours := strings.CutPrefix(value, b.o.system(own)+"|"+b.c.ID()+".")
		if !ours || name == "" {
			continue
		}
		m := owning{role: name, key: kind + "|" + value}
		if !slices.ContainsFunc(out, func(o owning) bool { return o.key == m.key }) {
			out = append(out, m)
		}
	}
	return out
}

// tombstone is the least that R4 lets a resource be. Its words are not known here,
// and are what is taken back.
func (b *builder) tombstone(h owning) {
	kind, _, _ := strings.Cut(h.key, "|")
	id := b.own(b.t.TakenBack[kind], h.role)
	ids, words := []fhir.Identifier{*id}, &fhir.CodeableConcept{Text: &b.t.TakenBackWords}
	var res any
	switch kind {
	case "Observation":
		res = fhir.Observation{Identifier: ids, Code: *words, Subject: &b.subject}
	case "Condition":
		res = fhir.Condition{Identifier: ids, Code: words, Subject: b.subject}
	case "Procedure":
		res = fhir.Procedure{Identifier: ids, Code: words, Subject: b.subject}
	case "ServiceRequest":
		res = fhir.ServiceRequest{Identifier: ids, Code: words, Intent: fhir.RequestIntentPlan, Subject: b.subject}
	case "Device":
		res = fhir.Device{Identifier: ids}
	case "Encounter":
		res = fhir.Encounter{Identifier: ids, Class: b.t.published("null:UNK"), Subject: &b.subject}
	case "Practitioner":
		res = fhir.Practitioner{Identifier: ids}
	case "BiologicallyDerivedProduct":
		res, id = fhir.BiologicallyDerivedProduct{}, nil
	}
	_, h.entry = b.entry(h.role, res, id, ours)
	if b.err == nil {
		b.retract(b, h)
	}
}
