package fhir

import (
	"fmt"

	"github.com/samply/golang-fhir-models/fhir-models/fhir"

	"graftnote/schema"
	"graftnote/schema/quantity"
)

// stitches are Observations of their own when sutures of one operation differ in
// size or material: components have no order that a reader could go by, so a
// size beside two counts would belong to neither. The panel names them as its
// members and leaves out what does not hold for all.
func (b *builder) stitches(p *panel, eye string) []fhir.Reference {
	if !b.e.Mixed(gaugePath) && !b.e.Mixed(materialPath) {
		return nil
	}
	var out []fhir.Reference
	add := func(path, role string, s quantity.Stitches) {
		o := b.observation(p, 0, eye)
		o.Code, o.ValueInteger = *b.fieldCode(b.t.fields[path], eye), ptr(s.Count)
		o.Component = append(b.sutureOf(gaugePath, s.Gauge, eye), b.sutureOf(materialPath, s.Material, eye)...)
		out = append(out, b.observe(p, role, o))
	}
	if f := b.e.Sutures.Interrupted; f.Recorded() {
		add("sutures.interrupted", "sutures.interrupted", f.Value())
	}
	for i, s := range b.e.Sutures.Running.Value() {
		add("sutures.running", fmt.Sprintf("sutures.running-%d", i+1), s)
	}
	return out
}

// The fields that answer for all sutures together.
const (
	gaugePath    = "sutures.gauge"
	materialPath = "sutures.material"
)

// sutureOf is what was written with one suture, or what the entry says of all: a
// code where the word is one of the list, else the word.
func (b *builder) sutureOf(path, own, eye string) []fhir.ObservationComponent {
	f, a := b.t.fields[path], b.e.At(path)
	row, _ := schema.Content().Row(path)
	if own == "" {
		return components(b.parts(f, a, eye))
	}
	v := value{text: &own}
	for _, w := range schema.Content().Lists[row.ListName()].Codes {
		if own == w.Code || own == w.Words {
			v = value{concept: b.word(row.ListName(), schema.Code(w.Code), eye)}
		}
	}
	return components([]part{{b.fieldCode(f, eye), v}})
}
