package pdf

import (
	"encoding/binary"
	"strings"
	"unicode"
)

// Combining marks that stay apart after composition, as in Yoruba or in
// stressed Russian. The faces hold the shapes but place them unevenly, so
// each is set here by its outline, centred above or below its letter.
var (
	marksAbove = span{0x0300, 0x0314}
	marksBelow = []span{{0x0323, 0x0326}, {0x032D, 0x0331}}
)

// marksMost is how many marks one letter may carry; more would run into the
// neighbouring lines and are spelled out.
const marksMost = 2

func markSide(r rune) (above, below bool) {
	if r < marksAbove.first || r > 0x036F {
		return false, false
	}
	for _, s := range marksBelow {
		below = below || r >= s.first && r <= s.last
	}
	return r <= marksAbove.last, below
}

// reading checks one rune after the other.
type reading struct {
	letter bool
	marks  int
}

// draws tells whether r can be drawn after the runes read so far.
func (s *faceSet) draws(st *reading, r rune) bool {
	if above, below := markSide(r); above || below {
		st.marks++
		return st.letter && st.marks <= marksMost && s.covered(r)
	}
	st.letter, st.marks = unicode.IsLetter(r), 0
	return s.covered(r)
}

// hasMarks looks for the lead bytes of U+0300 to U+037F.
func hasMarks(text string) bool {
	return strings.IndexByte(text, 0xCC) >= 0 || strings.IndexByte(text, 0xCD) >= 0
}

// extent returns a glyph's box in font units: left, bottom, right, top.
func (f *face) extent(g uint16) (box [4]float64) {
	if o := f.outline[g]; len(o) >= 10 {
		for i := range box {
			box[i] = float64(int16(binary.BigEndian.Uint16(o[2+2*i:])))
		}
	}
	return box
}

// xHeight and markGap in font units: a mark stands over short letters as
// over an x, with the same gap everywhere.
const (
	xHeight = 1082
	markGap = 110
	emUnits = 2048
)

// marked draws text that holds combining marks, in runs between them.
func (c *canvas) marked(x, y float64, text string, st style) {
	f := c.set.regular
	if st.bold {
		f = c.set.bold
	}
	unit := st.size * pointMM / emUnits
	var run []rune
	var box [4]float64
	var letterX, top, bottom float64
	flush := func() {
		c.show(x, y, string(run), st)
		x += c.set.width(string(run), st)
		run = run[:0]
	}
	for _, r := range text {
		above, below := markSide(r)
		if !above && !below {
			letterX = x + c.set.width(string(run), st)
			box = f.extent(c.set.glyphOf[r])
			top, bottom = max(box[3], xHeight), min(box[1], 0)
			run = append(run, r)
			continue
		}
		flush()
		m := f.extent(c.set.glyphOf[r])
		dx := (box[0]+box[2])/2 - (m[0]+m[2])/2
		dy := top + markGap - m[1]
		if below {
			dy = bottom - markGap - m[3]
			bottom = m[1] + dy
		} else {
			top = m[3] + dy
		}
		c.show(letterX+dx*unit, y-dy*unit, string(r), st)
	}
	flush()
}
