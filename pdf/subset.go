package pdf

import (
	"crypto/sha256"
	"encoding/binary"
	"fmt"
	"strings"
)

// usage records which glyphs of a face one note draws.
type usage struct {
	used []bool
	last int // highest used glyph
}

func newUsage(f *face) *usage { return &usage{used: make([]bool, len(f.outline))} }

func (u *usage) reset() {
	clear(u.used)
	u.last = 0
}

func (u *usage) add(g uint16) {
	u.used[g] = true
	u.last = max(u.last, int(g))
}

// tag is the subset prefix of ISO 32000-1 section 9.6.4: six capitals that
// differ between different subsets of one face.
func (u *usage) tag() string {
	h := sha256.New()
	for g, on := range u.used {
		if on {
			h.Write([]byte{byte(g >> 8), byte(g)})
		}
	}
	sum := h.Sum(nil)
	var s strings.Builder
	for _, b := range sum[:6] {
		s.WriteByte('A' + b%26)
	}
	return s.String()
}

// subset appends a TrueType file with the used glyphs to dst. Numbers are
// kept; unused glyphs are empty. Only the tables that ISO 32000-1 section
// 9.9 asks of a CIDFontType2 program are written.
func (f *face) subset(dst []byte, u *usage) []byte {
	want := make([]bool, len(u.used))
	last := f.mark(want, 0, 0)
	for g := 0; g <= u.last; g++ {
		if u.used[g] {
			last = f.mark(want, g, last)
		}
	}
	n := last + 1
	var glyf []byte
	loca := make([]byte, 4*(n+1))
	hmtx := make([]byte, 4*n)
	for g := range n {
		binary.BigEndian.PutUint32(loca[4*g:], uint32(len(glyf)))
		if want[g] {
			glyf = append(glyf, f.outline[g]...)
			binary.BigEndian.PutUint16(hmtx[4*g:], f.advance[g])
			binary.BigEndian.PutUint16(hmtx[4*g+2:], f.bearing[g])
		}
	}
	binary.BigEndian.PutUint32(loca[4*n:], uint32(len(glyf)))
	hhea := append([]byte(nil), f.hhea...)
	binary.BigEndian.PutUint16(hhea[34:], uint16(n))
	maxp := append([]byte(nil), f.maxp...)
	binary.BigEndian.PutUint16(maxp[4:], uint16(n))
	return assemble(dst, []string{"glyf", "head", "hhea", "hmtx", "loca", "maxp"},
		[][]byte{glyf, f.head, hhea, hmtx, loca, maxp})
}

// mark wants a glyph and its parts and returns the highest number so far.
func (f *face) mark(want []bool, g, last int) int {
	if want[g] {
		return last
	}
	want[g] = true
	last = max(last, g)
	for _, p := range f.parts[g] {
		last = f.mark(want, int(p), last)
	}
	return last
}

// assemble writes the table directory, the tables and the checksums.
func assemble(dst []byte, names []string, data [][]byte) []byte {
	start := len(dst)
	count := len(names)
	dst = append(dst, 0, 1, 0, 0, 0, byte(count), 0, 64, 0, 2, 0, byte(16*count-64)) // 4 = largest power of two in 6
	offset := 12 + 16*count
	headAt := 0
	for i, name := range names {
		if name == "head" {
			headAt = start + offset
		}
		dst = append(dst, name...)
		dst = binary.BigEndian.AppendUint32(dst, checksum(data[i]))
		dst = binary.BigEndian.AppendUint32(dst, uint32(offset))
		dst = binary.BigEndian.AppendUint32(dst, uint32(len(data[i])))
		offset += (len(data[i]) + 3) &^ 3
	}
	for _, d := range data {
		dst = append(dst, d...)
		for (len(dst)-start)%4 != 0 {
			dst = append(dst, 0)
		}
	}
	// OpenType 1.9, table "head": the whole file sums to this constant.
	binary.BigEndian.PutUint32(dst[headAt+8:], 0xB1B0AFBA-checksum(dst[start:]))
	return dst
}

func checksum(b []byte) uint32 {
	var sum uint32
	for ; len(b) >= 4; b = b[4:] {
		sum += binary.BigEndian.Uint32(b)
	}
	var rest [4]byte
	copy(rest[:], b)
	return sum + binary.BigEndian.Uint32(rest[:])
}

// widths is the /W array of ISO 32000-1 section 9.7.4.3.
func (f *face) widths(u *usage) string {
	var s strings.Builder
	open := false
	for g := 1; g <= u.last; g++ {
		if !u.used[g] {
			if open {
				s.WriteByte(']')
			}
			open = false
			continue
		}
		if !open {
			fmt.Fprintf(&s, " %d [", g)
			open = true
		}
		fmt.Fprintf(&s, "%d ", f.width[g])
	}
	if open {
		s.WriteByte(']')
	}
	return s.String()
}

// toUnicode is the character map of ISO 32000-1 section 9.10.3, so that
// search and copy find the text.
func toUnicode(runeOf []rune, u *usage) []byte {
	var used []int
	for g := 1; g <= u.last && g < len(runeOf); g++ {
		if u.used[g] {
			used = append(used, g)
		}
	}
	var s strings.Builder
	s.WriteString("/CIDInit /ProcSet findresource begin\n12 dict begin\nbegincmap\n" +
		"/CIDSystemInfo <</Registry (Adobe) /Ordering (UCS) /Supplement 0>> def\n" +
		"/CMapName /Adobe-Identity-UCS def\n/CMapType 2 def\n" +
		"1 begincodespacerange\n<0000> <FFFF>\nendcodespacerange\n")
	for len(used) > 0 {
		part := used[:min(100, len(used))] // the specification's limit for one block
		used = used[len(part):]
		fmt.Fprintf(&s, "%d beginbfchar\n", len(part))
		for _, g := range part {
			fmt.Fprintf(&s, "<%04X> <%04X>\n", g, runeOf[g])
		}
		s.WriteString("endbfchar\n")
	}
	s.WriteString("endcmap\nCMapName currentdict /CMap defineresource pop\nend\nend\n")
	return []byte(s.String())
}
