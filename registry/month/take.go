package month

import (
	"fmt"

	"graftnote/registry"
	"graftnote/schema"
)

// Signing is what the casebook knows about the note of an operation.
type Signing struct {
	State    State
	Revision int
	Reason   string // code of Reasons, "" for none
}

// Take reduces a checked entry to what the month needs of it. An entry that is
// not signed gives no cells; one that is blocked may even lack its date, and
// then belongs to no period. The error is that of registry.Values.
//
// A visit is named by its date and its place among the visits of that date.
func Take(c schema.Checked, s Signing) (Operation, error) {
	if !c.Valid() {
		return Operation{}, registry.ErrUnchecked
	}
	e := c.Entry()
	o := Operation{Case: c.ID(), Person: e.Patient.ID.Value(), State: s.State, Reason: s.Reason, Revision: s.Revision,
		Consent: e.Consent.Registry.Is("yes")}
	if e.Episode.Date.Recorded() {
		d := e.Episode.Date.Value()
		o.Month = Period{d.Year, int(d.Month)}
	}
	if s.State != Signed || !o.Consent {
		return o, nil
	}
	var err error
	if o.Cells, err = registry.Values(c); err != nil {
		return Operation{}, err
	}
	onDay := map[string]int{}
	for i, v := range e.Visits {
		cells, err := registry.VisitValues(c, i)
		if err != nil {
			return Operation{}, err
		}
		d := v.Date.Value()
		onDay[d.String()]++
		o.Visits = append(o.Visits, Visit{ID: fmt.Sprintf("%s/%d", d, onDay[d.String()]), Month: Period{d.Year, int(d.Month)}, Cells: cells})
	}
	return o, nil
}

// AddFollowup adds the visits of a signed follow-up document. id names the
// document within its case for life. Visits of an operation that is not sent are
// left out, and a patient who has taken the consent back is no longer sent at all.
// The error is that of registry.FollowupValues.
func (o *Operation) AddFollowup(c schema.CheckedFollowup, id string) error {
	if c.RefusesRegistry() {
		o.Consent, o.Cells, o.Visits = false, nil, nil
	}
	if o.State != Signed || !o.Consent {
		return nil
	}
	for i := range c.Visits() {
		cells, err := registry.FollowupValues(c, i)
		if err != nil {
			return err
		}
		d := c.Entry().Visits[i].Date.Value()
		o.Visits = append(o.Visits, Visit{ID: fmt.Sprintf("%s/%d", id, i+1), Month: Period{d.Year, int(d.Month)}, Cells: cells})
	}
	return nil
}

// Operations makes the stream of Input out of a list, for a caller who has all of
// them at hand: the tests here and the maker of packages for the outside checks.
func Operations(list ...Operation) func(yield func(Operation, error) bool) {
	return func(yield func(Operation, error) bool) {
		for _, o := range list {
			if !yield(o, nil) {
				return
			}
		}
	}
}

// sound reports whether an operation that was handed in can be one.
func (o *Operation) sound(columns, visitColumns int) error {
	switch {
	case o.Case == "" || o.Revision < 0 || !validState(o.State):
		return fmt.Errorf("%w: an operation without a case, a revision or a known state", ErrInput)
	case o.Month != (Period{}) && (!o.Month.valid() || o.Month.Month == 0):
		return fmt.Errorf("%w: an operation in no month", ErrInput)
	case o.State != Signed || !o.Consent:
		return nil
	case o.Person == "" || o.Month == (Period{}):
		return fmt.Errorf("%w: a signed operation without a person or a month", ErrInput)
	case len(o.Cells) != columns:
		return fmt.Errorf("%w: a signed operation with %d cells for %d columns; it was made by another version", ErrInput, len(o.Cells), columns)
	}
	seen := map[string]bool{}
	for _, v := range o.Visits {
		if v.ID == "" || seen[v.ID] || !v.Month.valid() || v.Month.Month == 0 || len(v.Cells) != visitColumns {
			return fmt.Errorf("%w: a visit without a name, a month or its cells, or one twice", ErrInput)
		}
		seen[v.ID] = true
	}
	return nil
}

func validState(s State) bool {
	switch s {
	case Signed, Awaiting, Unsigned, Blocked, Withdrawn:
		return true
	}
	return false
}
