package fhir

import (
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/samply/golang-fhir-models/fhir-models/fhir"

	"graftnote/schema"
	"graftnote/schema/quantity"
)

const ucum = "http://unitsofmeasure.org"

// value is value[x] of an Observation or of a component, or why there is none.
type value struct {
	quantity *fhir.Quantity
	concept  *fhir.CodeableConcept
	text     *string
	boolean  *bool
	integer  *int
	ratio    *fhir.Ratio
	time     *string
	dateTime *string
	absent   *fhir.CodeableConcept
}

// part is a value under its code.
type part struct {
	code *fhir.CodeableConcept
	value
}

// parts are the values of one answer: none for silence, one for most answers,
// several for a list and for a refraction. An answer not recorded keeps its
// reason and has no value (obs-6).
func (b *builder) parts(f *field, a schema.Field, eye string) []part {
	if a == nil || a.Blank() {
		return nil
	}
	code := b.fieldCode(f, eye)
	if reason, said := a.NotRecorded(); said {
		return []part{{code, value{absent: b.absent(reason)}}}
	}
	if !a.Recorded() {
		return nil
	}
	if r, ok := a.Any().(quantity.Refraction); ok {
		return b.refraction(r)
	}
	var out []part
	for _, v := range b.values(a, eye) {
		out = append(out, part{code, v})
	}
	return out
}

func (b *builder) values(a schema.Field, eye string) []value {
	switch v := a.Any().(type) {
	case quantity.Quantity:
		return []value{{quantity: measure(v.Number, unit{v.Unit.Symbol, v.UCUM()})}}
	case int:
		return []value{{integer: &v}}
	case schema.Code, []schema.Code:
		return b.codes(a, eye)
	case quantity.Acuity:
		return []value{b.acuity(v)}
	case quantity.Fraction:
		one := b.t.Units["part"]
		return []value{{ratio: &fhir.Ratio{Numerator: measure(v.Num, one), Denominator: measure(v.Den, one)}}}
	case quantity.ClockHour:
		return []value{b.hour(v)}
	case []quantity.ClockHour:
		var out []value
		for _, h := range v {
			out = append(out, b.hour(h))
		}
		return out
	case quantity.Stitches:
		return []value{{integer: &v.Count}}
	case []quantity.Stitches:
		var out []value
		for _, s := range v {
			out = append(out, value{integer: ptr(s.Count)})
		}
		return out
	case quantity.Date:
		return []value{{dateTime: ptr(v.String())}}
	case quantity.TimeOfDay:
		return []value{{time: ptr(clockTime(v))}}
	case time.Time:
		return []value{{dateTime: ptr(stamp(v))}}
	case []string:
		var out []value
		for _, s := range v {
			out = append(out, value{text: ptr(s)})
		}
		return out
	}
	return []value{{text: ptr(a.Text())}}
}

func (b *builder) codes(a schema.Field, eye string) []value {
	var out []value
	for _, c := range a.Codes() {
		if a.Row().Type == "yes-no" {
			out = append(out, value{boolean: ptr(c == "yes")})
			continue
		}
		out = append(out, value{concept: b.word(a.Row().ListName(), c, eye)})
	}
	return out
}

func (b *builder) hour(h quantity.ClockHour) value {
	return value{quantity: measure(h.Hours(), b.t.Units["clock"])}
}

// measure keeps the digits as typed.
func measure(n quantity.Decimal, u unit) *fhir.Quantity {
	q := &fhir.Quantity{Value: ptr(json.Number(n.String())), System: ptr(ucum), Code: ptr(u.Code)}
	if u.Unit != "" {
		q.Unit = &u.Unit
	}
	return q
}

// acuity keeps the scale it was taken in. A chart fraction with letters beyond
// or short of the line has no number without a convention, so it is text.
func (b *builder) acuity(a quantity.Acuity) value {
	switch a.Scale {
	case quantity.ScaleLogMAR, quantity.ScaleDecimal, quantity.ScaleLetters:
		return value{quantity: measure(a.Value, b.t.Units[a.Scale])}
	case quantity.ScaleMetres, quantity.ScaleFeet:
		if a.Extra == 0 {
			u := b.t.Units[a.Scale]
			return value{ratio: &fhir.Ratio{Numerator: measure(a.Numerator, u), Denominator: measure(a.Denominator, u)}}
		}
	case quantity.ScaleOffChart:
		c := b.t.concept(b.t.OffChart + a.Category())
		c.Text = ptr(a.String())
		return value{concept: c}
	}
	return value{text: ptr(a.String())}
}

func (b *builder) refraction(r quantity.Refraction) []part {
	codes := b.t.Refraction
	power, axis := b.t.Units["power"], b.t.Units["axis"]
	out := []part{
		{b.t.concept(codes["sphere"]), value{quantity: measure(r.Sphere, power)}},
		{b.t.concept(codes["cylinder"]), value{quantity: measure(r.Cylinder, power)}},
	}
	if r.Axis > 0 {
		out = append(out, part{b.t.concept(codes["axis"]), value{quantity: measure(quantity.FromInt(int64(r.Axis)), axis)}})
	}
	return out
}

// absent turns the words after "not recorded:" into R4's data-absent-reason.
func (b *builder) absent(reason string) *fhir.CodeableConcept {
	for _, row := range b.t.Absent {
		for _, w := range row.Words {
			if strings.Contains(strings.ToLower(reason), w) {
				c := b.t.concept(row.Code)
				c.Text = &reason
				return c
			}
		}
	}
	panic(fmt.Sprintf("fhir: tables.yaml: absent has no last row for %d rows", len(b.t.Absent)))
}

// fieldCode is the code of a field: for the eye where LOINC has both eyes, then
// for either eye, then our own, which tells the pressure before surgery from that
// at its end; after it what the site maps.
func (b *builder) fieldCode(f *field, eye string) *fhir.CodeableConcept {
	var keys []string
	if k := f.eyes[eye]; k != "" {
		keys = append(keys, k)
	}
	keys = append(keys, f.codes...)
	if only, ok := b.t.OnlyWhen[f.path]; ok {
		a := b.e.At(only.Field)
		if !slices.ContainsFunc(a.Codes(), func(w schema.Code) bool { return slices.Contains(only.Words, string(w)) }) {
			keys = nil
		}
	}
	c := b.t.concept(append(keys, f.path)...)
	c.Coding = append(c.Coding, b.o.Mapping.codings(b.t.own.broader(f.path), eye)...)
	if title := *b.t.own.coding(f.path).Display; *c.Coding[0].Display != title {
		c.Text = &title
	}
	return c
}

// word is the concept of a word of a code list: ours, a published one where
// there is one, and what the site maps.
func (b *builder) word(list string, w schema.Code, eye string) *fhir.CodeableConcept {
	return b.concept(b.t.own.value(list, string(w)), eye)
}

func (b *builder) concept(own, eye string) *fhir.CodeableConcept {
	kinds := b.t.own.broader(own)
	c := b.t.concept(own)
	for _, k := range kinds {
		if keys := b.t.values[k]; keys != nil {
			for _, key := range keys {
				c.Coding = append(c.Coding, b.t.published(key))
			}
			break
		}
	}
	c.Coding = append(c.Coding, b.o.Mapping.codings(kinds, eye)...)
	return c
}
