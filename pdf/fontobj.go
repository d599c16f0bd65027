package pdf

import "fmt"

// font writes a composite font under the number the pages refer to. Codes
// are two-byte glyph numbers (ISO 32000-1 sections 9.7.4 and 9.7.5.2).
func (a *assembly) font(n int, set *faceSet, f *face, u *usage) {
	first := a.free(4)
	name := u.tag() + "+" + f.name
	a.object(n, fmt.Sprintf("<</Type /Font /Subtype /Type0 /BaseFont /%s /Encoding /Identity-H /DescendantFonts [%d 0 R] /ToUnicode %d 0 R>>",
		name, first, first+3))
	a.object(first, fmt.Sprintf("<</Type /Font /Subtype /CIDFontType2 /BaseFont /%s /CIDSystemInfo <</Registry (Adobe) /Ordering (Identity) /Supplement 0>> "+
		"/FontDescriptor %d 0 R /CIDToGIDMap /Identity /DW %d /W [%s]>>", name, first+1, f.width[0], f.widths(u)))
	a.object(first+1, fmt.Sprintf("<</Type /FontDescriptor /FontName /%s /Flags 4 /FontBBox [%d %d %d %d] /ItalicAngle 0 "+
		"/Ascent %d /Descent %d /CapHeight %d /StemV %d /FontFile2 %d 0 R>>",
		name, f.box[0], f.box[1], f.box[2], f.box[3], f.ascent, f.descent, f.capital, f.stem, first+2))
	a.r.program = f.subset(a.r.program[:0], u)
	a.stream(first+2, fmt.Sprintf("/Length1 %d", len(a.r.program)), a.r.program)
	a.stream(first+3, "", toUnicode(set.runeOf, u))
}
