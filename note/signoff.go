package note

import (
	"fmt"
	"strings"
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
	Checkpoint []string   // the signed checkpoint of the casebook, line by line
	Code       string     // what the two-dimensional code carries; no patient data
	Proof      Attachment // the proof, carried inside the PDF
	Digest     string     // SHA-256 (hex) of the words that were signed
	Unsigned   string     // says that the words were not signed, where they were not
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

// markWords are the words that the signatures and later marks are printed in. They
// are part of what is signed: no later phrases change them.
var markWords = []string{"final", "awaiting", "withdrawn", "withdrawn-mark", "signed", "same-day", "day-later", "days-later"}

// lateWord is among them when something went other than planned.
const lateWord = "signed-late-after-event"

// laterWords gives the words of later marks to a document that is to be signed.
func (s *speaker) laterWords(d *Document) {
	d.Words = map[string]string{}
	for _, key := range markWords {
		d.Words[key] = s.p.words[key]
	}
	if len(s.e.Events) > 0 {
		d.Words[lateWord] = s.p.words[lateWord]
	}
}

// Sign puts around the words of a note what its signatures make of it. The words
// stay as they are.
func (d Document) Sign(so Signoff) Document {
	if len(so.Signatures) == 0 {
		return d
	}
	d.Draft, d.Mark, d.Gaps, d.Unconfirmed = false, "", nil, nil
	d.Status = d.Words["final"]
	if so.Awaiting != "" {
		d.Status = replaced(d.Words["awaiting"], "{who}", so.Awaiting)
	}
	if n := len(so.Revisions); n > 1 {
		d.Status += fmt.Sprintf(", revision %d", so.Revisions[n-1].Number)
	}
	d.Notices = nil
	if so.Withdrawn {
		d.Status, d.Mark = d.Words["withdrawn"], d.Words["withdrawn-mark"]
		d.Notices = append(d.Notices, d.Words["withdrawn"])
	}
	d.Signatures, d.Revisions, d.Checkpoint, d.Code = so.Signatures, so.Revisions, so.Checkpoint, so.Code
	d.Digest, d.Unsigned = so.Digest, so.Unsigned
	if so.Proof.Name != "" {
		d.Sources = append(d.Sources[:len(d.Sources):len(d.Sources)], so.Proof)
	}
	first := so.Signatures[0]
	when := first.When()
	if day, bad := quantity.ParseDate(d.Date); bad == nil {
		days := day.DaysUntil(dateOf(first.At))
		when += " (" + daysWords(days, func(key string) string { return d.Words[key] }) + ")"
		if late := d.Words[lateWord]; late != "" && days > 0 {
			d.Notices = append(d.Notices, replaced(late, "{days}", countDays(days)))
		}
	}
	d.Standing = []Item{{d.Words["signed"], when}}
	return d
}

func replaced(words, part, by string) string { return strings.ReplaceAll(words, part, by) }

// daysWords say how many days later something was done.
func daysWords(n int, word func(string) string) string {
	switch n {
	case 0:
		return word("same-day")
	case 1:
		return word("day-later")
	}
	return replaced(word("days-later"), "{days}", fmt.Sprint(n))
}
