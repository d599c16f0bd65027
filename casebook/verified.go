package casebook

import (
	"context"
	"errors"

	"golang.org/x/mod/sumdb/tlog"
)

// This file is the one way to what was signed of a case. What it gives was
// verified: each statement's signature, the digests of entry and words, the chain
// of the acts, the place in the log under the newest checkpoint, and that the key
// was registered and in force. What fails is refused with a Fault that names the
// case. Lists and the check of the whole casebook read what is stored as it is.

// Get is the whole history of a case, the withdrawn ones too, verified. The error
// is ErrNoCase, or a Fault that says what does not hold.
func (c *Casebook) Get(ctx context.Context, caseID string) (History, error) {
	if caseID == "" || isFollowUps(caseID) {
		return History{Case: caseID}, ErrNoCase
	}
	var h History
	err := c.verify(ctx, func(x tx, s *seal) error {
		var err error
		h, err = c.history(x, s, caseID)
		return err
	})
	if err != nil {
		return History{Case: caseID}, err
	}
	return h, nil
}

// Proofs are the proofs of all revisions of a case, for a reader who has no
// casebook; each was verified.
func (c *Casebook) Proofs(ctx context.Context, caseID string) ([]Proof, error) {
	h, err := c.Get(ctx, caseID)
	return h.proofs, err
}

// FollowUps are the follow-ups of a case in the order of their recording, the
// withdrawn ones too, and the number of statements behind them: the Base of the
// next act. They are verified as Get does.
func (c *Casebook) FollowUps(ctx context.Context, caseID string) (list []FollowUpOf, base int, err error) {
	if caseID == "" || isFollowUps(caseID) {
		return nil, 0, ErrNoCase
	}
	err = c.verify(ctx, func(x tx, s *seal) error {
		if err := s.look(x); err != nil {
			return err
		}
		chain, err := c.followUpChain(x, s, caseID)
		list, base = followUpsOf(chain), len(chain)
		return err
	})
	if err != nil {
		return nil, 0, err
	}
	return list, base, nil
}

// verify runs a read over one unchanging view with its seal.
func (c *Casebook) verify(ctx context.Context, f func(tx, *seal) error) error {
	return c.s.read(ctx, func(x tx) error {
		c.mu.Lock()
		s, err := c.sealed(x)
		c.mu.Unlock()
		if err != nil {
			return err
		}
		return f(x, s)
	})
}

// history verifies a case whole, with the statements moved away from it.
func (c *Casebook) history(x tx, s *seal, caseID string) (History, error) {
	if err := s.look(x); err != nil {
		return History{}, err
	}
	if f, moved := s.strays[caseID]; moved {
		return History{}, f
	}
	h, err := c.historyOf(x, s, caseID)
	if err != nil {
		return History{}, err
	}
	for _, r := range h.Revisions {
		if st := r.Statement; st.Format == formatEntryOnly && st.Sequence > s.ruled {
			return History{}, Fault{NotAllowed, st.Sequence, caseID, "an older form of statement stands after a newer one"}
		}
	}
	return h, nil
}

// historyOf verifies the statements that stand under a case.
func (c *Casebook) historyOf(x tx, s *seal, caseID string) (History, error) {
	items, err := readChain(x, caseID)
	if err != nil {
		return History{}, err
	}
	if len(items) == 0 {
		return History{}, ErrNoCase
	}
	proofs, err := s.prove(x, items)
	if err != nil {
		return History{}, err
	}
	h, err := Replay(proofs)
	if err != nil {
		return History{}, err
	}
	h.proofs = proofs
	var row caseRow
	for _, r := range h.Revisions {
		if f, ok := row.refuses(r.Statement); ok {
			return History{}, f
		}
		if row, err = row.after(r.Statement); err != nil {
			return History{}, ErrDamaged
		}
	}
	return h, nil
}

// stands verifies a case inside a writing transaction, before anything is signed
// on it.
func (c *Casebook) stands(x tx, caseID string) (History, error) {
	s, err := c.sealed(x)
	if err != nil {
		return History{}, err
	}
	return c.historyOf(x, s, caseID)
}

// refuses says why an act may not follow what stood before.
func (r caseRow) refuses(s *Statement) (Fault, bool) {
	switch {
	case r.State == StateWithdrawn:
		return Fault{NotAllowed, s.Sequence, s.Case, "the case was withdrawn before"}, true
	case s.Kind == CounterSigned && r.State != StateAwaiting:
		return Fault{NotAllowed, s.Sequence, s.Case, "no counter-signature was awaited"}, true
	}
	return Fault{}, false
}

