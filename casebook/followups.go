package casebook

import (
	"context"
	"database/sql"
	"slices"

	"golang.org/x/mod/sumdb/tlog"
)

// The kinds stand in the query as in the index that it is to use.
const queryFollowUps = "SELECT statement FROM leaf WHERE kind IN ('follow-up', 'follow-up-withdrawn') ORDER BY idx"

// AllFollowUps are the follow-ups in force of all cases that are not withdrawn,
// by case, each case's in the order of their recording.
func (c *Casebook) AllFollowUps(ctx context.Context) (map[string][]FollowUpOf, error) {
	chains := map[string][]Revision{}
	gone := map[string]bool{}
	err := c.s.read(ctx, func(x tx) error {
		err := x.each("SELECT case_id FROM casefile WHERE state = ?", []any{string(StateWithdrawn)}, func(rows *sql.Rows) error {
			var id string
			err := rows.Scan(&id)
			gone[id] = true
			return err
		})
		if err != nil {
			return err
		}
		return x.each(queryFollowUps, nil, func(rows *sql.Rows) error {
			var b []byte
			if err := rows.Scan(&b); err != nil {
				return err
			}
			s, err := ParseStatement(b)
			if err != nil {
				return ErrDamaged
			}
			if !gone[s.Case] {
				chains[s.Case] = append(chains[s.Case], Revision{Statement: s})
			}
			return nil
		})
	})
	if err != nil {
		return nil, err
	}
	out := make(map[string][]FollowUpOf, len(chains))
	for id, chain := range chains {
		standing := slices.DeleteFunc(followUpsOf(chain), func(f FollowUpOf) bool { return f.Withdrawn })
		if len(standing) > 0 {
			out[id] = standing
		}
	}
	return out, nil
}

// FollowUpProof is the proof of one follow-up statement of a case.
func (c *Casebook) FollowUpProof(ctx context.Context, caseID string, revision int) (Proof, error) {
	if caseID == "" || isFollowUps(caseID) {
		return Proof{}, ErrNoCase
	}
	return c.Proof(ctx, caseID+followUpEnd, revision)
}

// EntriesInForce hands out the canonical entry in force of every case that is not
// withdrawn, in the order of the log, with what the lists say of the case. It
// holds one at a time.
func (c *Casebook) EntriesInForce(ctx context.Context, f func(s Summary, entry []byte) error) error {
	return c.s.read(ctx, func(x tx) error {
		var list []caseRow
		err := x.each("SELECT "+caseColumns+" FROM casefile WHERE state <> ? ORDER BY entry_idx", []any{string(StateWithdrawn)}, func(rows *sql.Rows) error {
			var r caseRow
			err := r.scan(rows)
			list = append(list, r)
			return err
		})
		if err != nil {
			return err
		}
		for _, r := range list {
			s, err := loadStatement(x, r.EntryIndex)
			if err != nil {
				return err
			}
			if err := f(r.summary(), s.Entry); err != nil {
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
