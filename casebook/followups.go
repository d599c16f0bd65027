package casebook

import (
	"context"
	"slices"

	"golang.org/x/mod/sumdb/tlog"
)

// FollowUpProof is the proof of one follow-up statement of a case, verified.
func (c *Casebook) FollowUpProof(ctx context.Context, caseID string, revision int) (Proof, error) {
	if caseID == "" || isFollowUps(caseID) {
		return Proof{}, ErrNoCase
	}
	var p Proof
	err := c.verify(ctx, func(x tx, s *seal) error {
		items, err := readChain(x, caseID+followUpEnd)
		if err != nil {
			return err
		}
		if revision < 1 || revision > len(items) {
			return ErrNoCase
		}
		all, err := s.prove(x, items)
		if err == nil {
			p = all[revision-1]
		}
		return err
	})
	return p, err
}

// followUp judges a statement about the follow-up of a case by what the log held
// before it.
func (a *auditor) followUp(i *item) error {
	a.report.FollowUps++
	st := i.st
	fault := func(kind FaultKind, what string) { a.report.fault(Fault{kind, i.index, st.Case, what}) }
	if st.Revision > 1 {
		if ok, err := a.continues(st); err != nil {
			return err
		} else if !ok {
			fault(BrokenChain, "it does not continue the preceding follow-up of the case")
		}
	}
	var at int64
	var statement, hash []byte
	found, err := a.x.one("SELECT l.idx, l.statement FROM leaf l WHERE l.case_id = ? AND l.kind IN ('signed', 'corrected') AND l.idx < ? ORDER BY l.idx DESC LIMIT 1", []any{st.Case, i.index}, &at, &statement)
	if err != nil {
		return err
	}
	if !found {
		fault(BrokenChain, "no signed note of the case stands before this follow-up")
		return nil
	}
	if found, err = a.x.one(queryHash, []any{tlog.StoredHashIndex(0, at)}, &hash); err != nil {
		return err
	}
	of, err := readStatement(statement)
	if err != nil || !found || len(hash) != tlog.HashSize || tlog.Hash(hash).String() != st.Of || of.EntrySHA256 != st.EntrySHA256 {
		fault(BrokenChain, "the follow-up was signed on another entry of the case")
	}
	if found, err = a.x.one("SELECT idx FROM leaf WHERE case_id = ? AND kind = 'withdrawn' AND idx < ?", []any{st.Case, i.index}, &at); err != nil {
		return err
	} else if found {
		fault(NotAllowed, "the case was withdrawn before")
	}
	if st.Replaces == 0 {
		return nil
	}
	chain, err := loadChain(a.x, i.caseID)
	if err != nil {
		fault(BadStatement, "the follow-ups of the case cannot be read")
		return nil
	}
	before := followUpsOf(chain[:min(st.Revision-1, len(chain))])
	if !slices.ContainsFunc(before, func(f FollowUpOf) bool { return f.Revision == st.Replaces && !f.Withdrawn }) {
		fault(NotAllowed, "it replaces a follow-up that was not in force")
	}
	return nil
}
