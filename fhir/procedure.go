package fhir

import (
	"slices"

	"github.com/samply/golang-fhir-models/fhir-models/fhir"

	"graftnote/schema"
)

var (
	eventStatus = map[string]fhir.EventStatus{"completed": fhir.EventStatusCompleted, "stopped": fhir.EventStatusStopped}
	// requestStatus: what became of the plan.
	requestStatus = map[string]fhir.RequestStatus{"completed": fhir.RequestStatusCompleted, "revoked": fhir.RequestStatusRevoked, "active": fhir.RequestStatusActive}
)

func (b *builder) outcome() outcome {
	if o, ok := b.t.Outcomes[b.e.Procedure.Performed.Text()]; ok {
		return o
	}
	return b.t.Outcomes["default"]
}

// request is the plan: it keeps the planned procedure apart from the performed
// one, which may differ.
func (b *builder) request() {
	planned := b.e.Procedure.Planned
	if !planned.Recorded() {
		return
	}
	id := b.own("request", "planned")
	status, ok := requestStatus[b.outcome().Request]
	if !ok {
		panic("fhir: tables.yaml: no request status " + b.outcome().Request)
	}
	if b.provisional() {
		status = fhir.RequestStatusUnknown
	}
	ref := b.add("planned", fhir.ServiceRequest{Identifier: []fhir.Identifier{*id}, Status: status, Intent: fhir.RequestIntentPlan,
		Category: []fhir.CodeableConcept{*b.t.concept("sct:387713003")}, Code: b.word("procedure-planned", planned.Value(), b.eye),
		Subject: b.subject, Encounter: b.meet, OccurrenceDateTime: b.day(), Requester: first(b.with("surgeon")),
		ReasonReference: b.reasons, BodySite: b.bodySites()}, id, ours)
	b.quote("planned", ref)
}

// procedures are the operation, what was combined with it and the anaesthetic.
func (b *builder) procedures() {
	b.operation()
	b.combined()
	b.anaesthetic()
}

func (b *builder) operation() {
	what, p := b.outcome(), b.e.Procedure
	res := b.procedure(eventStatus[what.Status])
	res.Code = b.operationCode()
	if what.Reason {
		res.StatusReason = b.word("procedure-performed", p.Performed.Value(), b.eye)
		if p.WhyChanged.Recorded() {
			res.StatusReason.Text = ptr(p.WhyChanged.Value())
		}
	}
	if p.Planned.Recorded() {
		res.BasedOn = []fhir.Reference{b.ref("planned")}
	}
	res.Performer = b.performers()
	res.Recorder, res.Asserter = first(b.with("writer")), first(b.with("surgeon"))
	res.ReasonReference = b.reasons
	res.ReasonCode, res.Complication = b.reasonsAndComplications()
	res.ComplicationDetail = b.detail
	res.UsedReference = b.supplies
	res.Report = []fhir.Reference{b.ref("composition")}
	if len(b.o.PDF) > 0 {
		res.Report = append(res.Report, b.ref(pdfRole(b.revision())))
	}
	if p.WhyChanged.Recorded() {
		res.Note = []fhir.Annotation{{Text: p.WhyChanged.Value()}}
	}
	b.addProcedure("procedure", "procedure", res)
}

// operationCode is what was performed; of an operation that stopped, what had
// been begun.
func (b *builder) operationCode() *fhir.CodeableConcept {
	p := b.e.Procedure
	if b.outcome().Code == "procedure.planned" && p.Planned.Recorded() {
		return b.word("procedure-planned", p.Planned.Value(), b.eye)
	}
	return b.word("procedure-performed", p.Performed.Value(), b.eye)
}

// reasonsAndComplications sorts the events that are no disorder: the reason of a
// conversion is a reason of the procedure, the others are coded complications.
func (b *builder) reasonsAndComplications() (reasons, complications []fhir.CodeableConcept) {
	for _, ev := range b.e.Events {
		switch {
		case !ev.Kind.Recorded() || saysNone(ev.Kind):
		case ev.Kind.Is("conversion"):
			if ev.Reason.Recorded() {
				reasons = append(reasons, *b.word("conversion-reason", ev.Reason.Value(), b.eye))
			}
		case slices.Contains(b.t.NotConditions, string(ev.Kind.Value())):
			complications = append(complications, *b.word("event", ev.Kind.Value(), b.eye))
		}
	}
	return reasons, complications
}

