package pdf

import (
	"encoding/binary"
	"errors"

	"github.com/go-fonts/liberation/liberationsansbold"
	"github.com/go-fonts/liberation/liberationsansregular"
	"golang.org/x/image/font/sfnt"
)

var errFace = errors.New("pdf: built-in face is unreadable")

// face is one weight, cut to the repertoire and renumbered: glyph n is the
// nth rune of the repertoire, parts of composed glyphs follow. Both weights
// therefore share the numbers of all runes.
type face struct {
	name    string     // PostScript name without subset prefix
	outline [][]byte   // by glyph; instructions removed, part numbers renumbered
	parts   [][]uint16 // by glyph; what a composed glyph is made of
	advance []uint16   // by glyph, font units
	bearing []uint16   // by glyph, font units, two's complement
	width   []int      // by glyph, thousandths of an em, as in the PDF
	head    []byte
	hhea    []byte
	maxp    []byte
	ascent  int // thousandths of an em, as the four below
	descent int
	capital int
	box     [4]int
	stem    int
}

// tables is a TrueType file by table name (OpenType 1.9, chapter "Font File").
type tables map[string][]byte

func readTables(ttf []byte) (tables, error) {
	if len(ttf) < 12 {
		return nil, errFace
	}
	n := int(binary.BigEndian.Uint16(ttf[4:]))
	t := tables{}
	for i := range n {
		e := 12 + 16*i
		if e+16 > len(ttf) {
			return nil, errFace
		}
		at, size := binary.BigEndian.Uint32(ttf[e+8:]), binary.BigEndian.Uint32(ttf[e+12:])
		if uint64(at)+uint64(size) > uint64(len(ttf)) {
			return nil, errFace
		}
		t[string(ttf[e:e+4])] = ttf[at : at+size]
	}
	return t, nil
}

func newFaceSet() (*faceSet, error) {
	set := &faceSet{runeOf: []rune{0}}
	reg, err := sfnt.Parse(liberationsansregular.TTF)
	if err != nil {
		return nil, errFace
	}
	bold, err := sfnt.Parse(liberationsansbold.TTF)
	if err != nil {
		return nil, errFace
	}
	// Glyph 0 stays the missing-glyph box; no text refers to it.
	regGlyphs, boldGlyphs := []int{0}, []int{0}
	var buf sfnt.Buffer
	for _, s := range spans {
		for r := s.first; r <= s.last; r++ {
			a, errA := reg.GlyphIndex(&buf, r)
			b, errB := bold.GlyphIndex(&buf, r)
			if errA != nil || errB != nil || a == 0 || b == 0 || set.glyphOf[r] != 0 {
				continue
			}
			set.glyphOf[r] = uint16(len(set.runeOf))
			set.runeOf = append(set.runeOf, r)
			regGlyphs = append(regGlyphs, int(a))
			boldGlyphs = append(boldGlyphs, int(b))
		}
	}
	if set.regular, err = newFace("LiberationSans", liberationsansregular.TTF, regGlyphs, 80); err != nil {
		return nil, err
	}
	set.bold, err = newFace("LiberationSans-Bold", liberationsansbold.TTF, boldGlyphs, 140)
	return set, err
}

// newFace cuts the file down to the glyphs given by their old numbers.
func newFace(name string, ttf []byte, glyphs []int, stem int) (*face, error) {
	t, err := readTables(ttf)
	if err != nil {
		return nil, err
	}
	if len(t["head"]) < 54 || len(t["hhea"]) < 36 || len(t["maxp"]) < 32 || len(t["OS/2"]) < 90 {
		return nil, errFace
	}
	c := cutter{glyf: t["glyf"], loca: t["loca"], long: t["head"][51] != 0, number: map[int]uint16{}}
	f := &face{name: name, stem: stem}
	metrics := int(binary.BigEndian.Uint16(t["hhea"][34:]))
	em := int(binary.BigEndian.Uint16(t["head"][18:]))
	for i := 0; i < len(glyphs); i++ {
		data, parts, err := c.plain(glyphs[i])
		if err != nil {
			return nil, err
		}
		var mapped []uint16
		for _, p := range parts {
			n, ok := c.number[p.old]
			if !ok {
				n = uint16(len(glyphs))
				c.number[p.old] = n
				glyphs = append(glyphs, p.old)
			}
			binary.BigEndian.PutUint16(data[p.at:], n)
			mapped = append(mapped, n)
		}
		m := 4 * min(glyphs[i], metrics-1)
		if m < 0 || m+4 > len(t["hmtx"]) {
			return nil, errFace
		}
		adv := binary.BigEndian.Uint16(t["hmtx"][m:])
		f.outline = append(f.outline, data)
		f.parts = append(f.parts, mapped)
		f.advance = append(f.advance, adv)
		f.bearing = append(f.bearing, bearing(data))
		f.width = append(f.width, (int(adv)*1000+em/2)/em)
	}
	f.head = append([]byte(nil), t["head"][:54]...)
	binary.BigEndian.PutUint32(f.head[8:], 0)
	binary.BigEndian.PutUint16(f.head[50:], 1) // long offsets, whatever the subset's size
	f.hhea = append([]byte(nil), t["hhea"][:36]...)
	f.maxp = append([]byte(nil), t["maxp"][:32]...)
	binary.BigEndian.PutUint16(f.maxp[26:], 0) // no instructions are kept
	thousandth := func(b []byte) int { return int(int16(binary.BigEndian.Uint16(b))) * 1000 / em }
	f.ascent, f.descent = thousandth(t["hhea"][4:]), thousandth(t["hhea"][6:])
	f.capital = thousandth(t["OS/2"][88:])
	for i := range f.box {
		f.box[i] = thousandth(t["head"][36+2*i:])
	}
	return f, nil
}

// bearing is the glyph's left edge: without instructions it equals xMin.
func bearing(outline []byte) uint16 {
	if len(outline) < 10 {
		return 0
	}
	return binary.BigEndian.Uint16(outline[2:])
}
