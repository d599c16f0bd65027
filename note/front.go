package note

import (
	"fmt"
	"strings"

	"graftnote/schema"
)

// banner says whose eye the note is about, on every page.
func (s *speaker) banner(d *Document) {
	p := s.e.Patient
	b := Banner{
		Patient: p.Name.Text(), LatinName: p.LatinName.Text(), PatientID: p.ID.Text(),
		Eye: strings.ToUpper(s.e.Eye.Operated.Words()), Site: s.e.Episode.Site.Text(), Surgeon: s.surgeon(),
	}
	if p.NationalNumber.Recorded() {
		b.SecondID = p.NationalNumber.Row().Title + " " + p.NationalNumber.Text()
	}
	if p.Born.Recorded() {
		b.Born = p.Born.Value().Words()
	}
	if s.e.Episode.Date.Recorded() {
		b.Operated = s.e.Episode.Date.Value().Words()
	}
	if b.Eye == "" {
		b.Eye = "EYE NOT STATED"
	}
	s.bannerUnread(&b)
	if s.eyeOpen() {
		b.Eye = strings.ToUpper(s.p.words["eye-not-agreed"])
	}
	for _, path := range []string{"patient.id", "patient.name", "patient.latin-name", "patient.national-number", "patient.born",
		"eye.operated", "episode.date", "episode.site", "episode.begun"} {
		s.said[path] = true
	}
	d.Banner = b
}

// surgeon is whoever operated; several are joined.
func (s *speaker) surgeon() string { return strings.Join(s.people("surgeon"), ", ") }

func (s *speaker) people(roles ...schema.Code) []string {
	var out []string
	for _, p := range s.e.Team {
		if p.Role.Is(roles...) && p.Name.Recorded() {
			out = append(out, p.Name.Value())
		}
	}
	return out
}

// operators are surgeons and assistants, then whoever supervised, with the part
// taken: the page that goes with the patient must name who answers for an
// operation by a trainee.
func (s *speaker) operators() string {
	var own, over []string
	for i, p := range s.e.Team {
		switch {
		case !p.Name.Recorded():
		case p.Role.Is("supervisor") && !p.Role.Is("surgeon"):
			word, did := "supervisor", ""
			if p.Did.Recorded() {
				word, did = "supervisor-did", strings.TrimSuffix(s.cell("team.did", i), ".")
			}
			over = append(over, s.word(word, "{name}", p.Name.Value(), "{did}", did))
		case p.Role.Is("surgeon", "first-assistant", "second-assistant"):
			own = append(own, p.Name.Value())
		}
	}
	if own != nil {
		over = append([]string{strings.Join(own, ", ")}, over...)
	}
	return strings.Join(over, "; ")
}

// timeline shows when it was operated, begun and signed, with the gap in days.
func (s *speaker) timeline() []Item {
	var out []Item
	e := s.e
	if e.Episode.Date.Recorded() {
		when := e.Episode.Date.Value().Words()
		if e.Episode.Start.Recorded() && e.Episode.End.Recorded() {
			when += ", " + e.Episode.Start.Text() + " to " + e.Episode.End.Text()
		}
		out = append(out, Item{s.p.words["operated"], when})
	}
	if e.Episode.Begun.Recorded() {
		at := e.Episode.Begun.Value()
		when := dateOf(at).Words() + ", " + at.Format("15:04 -07:00")
		if days, ok := s.delay(); ok {
			when += " (" + s.days(days) + ")"
		}
		out = append(out, Item{s.p.words["begun"], when})
	}
	return out
}

func (s *speaker) days(n int) string {
	return daysWords(n, func(key string) string { return s.p.words[key] })
}

// delay from the day of surgery to the day the note was begun.
func (s *speaker) delay() (int, bool) {
	e := s.e.Episode
	if !e.Date.Recorded() || !e.Begun.Recorded() {
		return 0, false
	}
	at := e.Begun.Value()
	return e.Date.Value().DaysUntil(dateOf(at)), true
}

