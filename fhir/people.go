package fhir

import (
	"slices"

	"github.com/samply/golang-fhir-models/fhir-models/fhir"

	"graftnote/schema"
)

var genders = map[schema.Code]fhir.AdministrativeGender{
	"female": fhir.AdministrativeGenderFemale, "male": fhir.AdministrativeGenderMale,
	"other": fhir.AdministrativeGenderOther, "unknown": fhir.AdministrativeGenderUnknown,
}

// patient sets the subject of everything. An import refers to the hospital's
// patient by identifier and fails there when none or two match (R4, transaction,
// conditional references); it creates one only when the site asks for it. A
// document holds its patient.
func (b *builder) patient() {
	p := b.e.Patient
	id := identifier(b.o.system("patient"), p.ID.Value())
	if !b.document && (b.o.Site == nil || !b.o.Site.CreatePatient) {
		b.subject = fhir.Reference{Reference: ptr("Patient?identifier=" + escape(*id.System+"|"+*id.Value)), Identifier: id}
		return
	}
	res := fhir.Patient{Identifier: []fhir.Identifier{*id}}
	if n := p.NationalNumber; n.Recorded() && b.o.Site != nil && b.o.Site.Identifiers["national"] != "" {
		res.Identifier = append(res.Identifier, *identifier(b.o.system("national"), n.Value().Digits()))
	}
	for _, name := range []schema.Answer[string]{p.Name, p.LatinName} {
		if name.Recorded() {
			res.Name = append(res.Name, fhir.HumanName{Text: ptr(name.Value())})
		}
	}
	if p.Born.Recorded() {
		res.BirthDate = ptr(p.Born.Value().String())
	}
	if g, ok := genders[p.Sex.Value()]; ok && p.Sex.Recorded() {
		res.Gender = &g
	}
	b.subject = b.add("patient", res, id, theirs)
}

// organisation is the site and the place of the operation.
func (b *builder) organisation() {
	name := ""
	if b.e.Episode.Site.Recorded() {
		name = b.e.Episode.Site.Value()
	} else if b.o.Site != nil {
		name = b.o.Site.Name
	}
	if name == "" {
		return
	}
	key := name
	if b.o.Site != nil && b.o.Site.Code != "" {
		key = b.o.Site.Code
	}
	id := identifier(b.o.system("organization"), key)
	ref := b.add("organization", fhir.Organization{Identifier: []fhir.Identifier{*id}, Active: ptr(true), Name: &name}, id, theirs)
	ref.Display = &name
	b.home = &ref

	where := name
	if t := b.e.Episode.Theatre; t.Recorded() {
		where, key = t.Value(), key+"/"+t.Value()
	}
	status, mode := fhir.LocationStatusActive, fhir.LocationModeInstance
	id = identifier(b.o.system("location"), key)
	at := b.add("location", fhir.Location{Identifier: []fhir.Identifier{*id}, Status: &status, Mode: &mode, Name: &where,
		ManagingOrganization: &fhir.Reference{Reference: ref.Reference}}, id, theirs)
	b.place = &at
}

// team makes one Practitioner per person. A registration number is the identity,
// and the hospital's record of that person is left as it is. Without one the person
// is known by the name that the item of the team carries through all corrections of
// this case, so that a corrected spelling arrives and nobody takes another's place.
// A printed name is no identity: two people may share one, and a slip in it would
// make a third.
func (b *builder) team() {
	for i, p := range b.e.Team {
		role := b.item("person", "team", i)
		whose, id := ours, b.own("case-person", role)
		if p.ID.Recorded() {
			whose, id = theirs, identifier(b.o.system("practitioner"), p.ID.Value())
		}
		res := fhir.Practitioner{Identifier: []fhir.Identifier{*id}}
		if p.Name.Recorded() {
			res.Name = []fhir.HumanName{{Text: ptr(p.Name.Value())}}
		}
		ref := b.add(role, res, id, whose)
		if p.Name.Recorded() {
			ref.Display = ptr(p.Name.Value())
		}
		b.people = append(b.people, ref)
	}
}

// with gives the people who have one of the roles, each once.
func (b *builder) with(roles ...schema.Code) []fhir.Reference {
	var out []fhir.Reference
	for i, p := range b.e.Team {
		if p.Role.Is(roles...) && !slices.ContainsFunc(out, func(r fhir.Reference) bool { return *r.Reference == *b.people[i].Reference }) {
			out = append(out, b.people[i])
		}
	}
	return out
}

func first(refs []fhir.Reference) *fhir.Reference {
	if len(refs) == 0 {
		return nil
	}
	return &refs[0]
}

// authors are those who wrote the note; without a writer the surgeon, and at the
// last the site: a Composition needs an author.
func (b *builder) authors() []fhir.Reference {
	for _, role := range []schema.Code{"writer", "surgeon"} {
		if who := b.with(role); len(who) > 0 {
			return who
		}
	}
	if b.home != nil {
		return []fhir.Reference{*b.home}
	}
	return []fhir.Reference{{Display: ptr("not recorded")}}
}

// performers are the people of the operation with their functions, one entry
// for each role.
func (b *builder) performers() []fhir.ProcedurePerformer {
	var out []fhir.ProcedurePerformer
	for i, p := range b.e.Team {
		if !p.Role.Recorded() { // in the team, as what is not recorded
			out = append(out, fhir.ProcedurePerformer{Actor: b.people[i]})
		}
		for _, r := range p.Role.Codes() {
			if row := b.t.Roles[string(r)]; row.Performer {
				out = append(out, b.performer(row, b.people[i]))
			}
		}
	}
	return out
}

func (b *builder) performer(r role, who fhir.Reference) fhir.ProcedurePerformer {
	return fhir.ProcedurePerformer{Function: b.t.concept(r.Codes...), Actor: who}
}

// encounter is the hospital's own when its number is recorded: then only its
// identity is sent and nothing is claimed about the stay. Otherwise it is the
// operation itself.
func (b *builder) encounter() {
	class := b.t.published("null:UNK")
	if s := b.e.Episode.Setting; s.Recorded() {
		class = b.t.published(b.t.values[b.t.own.value("setting", string(s.Value()))][0])
	}
	res := fhir.Encounter{Status: fhir.EncounterStatusUnknown, Class: class, Subject: &b.subject, ServiceProvider: b.home}
	if u := b.e.Episode.Urgency; u.Recorded() {
		res.Priority = b.t.concept(b.t.values[b.t.own.value("urgency", string(u.Value()))]...)
	}
	role, whose, id := "encounter", ours, b.own("case-encounter", "operation")
	if n := b.e.Episode.Encounter; n.Recorded() {
		role, whose, id = "stay", theirs, identifier(b.o.system("encounter"), n.Value())
	} else {
		res.Period = b.period()
		if !b.provisional() {
			res.Status = fhir.EncounterStatusFinished
		}
	}
	if b.place != nil {
		res.Location = []fhir.EncounterLocation{{Location: *b.place}}
	}
	res.Identifier = []fhir.Identifier{*id}
	for use, of := range b.diagnosisUses() {
		res.Diagnosis = append(res.Diagnosis, fhir.EncounterDiagnosis{Condition: b.ref(of), Use: b.t.concept("diagnosis-role:" + use)})
	}
	ref := b.add(role, res, id, whose)
	b.meet = &ref
}
