package pdf

import (
	"errors"
	"image"
	"image/color"
	"strconv"

	"github.com/boombuler/barcode/qr"
)

// Sizes of the two-dimensional code (ISO/IEC 18004, QR Code). The standard
// asks for a quiet zone of four modules; the sizes are common practice for
// office printers and hand-held readers, no source.
const (
	quietZone   = 4    // modules on each side
	codeLeast   = 25.0 // edge of the symbol, millimetres
	moduleLeast = 0.5  // edge of a module, millimetres
)

// symbol is a code as a square of modules.
type symbol struct {
	modules image.Image
	size    int     // modules along an edge
	module  float64 // millimetres
}

var errSymbol = errors.New("pdf: text cannot be drawn as a code")

// newSymbol encodes text with error correction level M. It fails for a text
// that no symbol can hold (more than 2331 bytes) and for one that is not plain
// ASCII: the encoder does not say which character set the bytes are in, and
// readers guess.
func newSymbol(text string) (symbol, error) {
	for _, b := range []byte(text) {
		if b < ' ' || b > '~' {
			return symbol{}, errSymbol
		}
	}
	m, err := qr.Encode(text, qr.M, qr.Auto)
	if err != nil {
		return symbol{}, errSymbol
	}
	n := m.Bounds().Dx()
	return symbol{m, n, max(codeLeast/float64(n), moduleLeast)}, nil
}

// edge is the symbol with its quiet zone, millimetres.
func (s symbol) edge() float64 { return float64(s.size+2*quietZone) * s.module }

// draw fills all dark modules as one path, so that no reader shows seams
// between them. The coordinates are whole modules from the top left.
func (c *canvas) draw(s symbol, x, y float64) {
	if c.trial {
		return
	}
	c.block(x, y, s.edge(), s.edge(), white) // the word across the page stays out
	_, height := c.f.GetPageSize()
	points := func(mm float64) string { return strconv.FormatFloat(mm/pointMM, 'f', 4, 64) }
	quiet := quietZone * s.module
	b := append(c.codes[:0], "q 0 g "+points(s.module)+" 0 0 -"+points(s.module)+" "+points(x+quiet)+" "+points(height-y-quiet)+" cm\n"...)
	for row := range s.size {
		for col := 0; col < s.size; col++ {
			from := col
			for col < s.size && s.dark(col, row) {
				col++
			}
			if col > from {
				for _, v := range []int{from, row, col - from} {
					b = append(strconv.AppendInt(b, int64(v), 10), ' ')
				}
				b = append(b, "1 re\n"...)
			}
		}
	}
	b = append(b, "f Q"...)
	c.f.RawWriteStr(string(b))
	c.codes = b
}

func (s symbol) dark(col, row int) bool {
	return color.Gray16Model.Convert(s.modules.At(col, row)).(color.Gray16).Y < 0x8000
}

// checkpoint sets the casebook's checkpoint as text, the code beside it and
// what the code carries.
func (f *flow) checkpoint() {
	d := f.d
	if len(d.Checkpoint) == 0 && d.Code == "" {
		return
	}
	var s symbol
	drawn := false
	if d.Code != "" {
		var err error
		s, err = newSymbol(d.Code)
		drawn = err == nil
	}
	x := bodyLeft
	if drawn {
		x += s.edge() + 3
	}
	text := func(g *flow) { g.checkpointText(x, d.Code != "" && !drawn) }
	keep := max(f.measure(text), s.edge())
	if keep > f.bottom-f.top-12 {
		keep = s.edge()
	}
	f.heading("Casebook checkpoint", keep)
	if f.need(keep); drawn {
		f.c.draw(s, bodyLeft, f.y)
	}
	from, page := f.y, f.pages
	text(f)
	if f.pages == page {
		f.y = max(f.y, from+s.edge())
	}
}

func (f *flow) checkpointText(x float64, failed bool) {
	d := f.d
	part := func(label string, lines []string) {
		if len(lines) == 0 {
			return
		}
		f.c.text(x, f.y+labelType.rise(), label, labelType, soft)
		f.y += labelType.lineHeight()
		for _, l := range lines {
			f.exact(l, x)
		}
		f.y += 1.2
	}
	part("Signed checkpoint, line by line", d.Checkpoint)
	if d.Code != "" {
		label := "Text of the code"
		if failed {
			label = "Text of the code, which cannot be drawn as one"
		}
		part(label, []string{d.Code})
	}
}

// exactType sets text that is compared letter by letter.
var exactType = style{size: 8.5}

// exact sets one line of such text. It breaks where the width ends, at no
// word, and what goes on is indented, so that the lines can be told apart.
func (f *flow) exact(text string, x float64) {
	const indent = 4.0
	width := bodyRight - x
	text = f.c.set.clean(text)
	for first := true; first || text != ""; first = false {
		n := f.c.set.fitting(text, exactType, width-indent)
		f.need(exactType.lineHeight())
		f.c.text(x, f.y+exactType.rise(), text[:n], exactType, black)
		f.y += exactType.lineHeight()
		text = text[n:]
		if first {
			x += indent
		}
	}
}
