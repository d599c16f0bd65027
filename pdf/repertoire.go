package pdf

import "sync"

// span is an inclusive range of runes.
type span struct{ first, last rune }

// spans is the repertoire wanted from the faces, most used first so that an
// ordinary note needs only low glyph numbers and a short subset. Left out on
// purpose: controls, soft hyphen, zero-width and direction marks. They would
// be invisible on paper, so clean spells them out.
var spans = []span{
	{0x20, 0x7E}, {0xA0, 0xAC}, {0xAE, 0xFF},
	{0x2010, 0x2027}, {0x2030, 0x205E}, {0x2190, 0x2195}, {0x2200, 0x2265},
	{0x25A0, 0x25E6}, {0x2070, 0x209F}, {0x20A0, 0x20BF}, {0x2100, 0x215E},
	{0x0100, 0x02FF}, {0x1E00, 0x1EFF},
	{0x0370, 0x03FF}, {0x1F00, 0x1FFF},
	{0x0400, 0x052F},
	{0x0300, 0x0314}, {0x0323, 0x0326}, {0x032D, 0x0331},
	{0x2000, 0x200A}, {0x202F, 0x202F}, {0x2640, 0x2642}, {0xFB01, 0xFB02},
}

// faces are the two weights, prepared once and only read afterwards, so all
// workers share them.
type faceSet struct {
	regular, bold *face
	glyphOf       [0x10000]uint16 // by rune; 0 when not covered
	runeOf        []rune          // by glyph, for the repertoire part
}

var loadFaces = sync.OnceValues(newFaceSet)

// covered tells whether both faces draw r.
func (s *faceSet) covered(r rune) bool {
	return r >= 0 && r < 0x10000 && s.glyphOf[r] != 0
}
