package pdf

import (
	"bytes"
	"fmt"
	"strings"
	"time"

	"graftnote/note"
)

func at(day, hour, minute int) time.Time {
	return time.Date(2026, 9, day, hour, minute, 12, 0, time.UTC)
}

const zone = "Europe/London"

// signed is a note with its first signature.
func signed() note.Document {
	d := simple()
	d.Status = "Signed"
	d.Digest = strings.Repeat("9f2c1d77a0e4b658", 4)
	d.Signatures = []note.Signature{{Name: "O. Tarrant", Role: "Operating surgeon", Meaning: "Authored and approved", At: at(9, 15, 5), Zone: zone, Key: "tarrant+1f3a9c20"}}
	d.Revisions = []note.Revision{{Number: 1, Kind: "Signed", Who: "O. Tarrant", At: at(9, 15, 5), Zone: zone}}
	d.Answers = []note.Item{{Label: "Donor is 0.25 mm larger than the host trephination, the usual difference is 0 to 0.25 mm in keratoconus.", Value: "Intended: short axial length, myopic shift wanted."},
		{Label: "Air left in the chamber without a recorded iridotomy.", Value: "Fill kept below 60 %, pupil watched for two hours."}}
	d.Confirmed = []note.Item{{Label: "Skin preparation: agent", Value: "Povidone-iodine 5 %"}, {Label: "Suture 1, material", Value: "10-0 nylon"}}
	d.Checkpoint = []string{"graftnote casebook checkpoint", "5d1f0a27c3b94e6688d20b7ac91e34f0", "412", "TszzRgjTG6xce+z2AG31kAXYKBgQVtCSCE40HmuwBb0=", "",
		"\u2014 tarrant HzqcIGm2pQ0vUe3w1x8yZsT4bKd6fRj9aLhNcVoXiBuWtEgYkMrPqSlDnFzOA5JvC7" + strings.Repeat("Q2", 12) + "=="}
	d.Code = "graftnote:1:5d1f0a27c3b94e6688d20b7ac91e34f0:412:TszzRgjTG6xce+z2AG31kAXYKBgQVtCSCE40HmuwBb0=:9f2c1d77a0e4b6583c"
	d.Sources = append(d.Sources, note.Attachment{Name: "proof.json", MIME: "application/json", Description: "Signatures, revisions and checkpoint, to be verified without the casebook.", Data: bytes.Repeat([]byte(`{"proof":"FIC"}`+"\n"), 120)})
	return d
}

// counterSigned has a second signature.
func counterSigned() note.Document {
	d := signed()
	d.Status = "Signed, revision 2"
	d.Signatures = append(d.Signatures, note.Signature{Name: "Prof. P. Quillhamptonshire-Vane", Role: "Supervising consultant", Meaning: "Reviewed and counter-signed", At: at(10, 7, 40), Zone: zone, Key: "quill+77b01e4d"})
	d.Revisions = append(d.Revisions, note.Revision{Number: 2, Kind: "Counter-signed", Who: "Prof. P. Quillhamptonshire-Vane", At: at(10, 7, 40), Zone: zone})
	return d
}

// revised has twenty revisions of all kinds.
func revised() note.Document {
	d := counterSigned()
	event := at(8, 10, 55)
	for n := 3; n <= 20; n++ {
		r := note.Revision{Number: n, Who: "O. Tarrant", At: at(8+n, 8, n), Zone: zone}
		switch n % 3 {
		case 0:
			r.Kind, r.Why = "Corrected", "Read again against the theatre log: the needle and the depth had been exchanged between two attempts."
			r.Changes = []note.Change{{Label: "Attempt 2, needle", Old: "27 G", New: "30 G"}, {Label: "Attempt 2, depth", Old: "290 \u00b5m", New: "310 \u00b5m"},
				{Label: "Tissue 1: how the Descemet membrane was removed and what was used to see it", Old: "", New: "Stripped with forceps after staining with trypan blue 0.06 %"}}
		case 1:
			r.Kind, r.Why = "Addendum", "Pathology result received."
			r.Text = fmt.Sprintf("Histology of the host button, report %d: thinned stroma with breaks in the Bowman layer, in keeping with keratoconus. No organism seen.", n)
		case 2:
			r.Kind, r.Why, r.Event = "Late entry", "Recorded in theatre, not carried into the note on the day.", &event
			r.Text = "The chamber air was topped up once at 10:55 before the patient left the table."
		}
		d.Revisions = append(d.Revisions, r)
	}
	d.Status = "Signed, revision 20"
	return d
}

// withdrawn is marked as entered in error.
func withdrawn() note.Document {
	d := counterSigned()
	d.Status, d.Mark = "WITHDRAWN: entered in error", "WITHDRAWN"
	d.Notices = []string{d.Status}
	d.Revisions = append(d.Revisions, note.Revision{Number: 3, Kind: "Withdrawn", Who: "O. Tarrant", At: at(11, 9, 0), Zone: zone, Why: "Entered for the wrong patient; the right note is GN-2026-000121."})
	return d
}

// across tells the word across the page, which is turned and reaches into
// the margin.
func across(w word) bool { return w.text == "DRAFT" || w.text == "WITHDRAWN" }
