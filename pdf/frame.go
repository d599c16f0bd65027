package pdf

import (
	"fmt"
	"math"
	"strings"

	"graftnote/note"
)

// Header and foot must leave room for the note whatever the entry holds, so
// their parts have a limit of lines. Longer text ends with a mark and is
// given in full in the note's body.
const (
	maxNameLines    = 3
	maxCautionLines = 6
	cutMark         = " [cut]"
)

var (
	nameType = style{bold: true, size: 13.5}
	latType  = style{size: 10}
	metaType = style{size: 9}
	eyeType  = style{bold: true, size: 23}
)

const (
	eyeBoxWidth  = 60.0
	eyeBoxHeight = 13.0
	noteWidth    = bodyWidth - 35
	bannerWidth  = bodyWidth - eyeBoxWidth - 5
)

// banner is the header as laid out once and drawn on every page.
type banner struct {
	name, latin []string
	meta        [][]note.Item
	eye         style
	eyeLines    []string
	status      []string
	statusType  style
	revision    string // "" for a note that nothing was added to
	height      float64
	cut         []note.Item // what did not fit, for the body
}

func (c *canvas) limit(text string, st style, width float64, most int) ([]string, bool) {
	lines := c.wrap(text, st, width)
	if len(lines) <= most {
		return lines, false
	}
	lines = append([]string(nil), lines[:most]...)
	last := c.wrap(lines[most-1], st, width-c.set.width(cutMark, st))
	lines[most-1] = last[0] + cutMark
	return lines, true
}

// unknown stands where an identifying fact is missing, so that its absence is
// seen on every page.
const unknown = "not recorded"

func known(value, otherwise string) string {
	if strings.TrimSpace(value) == "" {
		return otherwise
	}
	return value
}

func (c *canvas) layBanner(d *note.Document) *banner {
	b := &banner{}
	eye := known(d.Banner.Eye, "EYE NOT RECORDED")
	add := func(label, value string, cut bool) {
		if cut {
			b.cut = append(b.cut, note.Item{Label: label, Value: value})
		}
	}
	var cut bool
	// The form that can be read goes first: the recorded name, unless the
	// faces lack its script and a Latin form is there.
	first, second := note.Item{Label: "Patient", Value: known(d.Banner.Patient, "Patient name "+unknown)}, note.Item{Label: "Latin form of the name", Value: d.Banner.LatinName}
	if second.Value != "" && len(Covers(first.Value)) > 0 {
		first, second = second, first
		second.Value = "Recorded as " + second.Value
	}
	b.name, cut = c.limit(first.Value, nameType, bannerWidth, maxNameLines)
	add(first.Label, first.Value, cut)
	if second.Value != "" {
		b.latin, cut = c.limit(second.Value, latType, bannerWidth, maxNameLines)
		add(second.Label, second.Value, cut)
	}
	b.eye = c.fit(eye, eyeType, eyeBoxWidth-5, 14)
	b.eyeLines, cut = c.limit(eye, b.eye, eyeBoxWidth-5, 1)
	add("Eye", eye, cut)
	b.revision = revisionLine(d.Revisions)
	status := d.Status
	if n := len(d.Revisions); b.revision != "" { // said on a line of its own
		status = strings.TrimSuffix(status, fmt.Sprintf(", revision %d", d.Revisions[n-1].Number))
	}
	b.statusType = c.fit(status, strongType, eyeBoxWidth, 7.5)
	b.status, _ = c.limit(status, b.statusType, eyeBoxWidth, 2)
	_, cut = c.limit("Note "+d.ID, smallStrong, noteWidth, 1)
	add("Note", d.ID, cut)
	items := []note.Item{
		{Label: "Patient id", Value: known(d.Banner.PatientID, unknown)}, {Label: "Born", Value: known(d.Banner.Born, unknown)},
		{Value: d.Banner.SecondID},
		{Label: "Operated", Value: known(d.Banner.Operated, unknown)}, {Label: "Site", Value: known(d.Banner.Site, unknown)},
		{Label: "Surgeon", Value: known(d.Banner.Surgeon, unknown)},
	}
	// Facts run on one line while they fit; id and birth date stay together.
	x := 0.0
	var line []note.Item
	for i, it := range items {
		if it.Value == "" {
			continue
		}
		it.Label, it.Value = c.set.clean(it.Label), c.set.clean(it.Value)
		if lines, cut := c.limit(it.Value, strongMeta, bannerWidth-c.labelWidth(it.Label), 1); cut {
			add(it.Label, items[i].Value, true)
			it.Value = lines[0]
		}
		w := c.metaWidth(it)
		if len(line) > 0 && (x+w > bannerWidth || i == 3) {
			b.meta = append(b.meta, line)
			line, x = nil, 0
		}
		line = append(line, it)
		x += w + 5
	}
	if len(line) > 0 {
		b.meta = append(b.meta, line)
	}
	left := float64(len(b.name))*nameType.lineHeight() + float64(len(b.latin))*latType.lineHeight() +
		1 + float64(len(b.meta))*metaType.lineHeight()
	right := eyeBoxHeight + 1.5 + float64(len(b.status))*strongType.lineHeight()
	if b.revision != "" {
		right += metaType.lineHeight()
	}
	b.height = math.Max(left, right) + 2
	return b
}

