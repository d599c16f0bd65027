package pdf

// Where the signed words begin and end is seen on paper: two lines in words, and a
// bar beside all that lies between them. Whatever stands outside is made of signed
// statements, or says that it is not part of what was signed.

const (
	signedBar    = 0.6
	signedIndent = 3.0 // of the bar, to the left of the text
)

const (
	beginsWords = "Signed text begins"
	endsWords   = "Signed text ends"
	coversWords = "The signature covers every word from here to \u201cSigned text ends\u201d, and patient, eye, dates and cautions in the head and foot of each page, which repeat it. " +
		"Status, signatures, revisions, files and checkpoint stand outside: they are made from the signed statements. SHA-256 of the signed text: "
)

// beginSigned opens the signed part, or says that the words were not signed.
func (f *flow) beginSigned() {
	f.space(2.2)
	if f.d.Digest == "" {
		if f.d.Unsigned != "" {
			f.extentLine(f.d.Unsigned, strongType)
			f.space(2)
		}
		return
	}
	f.extentLine(beginsWords, strongType)
	f.lines(f.c.wrap(coversWords+f.d.Digest, smallType, bodyWidth), bodyLeft, smallType, soft)
	f.space(2)
	f.begin(&box{x: bodyLeft - signedIndent, w: bodyWidth + signedIndent, bar: signedBar})
}

// endSigned closes the signed part.
func (f *flow) endSigned() {
	if f.d.Digest == "" || len(f.d.Signatures) == 0 {
		return
	}
	f.space(2)
	f.need(8)
	f.end()
	f.extentLine(endsWords, strongType)
}

func (f *flow) extentLine(words string, st style) {
	f.c.rule(bodyLeft-signedIndent, f.y, bodyRight, f.y, signedBar, black)
	f.y += 1.2
	f.lines(f.c.wrap(words, st, bodyWidth), bodyLeft, st, black)
}
