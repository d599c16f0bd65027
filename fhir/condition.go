package fhir

import (
	"iter"
	"slices"

	"github.com/samply/golang-fhir-models/fhir-models/fhir"

	"graftnote/schema"
)

// diagnosisRoles are the roles of the Conditions before and after surgery; "" for
// a diagnosis that is not recorded. The same diagnosis twice is one Condition.
func (b *builder) diagnosisRoles() (before, after string) {
	pre, post := b.e.Indication.Diagnosis, b.e.Indication.DiagnosisAfter
	switch {
	case pre.Recorded() && post.Recorded() && pre.Value() == post.Value():
		return "diagnosis", "diagnosis"
	case pre.Recorded() && post.Recorded():
		return "diagnosis-before", "diagnosis-after"
	case pre.Recorded():
		return "diagnosis-before", ""
	case post.Recorded():
		return "", "diagnosis-after"
	}
	return "", ""
}

// diagnosisUses gives the use of each diagnosis in the encounter with its role.
func (b *builder) diagnosisUses() iter.Seq2[string, string] {
	before, after := b.diagnosisRoles()
	return func(yield func(string, string) bool) {
		if before != "" && !yield("pre-op", before) || after == "" {
			return
		}
		yield("post-op", after)
	}
}

func (b *builder) diagnoses() {
	before, after := b.diagnosisRoles()
	i := b.e.Indication
	if before != "" {
		sure := "provisional"
		if before == after {
			sure = b.sure()
		}
		ref := b.diagnosis(before, i.Diagnosis, sure)
		b.reasons = append(b.reasons, ref)
		b.quote("preoperative", ref)
		b.quote("indication", ref)
	}
	if after != "" {
		ref := b.ref(after)
		if after != before {
			ref = b.diagnosis(after, i.DiagnosisAfter, b.sure())
		}
		b.quote("postoperative", ref)
	}
}

func (b *builder) diagnosis(role string, d schema.Answer[schema.Code], sure string) fhir.Reference {
	code := b.word("diagnosis", d.Value(), b.eye)
	if words := b.e.Indication.DiagnosisText; words.Recorded() && d.Is("other") {
		code.Text = ptr(words.Value())
	}
	return b.condition(role, fhir.Condition{Code: code, ClinicalStatus: b.t.concept("clinical:active"), VerificationStatus: b.t.concept("verification:" + sure)})
}

// sure is how sure a statement of the note is: provisional until all have signed
// who must.
func (b *builder) sure() string {
	if b.provisional() {
		return "provisional"
	}
	return "confirmed"
}

func (b *builder) condition(role string, c fhir.Condition) fhir.Reference {
	id := b.own("condition", role)
	c.Identifier = []fhir.Identifier{*id}
	c.Category = []fhir.CodeableConcept{*b.t.concept("cond-category:encounter-diagnosis")}
	c.BodySite = b.bodySites()
	c.Subject = b.subject
	if b.meet != nil {
		c.Encounter = b.meet
	}
	if begun := b.e.Episode.Begun; begun.Recorded() {
		c.RecordedDate = ptr(stamp(begun.Value()))
	}
	return b.add(role, c, id, ours)
}

// events makes a Condition of every event that is a disorder of the patient. All
// its facts stand in the event's Observation, which is the evidence; nothing is
// added here. Whether it has passed is not recorded, so no clinical status is.
func (b *builder) events() {
	for i, ev := range b.e.Events {
		if !ev.Kind.Recorded() || saysNone(ev.Kind) || slices.Contains(b.t.NotConditions, string(ev.Kind.Value())) {
			continue
		}
		c := fhir.Condition{Code: b.word("event", ev.Kind.Value(), b.eye), VerificationStatus: b.t.concept("verification:" + b.sure()),
			OnsetDateTime: b.day(), Evidence: []fhir.ConditionEvidence{{Detail: []fhir.Reference{b.ref(b.item("events", "events", i))}}}}
		if ev.Detail.Recorded() {
			c.Note = []fhir.Annotation{{Text: ev.Detail.Value()}}
		}
		ref := b.condition(b.item("complication", "events", i), c)
		b.detail = append(b.detail, ref)
		b.quote("complications", ref)
	}
}
