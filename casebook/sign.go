package casebook

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"graftnote/schema"
)

// SignRequest signs a checked entry.
type SignRequest struct {
	Act
	Checked schema.Checked
	// Shown is the digest of the entry that was shown to the signer: nothing is
	// signed that was not shown.
	Shown string
	// Document is the note in the words that were shown, as canonical JSON (RFC
	// 8785). The signature covers its digest, and the casebook keeps it.
	Document []byte
	// Meaning replaces the usual meaning of the signature; "" keeps it.
	Meaning string
	// Confirmed are exactly the paths that Prefilled gives.
	Confirmed []string
	// True are exactly the states that ToAffirm gives: the signer affirmed each.
	True []string
	// Answers answer exactly the findings that ToAnswer gives.
	Answers []Answer
	// Different are earlier cases that Alike named and that the signer said are
	// other operations; may be nil.
	Different []string
	// Responsible is the key that is to counter-sign, by its identifier; may be "".
	Responsible string
}

// Prefilled are the paths of recorded values that came from the standing
// technique: the signer confirms each.
func Prefilled(c schema.Checked) []string {
	var out []string
	c.Entry().Walk(func(r *schema.Row, item int, f schema.Field) {
		if !f.Recorded() || f.Origin() != schema.Technique {
			return
		}
		path := r.Path()
		if r.Group.Many != "" {
			path = fmt.Sprintf("%s[%d].%s", r.Group.Key, item+1, r.Key)
		}
		out = append(out, path)
	})
	return out
}

// ToAffirm are the states that the entry confirms as true although a rule blocks
// them, each with the item that it names: the signer affirms each by itself.
func ToAffirm(c schema.Checked) []string {
	var out []string
	if !c.Valid() {
		return nil
	}
	for _, x := range c.Entry().TrueStates {
		out = append(out, strings.TrimSpace(x.State.Text()+" "+x.At.Text()))
	}
	return out
}

// ToAnswer are the findings that a reason must be given for, unless the entry is
// mended. Two of one rule at one path take one answer.
func ToAnswer(c schema.Checked) []schema.Finding { return toAnswer(c.Findings()) }

// SignOff signs the first note of a case. It refuses what is not complete, not
// shown, not confirmed or not answered, and keys that may not sign. A role that
// may not sign alone leaves the case awaiting a counter-signature.
func (c *Casebook) SignOff(ctx context.Context, r SignRequest) (Receipt, error) {
	if err := r.ready(); err != nil {
		return Receipt{}, err
	}
	return c.append(ctx, r.Act, r.Checked.ID(), func(x tx, p position, s *Statement) error {
		if err := mayUse(x, p, r.Key, func(d duty) bool { return d.Notes }); err != nil {
			return err
		}
		if p.revision != 0 {
			return ErrAlreadySigned
		}
		if err := r.namesKey(x); err != nil {
			return err
		}
		if err := r.compared(x); err != nil {
			return err
		}
		s.Kind = Signed
		r.fill(s)
		return storeDocument(x, r.Document)
	})
}

// ready checks all that does not depend on the casebook.
func (r SignRequest) ready() error {
	if !r.Checked.Valid() {
		return ErrUnchecked
	}
	if !r.Checked.Complete() {
		return ErrBlocked
	}
	if r.Shown != r.Checked.Digest() {
		return ErrNotShown
	}
	want := Prefilled(r.Checked)
	have := slices.Clone(r.Confirmed)
	slices.Sort(want)
	slices.Sort(have)
	if !slices.Equal(want, have) {
		return ErrUnconfirmed
	}
	if !slices.Equal(ToAffirm(r.Checked), r.True) {
		return ErrNotTrue
	}
	if err := answered(ToAnswer(r.Checked), r.Answers); err != nil {
		return err
	}
	if !readable(r.Meaning) || slices.ContainsFunc(r.Different, func(id string) bool { return id == "" || len(id) > maxName || !readable(id) }) {
		return ErrText
	}
	if !soundDocument(r.Document) {
		return ErrDocument
	}
	return nil
}

func (r SignRequest) namesKey(x tx) error {
	if r.Responsible == "" {
		return nil
	}
	keys, err := loadRegister(x)
	if err != nil {
		return err
	}
	k, _ := keyOf(keys, r.Responsible)
	err = voucher(keys, r.Responsible)
	switch {
	case err != nil:
		return err
	case !content().Roles[k.Role].Counter:
		return ErrRole
	}
	return nil
}

// fill puts the entry and what was said about it into the statement.
func (r SignRequest) fill(s *Statement) {
	e := r.Checked.Entry()
	s.Entry, s.EntrySHA256 = r.Checked.Canonical(), r.Checked.Digest()
	s.DocumentSHA256 = digest(r.Document)
	s.Meaning, s.Responsible = r.Meaning, r.Responsible
	s.Confirmed = slices.Clone(r.Confirmed)
	slices.Sort(s.Confirmed)
	s.True = slices.Clone(r.True)
	s.Answers = inOrder(ToAnswer(r.Checked), r.Answers)
	s.Different = slices.Clone(r.Different)
	if t, ok := e.Ended(); ok {
		s.Event = t.Format(time.RFC3339)
	}
	if e.Episode.Begun.Recorded() {
		s.Written = e.Episode.Begun.Value().Format(time.RFC3339)
	}
}
