package pdf

import (
	"fmt"
	"math"
	"strings"
	"time"

	"graftnote/note"
)

// All people, places and numbers in these documents are invented.

var made = time.Date(2026, 9, 9, 16, 5, 0, 0, time.FixedZone("", 3600))

func clockPoint(hour, r float64) (float64, float64) {
	s, c := math.Sincos(hour * math.Pi / 6)
	return r * s, r * c
}

func mark(kind string, hour, r float64, text string) note.Mark {
	x, y := clockPoint(hour, r)
	return note.Mark{Kind: kind, Hour: hour, X: x, Y: y, Text: text}
}

func radial(hour, cx, cy, in, out float64, running bool, suture int) note.Stitch {
	x1, y1 := clockPoint(hour, in)
	x2, y2 := clockPoint(hour, out)
	return note.Stitch{X1: cx + x1, Y1: cy + y1, X2: cx + x2, Y2: cy + y2, Running: running, Suture: suture}
}

// simple is an ordinary signed note of about two pages.
func simple() note.Document {
	d := note.Document{
		ID: "GN-2026-000118", Language: "en-GB", Title: "Operative note",
		Subtitle: "Deep anterior lamellar keratoplasty, right eye, big-bubble technique",
		Status:   "Signed 9 September 2026, 16:05 (+01:00)",
		Banner: note.Banner{Patient: "Ashdown, Miriam", PatientID: "FIC-0118", SecondID: "Hospital number LEU 20 441",
			Born: "3 March 1961", Eye: "RIGHT EYE", Operated: "8 September 2026", Site: "Lindow Eye Unit", Surgeon: "O. Tarrant"},
		Timeline: []note.Item{{Label: "Operated", Value: "8 September 2026, 09:40"}, {Label: "Note begun", Value: "8 September 2026 (same day)"}, {Label: "Signed", Value: "9 September 2026 (1 day later)"}},
		Alerts:   []string{"Microperforation of Descemet membrane at 7 o'clock, closed with chamber air.", "Pupil block risk: air left in the chamber, review within 2 hours."},
		Brief: []note.Item{{Label: "Procedure", Value: "Deep anterior lamellar keratoplasty, right eye"}, {Label: "Surgeon and assistant", Value: "O. Tarrant; P. Quill"},
			{Label: "Findings", Value: "Keratoconus, no scar through Descemet membrane"}, {Label: "Estimated blood loss", Value: "None recorded"},
			{Label: "Specimen", Value: "Host stromal button, sent to pathology"}, {Label: "Complications", Value: "Microperforation, see below"}},
		Cautions: []string{"Do not dilate the pupil without asking the surgeon while air is in the chamber.", "Corneal measurements are in millimetres unless another unit is given."},
		Sources:  []note.Attachment{{Name: "entry.json", MIME: "application/json", Description: "Canonical entry", Data: []byte(`{"case":"GN-2026-000118"}` + "\n")}},
	}
	d.Sections = []note.Section{
		{Key: "indication", Title: "Indication and plan", Blocks: []note.Block{{Paragraph: "Keratoconus with contact lens intolerance. Best corrected acuity 6/36 before surgery. Thinnest point 342\u00a0\u00b5m. Planned: deep anterior lamellar keratoplasty; a full-thickness graft was agreed as the fall-back and covered by consent."}}},
		{Key: "anaesthesia", Title: "Anaesthesia and preparation", Blocks: []note.Block{{Paragraph: "General anaesthesia. Checklist completed before incision: patient, right eye, procedure and graft number read aloud and confirmed. Skin and conjunctival sac prepared with povidone-iodine 5 %."}}},
		{Key: "procedure", Title: "Operation", Blocks: []note.Block{
			{Paragraph: "Partial-thickness trephination, 8.25 mm, centred 0.2 mm nasal to the limbal centre, set depth 300 \u00b5m. Air was injected with a 27 G cannula from the trephination floor. The second attempt produced a type 1 bubble of 7.5 mm. A paracentesis was made at 2 o'clock and the chamber pressure lowered. The bubble was opened, the stroma divided into quadrants and removed down to Descemet membrane."},
			{Table: &note.Table{Header: []string{"Attempt", "Site", "Clock hour", "Depth, \u00b5m", "Needle", "Result"}, Rows: [][]string{
				{"1", "Trephination floor", "10:30", "250", "27 G", "Stromal emphysema, no bubble"},
				{"2", "Trephination floor", "1:30", "290", "27 G", "Type 1 bubble, 7.5 mm"}}}},
			{Quote: "Bubble very white, needed a second look through the paracentesis.\nWould use the blunt cannula first next time."}}},
		{Key: "complications", Title: "Events", Blocks: []note.Block{{Events: []note.Event{event(1)}}}},
		{Key: "tissue", Title: "Tissue", Blocks: []note.Block{{Table: &note.Table{Header: []string{"Use", "Tissue number", "Donor diameter, mm", "Expires", "Descemet membrane"}, Rows: [][]string{{"Implanted", "W0000 26 123456 4", "8.50", "21 September 2026", "Stripped with forceps, stained"}}}}}},
		{Key: "sutures", Title: "Sutures and end of operation", Blocks: []note.Block{{Paragraph: "Sixteen-bite single running 10-0 nylon, knot buried at 12 o'clock, and eight interrupted 10-0 nylon sutures. Keratoscope mires round at the end."},
			{List: []string{"Chamber: air, 60 % fill, mobile.", "Subconjunctival cefuroxime and dexamethasone.", "Pad and shield."}}}},
		{Key: "plan", Title: "After the operation", Blocks: []note.Block{{Paragraph: "Face up for two hours, then review at the slit lamp for pupil block. Topical steroid and antibiotic as charted. Review tomorrow."}}},
	}
	g := &note.Diagram{Title: "Right eye, seen facing the patient, 12 o'clock superior", Eye: "RIGHT EYE", LeftLabel: "temporal", RightLabel: "nasal",
		Limbus: &note.Circle{Radius: 5.9}, Trephination: &note.Circle{X: 0.2, Radius: 4.125}, Donor: &note.Circle{X: 0.2, Radius: 4.25},
		BigBubble: &note.Circle{X: 0.2, Radius: 3.75}, Bubble: &note.Circle{X: 0.3, Y: 0.4, Radius: 3},
		Marks:    []note.Mark{mark("paracentesis", 2, 5.8, "1.0 mm blade"), mark("injection", 10.5, 3.9, "27 G, attempt 1"), mark("injection", 1.5, 3.9, "27 G, attempt 2"), mark("perforation", 7, 3.4, "micro, dry")},
		Legend:   []string{"Limbus 11.8 mm (white-to-white)", "Host trephination 8.25 mm, 0.2 mm nasal", "Donor 8.50 mm", "Separation bubble 7.5 mm", "Chamber bubble 6.0 mm"},
		NotDrawn: []string{"Trephine entry not recorded"}}
	for i := range 8 {
		g.Stitches = append(g.Stitches, radial(float64(i)*1.5+0.75, 0.2, 0, 3.4, 5.0, false, 0))
	}
	for i := range 16 {
		g.Stitches = append(g.Stitches, radial(float64(i)*0.75+0.375, 0.2, 0, 3.3, 4.9, true, 0))
	}
	d.Diagram = g
	return d
}