// prove makes the proof of each statement of a chain and verifies it as a reader
// without the casebook would, and by the keys and the newest checkpoint besides.
func (s *seal) prove(x tx, items []*item) ([]Proof, error) {
	var keys []PublicKey
	for _, k := range s.keys.keys {
		keys = append(keys, k.PublicKey)
	}
	out := make([]Proof, 0, len(items))
	for _, i := range items {
		p, err := i.proof(x, s.keys.keys)
		if err != nil {
			return nil, err
		}
		w, err := VerifyProof(p, Trust{Keys: keys})
		if err != nil {
			var f Fault
			if errors.As(err, &f) {
				f.Case, f.Index = caseOf(i.caseID), i.index
				return nil, f
			}
			return nil, err
		}
		st := w.Statement
		fault := func(kind FaultKind, what string) error { return Fault{kind, i.index, caseOf(i.caseID), what} }
		switch {
		case st.Casebook != s.tree.Casebook:
			return nil, fault(OtherCasebook, "the statement was signed in another casebook")
		case st.chain() != i.caseID:
			return nil, fault(BrokenChain, "the statement belongs to another case")
		case !allowed(st, s.keys.keys[st.Signer.Key]):
			return nil, fault(NotAllowed, "the signer's role does not allow this act")
		}
		i.leaf = LeafHash(i.statement, i.signature)
		if err := s.includes(x, i); err != nil {
			return nil, err
		}
		out = append(out, p)
	}
	return out, nil
}

// proof puts together what is stored of a statement. What is missing is left for
// the verification to name.
func (i *item) proof(x tx, keys register) (Proof, error) {
	p := Proof{Statement: i.statement, Signature: i.signature, Index: i.index, Checkpoint: i.checkpoint}
	hashes, err := tlog.ProveRecord(i.index+1, i.index, hashReader{x, map[int64]tlog.Hash{}})
	if err != nil && !errors.Is(err, ErrDamaged) {
		return Proof{}, err
	}
	p.Inclusion = append([]tlog.Hash{}, hashes...)
	st, err := readStatement(i.statement)
	if err != nil {
		return p, nil
	}
	if k, known := keys[st.Signer.Key]; known {
		p.Keys = []PublicKey{{ID: k.ID, Name: k.Name, Role: k.Role, Key: k.Key}}
	}
	p.Document, err = loadDocument(x, st)
	return p, err
}

// followUpChain verifies the follow-ups of a case, each against the entry that it
// was signed on.
func (c *Casebook) followUpChain(x tx, s *seal, caseID string) ([]Revision, error) {
	if f, moved := s.strays[caseID+followUpEnd]; moved {
		return nil, f
	}
	items, err := readChain(x, caseID+followUpEnd)
	if err != nil || len(items) == 0 {
		return nil, err
	}
	h, err := c.historyOf(x, s, caseID)
	if err != nil {
		return nil, err
	}
	proofs, err := s.prove(x, items)
	if err != nil {
		return nil, err
	}
	var out []Revision
	for _, p := range proofs {
		st, err := ParseStatement(p.Statement)
		if err != nil {
			return nil, ErrDamaged
		}
		previous := ""
		if len(out) > 0 {
			previous = out[len(out)-1].Leaf.String()
		}
		if st.Revision != len(out)+1 || st.Previous != previous {
			return nil, Fault{BrokenChain, p.Index, caseID, "it does not continue the preceding follow-up of the case"}
		}
		if !h.followed(st) {
			return nil, Fault{BrokenChain, p.Index, caseID, "the follow-up was signed on another entry of the case"}
		}
		out = append(out, Revision{Statement: st, Raw: p.Statement, Signature: p.Signature, Leaf: LeafHash(p.Statement, p.Signature), Checkpoint: p.Checkpoint})
	}
	return out, nil
}

// followed reports whether a follow-up was signed on the entry then in force.
func (h History) followed(st *Statement) bool {
	of, entry := "", ""
	for _, r := range h.Revisions {
		if r.Statement.Sequence > st.Sequence {
			break
		}
		if r.Statement.Kind == Withdrawn {
			return false
		}
		if r.Statement.CarriesEntry() {
			of, entry = r.Leaf.String(), r.Statement.EntrySHA256
		}
	}
	return of == st.Of && entry == st.EntrySHA256
}
