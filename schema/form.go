package schema

import (
	"fmt"
	"regexp"
	"strings"
)

// Form says what a value of the field looks like, within angle brackets: its
// words, or its form and unit. It is no value: the reader refuses it, so that a
// hint that is pasted as it stands answers nothing. A value of some case, the
// reassuring one above all, is never offered.
func (r *Row) Form() string { return r.formIn(Content()) }

func (r *Row) formIn(d *Dictionary) string {
	form := "<" + r.formWords(d) + ">"
	if manyItems[r.Type] && r.Type != "clocks" && r.Type != "stitch-list" {
		return "[" + form + "]"
	}
	return form
}

// forms of the types that have one of their own.
var forms = map[string]string{
	"text": "text", "texts": "text", "story": "text", "id": "identifier", "clock": "clock hour", "clocks": "clock hours", "date": "YYYY-MM-DD",
	"time": "HH:MM", "instant": "YYYY-MM-DDTHH:MM+HH:MM", "refraction": "sphere/cylinder x axis", "stitches": "number x size material",
	"stitch-list": "number-bite size material", "fraction": "part/whole or %", "nhs-number": "ten digits", "european-code": "code on the label",
	"donation-number": "number on the label", "device-code": "code on the packing", "acuity": "logMAR, Snellen, decimal, CF, HM, PL or NPL",
}

// FormWords is the form without its brackets, for a comment or a page.
func (r *Row) FormWords() string { return r.formWords(Content()) }

func (r *Row) formWords(d *Dictionary) string {
	if r.Hint != "" {
		return r.Hint
	}
	if list, ok := d.Lists[r.ListName()]; ok {
		words := make([]string, len(list.Codes))
		for i, c := range list.Codes {
			words[i] = c.Code
		}
		return strings.Join(words, " | ")
	}
	if form, ok := forms[r.Type]; ok {
		return strings.ReplaceAll(form, ", ", " | ")
	}
	if r.Type == "count" {
		if lo, hi, ok := strings.Cut(r.Hard, ".."); ok && r.Basis == "arithmetic" {
			return fmt.Sprintf("number %s to %s", lo, hi)
		}
		return "number"
	}
	// What stands behind the figure of the example is the unit.
	if rest := strings.TrimLeft(r.Example, "-+0123456789./"); rest != "" && rest != r.Example {
		return "number " + strings.TrimPrefix(rest, " ")
	}
	return "number"
}

// unfilled reports the form of the field that was left as it stood. Other angle
// brackets are a text of their own.
func (r *Row) unfilled(text string) bool {
	return strings.HasPrefix(text, "<") && text == "<"+r.FormWords()+">"
}

// reasonForm is what hints write in the place of the reason of a gap.
const reasonForm = "<reason>"

var formPlace = regexp.MustCompile(`\{([a-z-]+\.[a-z-]+)\}`)

// withForms puts the line of a field, with its form, in the place of {path} in
// the words of a rule.
func (d *Dictionary) withForms(text string) (string, error) {
	var err error
	out := formPlace.ReplaceAllStringFunc(text, func(place string) string {
		r, ok := d.rows[strings.Trim(place, "{}")]
		if !ok {
			err = fmt.Errorf("no field %s", place)
			return place
		}
		return r.Key + ": " + r.formIn(d)
	})
	return out, err
}
