package casebook

import (
	"context"
	"database/sql"
	"slices"
	"strings"
)

// InForce is what stands of one case. It was verified; Open reads it, which may be
// done in another goroutine. A case that does not hold has its fault in Err and
// gives nothing.
type InForce struct {
	Summary
	Err       error // a Fault that names the case, or nil
	statement []byte
	followUps []followUpLeaf
	followed  string // leaf hash of the newest follow-up
}

type followUpLeaf struct{ statement, signature []byte }

// Open gives the canonical entry and the follow-ups that are not withdrawn, in the
// order of their recording. Both are nil of a withdrawn case. The error is Err.
func (i InForce) Open() (entry []byte, followUps []FollowUpOf, err error) {
	if i.Err != nil || i.State == StateWithdrawn {
		return nil, nil, i.Err
	}
	s, err := readStatement(i.statement)
	if err != nil {
		return nil, nil, ErrDamaged
	}
	chain := make([]Revision, 0, len(i.followUps))
	previous := ""
	for n, leaf := range i.followUps {
		f, err := readStatement(leaf.statement)
		if err != nil || f.Case != i.Case || f.Revision != n+1 || f.Previous != previous {
			return nil, nil, ErrDamaged
		}
		previous = LeafHash(leaf.statement, leaf.signature).String()
		chain = append(chain, Revision{Statement: f})
	}
	if previous != i.followed {
		return nil, nil, ErrDamaged
	}
	return s.Entry, slices.DeleteFunc(followUpsOf(chain), func(f FollowUpOf) bool { return f.Withdrawn }), nil
}

// EachInForce verifies the whole log in one pass over all cores, as Get verifies a
// case, and then hands out every case that is not withdrawn, in the order of the
// log. What does not hold comes with its fault and stops no other case. The words
// are not read and not verified: no caller gets them. It holds one case at a time.
func (c *Casebook) EachInForce(ctx context.Context, f func(InForce) error) error {
	return c.each(ctx, func(s *standing) bool { return s.fault != nil || s.row.State != StateWithdrawn }, f)
}

// EachWithdrawn hands out every withdrawn case, verified as EachInForce does.
func (c *Casebook) EachWithdrawn(ctx context.Context, f func(InForce) error) error {
	return c.each(ctx, func(s *standing) bool { return s.fault == nil && s.row.State == StateWithdrawn }, f)
}

func (c *Casebook) each(ctx context.Context, want func(*standing) bool, f func(InForce) error) error {
	return c.verify(ctx, func(x tx, s *seal) error {
		if s.keys == nil { // nothing was ever signed
			return nil
		}
		s.mu.Lock()
		var err error
		if s.cases == nil {
			s.cases, err = c.survey(x, s)
		}
		cases := s.cases
		s.mu.Unlock()
		if err != nil {
			return err
		}
		for _, at := range cases {
			if !want(at) {
				continue
			}
			one, err := at.inForce(x)
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

// inForce reads what is handed out of a case.
func (s *standing) inForce(x tx) (InForce, error) {
	one := InForce{Summary: s.row.summary()}
	one.Case = s.id
	if s.fault != nil {
		one.Err = *s.fault
		return one, nil
	}
	if s.row.State == StateWithdrawn {
		return one, nil
	}
	var signature []byte
	found, err := x.one("SELECT statement, signature FROM leaf WHERE idx = ?", []any{s.row.EntryIndex}, &one.statement, &signature)
	if err != nil || !found {
		return one, orDamaged(err)
	}
	if LeafHash(one.statement, signature).String() != s.entry { // changed since the pass
		return one, ErrDamaged
	}
	if s.followUps == 0 {
		return one, nil
	}
	one.followed = s.followed
	err = x.each("SELECT statement, signature FROM leaf WHERE case_id = ? ORDER BY revision", []any{s.id + followUpEnd}, func(rows *sql.Rows) error {
		var leaf followUpLeaf
		err := rows.Scan(&leaf.statement, &leaf.signature)
		one.followUps = append(one.followUps, leaf)
		return err
	})
	return one, err
}

// ids of cases are compared as the database does, byte by byte.
func byEntry(a, b *standing) int {
	if a.row.EntryIndex != b.row.EntryIndex {
		return int(a.row.EntryIndex - b.row.EntryIndex)
	}
	return strings.Compare(a.id, b.id)
}
