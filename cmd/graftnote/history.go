package main

import (
	"fmt"
	"strings"
	"time"

	"graftnote/casebook"
	"graftnote/schema"
)

// history prints every act on a case, the first one first. It quotes what was
// entered and is for the person who may read the note.
func (p *printer) history(h casebook.History) {
	p.line("Case %s: %s, %s.", h.Case, h.State, count(len(h.Revisions), "revision"))
	for _, r := range h.Revisions {
		p.revision(r)
	}
}

func (p *printer) revision(r casebook.Revision) {
	s := r.Statement
	p.line("%3d  %s on %s by %s, %s", s.Revision, s.Kind, moment(s.At(), s.Zone), visibleProse(s.Signer.Name), s.Signer.Role)
	p.line("     meaning: %s", visibleProse(s.Meaning))
	if at, err := time.Parse(time.RFC3339, s.Event); err == nil {
		p.line("     happened: %s%s", moment(at, ""), delayWords(s))
	}
	if at, err := time.Parse(time.RFC3339, s.Written); err == nil {
		p.line("     note begun: %s", moment(at, ""))
	}
	if s.ClockBefore != "" {
		p.line("     the clock stood before the preceding signature (%s)", s.ClockBefore)
	}
	p.prose("why", s.Why)
	p.prose("text", s.Text)
	if s.SamePerson != "" {
		p.line("     said to be the same person")
	}
	p.changes(s.Changes)
	if n := len(s.Confirmed); n > 0 {
		p.line("     confirmed: %s", count(n, "prefilled value"))
	}
	for _, x := range s.True {
		state, at, _ := strings.Cut(x, " ")
		p.prose("affirmed as true", strings.TrimSpace(schema.StateWords(state)+" "+at))
	}
	for _, a := range s.Answers {
		p.prose("answered", fmt.Sprintf("%s at %s: %s", a.Rule, a.Path, a.Reason))
	}
	if len(s.Different) > 0 {
		p.line("     looks like %s; the signer said it is another operation", visibleProse(schema.JoinWords(s.Different)))
	}
	if s.Responsible != "" {
		p.line("     to be counter-signed by: %s", s.Responsible)
	}
	p.line("     key %s, statement %d", s.Signer.Key, s.Sequence)
}

// prose prints a labelled text of one or more lines.
func (p *printer) prose(label, text string) {
	if text != "" {
		p.line("%s", wrap(label+": "+visibleProse(text), textWidth, "     "))
	}
}

func (p *printer) changes(list []casebook.Change) {
	for _, c := range list {
		p.line("     %s: %s -> %s", c.Path, orNothing(c.Old), orNothing(c.New))
	}
}

func orNothing(s string) string {
	if s == "" {
		return "(nothing)"
	}
	return visibleProse(s)
}

// moment is a time as it is printed: day, time and offset, and the zone's name
// where it is known.
func moment(t time.Time, zone string) string {
	text := t.Format("2 January 2006, 15:04 -07:00")
	if zone != "" {
		text += " (" + zone + ")"
	}
	return text
}

// delayWords say how long after the event the statement was signed.
func delayWords(s *casebook.Statement) string {
	d, ok := s.Delay()
	switch {
	case !ok:
		return ""
	case d < 0:
		return "; signed before that time"
	case d < time.Hour:
		return fmt.Sprintf("; signed after %s", count(int(d.Minutes()), "minute"))
	case d < 48*time.Hour:
		return fmt.Sprintf("; signed after %s", count(int(d.Hours()), "hour"))
	}
	return fmt.Sprintf("; signed after %s", count(int(d.Hours()/24), "day"))
}
