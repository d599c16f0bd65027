package casebook

import (
	"context"
	"database/sql"
	"slices"

	"golang.org/x/mod/sumdb/tlog"
)

// The kinds stand in the query as in the index that it is to use.
const queryFollowedUp = "SELECT DISTINCT case_id FROM leaf WHERE kind IN ('follow-up', 'follow-up-withdrawn')"

// FollowUpProof is the proof of one follow-up statement of a case.
func (c *Casebook) FollowUpProof(ctx context.Context, caseID string, revision int) (Proof, error) {
	if caseID == "" || isFollowUps(caseID) {
		return Proof{}, ErrNoCase
	}
	return c.Proof(ctx, caseID+followUpEnd, revision)
}

// InForce is what stands of one case, as it is stored. Open reads it, which may be
// done in another goroutine.
type InForce struct {
	Summary
	statement []byte
	followUps [][]byte
}

// Open gives the canonical entry and the follow-ups that are not withdrawn, in the
// order of their recording. Like the lists it does not verify signatures: Check
// does. The error is ErrDamaged.
func (i InForce) Open() (entry []byte, followUps []FollowUpOf, err error) {
	s, err := readStatement(i.statement)
	if err != nil {
		return nil, nil, ErrDamaged
	}
	chain := make([]Revision, 0, len(i.followUps))
	for n, raw := range i.followUps {
		f, err := readStatement(raw)
		if err != nil || f.Case != i.Case || f.Revision != n+1 {
			return nil, nil, ErrDamaged
		}
		chain = append(chain, Revision{Statement: f})
	}
	return s.Entry, slices.DeleteFunc(followUpsOf(chain), func(f FollowUpOf) bool { return f.Withdrawn }), nil
}

// EachInForce hands out every case that is not withdrawn, in the order of the
// log. It holds one at a time.
func (c *Casebook) EachInForce(ctx context.Context, f func(InForce) error) error {
	return c.s.read(ctx, func(x tx) error {
		followed := map[string]bool{}
		err := x.each(queryFollowedUp, nil, func(rows *sql.Rows) error {
			var id string
			err := rows.Scan(&id)
			followed[id] = true
			return err
		})
		if err != nil {
			return err
		}
		var list []caseRow
		err = x.each("SELECT "+caseColumns+" FROM casefile WHERE state <> ? ORDER BY entry_idx", []any{string(StateWithdrawn)}, func(rows *sql.Rows) error {
			var r caseRow
			err := r.scan(rows)
			list = append(list, r)
			return err
		})
		if err != nil {
			return err
		}
		for _, r := range list {
			one := InForce{Summary: r.summary()}
			found, err := x.one("SELECT statement FROM leaf WHERE idx = ?", []any{r.EntryIndex}, &one.statement)
			if err == nil && !found {
				err = ErrDamaged
			}
			if id := one.Case + followUpEnd; err == nil && followed[id] {
				err = x.each("SELECT statement FROM leaf WHERE case_id = ? ORDER BY revision", []any{id}, func(rows *sql.Rows) error {
					var raw []byte
					err := rows.Scan(&raw)
					one.followUps = append(one.followUps, raw)
					return err
				})
			}
			if err != nil {
				return err
			}
			if err := f(one); err != nil {
				return err
			}
		}
		return nil
	})
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