// alerts are what a reader must see first.
func (s *speaker) alerts() []string {
	out := s.states()
	if s.e.Procedure.Performed.Is("converted-penetrating") {
		out = append(out, s.p.words["converted"])
	}
	if kinds := s.eventKinds(); kinds != "" {
		out = append(out, s.word("events-recorded", "{kinds}", kinds))
	}
	if gas := s.gasLeft(); gas != "" {
		out = append(out, gas)
	}
	if days, ok := s.delay(); ok && days > 0 && len(s.e.Events) > 0 {
		out = append(out, s.word("late-after-event", "{days}", countDays(days)))
	}
	return out
}

// gasLeft is the caution about a gas in the eye that expands; "" without one. It
// goes with the patient, so it stands in front of the note and of the brief one.
func (s *speaker) gasLeft() string {
	if !s.view.Under("gas-expands") {
		return ""
	}
	gas := s.e.End.ChamberFill.Words()
	if s.e.End.GasStrength.Recorded() {
		gas += " " + s.say(s.e.End.GasStrength)
	}
	return s.word("gas-left", "{gas}", gas)
}

// NotStated marks an item of the brief note that the entry lacks.
const NotStated = "NOT STATED"

// brief holds the six items of an immediate brief note (accreditor's list):
// surgeon and assistants, procedure, findings, blood loss, specimens,
// post-operative diagnosis. A missing one says so.
func (s *speaker) brief() []Item {
	if mark := s.mark; mark != "" { // six items have no room for a legend
		s.mark = " " + s.p.words["unconfirmed-words"]
		defer func() { s.mark = mark }()
	}
	join := func(keys ...string) string {
		var out []string
		for _, k := range keys {
			said := s.paragraphs(k)
			if len(said) == 0 {
				said = s.gaps(k)
			} else {
				said = append(said, s.unreadAt(s.p.paths(k)...)...)
			}
			out = append(out, said...)
		}
		return strings.Join(out, " ")
	}
	complications := join("complications-none")
	if !s.e.List("events").None {
		complications = s.eventKinds()
	}
	if s.e.List("events").Unread() {
		complications = s.word("complications-unread", "{said}", s.p.words["not-understood"])
	}
	findings := join("findings")
	if findings != "" && complications == "" { // silence must not read as none
		complications = s.p.words["complications-silent"]
	}
	if left := join("brief-end"); left != "" {
		complications += " " + left
	}
	operators := s.operators()
	if operators == "" && s.teamUnread() {
		operators = capital(s.p.words["not-understood"])
	}
	items := []Item{
		{"Surgeon and assistants", operators},
		{"Procedure", join("brief-procedure")},
		{"Findings", strings.TrimSpace(findings + " " + complications)},
		{"Estimated blood loss", join("blood-loss")},
		{"Specimens", join("specimens")},
		{"Post-operative diagnosis", join("postoperative")},
	}
	for i := range items {
		if items[i].Value == "" {
			items[i].Value = NotStated
		}
	}
	return items
}

// eventKinds names each kind of event once, with its number.
func (s *speaker) eventKinds() string {
	return s.eventWords(s.eventKind)
}

// eventKind names an event; one whose kind could not be read is one all the same.
func (s *speaker) eventKind(ev schema.Event) string {
	if said := s.unread(ev.Kind); said != "" {
		return s.word("event-unread", "{said}", said)
	}
	return ev.Kind.Words()
}

// eventSteps names the events by the step at which they happened.
func (s *speaker) eventSteps() string {
	return s.eventWords(func(ev schema.Event) string {
		if !ev.Kind.Recorded() || !ev.Step.Recorded() {
			return s.eventKind(ev)
		}
		return s.word("event-at-step", "{kind}", ev.Kind.Words(), "{step}", ev.Step.Words())
	})
}

// eventWords says each different thing once, in the order recorded, with its
// number.
func (s *speaker) eventWords(say func(schema.Event) string) string {
	var kinds []string
	count := map[string]int{}
	for _, ev := range s.e.Events {
		if k := say(ev); k != "" {
			if count[k] == 0 {
				kinds = append(kinds, k)
			}
			count[k]++
		}
	}
	for i, k := range kinds {
		if n := count[k]; n > 1 {
			k = fmt.Sprintf("%s (%d times)", k, n)
		}
		kinds[i] = closed(k)
	}
	return strings.Join(kinds, " ")
}
