package fhir

import (
	"errors"
	"fmt"
	"strings"
	"time"

	"graftnote/schema"
)

// UsualLimit is the largest body, in bytes, that widely used receivers take
// without a change of their settings. A bundle is never cut to it; the caller
// may warn.
const UsualLimit = 512_000

// Options say what travels beside the entry. There is no clock: times come from
// the entry, from Signed and from Made.
type Options struct {
	PDF     []byte       // the note as PDF, carried inline; empty: no DocumentReference
	Site    *schema.Site // identifier systems, profiles, create-patient; may be nil
	Mapping *Mapping     // the site's own and licensed codes; may be nil
	Tool    string       // name and version of the program, named in Provenance
	Signed  time.Time    // of the newest signature; zero when unsigned or not known
	Signoff *Signoff     // what the casebook knows; nil for a note that is in none

	// Made is when the bundle is made. It stands for the time of the note only
	// where the entry gives no moment with its zone.
	Made time.Time

	// Update sends what this program owns (Procedure, Observation, note ...) as
	// conditional updates instead of conditional creates: the second import of a
	// corrected or newly signed entry then replaces the first. What others own
	// (Patient, Practitioner, Organization, Location, Encounter) is never updated.
	// A bundle with a Signoff always does so.
	Update bool

	// Held is the transaction of this case that was written before, or empty. What it
	// held and this one does not say goes along as entered in error, where this one
	// updates at all.
	Held []byte
}

// ErrUnchecked is returned for a value that schema did not make.
var ErrUnchecked = errors.New("fhir: the entry was not checked")

// Incomplete is the refusal to make a bundle of a draft: only a complete entry
// may be imported.
type Incomplete struct {
	// Gaps are the findings that block sign-off, in reading order.
	Gaps []schema.Finding
}

// Error names the checks that failed and where, never an entered value.
func (e *Incomplete) Error() string {
	var at []string
	for _, f := range e.Gaps {
		name := f.Rule
		if f.Path != "" {
			name += " (" + f.Path + ")"
		}
		at = append(at, name)
	}
	n := "1 finding blocks"
	if len(at) != 1 {
		n = fmt.Sprintf("%d findings block", len(at))
	}
	return fmt.Sprintf("fhir: no bundle of a draft: %s sign-off: %s", n, strings.Join(at, ", "))
}

// ErrNoMoment is returned when neither the entry nor the options give a moment
// with its zone: FHIR wants one for Provenance.recorded and Bundle.timestamp, and
// none is invented.
var ErrNoMoment = errors.New("fhir: no bundle: the entry gives no moment with its zone; record episode.begun")

// ErrNotPDF is returned when Options.PDF is no PDF file.
var ErrNotPDF = errors.New("fhir: the attachment is no PDF file")

func (o Options) check(c schema.Checked) error {
	if !c.Valid() {
		return ErrUnchecked
	}
	if !c.Complete() {
		return &Incomplete{Gaps: c.Gaps()}
	}
	if len(o.PDF) > 0 && !strings.HasPrefix(string(o.PDF[:min(5, len(o.PDF))]), "%PDF-") {
		return ErrNotPDF
	}
	return nil
}

// system is the identifier system of a kind of thing.
func (o Options) system(kind string) string {
	if o.Site != nil && o.Site.Identifiers[kind] != "" {
		return o.Site.Identifiers[kind]
	}
	return terms().IdentifierBase + kind
}
