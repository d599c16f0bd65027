package note

import (
	"fmt"
	"time"

	"graftnote/schema/quantity"
)

// Signoff is what a note shows of its signatures and of what stood before. It
// is filled from the casebook; this package only words it.
type Signoff struct {
	Signatures []Signature
	Awaiting   string     // who has still to sign, "" for nobody
	Withdrawn  bool       // marked as entered in error
	Revisions  []Revision // every revision, the first one first
	Answers    []Item     // look-again findings, each with the signer's reason
	Confirmed  []Item     // values of the standing technique, confirmed by the signature
	Checkpoint []string   // the signed checkpoint of the casebook, line by line
	Code       string     // what the two-dimensional code carries; no patient data
	Proof      Attachment // the proof, carried inside the PDF
}

// Signature is shown with name, time with zone and meaning, as 21 CFR 11.50
// describes the manifestation of a signature.
type Signature struct {
	Name    string
	Role    string
	Meaning string // e.g. "authored and approved"
	At      time.Time
	Zone    string // IANA name
	Key     string // key identifier
}

// When is the time of signing in words, with its offset and zone.
func (s Signature) When() string { return moment(s.At, s.Zone) }

// Revision is one act on the note. Nothing that stood before is hidden.
type Revision struct {
	Number  int
	Kind    string // "Signed", "Counter-signed", "Corrected", "Addendum", "Late entry", "Withdrawn"
	Who     string
	At      time.Time
	Zone    string
	Why     string
	Text    string     // of an addendum
	Event   *time.Time // when it happened, for a late entry
	Changes []Change   // field by field
}

// When is the time of the act in words.
func (r Revision) When() string { return moment(r.At, r.Zone) }

// EventWhen is the time of the event that a late entry tells, "" for none.
func (r Revision) EventWhen() string {
	if r.Event == nil {
		return ""
	}
	return moment(*r.Event, r.Zone)
}

// Change is one field, before and after.
type Change struct{ Label, Old, New string }

func moment(at time.Time, zone string) string {
	if loc, err := time.LoadLocation(zone); err == nil && zone != "" {
		at = at.In(loc)
	}
	words := dateOf(at).Words() + ", " + at.Format("15:04:05 -07:00")
	if zone != "" {
		words += " (" + zone + ")"
	}
	return words
}

func countDays(n int) string {
	if n == 1 {
		return "1 day"
	}
	return fmt.Sprintf("%d days", n)
}

func dateOf(t time.Time) quantity.Date {
	return quantity.Date{Year: t.Year(), Month: t.Month(), Day: t.Day()}
}

// sign turns a draft into what the signatures make of it.
func (s *speaker) sign(d *Document, so *Signoff) {
	if so == nil || len(so.Signatures) == 0 {
		return
	}
	d.Draft, d.Mark = false, ""
	d.Status = s.p.words["final"]
	if so.Awaiting != "" {
		d.Status = s.word("awaiting", "{who}", so.Awaiting)
	}
	if n := len(so.Revisions); n > 1 {
		d.Status += fmt.Sprintf(", revision %d", so.Revisions[n-1].Number)
	}
	if so.Withdrawn {
		d.Status, d.Mark = s.p.words["withdrawn"], s.p.words["withdrawn-mark"]
		d.Alerts = append([]string{s.p.words["withdrawn"]}, d.Alerts...)
	}
	d.Signatures, d.Revisions, d.Checkpoint, d.Code = so.Signatures, so.Revisions, so.Checkpoint, so.Code
	d.Answers = so.Answers
	d.Confirmed, d.Unconfirmed = so.Confirmed, nil
	if so.Proof.Name != "" {
		d.Sources = append(d.Sources, so.Proof)
	}
	last := len(d.Timeline) - 1
	first := so.Signatures[0]
	d.Timeline[last].Value = first.When()
	if s.e.Episode.Date.Recorded() {
		days := s.e.Episode.Date.Value().DaysUntil(dateOf(first.At))
		d.Timeline[last].Value += " (" + s.days(days) + ")"
		if days > 0 && len(s.e.Events) > 0 {
			d.Alerts = append(d.Alerts, s.word("signed-late-after-event", "{days}", countDays(days)))
		}
	}
}
