package pdf

import (
	"fmt"

	"graftnote/note"
)

// signCell is one column of a signature's box.
type signCell struct {
	label string
	width float64
	lines []signLine
}

type signLine struct {
	text string
	st   style
}

const signPad = 2.2

// boxesFirst is how many signatures stand on page one: the author's and the
// counter-signer's. More would push what is to be read first off the page.
const boxesFirst = 2

// signatures draws one box for each signature: printed name, date and time
// with zone, and meaning, as 21 CFR 11.50 asks; the role and the key besides.
// Those after the first ones wait for laterSignatures, and the page says so.
func (f *flow) signatures(all []note.Signature) {
	if len(all) == 0 {
		return
	}
	f.space(2.2)
	first := all[:min(len(all), boxesFirst)]
	f.boxes(first)
	if later := len(all) - len(first); later > 0 {
		words := "1 later signature stands after the signed text."
		if later > 1 {
			words = fmt.Sprint(later, " later signatures stand after the signed text.")
		}
		f.space(1)
		f.lines(f.c.wrap(words, bodyType, bodyWidth), bodyLeft, bodyType, black)
	}
}

// laterSignatures draws the boxes that page one has no room for.
func (f *flow) laterSignatures(all []note.Signature) {
	if len(all) > boxesFirst {
		f.heading("Later signatures", 2*boxesFirst*bodyType.lineHeight())
		f.boxes(all[boxesFirst:])
	}
}

func (f *flow) boxes(all []note.Signature) {
	for i, s := range all {
		if i > 0 {
			f.space(1.5)
		}
		f.signature(s)
	}
}

func (f *flow) signature(s note.Signature) {
	const gap = 3.0
	cells := []signCell{{label: "Signed by", width: 46}, {label: "Meaning", width: 37}, {label: "Time of signing", width: 47}, {label: "Key"}}
	cells[3].width = bodyWidth - 2*signPad - 3*gap - 46 - 37 - 47
	values := [][]signLine{{{known(s.Name, "Name "+unknown), strongType}, {s.Role, bodyType}}, {{known(s.Meaning, unknown), bodyType}}, {{s.When(), bodyType}}, {{known(s.Key, unknown), bodyType}}}
	tall := 0
	for i := range cells {
		for _, v := range values[i] {
			if v.text == "" {
				continue
			}
			for _, l := range f.c.wrap(v.text, v.st, cells[i].width) {
				cells[i].lines = append(cells[i].lines, signLine{l, v.st})
			}
		}
		tall = max(tall, len(cells[i].lines))
	}
	lh := bodyType.lineHeight()
	h := 2*1.5 + labelType.lineHeight() + float64(tall)*lh
	if tall > 8 { // longer than any name: a box that may run on
		f.need(30)
		f.begin(&box{x: bodyLeft, w: bodyWidth, frame: 0.3})
		f.y += 1.5
		f.grid([]note.Item{{Label: "Signed by", Value: known(s.Name, "Name "+unknown)}, {Label: "Role", Value: s.Role}, {Label: "Meaning", Value: known(s.Meaning, unknown)},
			{Label: "Time of signing", Value: s.When()}, {Label: "Key", Value: known(s.Key, unknown)}}, 3, bodyLeft+signPad, bodyWidth-2*signPad)
		f.end()
		return
	}
	f.need(h)
	f.c.frame(bodyLeft, f.y, bodyWidth, h, 0.3, black)
	x := bodyLeft + signPad
	for _, c := range cells {
		y := f.y + 1.5
		f.c.text(x, y+labelType.rise(), c.label, labelType, soft)
		y += labelType.lineHeight()
		for _, l := range c.lines {
			f.c.text(x, y+l.st.rise(), l.text, l.st, black)
			y += lh
		}
		x += c.width + gap
	}
	f.y += h
}

// confirmations sets what the signer looked at again and what the signature
// confirmed.
func (f *flow) confirmations() {
	if a := f.d.Answers; len(a) > 0 {
		f.heading("Looked at again, with the signer's reason", f.leadItem(a))
		f.itemsIn(a, bodyLeft, 88, false)
	}
	if c := f.d.Confirmed; len(c) > 0 {
		f.heading("From the standing technique, confirmed by the signature", f.leadItem(c))
		f.itemsIn(c, bodyLeft, 72, false)
	}
}
