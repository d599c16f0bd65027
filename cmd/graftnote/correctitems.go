package main

import (
	"fmt"
	"strings"

	"graftnote/casebook"
	"graftnote/schema"
)

// keepItems has the items of a corrected entry bear the names that they had in the
// signed entries of the case.
func keepItems(h casebook.History, o schema.Options) (func(*schema.Case), error) {
	signed := make([]*schema.Entry, len(h.Revisions))
	for i := range signed {
		c, err := schema.Sealed(h.Entry(i+1), o)
		if err != nil {
			return nil, &fault{status: statusIO, text: "case " + h.Case + ": its entry cannot be read by this version of graftnote"}
		}
		signed[i] = c.Entry()
	}
	return func(cs *schema.Case) { cs.Entry.KeepItems(signed) }, nil
}

// moves says which items of its lists a correction takes out and which are new.
// Whoever signs sees that the others are taken for what they were.
func (p *printer) moves(list []schema.ItemMove) {
	for _, m := range list {
		g, _ := schema.Content().Group(m.Group)
		what := "is taken out; the others keep their numbers"
		if m.New {
			what = "is new"
		}
		p.line("     %s: %s %s %s", m.Group, g.Many, m.ID, what)
	}
}

// samePersonWord is what the signer types when the correction changes who the
// patient is said to be.
const samePersonWord = "same person"

const samePersonWhy = "The correction changes the name, the birth date, the national number or the sex of the patient."

// personOf holds a correction to the patient of the note, before anything is asked.
func personOf(s *showing, h casebook.History) error {
	change, err := casebook.ChangeOfPatient(h.Entry(len(h.Revisions)), s.checked.Canonical())
	if err != nil {
		return bookFault("case "+s.name, err)
	}
	if change == casebook.PatientOther {
		return bookFault("case "+s.name+" was not corrected", casebook.ErrOtherPatient)
	}
	s.samePerson = change == casebook.PatientSlip
	return nil
}

// personForm is the line of the form for it.
func personForm(s *showing) string {
	if !s.samePerson {
		return ""
	}
	return fmt.Sprintf("  # %s\n  # If it is the same person, write yes.\n  same-person: no\n", samePersonWhy)
}

// askPerson has the signer say that it is the same person.
func (k *signing) askPerson(s *showing) (bool, error) {
	if !s.samePerson {
		return true, nil
	}
	typed, err := k.app.askWord("\n"+samePersonWhy+"\nType '"+samePersonWord+"' if that corrects a slip (nothing leaves the note as it is): ", samePersonWord)
	return strings.EqualFold(typed, samePersonWord), err
}
