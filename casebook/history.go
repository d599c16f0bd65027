package casebook

import (
	"context"
	"database/sql"
	"slices"

	"golang.org/x/mod/sumdb/tlog"
)

// Revision is one signed statement of a case with its place in the log.
type Revision struct {
	Statement  *Statement
	Raw        []byte // the signed bytes
	Signature  []byte
	Leaf       tlog.Hash
	Checkpoint string              // signed right after it
	Products   map[string][]string // kind to digests recorded for this revision
}

// History is all that was ever signed on a case, the oldest first.
type History struct {
	Case      string
	State     State
	Revisions []Revision
}

// Current is the newest revision.
func (h History) Current() Revision { return h.Revisions[len(h.Revisions)-1] }

// Responsible is the key that the newest statement which awaits a
// counter-signature names for it, "" when none is named.
func (h History) Responsible() string {
	_, responsible := awaiting(h.Revisions)
	return responsible
}

// Entry is the canonical entry in force at a revision; nil when there is no such
// revision.
func (h History) Entry(revision int) []byte {
	for i := min(revision, len(h.Revisions)) - 1; i >= 0; i-- {
		if s := h.Revisions[i].Statement; s.CarriesEntry() {
			return s.Entry
		}
	}
	return nil
}

// Get is the whole history of a case, the withdrawn ones too.
func (c *Casebook) Get(ctx context.Context, caseID string) (History, error) {
	h := History{Case: caseID}
	if caseID == "" || isFollowUps(caseID) {
		return h, ErrNoCase
	}
	err := c.s.read(ctx, func(x tx) error {
		var err error
		if h.Revisions, err = loadChain(x, caseID); err != nil {
			return err
		}
		if len(h.Revisions) == 0 {
			return ErrNoCase
		}
		var row caseRow
		for _, r := range h.Revisions {
			if row, err = row.after(r.Statement); err != nil {
				return err
			}
		}
		h.State = row.State
		return x.each("SELECT revision, kind, sha256 FROM product WHERE case_id = ? ORDER BY revision, kind, sha256", []any{caseID}, func(rows *sql.Rows) error {
			var n int
			var kind, sum string
			if err := rows.Scan(&n, &kind, &sum); err != nil {
				return err
			}
			if n < 1 || n > len(h.Revisions) {
				return ErrDamaged
			}
			r := &h.Revisions[n-1]
			if r.Products == nil {
				r.Products = map[string][]string{}
			}
			r.Products[kind] = append(r.Products[kind], sum)
			return nil
		})
	})
	return h, err
}

// loadChain reads the statements of a case in order.
func loadChain(x tx, caseID string) ([]Revision, error) {
	var out []Revision
	err := x.each("SELECT l.statement, l.signature, c.note FROM leaf l JOIN checkpoint c ON c.size = l.idx + 1 WHERE l.case_id = ? ORDER BY l.revision", []any{caseID}, func(rows *sql.Rows) error {
		var r Revision
		if err := rows.Scan(&r.Raw, &r.Signature, &r.Checkpoint); err != nil {
			return err
		}
		var err error
		if r.Statement, err = ParseStatement(r.Raw); err != nil || r.Statement.chain() != caseID || r.Statement.Revision != len(out)+1 {
			return ErrDamaged
		}
		r.Leaf = LeafHash(r.Raw, r.Signature)
		out = append(out, r)
		return nil
	})
	return out, err
}

func loadStatement(x tx, index int64) (*Statement, error) {
	var b []byte
	found, err := x.one("SELECT statement FROM leaf WHERE idx = ?", []any{index}, &b)
	if err != nil {
		return nil, err
	}
	s, err := ParseStatement(b)
	if !found || err != nil {
		return nil, ErrDamaged
	}
	return s, nil
}

// Proof is the proof of one revision of a case, for a reader who has no casebook.
func (c *Casebook) Proof(ctx context.Context, caseID string, revision int) (Proof, error) {
	var p Proof
	err := c.s.read(ctx, func(x tx) error {
		found, err := x.one("SELECT idx, statement, signature FROM leaf WHERE case_id = ? AND revision = ?", []any{caseID, revision}, &p.Index, &p.Statement, &p.Signature)
		if err != nil {
			return err
		}
		if !found || caseID == "" {
			return ErrNoCase
		}
		size := p.Index + 1
		if found, err = x.one("SELECT note FROM checkpoint WHERE size = ?", []any{size}, &p.Checkpoint); err != nil || !found {
			return orDamaged(err)
		}
		hashes, err := tlog.ProveRecord(size, p.Index, hashReader{x, map[int64]tlog.Hash{}})
		if err != nil {
			return err
		}
		p.Inclusion = append([]tlog.Hash{}, hashes...)
		st, err := ParseStatement(p.Statement)
		if err != nil {
			return ErrDamaged
		}
		cp, err := ParseCheckpoint(p.Checkpoint)
		if err != nil {
			return ErrDamaged
		}
		if cp.Key != st.Signer.Key {
			return ErrDamaged
		}
		p.Keys, err = keysFor(x, st.Signer.Key)
		return err
	})
	if err != nil {
		return Proof{}, err
	}
	return p, nil
}

// keysFor gives the named keys with no more than what verifying needs: what
// happened to a key later does not change an old proof.
func keysFor(x tx, ids ...string) ([]PublicKey, error) {
	slices.Sort(ids)
	var out []PublicKey
	for _, id := range slices.Compact(ids) {
		var k PublicKey
		found, err := loadKey(x, id, &k)
		if err != nil || !found {
			return nil, orDamaged(err)
		}
		out = append(out, PublicKey{ID: k.ID, Name: k.Name, Role: k.Role, Key: k.Key})
	}
	return out, nil
}

// ProveGrowth proves that the casebook continues an older checkpoint. It answers
// with a Fault when it does not: rolled back, forked, or another casebook.
func (c *Casebook) ProveGrowth(ctx context.Context, old string) (Growth, error) {
	was, err := ParseCheckpoint(old)
	if err != nil {
		return Growth{}, Fault{BadCheckpoint, -1, "", "the older checkpoint is malformed"}
	}
	var g Growth
	err = c.s.read(ctx, func(x tx) error {
		size, signed, err := newestCheckpoint(x)
		if err != nil {
			return err
		}
		g = Growth{Old: old, New: signed}
		if size == 0 {
			return Fault{RolledBack, 0, "", "the casebook is empty"}
		}
		now, err := ParseCheckpoint(signed)
		if err != nil {
			return ErrDamaged
		}
		if was.Casebook == now.Casebook && was.Size < now.Size {
			hashes, err := tlog.ProveTree(now.Size, was.Size, hashReader{x, map[int64]tlog.Hash{}})
			if err != nil {
				return err
			}
			g.Hashes = hashes
		}
		if err := grown(was, now, g.Hashes); err != nil {
			return err
		}
		g.Keys, err = keysFor(x, was.Key, now.Key)
		return err
	})
	return g, err
}
