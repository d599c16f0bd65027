package pdf

import "encoding/binary"

// cutter takes single outlines from a TrueType file.
type cutter struct {
	glyf, loca []byte
	long       bool
	number     map[int]uint16 // new number of a part by its old one
}

// part is a component of a composed glyph: its old number and the place in
// the outline where the new one goes.
type part struct{ old, at int }

// Composed-glyph flags (OpenType 1.9, table "glyf").
const (
	argsAreWords    = 0x0001
	haveScale       = 0x0008
	moreParts       = 0x0020
	haveTwoScales   = 0x0040
	haveMatrix      = 0x0080
	haveInstruction = 0x0100
)

func (c *cutter) raw(g int) ([]byte, error) {
	var from, to int
	if c.long {
		if 4*g+8 > len(c.loca) {
			return nil, errFace
		}
		from, to = int(binary.BigEndian.Uint32(c.loca[4*g:])), int(binary.BigEndian.Uint32(c.loca[4*g+4:]))
	} else {
		if 2*g+4 > len(c.loca) {
			return nil, errFace
		}
		from, to = 2*int(binary.BigEndian.Uint16(c.loca[2*g:])), 2*int(binary.BigEndian.Uint16(c.loca[2*g+2:]))
	}
	if from > to || to > len(c.glyf) {
		return nil, errFace
	}
	return c.glyf[from:to], nil
}

// plain returns a copy of the outline without instructions, padded to four
// bytes. Instructions only tune coarse screens and are half of the data.
func (c *cutter) plain(g int) ([]byte, []part, error) {
	src, err := c.raw(g)
	if err != nil || len(src) == 0 {
		return nil, nil, err
	}
	if len(src) < 12 {
		return nil, nil, errFace
	}
	if int16(binary.BigEndian.Uint16(src)) < 0 {
		return composed(src)
	}
	at := 10 + 2*int(binary.BigEndian.Uint16(src))
	if at+2 > len(src) {
		return nil, nil, errFace
	}
	after := at + 2 + int(binary.BigEndian.Uint16(src[at:]))
	if after > len(src) {
		return nil, nil, errFace
	}
	out := append([]byte(nil), src[:at]...)
	out = append(out, 0, 0)
	out = append(out, src[after:]...)
	return pad4(out), nil, nil
}

func composed(src []byte) ([]byte, []part, error) {
	out := append([]byte(nil), src...)
	var parts []part
	for at := 10; ; {
		if at+4 > len(out) {
			return nil, nil, errFace
		}
		flags := binary.BigEndian.Uint16(out[at:])
		parts = append(parts, part{old: int(binary.BigEndian.Uint16(out[at+2:])), at: at + 2})
		binary.BigEndian.PutUint16(out[at:], flags&^haveInstruction)
		at += 6
		if flags&argsAreWords != 0 {
			at += 2
		}
		switch {
		case flags&haveScale != 0:
			at += 2
		case flags&haveTwoScales != 0:
			at += 4
		case flags&haveMatrix != 0:
			at += 8
		}
		if at > len(out) {
			return nil, nil, errFace
		}
		if flags&moreParts == 0 {
			return pad4(out[:at]), parts, nil
		}
	}
}

func pad4(b []byte) []byte {
	for len(b)%4 != 0 {
		b = append(b, 0)
	}
	return b
}