func event(n int) note.Event {
	return note.Event{Title: "Microperforation of Descemet membrane",
		Facts: []note.Item{{Label: "Step", Value: "Removal of posterior stroma"}, {Label: "Clock hour", Value: fmt.Sprintf("%d:00", n%12+1)}, {Label: "Size", Value: "0.5 mm"},
			{Label: "Management", Value: "Chamber air; dissection continued away from the opening"}, {Label: "Consequence", Value: "None; operation completed as planned"}, {Label: "Chamber kept", Value: "Yes"}},
		Text: "Seen as a slow leak while the last quadrant was lifted. The chamber did not flatten and no aqueous came through after the air was placed."}
}

// worst is the longest note a single operation could need: 25 injection
// attempts, 64 stitches, events over four pages, three tissues, twelve staff.
func worst() note.Document {
	d := simple()
	d.ID, d.Draft, d.Status = "GN-2026-000207", true, "DRAFT, not signed"
	d.Banner.Patient = "Amselfelderhagenbrunnensteinbergerhof-Quillhamptonshire, Anastasia Wilhelmina Bartholomea Konstantinopolitana"
	d.Banner.Eye, d.Diagram.Eye, d.Diagram.LeftLabel, d.Diagram.RightLabel = "LEFT EYE", "LEFT EYE", "nasal", "temporal"
	d.Gaps = []string{"Donor tissue number: check character missing.", "Suture material of the second running suture not recorded.", "Two values from the standing technique not confirmed."}
	d.Unconfirmed = []note.Item{{Label: "Antibiotic at the end", Value: "Cefuroxime, subconjunctival"}, {Label: "Skin preparation", Value: "Povidone-iodine 5 %, three minutes"}, {Label: "Suture material", Value: "10-0 nylon"}}
	rows := [][]string{}
	d.Diagram.Marks = nil
	for i := 1; i <= 25; i++ {
		h := math.Mod(float64(i)*0.5+0.5, 12) + 0.5
		rows = append(rows, []string{fmt.Sprint(i), "Trephination floor, deep stroma", clock(h), fmt.Sprint(200 + 7*i), "27 G", "Air", "0.4", "Stromal emphysema without bubble; needle withdrawn and site left to clear"})
		d.Diagram.Marks = append(d.Diagram.Marks, mark("injection", h, 3.9, fmt.Sprintf("27 G, attempt %d", i)))
	}
	d.Diagram.Marks = append(d.Diagram.Marks, mark("paracentesis", 2, 5.8, "1.0 mm blade"), mark("paracentesis", 9, 5.8, "1.0 mm blade"), mark("perforation", 7, 3.4, "micro"), mark("perforation", 6.5, 3.0, "macro, 2 mm"), mark("tunnel", 11, 5.6, "2.4 mm"), mark("trephine-entry", 4, 4.1, "full thickness"))
	d.Diagram.Marks[28].Size = 2
	d.Sections[2].Blocks[1].Table = &note.Table{Header: []string{"Attempt", "Site", "Clock hour", "Depth, \u00b5m", "Needle", "Medium", "Volume, ml", "Result"}, Rows: rows}
	d.Sections[3].Blocks[0].Events = nil
	for i := range 22 {
		e := event(i)
		if i == 5 {
			e.Text = strings.Repeat(e.Text+" ", 30)
		}
		d.Sections[3].Blocks[0].Events = append(d.Sections[3].Blocks[0].Events, e)
	}
	d.Diagram.Stitches = nil
	for i := range 32 {
		d.Diagram.Stitches = append(d.Diagram.Stitches, radial(float64(i)*0.375, 0.2, 0, 3.3, 5.0, true, i%2))
	}
	for i := range 32 {
		d.Diagram.Stitches = append(d.Diagram.Stitches, radial(float64(i)*0.375+0.19, 0.2, 0, 3.4, 4.9, false, 0))
	}
	staff := [][]string{}
	for i := range 12 {
		staff = append(staff, []string{fmt.Sprintf("Person %d, of the invented unit", i+1), "Role in theatre", "Whole operation"})
	}
	d.Sections = append(d.Sections, note.Section{Key: "staff", Title: "Staff", Blocks: []note.Block{{Table: &note.Table{Header: []string{"Name", "Role", "Present"}, Rows: staff}}}})
	return d
}

// scripts carries names in several scripts.
func scripts() note.Document {
	d := simple()
	d.Banner.Patient = "\u5c71\u7530\u82b1\u5b50"
	d.Banner.LatinName = "Yamada Hanako"
	d.Banner.Surgeon = "\u0141ucja \u017b\u00f3\u0142kiewska-\u00d8deg\u00e5rd"
	d.Banner.Site = "\u039f\u03c6\u03b8\u03b1\u03bb\u03bc\u03bf\u03bb\u03bf\u03b3\u03b9\u03ba\u03ae \u039a\u03bb\u03b9\u03bd\u03b9\u03ba\u03ae"
	d.Brief[1].Value = "\u041b\u044e\u0434\u043c\u0438\u043b\u0430 \u0429\u0435\u0440\u0431\u0430\u043a\u043e\u0432\u0430; Nguy\u1ec5n Th\u1ecb H\u01b0\u1eddng; Zoe\u0308 Brand\u00eb; Ad\u00e9b\u1ecd\u0301l\u00e1 \u1ecc\u0300\u1e63un"
	d.Diagram = nil
	return d
}

type docOf func() note.Document
