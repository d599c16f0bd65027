package note

import "graftnote/schema"

// unread says of an answer that something was written which could not be read, with
// its words where they are a word or two; "" for any other answer. Only a draft can
// hold one. "Not recorded" would be untrue of it.
func (s *speaker) unread(f schema.Field) string {
	if f == nil {
		return ""
	}
	typed, ok := f.Unread()
	switch {
	case !ok:
		return ""
	case typed == "":
		return s.p.words["not-understood"]
	}
	return s.word("not-understood-words", "{typed}", typed)
}

// unreadAt are sentences about the answers at the given paths that could not be read,
// each with the name of its field.
func (s *speaker) unreadAt(paths ...string) (out []string) {
	for _, p := range paths {
		if f := s.e.At(p); f != nil {
			if said := s.unread(f); said != "" {
				out = append(out, s.named(f.Row(), 0, said))
			}
		}
	}
	return out
}

// named is a sentence of a field and what is said of it.
func (s *speaker) named(r *schema.Row, item int, said string) string {
	return closed(s.label(r, item) + ": " + said)
}

// bannerUnread fills what the head of the page lacks because it could not be read:
// the reader of the page must see that it was written.
func (s *speaker) bannerUnread(b *Banner) {
	e := s.e
	for _, x := range []struct {
		to *string
		of schema.Field
	}{
		{&b.Patient, e.Patient.Name}, {&b.LatinName, e.Patient.LatinName}, {&b.PatientID, e.Patient.ID}, {&b.Born, e.Patient.Born},
		{&b.Operated, e.Episode.Date}, {&b.Site, e.Episode.Site},
	} {
		if said := s.unread(x.of); said != "" {
			*x.to = said
		}
	}
	if said := s.unread(e.Patient.NationalNumber); said != "" {
		b.SecondID = e.Patient.NationalNumber.Row().Title + " " + said
	}
	if b.Surgeon == "" && s.teamUnread() {
		b.Surgeon = s.p.words["not-understood"]
	}
	if _, typed := e.Eye.Operated.Unread(); typed { // the box has room for few words; the typed one stands below
		b.Eye = s.p.words["eye-not-understood"]
	}
}

// teamUnread reports that somebody may be named as surgeon in words that could not be
// read.
func (s *speaker) teamUnread() bool {
	if s.e.List("team").Unread() {
		return true
	}
	for _, p := range s.e.Team {
		if s.unread(p.Role) != "" || s.unread(p.Name) != "" {
			return true
		}
	}
	return false
}

// typed adds to a finding on the page of the draft the words that it is about.
func (s *speaker) typed(f schema.Finding) string {
	what := closed(f.What)
	row, item, ok := Place(f.Path)
	if !ok {
		return what
	}
	answer := s.e.At(row.Path())
	if row.Group.Many != "" {
		answer = s.e.Item(row.Path(), item)
	}
	if said := s.unread(answer); said != "" && said != s.p.words["not-understood"] {
		what += " " + closed(capital(said))
	}
	return what
}

// lack says why a thing is not drawn: the answer that it needs is not recorded, or
// was written and could not be read.
func (s *speaker) lack(what string, f schema.Field) string {
	said := s.unread(f)
	switch {
	case said == "" && what == "":
		return "not recorded"
	case said == "":
		return what + " is not recorded"
	case what == "":
		return said
	}
	return what + " " + said
}
