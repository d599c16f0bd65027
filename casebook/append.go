package casebook

import (
	"context"
	"errors"
	"time"

	"golang.org/x/mod/sumdb/tlog"
)

// Receipt acknowledges a statement: it is on the disk.
type Receipt struct {
	Case        string
	Revision    int
	Index       int64 // place in the log, from 0
	Kind        Kind
	EntrySHA256 string
	Leaf        tlog.Hash
	Checkpoint  string // signed right after the statement
	State       State  // of the case, "" for keys
	ClockBack   bool   // the clock stands before the preceding statement's time
	Before      time.Time
}

// Act is what every signature needs: the key, the time and its zone's IANA name,
// and the version of the program.
type Act struct {
	Key  *Key
	Now  time.Time
	Zone string
	Tool string
}

// position is where a new statement of a case will stand.
type position struct {
	size     int64
	revision int // of the case's newest statement, 0 when none
	previous string
	file     caseRow // zero when the case is new
}

const (
	queryCheckpoint  = "SELECT size, note FROM checkpoint ORDER BY size DESC LIMIT 1"
	queryNewest      = "SELECT idx, revision FROM leaf WHERE case_id = ? ORDER BY revision DESC LIMIT 1"
	queryHash        = "SELECT hash FROM hash WHERE idx = ?"
	insertLeaf       = "INSERT INTO leaf (idx, case_id, revision, kind, key_id, signed, statement, signature) VALUES (?, ?, ?, ?, ?, ?, ?, ?)"
	insertHash       = "INSERT INTO hash (idx, hash) VALUES (?, ?)"
	insertCheckpoint = "INSERT INTO checkpoint (size, note) VALUES (?, ?)"
	queryKey         = "SELECT id, key, name, role, valid_from, added_by, added, revoked_at, revoked_by, revoked, since, reason FROM pubkey WHERE id = ?"
	insertEvent      = "INSERT INTO case_event (kind, date, case_id) VALUES (?, ?, ?)"
	deleteEvents     = "DELETE FROM case_event WHERE case_id = ?"
	queryCase        = "SELECT " + caseColumns + " FROM casefile WHERE case_id = ?"
	upsertCase       = "INSERT INTO casefile (" + caseColumns + ") VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?) ON CONFLICT (case_id) DO UPDATE SET revision = excluded.revision, last_idx = excluded.last_idx, entry_idx = excluded.entry_idx, entry_sha256 = excluded.entry_sha256, state = excluded.state, amended = excluded.amended, date = excluded.date, eye = excluded.eye, separation = excluded.separation, events = excluded.events, signer = excluded.signer, key_id = excluded.key_id, signed = excluded.signed"
)

// hotQueries run at every sign-off.
var hotQueries = []string{queryCheckpoint, queryNewest, queryHash, insertLeaf, insertHash, insertCheckpoint, queryKey, insertEvent, deleteEvents, queryCase, upsertCase, insertDocument}

// append signs and stores one statement. build completes the statement in the
// writing transaction, where it sees the case as it stands; what it refuses is
// not stored.
func (c *Casebook) append(ctx context.Context, a Act, caseID string, build func(x tx, p position, s *Statement) error) (Receipt, error) {
	if isFollowUps(caseID) {
		return Receipt{}, ErrNoCase
	}
	return c.appendTo(ctx, a, caseID, build)
}

// appendTo appends to a chain: that of a case, of the keys, or of the follow-ups
// of a case.
func (c *Casebook) appendTo(ctx context.Context, a Act, chain string, build func(x tx, p position, s *Statement) error) (Receipt, error) {
	if a.Key == nil {
		return Receipt{}, ErrKey
	}
	if a.Now.IsZero() || a.Zone == "" || !readable(a.Zone) || !readable(a.Tool) {
		return Receipt{}, ErrTime
	}
	c.mu.Lock()
	defer c.mu.Unlock()
	var r Receipt
	var next edge
	err := c.s.write(ctx, func(x tx) error {
		var err error
		r, next, err = c.appendIn(x, a, chain, build)
		return err
	})
	var broken commitError
	if errors.As(err, &broken) {
		err = c.settle(ctx, r, broken.error)
	}
	if err != nil {
		return Receipt{}, err
	}
	c.edge = next
	c.s.guard(r.Checkpoint)
	return r, nil
}

// settle looks whether a statement whose commit failed was stored after all. The
// writing transaction waits for what is left of the broken one.
func (c *Casebook) settle(ctx context.Context, r Receipt, cause error) error {
	c.edge = edge{}
	var leaf []byte
	var found bool
	err := c.s.write(ctx, func(x tx) error {
		var err error
		found, err = x.one(queryHash, []any{tlog.StoredHashIndex(0, r.Index)}, &leaf)
		return err
	})
	switch {
	case err != nil:
		return ErrOutcomeUnknown
	case found && string(leaf) == string(r.Leaf[:]):
		return nil
	}
	return cause
}

