package note

// Report is a report about many operations, free of any page: its words, tables
// and charts. It names no patient. The PDF and the web page draw it, so both
// always say the same thing. Nothing in it is computed again downstream.
type Report struct {
	Language string   // BCP 47, e.g. "en-GB"
	Title    string   // "Month report"
	Subtitle string   // what it is about, e.g. the period
	Name     string   // short name for the foot of each page and the file's title
	Facts    []Item   // period, rows, smallest count shown
	Alerts   []string // what a reader must see first
	Sections []ReportSection
	Cautions []string // for the foot of each page
}

// ReportSection is one headed part, in reading order.
type ReportSection struct {
	Key    string // stable name, e.g. "survival"
	Title  string
	Blocks []ReportBlock
}

// ReportBlock is exactly one of its fields.
type ReportBlock struct {
	Paragraph string
	Caution   string // a plain warning, set apart
	List      []string
	Table     *ReportTable
	Chart     *Chart
}

// ReportTable has a caption and one header row; every row has as many cells as
// the header.
type ReportTable struct {
	Caption string
	Header  []string
	Rows    [][]string
	// Notes explain marks in the cells.
	Notes []string
}

// Chart is a finished drawing in points, 1/72 inch, from the top left; x to the
// right, y down. It needs no colour: lines differ by dashes, points by shape.
type Chart struct {
	Caption       string
	Alt           string // says in words what the drawing shows
	Width, Height float64
	Shapes        []Shape // the first one lies at the bottom
}

// Shape is a line, an area or a text of a chart. Greys run from 0, black, to
// 255, white.
type Shape struct {
	// Points of a line or area, none for a text.
	Points []Point
	Closed bool
	// Filled areas have no outline; others are lines of this Width in points, and
	// Dash, alternating lengths of dash and gap in points.
	Filled bool
	Width  float64
	Dash   []float64
	Grey   int
	// Text with its left end on At, the baseline turned counter-clockwise by Turn
	// degrees. Size is in points; Length is how long the layout took it to be.
	Text         string
	At           Point
	Turn         float64
	Size, Length float64
	Bold         bool
}

// Point is a place on a chart, in points from the top left.
type Point struct{ X, Y float64 }
