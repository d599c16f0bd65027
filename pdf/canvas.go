package pdf

import (
	"math"

	"github.com/go-pdf/fpdf"
)

// Greys, 0 black to 255 white. Nothing on the page depends on colour.
const (
	black  = 0
	soft   = 95  // labels and secondary text, about 6:1 on white
	hair   = 170 // thin rules
	shadow = 234 // the word across the page, behind the text
	white  = 255
)

// Names under which the page library knows the two faces; finish.go looks
// for them.
const (
	regularName = "GNRegular"
	boldName    = "GNBold"
)

// canvas draws on the library's pages in millimetres from the top left.
//
// The library sees the faces as plain one-byte fonts, so it copies strings
// through unchanged. They hold two-byte glyph numbers, and finish.go exchanges
// the font objects for composite fonts that read them so.
type canvas struct {
	f       *fpdf.Fpdf
	set     *faceSet
	regular *usage
	bold    *usage
	font    style // as last set on the current page
	line    float64
	ink     int
	fill    int
	dash    string
	codes   []byte
	trial   bool // only measure: draw nothing
}

func newCanvas(set *faceSet, p Paper, regular, bold *usage) *canvas {
	f := fpdf.NewCustom(&fpdf.InitType{UnitStr: "mm", Size: fpdf.SizeType{Wd: p.Width, Ht: p.Height}})
	f.SetAutoPageBreak(false, 0)
	f.SetCompression(false)
	f.SetCatalogSort(true)
	f.AddFontFromBytes(regularName, "", []byte(`{"Tp":"Core","Name":"`+regularName+`"}`), nil)
	f.AddFontFromBytes(boldName, "", []byte(`{"Tp":"Core","Name":"`+boldName+`"}`), nil)
	return &canvas{f: f, set: set, regular: regular, bold: bold}
}

// forget makes the next drawing call set every state again; needed after a
// change of page.
func (c *canvas) forget() {
	c.font, c.line, c.ink, c.fill, c.dash = style{}, -1, -1, -1, "?"
}

func (c *canvas) addPage() {
	c.f.AddPage()
	c.forget()
}

// text draws one line with its baseline at y.
func (c *canvas) text(x, y float64, text string, st style, grey int) {
	text = c.set.clean(text)
	if text == "" || c.trial {
		return
	}
	if c.font != st {
		name := regularName
		if st.bold {
			name = boldName
		}
		c.f.SetFont(name, "", st.size)
		c.font = st
	}
	c.setFill(grey)
	if hasMarks(text) {
		c.marked(x, y, text, st)
		return
	}
	c.show(x, y, text, st)
}

// show draws runes as they are, in the type set before.
func (c *canvas) show(x, y float64, text string, st style) {
	u := c.regular
	if st.bold {
		u = c.bold
	}
	c.codes = c.codes[:0]
	for _, r := range text {
		if r == '\n' {
			r = ' '
		}
		g := c.set.glyphOf[r]
		u.add(g)
		c.codes = append(c.codes, byte(g>>8), byte(g))
	}
	c.f.Text(x, y, string(c.codes))
}

func (c *canvas) textRight(x, y float64, text string, st style, grey int) {
	text = c.set.clean(text)
	c.text(x-c.set.width(text, st), y, text, st, grey)
}

func (c *canvas) textCentre(x, y float64, text string, st style, grey int) {
	text = c.set.clean(text)
	c.text(x-c.set.width(text, st)/2, y, text, st, grey)
}

// wrap cleans text and breaks it into lines.
func (c *canvas) wrap(text string, st style, width float64) []string {
	return c.set.wrap(c.set.clean(text), st, max(width, 4))
}

// fit returns st, made smaller until the text is no wider than width, but
// not below least points.
func (c *canvas) fit(text string, st style, width, least float64) style {
	w := c.set.width(c.set.clean(text), st)
	if w > width {
		st.size = max(least, math.Floor(st.size*width/w*10)/10)
	}
	return st
}

func (c *canvas) setFill(grey int) {
	if c.fill != grey {
		c.f.SetTextColor(grey, grey, grey)
		c.f.SetFillColor(grey, grey, grey)
		c.fill = grey
	}
}

func (c *canvas) setPen(width float64, grey int, dash ...float64) {
	if c.line != width {
		c.f.SetLineWidth(width)
		c.line = width
	}
	if c.ink != grey {
		c.f.SetDrawColor(grey, grey, grey)
		c.ink = grey
	}
	key := ""
	for _, d := range dash {
		key += string(rune(int(d*100))) + ","
	}
	if c.dash != key {
		c.f.SetDashPattern(dash, 0)
		c.dash = key
	}
}

func (c *canvas) rule(x1, y1, x2, y2, width float64, grey int, dash ...float64) {
	if c.trial {
		return
	}
	c.setPen(width, grey, dash...)
	c.f.Line(x1, y1, x2, y2)
}

func (c *canvas) frame(x, y, w, h, width float64, grey int) {
	if c.trial {
		return
	}
	c.setPen(width, grey)
	c.f.Rect(x, y, w, h, "D")
}

func (c *canvas) block(x, y, w, h float64, grey int) {
	if c.trial {
		return
	}
	c.setFill(grey)
	c.f.Rect(x, y, w, h, "F")
}

func (c *canvas) circle(x, y, r, width float64, grey int, dash ...float64) {
	c.setPen(width, grey, dash...)
	c.f.Circle(x, y, r, "D")
}

// lineHeight is the distance between baselines, millimetres.
func (s style) lineHeight() float64 { return s.size * pointMM * 1.28 }

// rise is the height of capitals above the baseline, millimetres.
func (s style) rise() float64 { return s.size * pointMM * 0.73 }
