package note

// Document is one operative note, free of any page: its words, its tables,
// its diagram. The PDF draws it and the FHIR Composition quotes it, so both
// always say the same thing. Nothing in it is computed again downstream.
//
// The first part is what a signer is shown and signs; Canonical writes it, and a
// signed note is made of it for good. The second part stands around it.
type Document struct {
	ID        string            `json:"id"`                  // the case's own identifier, never built from patient data
	Language  string            `json:"language"`            // BCP 47, e.g. "en-GB"
	Title     string            `json:"title"`               // "Operative note"
	Subtitle  string            `json:"subtitle"`            // the performed procedure in words
	Date      string            `json:"date,omitempty"`      // of surgery, ISO; the delay of a signature is counted from it
	Banner    Banner            `json:"banner"`              //
	Timeline  []Item            `json:"timeline"`            // operated, begun, each with the gap in days
	Alerts    []string          `json:"alerts,omitempty"`    // what a reader must see first, page one
	Brief     []Item            `json:"brief"`               // the six items of an immediate brief note
	Sections  []Section         `json:"sections"`            //
	Diagram   *Diagram          `json:"diagram,omitempty"`   // nil when the entry gives nothing to draw to scale
	Cautions  []string          `json:"cautions"`            // the usual cautions, for the foot of each page
	Answers   []Item            `json:"answers,omitempty"`   // look-again findings and the signer's reasons
	Confirmed []Item            `json:"confirmed,omitempty"` // values of the standing technique, confirmed by the signature
	Words     map[string]string `json:"words"`               // those that later marks on this note are made of

	Draft       bool         `json:"-"` // true until a surgeon has signed
	Status      string       `json:"-"` // words for the status line, e.g. "DRAFT, not signed"
	Unconfirmed []Item       `json:"-"` // values from the standing technique, not yet confirmed
	Gaps        []string     `json:"-"` // what stands between this draft and a signature
	Sources     []Attachment `json:"-"` // files carried inside the PDF, the canonical entry first
	Mark        string       `json:"-"` // word across each page: DRAFT, WITHDRAWN, or nothing
	Standing    []Item       `json:"-"` // when it was signed
	Notices     []string     `json:"-"` // what the standing of the note makes a reader see first
	Digest      string       `json:"-"` // SHA-256 of the signed words, hex; "" when they were not signed
	Unsigned    string       `json:"-"` // of a signed entry whose words were not signed: a sentence that says so
	Signatures  []Signature  `json:"-"` // manifestation of each signature
	Revisions   []Revision   `json:"-"` // every act on the note, the first one first
	Checkpoint  []string     `json:"-"` // the casebook's signed checkpoint, as text
	Code        string       `json:"-"` // payload of the two-dimensional code, no patient data
}

// Banner identifies patient and eye; it is repeated on every page.
type Banner struct {
	Patient   string `json:"patient,omitempty"`    // as recorded, any script
	LatinName string `json:"latin-name,omitempty"` // Latin form when the recorded name needs one
	PatientID string `json:"patient-id,omitempty"`
	SecondID  string `json:"second-id,omitempty"` // label and value, e.g. "NHS number 943 476 5919"
	Born      string `json:"born,omitempty"`
	Eye       string `json:"eye,omitempty"`      // "RIGHT EYE" or "LEFT EYE", always in words
	Operated  string `json:"operated,omitempty"` // date of surgery in words, e.g. "8 September 2026"
	Site      string `json:"site,omitempty"`
	Surgeon   string `json:"surgeon,omitempty"`
}

// Item is a label with its value.
type Item struct {
	Label string `json:"label"`
	Value string `json:"value"`
}

// Section is one headed part of the note, in reading order.
type Section struct {
	Key    string  `json:"key"` // stable name, e.g. "complications"; fhir maps it to LOINC
	Title  string  `json:"title"`
	Blocks []Block `json:"blocks"`
}

// Block is exactly one of its fields.
type Block struct {
	Paragraph string   `json:"paragraph,omitempty"` // running prose
	Quote     string   `json:"quote,omitempty"`     // the surgeon's own free text, shown as written
	Table     *Table   `json:"table,omitempty"`     // tissue, measurements, attempts
	Events    []Event  `json:"events,omitempty"`    // each set apart from the prose
	List      []string `json:"list,omitempty"`      // short lines
}

