package casebook

import (
	"context"
	"slices"
	"strings"

	"golang.org/x/mod/sumdb/tlog"

	"graftnote/schema"
)

// followUpEnd marks the chain of a case's follow-ups. No case identifier holds a
// slash, so that it can't be that of another case.
const followUpEnd = "/follow-up"

func isFollowUps(chain string) bool { return strings.Contains(chain, "/") }

// caseOf is the case that a chain is about.
func caseOf(chain string) string { return strings.TrimSuffix(chain, followUpEnd) }

// chain names the statements among which this one is counted.
func (s *Statement) chain() string {
	if s.ofFollowUps() {
		return s.Case + followUpEnd
	}
	return s.Case
}

func (s *Statement) ofFollowUps() bool { return s.Kind == FollowUp || s.Kind == FollowUpVoid }

// content reports whether what the statement carries has the digest beside it.
func (s *Statement) content() bool {
	switch {
	case s.CarriesEntry():
		return digest(s.Entry) == s.EntrySHA256
	case s.Kind == FollowUp:
		return digest(s.FollowUp) == s.FollowUpSHA256
	}
	return true
}

func (s *Statement) soundFollowUp() bool {
	ofCase := s.Case != "" && !isFollowUps(s.Case) && len(s.EntrySHA256) == 64 && isHex(s.EntrySHA256)
	of, err := tlog.ParseHash(s.Of)
	if !ofCase || s.Entry != nil || s.Subject != nil || err != nil || of.String() != s.Of || s.Replaces < 0 || s.Replaces >= s.Revision {
		return false
	}
	if s.Kind == FollowUpVoid {
		return s.FollowUp == nil && s.FollowUpSHA256 == "" && s.Replaces > 0 && s.Why != ""
	}
	return s.FollowUp != nil && len(s.FollowUpSHA256) == 64 && isHex(s.FollowUpSHA256) && (s.Replaces == 0 || s.Why != "")
}

// FollowUpRequest records a checked follow-up document.
type FollowUpRequest struct {
	Act
	Checked schema.CheckedFollowup
	// Shown is the digest of the document that was shown to the signer.
	Shown string
	// Answers answer exactly the findings that FollowUpToAnswer gives.
	Answers []Answer
	// Base is the number of follow-up statements of the case when the document was
	// checked: when another came between, nothing is recorded.
	Base int
	// Replaces is the revision in force of the follow-up that this one corrects, 0
	// for a new one; a correction gives its reason.
	Replaces int
	Why      string
}

// FollowUpToAnswer are the findings that a reason must be given for.
func FollowUpToAnswer(c schema.CheckedFollowup) []schema.Finding { return toAnswer(c.Findings()) }

// RecordFollowUp signs a follow-up of a case, or the correction of one. The key's
// role must cover it; it need not be a surgeon's.
func (c *Casebook) RecordFollowUp(ctx context.Context, r FollowUpRequest) (Receipt, error) {
	if err := r.ready(); err != nil {
		return Receipt{}, err
	}
	return c.appendTo(ctx, r.Act, r.Checked.Case()+followUpEnd, func(x tx, p position, s *Statement) error {
		list, err := c.followUpIn(x, p, r.Act, s, r.Base)
		if err != nil {
			return err
		}
		if s.EntrySHA256 != r.Checked.IndexDigest() {
			return ErrMoved
		}
		if r.Replaces != 0 && !slices.ContainsFunc(list, func(f FollowUpOf) bool { return f.Revision == r.Replaces && !f.Withdrawn }) {
			return ErrNoCase
		}
		for _, f := range list {
			if !f.Withdrawn && f.Statement.FollowUpSHA256 == r.Checked.Digest() {
				return ErrFollowUpKnown
			}
		}
		s.Kind, s.Why, s.Replaces = FollowUp, r.Why, r.Replaces
		s.FollowUp, s.FollowUpSHA256 = r.Checked.Canonical(), r.Checked.Digest()
		s.Answers = inOrder(toAnswer(r.Checked.Findings()), r.Answers)
		return nil
	})
}

