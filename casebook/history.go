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
	Checkpoint string // signed right after it
	Document   []byte // the words that the statement binds; nil for one that binds none
}

// History is all that was ever signed on a case, the oldest first.
type History struct {
	Case      string
	State     State
	Revisions []Revision

	proofs []Proof // of the revisions, where the casebook gave them
}

// Current is the newest revision.
func (h History) Current() Revision { return h.Revisions[len(h.Revisions)-1] }

// Responsible is the key that the newest statement which awaits a
// counter-signature names for it, "" when none is named.
func (h History) Responsible() string {
	_, responsible := awaiting(h.Revisions)
	return responsible
}

// inForce is the statement that carries the entry in force.
func (h History) inForce() Revision {
	for i := len(h.Revisions) - 1; i > 0; i-- {
		if r := h.Revisions[i]; r.Statement.CarriesEntry() {
			return r
		}
	}
	return h.Revisions[0]
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

// Document is the words in force at a revision, as canonical JSON; nil when the
// statement that carries the entry binds none.
func (h History) Document(revision int) []byte {
	for i := min(revision, len(h.Revisions)) - 1; i >= 0; i-- {
		if r := h.Revisions[i]; r.Statement.CarriesEntry() {
			return r.Document
		}
	}
	return nil
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
	for i := range out {
		if err == nil {
			out[i].Document, err = loadDocument(x, out[i].Statement)
		}
	}
	return out, err
}

// Proof is the proof of one revision of a case, or of one of its follow-up
// statements by FollowUpProof, for a reader who has no casebook.
func (c *Casebook) Proof(ctx context.Context, caseID string, revision int) (Proof, error) {
	all, err := c.Proofs(ctx, caseID)
	if err != nil {
		return Proof{}, err
	}
	if revision < 1 || revision > len(all) {
		return Proof{}, ErrNoCase
	}
	return all[revision-1], nil
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