func (c *Casebook) appendIn(x tx, a Act, chain string, build func(tx, position, *Statement) error) (Receipt, edge, error) {
	e, err := c.currentEdge(x)
	if err != nil {
		return Receipt{}, edge{}, err
	}
	p := position{size: e.size}
	if err := locate(x, chain, &p); err != nil {
		return Receipt{}, edge{}, err
	}
	pub := a.Key.public
	s := &Statement{
		Format: Format, Casebook: c.id, Sequence: p.size, Case: caseOf(chain), Revision: p.revision + 1, Previous: p.previous,
		Signer: Signer{pub.Name, pub.Role, pub.ID}, Signed: a.Now.Format(time.RFC3339), Zone: a.Zone, Tool: a.Tool,
	}
	back := p.size > 0 && s.At().Before(e.signed)
	if back {
		s.ClockBefore = e.signed.Format(time.RFC3339)
	}
	if err := build(x, p, s); err != nil {
		return Receipt{}, edge{}, err
	}
	if s.Meaning == "" {
		s.Meaning = Meaning(s.Kind)
	}
	text, err := s.Encode()
	if err != nil {
		return Receipt{}, edge{}, err
	}
	// What is stored must be readable for good.
	if len(text) > maxStatement || !onlyTexts(text) || !s.sound() {
		return Receipt{}, edge{}, ErrText
	}
	signature := a.Key.sign(text)
	next, signed, err := c.extend(x, e, s, text, signature, a.Key)
	if err != nil {
		return Receipt{}, edge{}, err
	}
	row, err := record(x, s, p.file)
	if err != nil {
		return Receipt{}, edge{}, err
	}
	return Receipt{Case: s.Case, Revision: s.Revision, Index: s.Sequence, Kind: s.Kind, EntrySHA256: s.EntrySHA256,
		Leaf: LeafHash(text, signature), Checkpoint: signed, State: row.State, ClockBack: back, Before: e.signed}, next, nil
}

// currentEdge is the remembered edge when nobody else has written since.
func (c *Casebook) currentEdge(x tx) (edge, error) {
	var size int64
	var signed string
	if _, err := x.one(queryCheckpoint, nil, &size, &signed); err != nil {
		return edge{}, err
	}
	if size > 0 && size == c.edge.size {
		if cp, err := ParseCheckpoint(signed); err == nil && cp.Root == c.edge.root {
			return c.edge, nil
		}
	}
	return c.loadEdge(x)
}

// locate finds the end of a case's chain.
func locate(x tx, caseID string, p *position) error {
	var at int64
	found, err := x.one(queryNewest, []any{caseID}, &at, &p.revision)
	if err != nil || !found {
		return err
	}
	h, err := (hashReader{x, nil}).ReadHashes([]int64{tlog.StoredHashIndex(0, at)})
	if err != nil {
		return err
	}
	p.previous = h[0].String()
	if caseID == "" || isFollowUps(caseID) {
		return nil
	}
	found, err = loadCase(x, caseID, &p.file)
	if err == nil && (!found || p.file.LastIndex != at) {
		err = ErrDamaged
	}
	return err
}

// extend stores the leaf, the new hashes and the signed checkpoint.
func (c *Casebook) extend(x tx, e edge, s *Statement, text, signature []byte, k *Key) (edge, string, error) {
	if err := x.exec(insertLeaf, s.Sequence, s.chain(), s.Revision, string(s.Kind), s.Signer.Key, s.Signed, text, signature); err != nil {
		return edge{}, "", err
	}
	next, err := e.grow(x, LeafHash(text, signature), func(at int64, h tlog.Hash) error { return x.exec(insertHash, at, h[:]) })
	if err != nil {
		return edge{}, "", err
	}
	next.signed = s.At()
	signed, err := Checkpoint{Casebook: c.id, Size: next.size, Root: next.root}.seal(k)
	if err != nil {
		return edge{}, "", err
	}
	return next, signed, x.exec(insertCheckpoint, next.size, signed)
}

// grow adds one leaf hash to the edge and hands out the hashes to store.
func (e edge) grow(x tx, leaf tlog.Hash, keep func(at int64, h tlog.Hash) error) (edge, error) {
	known := make(map[int64]tlog.Hash, len(e.hashes)+2)
	for at, h := range e.hashes {
		known[at] = h
	}
	fresh, err := tlog.StoredHashesForRecordHash(e.size, leaf, hashReader{x, known})
	if err != nil {
		return edge{}, err
	}
	at := tlog.StoredHashIndex(0, e.size)
	for i, h := range fresh {
		if err := keep(at+int64(i), h); err != nil {
			return edge{}, err
		}
		known[at+int64(i)] = h
	}
	used := map[int64]tlog.Hash{}
	root, err := tlog.TreeHash(e.size+1, tlog.HashReaderFunc(func(indexes []int64) ([]tlog.Hash, error) {
		out, err := (hashReader{x, known}).ReadHashes(indexes)
		for i := range out {
			used[indexes[i]] = out[i]
		}
		return out, err
	}))
	return edge{size: e.size + 1, root: root, hashes: used, signed: e.signed}, err
}
