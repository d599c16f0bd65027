package casebook

import (
	"context"
	"slices"
	"strings"
	"time"
)

// AmendRequest acts on a signed case. Base is the revision that was shown: when
// another act came between, nothing is signed.
type AmendRequest struct {
	Act
	Case string
	Base int
	Why  string    // withdrawal: the reason; addendum and counter-signature: may be ""
	Text string    // addendum: what is added
	When time.Time // addendum: when it happened, zero when not told
}

// CorrectRequest replaces the entry of a signed case by a checked one. The old
// entry stays beside it; the changes are worked out and signed field by field.
type CorrectRequest struct {
	SignRequest
	Base int
	Why  string
	// SamePerson says that a changed name, birth date, national number or sex is a
	// slip and the patient the same; it is asked for when PatientSlip is.
	SamePerson bool
}

// Correct signs a corrected entry as a new revision.
func (c *Casebook) Correct(ctx context.Context, r CorrectRequest) (Receipt, error) {
	if err := r.ready(); err != nil {
		return Receipt{}, err
	}
	if strings.TrimSpace(r.Why) == "" || !readable(r.Why) {
		return Receipt{}, ErrText
	}
	return c.append(ctx, r.Act, r.Checked.ID(), func(x tx, p position, s *Statement) error {
		if err := mayUse(x, p, r.Key, func(d duty) bool { return d.Notes }); err != nil {
			return err
		}
		if err := p.open(r.Base); err != nil {
			return err
		}
		if err := r.namesKey(x); err != nil {
			return err
		}
		old, err := c.stands(x, r.Checked.ID())
		if err != nil {
			return err
		}
		s.Kind, s.Why, s.SamePerson = Corrected, r.Why, yesWord(r.SamePerson)
		r.fill(s)
		if err := samePatient(old.Entry(p.revision), s.Entry, r.SamePerson); err != nil {
			return err
		}
		if err := newItems(old, s.Entry); err != nil {
			return err
		}
		if s.Changes, err = Changes(old.Entry(p.revision), s.Entry); err != nil {
			return err
		}
		if len(s.Changes) == 0 {
			return ErrUnchanged
		}
		return storeDocument(x, r.Document)
	})
}

// open refuses an act on a case that is not there, withdrawn, or further on than
// what was shown.
func (p position) open(base int) error {
	switch {
	case p.revision == 0:
		return ErrNoCase
	case p.file.State == StateWithdrawn:
		return ErrWithdrawn
	case p.revision != base:
		return ErrMoved
	}
	return nil
}

func (c *Casebook) amend(ctx context.Context, r AmendRequest, kind Kind, allows func(duty) bool, more func(History, *Statement) error) (Receipt, error) {
	if !readable(r.Why) || !readable(r.Text) {
		return Receipt{}, ErrText
	}
	if r.Case == "" {
		return Receipt{}, ErrNoCase
	}
	return c.append(ctx, r.Act, r.Case, func(x tx, p position, s *Statement) error {
		if err := mayUse(x, p, r.Key, allows); err != nil {
			return err
		}
		if err := p.open(r.Base); err != nil {
			return err
		}
		h, err := c.stands(x, r.Case)
		switch {
		case err != nil:
			return err
		case h.State == StateWithdrawn:
			return ErrWithdrawn
		}
		s.Kind, s.Why, s.EntrySHA256 = kind, r.Why, h.inForce().Statement.EntrySHA256
		return more(h, s)
	})
}

// CounterSign adds the signature of the responsible surgeon to a case that awaits
// it. When the signer named the responsible surgeon and another one signs, a
// reason must be given.
func (c *Casebook) CounterSign(ctx context.Context, r AmendRequest) (Receipt, error) {
	return c.amend(ctx, r, CounterSigned, func(d duty) bool { return d.Counter }, func(h History, s *Statement) error {
		if h.State != StateAwaiting {
			return ErrNotAwaiting
		}
		signers, responsible := awaiting(h.Revisions)
		if slices.ContainsFunc(signers, func(name string) bool { return sameName(name, s.Signer.Name) }) {
			return ErrSameSigner
		}
		if responsible != "" && responsible != s.Signer.Key && strings.TrimSpace(r.Why) == "" {
			return ErrText
		}
		return nil
	})
}

// awaiting goes back over the statements that still lack a counter-signature. It
// gives their signers, who may not counter-sign, and the responsible surgeon whom
// the newest statement named. What somebody signed who may sign alone, such as
// the surgeon's own addendum in between, awaits nothing.
func awaiting(list []Revision) (signers []string, responsible string) {
	for _, r := range slices.Backward(list) {
		s := r.Statement
		if s.Kind == CounterSigned {
			break
		}
		if responsible == "" {
			responsible = s.Responsible
		}
		if !content().Roles[s.Signer.Role].Alone {
			signers = append(signers, s.Signer.Name)
		} else if s.CarriesEntry() {
			break // whoever signed the whole entry answered for all before it
		}
	}
	return signers, responsible
}

// Addendum adds text; the earlier text stays true.
func (c *Casebook) Addendum(ctx context.Context, r AmendRequest) (Receipt, error) {
	if strings.TrimSpace(r.Text) == "" {
		return Receipt{}, ErrText
	}
	return c.amend(ctx, r, Addendum, func(d duty) bool { return d.Notes }, func(_ History, s *Statement) error {
		s.Text = r.Text
		if !r.When.IsZero() {
			s.Event = r.When.Format(time.RFC3339)
		}
		return nil
	})
}

// Withdraw marks a case as entered in error. It stays readable and takes no
// further act.
func (c *Casebook) Withdraw(ctx context.Context, r AmendRequest) (Receipt, error) {
	if strings.TrimSpace(r.Why) == "" {
		return Receipt{}, ErrText
	}
	return c.amend(ctx, r, Withdrawn, func(d duty) bool { return d.Notes && d.Alone }, func(History, *Statement) error { return nil })
}
