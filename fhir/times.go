package fhir

import (
	"fmt"
	"time"

	"github.com/samply/golang-fhir-models/fhir-models/fhir"

	"graftnote/schema/quantity"
)

// stamp writes a moment as FHIR wants it: seconds and offset, always both.
func stamp(t time.Time) string { return t.Format("2006-01-02T15:04:05Z07:00") }

// moment is when the note was written: signed, begun, or at the earliest the end
// or the start of the operation.
func (b *builder) moment() (time.Time, bool) {
	if b.signed && !b.o.Signed.IsZero() {
		return b.o.Signed, true
	}
	if begun := b.e.Episode.Begun; begun.Recorded() {
		return begun.Value(), true
	}
	if t, ok := b.e.Ended(); ok {
		return t, true
	}
	if t, ok := b.e.Started(); ok {
		return t, true
	}
	return b.o.Made, !b.o.Made.IsZero()
}

// period is the time of the operation; nil when no time of day has its zone.
// An end before the start is left out: per-1 forbids it.
func (b *builder) period() *fhir.Period {
	start, ok := b.e.Started()
	if !ok {
		return nil
	}
	p := &fhir.Period{Start: ptr(stamp(start))}
	if end, ok := b.e.Ended(); ok && !end.Before(start) {
		p.End = ptr(stamp(end))
	}
	return p
}

// day is the date of the operation, for where no time of day is known.
func (b *builder) day() *string {
	if !b.e.Episode.Date.Recorded() {
		return nil
	}
	return ptr(b.e.Episode.Date.Value().String())
}

func clockTime(t quantity.TimeOfDay) string { return fmt.Sprintf("%02d:%02d:00", t.Hour, t.Minute) }