func (r FollowUpRequest) ready() error {
	switch {
	case !r.Checked.Valid():
		return ErrUnchecked
	case !r.Checked.Complete():
		return ErrBlocked
	case r.Shown != r.Checked.Digest():
		return ErrNotShown
	case !readable(r.Why) || (r.Replaces != 0) != (strings.TrimSpace(r.Why) != ""):
		return ErrText
	}
	return answered(toAnswer(r.Checked.Findings()), r.Answers)
}

// VoidRequest withdraws a follow-up that was entered in error.
type VoidRequest struct {
	Act
	Case     string
	Base     int // number of follow-up statements of the case that was shown
	Revision int // of the follow-up in force
	Why      string
}

// WithdrawFollowUp marks a follow-up as entered in error. It stays readable.
func (c *Casebook) WithdrawFollowUp(ctx context.Context, r VoidRequest) (Receipt, error) {
	if strings.TrimSpace(r.Why) == "" || !readable(r.Why) {
		return Receipt{}, ErrText
	}
	if r.Case == "" || isFollowUps(r.Case) {
		return Receipt{}, ErrNoCase
	}
	return c.appendTo(ctx, r.Act, r.Case+followUpEnd, func(x tx, p position, s *Statement) error {
		list, err := c.followUpIn(x, p, r.Act, s, r.Base)
		if err != nil {
			return err
		}
		if !slices.ContainsFunc(list, func(f FollowUpOf) bool { return f.Revision == r.Revision && !f.Withdrawn }) {
			return ErrNoCase
		}
		s.Kind, s.Why, s.Replaces = FollowUpVoid, r.Why, r.Revision
		return nil
	})
}

// followUpIn finds the case of a follow-up act, refuses what it refuses, and ties
// the statement to the entry in force.
func (c *Casebook) followUpIn(x tx, p position, a Act, s *Statement, base int) ([]FollowUpOf, error) {
	if err := mayUse(x, p, a.Key, func(d duty) bool { return d.FollowUp }); err != nil {
		return nil, err
	}
	var row caseRow
	found, err := loadCase(x, s.Case, &row)
	switch {
	case err != nil:
		return nil, err
	case !found:
		return nil, ErrNoCase
	case row.State == StateWithdrawn:
		return nil, ErrWithdrawn
	case p.revision != base:
		return nil, ErrMoved
	}
	h, err := c.stands(x, s.Case)
	switch {
	case err != nil:
		return nil, err
	case h.State == StateWithdrawn:
		return nil, ErrWithdrawn
	}
	s.EntrySHA256, s.Of = h.inForce().Statement.EntrySHA256, h.inForce().Leaf.String()
	sealed, err := c.sealed(x)
	if err != nil {
		return nil, err
	}
	chain, err := c.followUpChain(x, sealed, s.Case)
	return followUpsOf(chain), err
}

// FollowUpOf is one follow-up of a case as it stands.
type FollowUpOf struct {
	Case      string
	Number    int        // revision of its first statement: names it for life
	Revision  int        // of its newest statement
	Statement *Statement // the newest that carries a document
	Withdrawn bool
	Why       string // of the newest statement
}

// Document is the canonical document in force.
func (f FollowUpOf) Document() []byte { return f.Statement.FollowUp }

// followUpsOf folds the statements of one chain.
func followUpsOf(chain []Revision) []FollowUpOf {
	var out []FollowUpOf
	for _, r := range chain {
		s := r.Statement
		if s.Replaces == 0 {
			out = append(out, FollowUpOf{Case: s.Case, Number: s.Revision, Revision: s.Revision, Statement: s})
			continue
		}
		i := slices.IndexFunc(out, func(f FollowUpOf) bool { return f.Revision == s.Replaces })
		if i < 0 {
			continue // a check names it
		}
		out[i].Revision, out[i].Why, out[i].Withdrawn = s.Revision, s.Why, s.Kind == FollowUpVoid
		if s.Kind == FollowUp {
			out[i].Statement = s
		}
	}
	return out
}