// Table has one header row; every row has as many cells as the header.
type Table struct {
	Header []string   `json:"header"`
	Rows   [][]string `json:"rows"`
}

// Event is one thing that went other than planned, set apart on the page.
type Event struct {
	Title string `json:"title,omitempty"` // "Microperforation of Descemet membrane"
	Facts []Item `json:"facts,omitempty"` // step, clock hour, size, management, consequence
	Text  string `json:"text,omitempty"`  // a sentence, may be empty
}

// Attachment is a file carried inside the PDF.
type Attachment struct {
	Name        string // no patient data
	MIME        string
	Description string
	Data        []byte
}

// Diagram is the operated eye seen by the surgeon: millimetres, origin at the
// limbus centre, x to the surgeon's right, y up to 12 o'clock. Only recorded
// things are in it.
type Diagram struct {
	Title        string   `json:"title,omitempty"`        // which eye, and from where it is seen
	Eye          string   `json:"eye,omitempty"`          // "RIGHT EYE" or "LEFT EYE"
	LeftLabel    string   `json:"left-label,omitempty"`   // "temporal" or "nasal": what lies at 9 o'clock
	RightLabel   string   `json:"right-label,omitempty"`  // what lies at 3 o'clock
	Limbus       *Circle  `json:"limbus,omitempty"`       // from white-to-white
	Trephination *Circle  `json:"trephination,omitempty"` // host trephination, moved by the recorded offset
	Donor        *Circle  `json:"donor,omitempty"`        // donor diameter, same centre
	Bubble       *Circle  `json:"bubble,omitempty"`       // chamber bubble
	BigBubble    *Circle  `json:"big-bubble,omitempty"`   // separation bubble, when its diameter is recorded
	Seat         *float64 `json:"seat,omitempty"`         // clock hour at which the surgeon sat, when it is recorded
	Marks        []Mark   `json:"marks,omitempty"`        // clock-hour things on or outside the rim
	Stitches     []Stitch `json:"stitches,omitempty"`     // every interrupted stitch and every running bite
	Legend       []string `json:"legend,omitempty"`       // what is drawn, one line each, with its measure
	NotDrawn     []string `json:"not-drawn,omitempty"`    // what the entry lacks, e.g. "white-to-white not recorded"
}

// Circle in millimetres.
type Circle struct {
	X      float64 `json:"x"`
	Y      float64 `json:"y"`
	Radius float64 `json:"radius"`
}

// Mark is something at a clock hour.
type Mark struct {
	Kind string  `json:"kind,omitempty"` // "paracentesis", "injection", "perforation", "trephine-entry", "tunnel"
	Hour float64 `json:"hour,omitempty"` // 0.5 to 12, clock face seen facing the patient, 12 superior
	X    float64 `json:"x"`              // millimetres, where it lies
	Y    float64 `json:"y"`
	Size float64 `json:"size,omitempty"` // millimetres along the circumference, 0 when not recorded
	Text string  `json:"text,omitempty"` // short label, e.g. "27 G, attempt 1"
}

// Stitch is one radial stitch or one leg of a running suture.
type Stitch struct {
	X1      float64 `json:"x1"`
	Y1      float64 `json:"y1"`
	X2      float64 `json:"x2"`
	Y2      float64 `json:"y2"`
	Running bool    `json:"running,omitempty"`
	Suture  int     `json:"suture,omitempty"` // which running suture, 0 based
}

// SectionKeys are the keys of the sections in reading order. A section is
// present only when the entry says something for it, except those that a reader
// must find answered.
var SectionKeys = []string{
	"procedure",     // performed procedure
	"planned",       // planned procedure, always its own section
	"indication",    // reason for surgery
	"preoperative",  // pre-operative diagnosis
	"postoperative", // post-operative diagnosis
	"team",          // who did what
	"anaesthesia",
	"measurements",  // before surgery, a table
	"description",   // the operation in the order things happened
	"findings",      // separation, plane, bed
	"complications", // events, or that there were none
	"implants",      // donor tissue, supplies
	"specimens",     // host tissue
	"blood-loss",
	"fluids",
	"drains",
	"end", // how the eye was left, drugs, counts
	"plan",
	"disposition",
	"account",   // the surgeon's own words
	"follow-up", // visits, when recorded
}
