package casebook

import (
	"errors"
	"maps"
	"slices"

	"golang.org/x/mod/sumdb/tlog"
)

// standing is what one pass over the log makes of a case.
type standing struct {
	id        string
	row       caseRow
	last      string // leaf hash of its newest statement
	entry     string // leaf hash of the statement whose entry is in force
	followUps int
	followed  string // leaf hash of the newest follow-up
	fault     *Fault // the first
}

// surveyor goes through the log in order. What is wrong with one statement is laid
// to its case; what is wrong with the log ends the pass.
type surveyor struct {
	a      *auditor
	cases  map[string]*standing
	leaves []tlog.Hash
}

// survey verifies every statement but the words: digests, signature, key, chain,
// and that the leaves are those of the newest checkpoint.
func (c *Casebook) survey(x tx, s *seal) ([]*standing, error) {
	v := &surveyor{a: newAuditor(x, c.id), cases: map[string]*standing{}}
	size := s.tree.Size
	items, err := readItems(x, 0, min(auditChunk, size))
	for from := int64(0); err == nil && from < size; from += auditChunk {
		for _, i := range items {
			i.unread, i.checkpoint = true, "" // the newest checkpoint stands for all
		}
		wait := v.a.examine(items)
		var next []*item
		if to := from + auditChunk; to < size {
			next, err = readItems(x, to, min(to+auditChunk, size))
		}
		wait()
		if err == nil {
			err = v.piece(from, items)
		}
		items = next
	}
	if err != nil {
		return nil, err
	}
	if err := v.tree(x, s); err != nil {
		return nil, err
	}
	return slices.SortedFunc(maps.Values(v.cases), byEntry), nil
}

func (v *surveyor) piece(from int64, items []*item) error {
	for n, i := range items {
		if i.index != from+int64(n) {
			return wholeFault(Deleted, from+int64(n), "the log once held a statement here")
		}
		v.leaves = append(v.leaves, i.leaf)
		if i.st != nil && i.st.Case == "" {
			v.a.alone(i, func(kind FaultKind, what string) { v.a.report.fault(Fault{kind, i.index, "", what}) })
			v.a.keyAct(i)
			if !v.a.report.Clean() {
				return v.a.report.Faults[0]
			}
			continue
		}
		if i.caseID == "" {
			return wholeFault(BadStatement, i.index, "the key register was edited")
		}
		v.take(i)
	}
	return nil
}

// of finds a case by one of its chains.
func (v *surveyor) of(chain string) *standing {
	id := caseOf(chain)
	s := v.cases[id]
	if s == nil {
		s = &standing{id: id}
		v.cases[id] = s
	}
	return s
}

func (v *surveyor) take(i *item) {
	fault := func(chain string) func(FaultKind, string) {
		s := v.of(chain)
		return func(kind FaultKind, what string) {
			if s.fault == nil {
				s.fault = &Fault{kind, i.index, s.id, what}
			}
		}
	}
	st := i.st
	if st == nil {
		fault(i.caseID)(BadStatement, "the statement was edited: it cannot be read")
		return
	}
	say := fault(st.chain())
	if i.caseID != st.chain() {
		fault(i.caseID)(WrongIndex, "the columns beside the statement differ from it")
	}
	v.a.alone(i, say)
	s := v.of(st.chain())
	if st.ofFollowUps() {
		switch {
		case st.Revision != s.followUps+1 || st.Previous != s.followed:
			say(BrokenChain, "it does not continue the preceding follow-up of the case")
		case st.Of != s.entry || st.EntrySHA256 != s.row.EntryHash || s.row.State == StateWithdrawn:
			say(BrokenChain, "the follow-up was signed on another entry of the case")
		}
		s.followUps, s.followed = st.Revision, i.leaf.String()
		return
	}
	if f, refused := s.row.refuses(st); refused {
		say(f.Kind, f.What)
	}
	switch {
	case st.Revision != s.row.Revision+1 || st.Previous != s.last:
		say(BrokenChain, "it does not continue the preceding revision of the case")
	case !st.CarriesEntry() && st.EntrySHA256 != s.row.EntryHash:
		say(EditedEntry, "the statement was signed on another entry of the case")
	}
	row, err := i.row, i.rowErr
	if st.Revision > 1 {
		row, err = s.row.after(st)
	}
	if err != nil {
		say(BadStatement, "the entry cannot be read")
	}
	s.row, s.last = row, i.leaf.String()
	if st.CarriesEntry() {
		s.entry = s.last
	}
}

// tree holds the leaves to the newest checkpoint. Where they differ, a case whose
// statement is not the one that the log holds is refused; the others stand by the
// stored hashes, which the checkpoint proves.
func (v *surveyor) tree(x tx, s *seal) error {
	if rootOf(v.leaves) == s.tree.Root {
		return nil
	}
	stored := hashReader{x, nil}
	for at, leaf := range v.leaves {
		h, err := stored.ReadHashes([]int64{tlog.StoredHashIndex(0, int64(at))})
		if err != nil && !errors.Is(err, ErrDamaged) {
			return err
		}
		if err == nil && h[0] == leaf {
			continue
		}
		var chain string
		if _, err := x.one("SELECT case_id FROM leaf WHERE idx = ?", []any{int64(at)}, &chain); err != nil {
			return err
		}
		if chain == "" {
			return wholeFault(NotInLog, int64(at), "it is not the statement that was put into the log here")
		}
		if c := v.of(chain); c.fault == nil {
			c.fault = &Fault{NotInLog, int64(at), c.id, "it is not the statement that was put into the log here"}
		}
		if err == nil {
			v.leaves[at] = h[0]
		}
	}
	if rootOf(v.leaves) != s.tree.Root {
		return wholeFault(WrongHash, -1, "the stored hashes are not those of the newest checkpoint")
	}
	return nil
}

// rootOf is the root of a tree from its leaves (RFC 6962 section 2.1).
func rootOf(leaves []tlog.Hash) tlog.Hash {
	if len(leaves) == 1 {
		return leaves[0]
	}
	half := 1
	for 2*half < len(leaves) {
		half *= 2
	}
	return tlog.NodeHash(rootOf(leaves[:half]), rootOf(leaves[half:]))
}