var strongMeta = style{bold: true, size: metaType.size}

func (c *canvas) labelWidth(label string) float64 {
	if label == "" {
		return 0
	}
	return c.set.width(label, metaType) + 1.5
}

func (c *canvas) metaWidth(it note.Item) float64 {
	return c.labelWidth(it.Label) + c.set.width(it.Value, strongMeta)
}

func (c *canvas) drawBanner(b *banner) {
	y := pageTop
	for _, l := range b.name {
		c.text(bodyLeft, y+nameType.rise(), l, nameType, black)
		y += nameType.lineHeight()
	}
	for _, l := range b.latin {
		c.text(bodyLeft, y+latType.rise(), l, latType, black)
		y += latType.lineHeight()
	}
	y++
	for _, line := range b.meta {
		x := bodyLeft
		for _, it := range line {
			c.text(x, y+metaType.rise(), it.Label, metaType, soft)
			c.text(x+c.labelWidth(it.Label), y+metaType.rise(), it.Value, strongMeta, black)
			x += c.metaWidth(it) + 5
		}
		y += metaType.lineHeight()
	}
	x := bodyRight - eyeBoxWidth
	c.frame(x+0.5, pageTop+0.5, eyeBoxWidth-1, eyeBoxHeight-1, 1, black)
	for _, l := range b.eyeLines {
		c.textCentre(x+eyeBoxWidth/2, pageTop+(eyeBoxHeight+b.eye.rise())/2, l, b.eye, black)
	}
	y = pageTop + eyeBoxHeight + 1.5
	for _, l := range b.status {
		c.textRight(bodyRight, y+b.statusType.rise(), l, b.statusType, black)
		y += b.statusType.lineHeight()
	}
	c.textRight(bodyRight, y+metaType.rise(), b.revision, c.fit(b.revision, metaType, eyeBoxWidth, 6), black)
	c.rule(bodyLeft, pageTop+b.height, bodyRight, pageTop+b.height, 0.5, black)
}

// layFoot returns the caution lines for every page and whether they all fit.
func (c *canvas) layFoot(cautions []string) (lines []string, cut bool) {
	for _, s := range cautions {
		lines = append(lines, c.wrap(s, smallType, bodyWidth)...)
	}
	if len(lines) > maxCautionLines {
		last, _ := c.limit(lines[maxCautionLines-1]+" "+lines[maxCautionLines], smallType, bodyWidth, 1)
		lines = append(lines[:maxCautionLines-1:maxCautionLines-1], last...)
		return lines, true
	}
	return lines, false
}

func footHeight(lines []string) float64 {
	return float64(len(lines)+1)*smallType.lineHeight() + 2.2
}

func (c *canvas) drawFoot(d *note.Document, lines []string, page, pages int) {
	c.footLines(lines, "Note "+d.ID, page, pages)
}

// footLines draws the cautions and what the page is a page of.
func (c *canvas) footLines(lines []string, name string, page, pages int) {
	y := pageFoot - footHeight(lines)
	c.rule(bodyLeft, y, bodyRight, y, 0.2, black)
	y += 1.4
	for _, l := range lines {
		c.text(bodyLeft, y+smallType.rise(), l, smallType, soft)
		y += smallType.lineHeight()
	}
	y += 0.6
	id, _ := c.limit(name, smallStrong, noteWidth, 1)
	c.text(bodyLeft, y+smallType.rise(), id[0], smallStrong, black)
	c.textRight(bodyRight, y+smallType.rise(), fmt.Sprintf("page %d of %d", page, pages), smallStrong, black)
}

// Size of the word across the page, points and millimetres: as large as
// DRAFT fits, smaller for a longer word.
const (
	markSize   = 150.0
	markLength = 235.0
)

// watermark sets the document's word (DRAFT, WITHDRAWN) across the page, light
// and before anything else, so that it lies behind the text.
func (f *flow) watermark() {
	word := f.d.Mark
	if word == "" && f.d.Draft {
		word = "DRAFT"
	}
	if strings.TrimSpace(word) == "" {
		return
	}
	st := f.c.fit(word, style{bold: true, size: markSize}, markLength, 24)
	lines, _ := f.c.limit(word, st, markLength, 1)
	x, y := 105.0, 279.4/2
	f.c.f.TransformBegin()
	f.c.f.TransformRotate(50, x, y)
	f.c.textCentre(x, y+st.rise()/2, lines[0], st, shadow)
	f.c.f.TransformEnd()
	f.c.forget()
}