// procedure is the frame of every Procedure of the case. Until the note is signed
// by all who must, nobody answers for its status. R4 has no word for that but
// unknown: the operation is not in preparation and not in progress.
func (b *builder) procedure(status fhir.EventStatus) fhir.Procedure {
	var why *fhir.CodeableConcept
	if b.provisional() {
		status, why = fhir.EventStatusUnknown, &fhir.CodeableConcept{Text: &b.t.NotYetSigned}
	}
	p := fhir.Procedure{Status: status, StatusReason: why, Category: b.t.concept("sct:387713003"), Subject: b.subject, Encounter: b.meet,
		Location: b.place, BodySite: b.bodySites(), PerformedPeriod: b.period()}
	if p.PerformedPeriod == nil {
		p.PerformedDateTime = b.day()
	}
	return p
}

func (b *builder) addProcedure(role, section string, p fhir.Procedure) {
	id := b.own("procedure", role)
	p.Identifier = []fhir.Identifier{*id}
	b.quote(section, b.add(role, p, id, ours))
}

// combined are the procedures of the same session. When the graft was stopped,
// whether they were done is not recorded.
func (b *builder) combined() {
	status := fhir.EventStatusCompleted
	if b.outcome().Status != "completed" {
		status = fhir.EventStatusUnknown
	}
	for _, c := range b.e.Procedure.Combined.Codes() {
		if c == "none" {
			continue
		}
		p := b.procedure(status)
		p.Code = b.word("combined", c, b.eye)
		b.addProcedure("combined-"+string(c), "procedure", p)
	}
}

// anaesthetic is part of the operation: its own Procedure with its own performer.
func (b *builder) anaesthetic() {
	a := b.e.Anaesthesia
	if !a.Type.Recorded() {
		return
	}
	p := b.procedure(fhir.EventStatusCompleted)
	p.Category, p.BodySite = nil, nil
	if p.PerformedPeriod != nil {
		p.PerformedPeriod, p.PerformedDateTime = nil, b.day() // its own times are not recorded
	}
	p.Code = b.word("anaesthesia", a.Type.Value(), b.eye)
	p.PartOf = []fhir.Reference{b.ref("procedure")}
	giver := schema.Code("anaesthetist")
	if a.GivenBy.Recorded() {
		giver = schema.Code(b.t.AnaesthesiaBy[string(a.GivenBy.Value())])
	}
	for _, who := range b.with(giver) {
		p.Performer = append(p.Performer, b.performer(b.t.Roles[string(giver)], who))
	}
	b.addProcedure("anaesthesia-given", "anaesthesia", p)
}

// devices are the supplies that have an identifier.
func (b *builder) devices() {
	for i, s := range b.e.Supplies {
		role := b.item("supply", "supplies", i)
		id := b.own("device", role)
		res := fhir.Device{Identifier: []fhir.Identifier{*id}}
		if s.What.Recorded() {
			res.Type = &fhir.CodeableConcept{Text: ptr(s.What.Value())}
		}
		if s.DeviceCode.Recorded() {
			code := s.DeviceCode.Value()
			res.UdiCarrier = []fhir.DeviceUdiCarrier{{DeviceIdentifier: &code.GTIN, Issuer: &b.t.GS1Issuer, CarrierHRF: ptr(s.DeviceCode.Raw())}}
			res.LotNumber, res.SerialNumber = some(code.Lot), some(code.Serial)
			res.ManufactureDate, res.ExpirationDate = some(code.Production), some(code.Expiry)
		}
		if s.Lot.Recorded() {
			res.LotNumber = ptr(s.Lot.Value())
		}
		if s.Expires.Recorded() {
			res.ExpirationDate = ptr(s.Expires.Value().String())
		}
		ref := b.add(role, res, id, ours)
		b.supplies = append(b.supplies, ref)
		b.quote("implants", ref)
	}
}

// some is nil for an empty text.
func some(s string) *string {
	if s == "" {
		return nil
	}
	return &s
}
