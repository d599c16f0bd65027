package fhir

import (
	"slices"
	"strings"

	"github.com/samply/golang-fhir-models/fhir-models/fhir"

	"graftnote/schema"
)

// observations makes the Observations of every panel, in the order of the table.
func (b *builder) observations() {
	for _, p := range b.t.Panels {
		n := 1
		if p.Each != "" {
			n = b.e.Count(p.Each)
		}
		for item := range n {
			b.panel(p, item)
		}
	}
}

// answer is the answer at a path; item counts in list groups.
func (b *builder) answer(path string, item int) schema.Field {
	if f := b.e.At(path); f != nil {
		return f
	}
	return b.e.Item(path, item)
}

// eyeOf is the eye that a panel's item speaks of.
func (b *builder) eyeOf(p *panel, item int) string {
	if p.Eye != "" {
		if codes := b.answer(p.Eye, item).Codes(); len(codes) == 1 {
			return string(codes[0])
		}
	}
	return b.eye
}

// panel makes one Observation of the panel's components and one of each field
// that stands alone.
func (b *builder) panel(p *panel, item int) {
	if p.Each != "" && p.Value != "" && saysNone(b.answer(p.Value, item)) {
		return
	}
	role := p.Key
	if p.Each != "" {
		role = b.item(p.Key, p.Each, item)
	}
	eye := b.eyeOf(p, item)
	o := b.observation(p, item, eye)
	filled := false
	if p.Value != "" {
		o.Code = *b.fieldCode(b.t.fields[p.Value], eye)
		for _, x := range b.parts(b.t.fields[p.Value], b.answer(p.Value, item), eye) {
			setValue(&o, x.value)
			filled = true
		}
	} else {
		o.Code = *b.t.concept(p.Key)
	}
	for _, f := range b.t.panelFields[p.Key] {
		switch {
		case f.as == "component" && b.e.Mixed(f.path): // each suture has its own
		case f.as == "component":
			o.Component = append(o.Component, components(b.parts(f, b.answer(f.path, item), eye))...)
		case f.as == "observation":
			b.alone(p, f, role, item, eye)
		case f.as == "fellow":
			b.alone(p, f, role, item, b.t.other(eye))
		}
	}
	if p.Key == "sutures" {
		o.HasMember = b.stitches(p, eye)
	}
	if filled || len(o.Component) > 0 {
		if p.Focus == "tissue" {
			o.Identifier = b.tissueNumbers(item)
		}
		b.observe(p, role, o)
	}
}

// alone makes the Observation of one field, with the fields that stand beside it
// and its method.
func (b *builder) alone(p *panel, f *field, role string, item int, eye string) {
	if p.Each == "" {
		role = f.path
	} else {
		role += "." + keyOf(f.path)
	}
	parts := b.parts(f, b.answer(f.path, item), eye)
	o := b.observation(p, item, eye)
	o.Code = *b.fieldCode(f, eye)
	if len(parts) == 1 {
		setValue(&o, parts[0].value)
	} else {
		o.Component = components(parts)
	}
	for _, x := range b.t.companions {
		switch path := x.path; {
		case x.as == "beside" && x.where == f.path:
			beside := components(b.parts(x, b.answer(path, item), eye))
			o.Component = append(o.Component, beside...)
		case x.as == "method" && contains(x.where, f.path):
			if a := b.answer(path, item); len(a.Codes()) == 1 {
				o.Method = b.word(a.Row().ListName(), a.Codes()[0], eye)
			}
		case x.as == "effective" && x.where == f.path:
			// It was measured at another time, so it is no part of the operation.
			o.EffectiveDateTime, o.EffectivePeriod, o.PartOf = b.date(path, item), nil, nil
		}
	}
	if len(parts) > 0 || len(o.Component) > 0 {
		b.observe(p, role, o)
	}
}

// date is the date in a field; nil when there is none.
func (b *builder) date(path string, item int) *string {
	if a := b.answer(path, item); a.Recorded() {
		return ptr(a.Text())
	}
	return nil
}

// observation is the frame: eye and time. A time that nobody wrote stays open,
// and the resource says so.
func (b *builder) observation(p *panel, item int, eye string) fhir.Observation {
	o := fhir.Observation{Category: []fhir.CodeableConcept{*b.t.concept(p.Category)},
		Subject: &b.subject, Encounter: b.meet}
	if site := b.bodySite(eye); site != nil && p.Focus == "" {
		o.BodySite = site
	}
	switch {
	case p.Day:
		o.EffectiveDateTime = b.day()
	case p.Measured != "":
		o.EffectiveDateTime = b.date(p.Measured, item)
	case p.During:
		o.PartOf = []fhir.Reference{b.ref("procedure")}
		if o.EffectivePeriod = b.period(); o.EffectivePeriod == nil {
			o.EffectiveDateTime = b.day()
		}
	}
	if p.Focus == "tissue" && item < len(b.tissues) {
		o.Focus = []fhir.Reference{b.tissues[item]}
	}
	if p.Date != "" {
		o.EffectiveDateTime = b.date(p.Date, item)
		o.Encounter = nil // a visit is no part of the operation's encounter
	}
	return o
}

func (b *builder) observe(p *panel, role string, o fhir.Observation) fhir.Reference {
	o.Status = b.observationStatus()
	id := b.own("observation", role)
	o.Identifier = append([]fhir.Identifier{*id}, o.Identifier...)
	ref := b.add(role, o, id, ours)
	b.quote(p.Section, ref)
	return ref
}

// observationStatus goes with that of the note: preliminary until all have signed
// who must. See amend for what was final before.
func (b *builder) observationStatus() fhir.ObservationStatus {
	if b.provisional() {
		return fhir.ObservationStatusPreliminary
	}
	return fhir.ObservationStatusFinal
}

// bodySite names the eye in a code and in words.
func (b *builder) bodySite(eye string) *fhir.CodeableConcept {
	row, ok := b.t.Eyes[eye]
	if !ok {
		return nil
	}
	c := b.t.concept(row.Site)
	c.Text = &row.Words
	return c
}

func (b *builder) bodySites() []fhir.CodeableConcept {
	if site := b.bodySite(b.eye); site != nil {
		return []fhir.CodeableConcept{*site}
	}
	return nil
}

func components(parts []part) []fhir.ObservationComponent {
	var out []fhir.ObservationComponent
	for _, p := range parts {
		out = append(out, fhir.ObservationComponent{Code: *p.code,
			ValueQuantity: p.quantity, ValueCodeableConcept: p.concept, ValueString: p.text, ValueBoolean: p.boolean,
			ValueInteger: p.integer, ValueRatio: p.ratio, ValueTime: p.time, ValueDateTime: p.dateTime, DataAbsentReason: p.absent})
	}
	return out
}

func setValue(o *fhir.Observation, v value) {
	o.ValueQuantity, o.ValueCodeableConcept, o.ValueString, o.ValueBoolean = v.quantity, v.concept, v.text, v.boolean
	o.ValueInteger, o.ValueRatio, o.ValueTime, o.ValueDateTime, o.DataAbsentReason = v.integer, v.ratio, v.time, v.dateTime, v.absent
}

// keyOf is the last word of a path.
func keyOf(path string) string { return path[strings.LastIndexByte(path, '.')+1:] }

// contains reports whether a blank-separated list holds the word.
func contains(list, word string) bool { return slices.Contains(strings.Fields(list), word) }

// saysNone reports an item of a list that only says that there was none.
func saysNone(f schema.Field) bool { return f.Recorded() && f.Text() == "none" }
