package note

// Document is one operative note, free of any page: its words, its tables,
// its diagram. The PDF draws it and the FHIR Composition quotes it, so both
// always say the same thing. Nothing in it is computed again downstream.
type Document struct {
	ID          string // the case's own identifier, never built from patient data
	Language    string // BCP 47, e.g. "en-GB"
	Title       string // "Operative note"
	Subtitle    string // the performed procedure in words
	Draft       bool   // true until a surgeon has signed
	Status      string // words for the status line, e.g. "DRAFT, not signed"
	Banner      Banner
	Timeline    []Item   // operated, begun, signed, each with the gap in days
	Alerts      []string // what a reader must see first, page one
	Brief       []Item   // the six items of an immediate brief note
	Sections    []Section
	Diagram     *Diagram     // nil when the entry gives nothing to draw to scale
	Unconfirmed []Item       // values from the standing technique, not yet confirmed
	Gaps        []string     // what stands between this draft and a signature
	Cautions    []string     // the usual cautions, for the foot of each page
	Sources     []Attachment // files carried inside the PDF, the canonical entry first
	Mark        string       // word across each page: DRAFT, WITHDRAWN, or nothing
	Signatures  []Signature  // manifestation of each signature
	Revisions   []Revision   // every act on the note, the first one first
	Answers     []Item       // look-again findings and the signer's reasons
	Confirmed   []Item       // values of the standing technique, confirmed by the signature
	Checkpoint  []string     // the casebook's signed checkpoint, as text
	Code        string       // payload of the two-dimensional code, no patient data
}

// Banner identifies patient and eye; it is repeated on every page.
type Banner struct {
	Patient   string // as recorded, any script
	LatinName string // Latin form when the recorded name needs one
	PatientID string
	SecondID  string // label and value, e.g. "NHS number 943 476 5919"
	Born      string
	Eye       string // "RIGHT EYE" or "LEFT EYE", always in words
	Operated  string // date of surgery in words, e.g. "8 September 2026"
	Site      string
	Surgeon   string
}

// Item is a label with its value.
type Item struct {
	Label string
	Value string
}

// Section is one headed part of the note, in reading order.
type Section struct {
	Key    string // stable name, e.g. "complications"; fhir maps it to LOINC
	Title  string
	Blocks []Block
}

// Block is exactly one of its fields.
type Block struct {
	Paragraph string   // running prose
	Quote     string   // the surgeon's own free text, shown as written
	Table     *Table   // tissue, measurements, attempts
	Events    []Event  // each set apart from the prose
	List      []string // short lines
}

// Table has one header row; every row has as many cells as the header.
type Table struct {
	Header []string
	Rows   [][]string
}

// Event is one thing that went other than planned, set apart on the page.
type Event struct {
	Title string // "Microperforation of Descemet membrane"
	Facts []Item // step, clock hour, size, management, consequence
	Text  string // a sentence, may be empty
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
	Title        string   // which eye, and from where it is seen
	Eye          string   // "RIGHT EYE" or "LEFT EYE"
	LeftLabel    string   // "temporal" or "nasal": what lies at 9 o'clock
	RightLabel   string   // what lies at 3 o'clock
	Limbus       *Circle  // from white-to-white
	Trephination *Circle  // host trephination, moved by the recorded offset
	Donor        *Circle  // donor diameter, same centre
	Bubble       *Circle  // chamber bubble
	BigBubble    *Circle  // separation bubble, when its diameter is recorded
	Seat         *float64 `json:",omitempty"` // clock hour at which the surgeon sat, when it is recorded
	Marks        []Mark   // clock-hour things on or outside the rim
	Stitches     []Stitch // every interrupted stitch and every running bite
	Legend       []string // what is drawn, one line each, with its measure
	NotDrawn     []string // what the entry lacks, e.g. "white-to-white not recorded"
}

// Circle in millimetres.
type Circle struct{ X, Y, Radius float64 }

// Mark is something at a clock hour.
type Mark struct {
	Kind string  // "paracentesis", "injection", "perforation", "trephine-entry", "tunnel"
	Hour float64 // 0.5 to 12, clock face seen facing the patient, 12 superior
	X, Y float64 // millimetres, where it lies
	Size float64 // millimetres along the circumference, 0 when not recorded
	Text string  // short label, e.g. "27 G, attempt 1"
}

// Stitch is one radial stitch or one leg of a running suture.
type Stitch struct {
	X1, Y1, X2, Y2 float64
	Running        bool
	Suture         int // which running suture, 0 based
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
