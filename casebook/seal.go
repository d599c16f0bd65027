package casebook

import (
	"database/sql"
	"errors"
	"sync"

	"golang.org/x/mod/sumdb/tlog"
)

// seal is what every verified read stands on: the keys as the log registered them
// and the newest checkpoint, signed under one of them.
type seal struct {
	keys *auditor
	tree Checkpoint
	mu   sync.Mutex
	// cases are what a pass over the whole log made of it; nil before the first.
	cases []*standing
	// strays are the chains that a statement was moved away from or into. Their
	// wholeness can't be shown.
	strays map[string]Fault
	looked bool  // for strays
	ruled  int64 // the first statement of a newer form, the tree's size when there is none
}

// errWhole marks a fault that concerns every case.
func wholeFault(kind FaultKind, index int64, what string) error { return Fault{kind, index, "", what} }

// sealed reads and verifies the keys and the newest checkpoint. It is done once
// for a state of the log. The error is a Fault when the log as a whole fails.
func (c *Casebook) sealed(x tx) (*seal, error) {
	size, signed, err := newestCheckpoint(x)
	if err != nil {
		return nil, err
	}
	if c.seal.signed == signed && c.seal.of != nil {
		return c.seal.of, nil
	}
	var count, top int64
	if _, err := x.one("SELECT COUNT(*), COALESCE(MAX(idx), -1) + 1 FROM leaf", nil, &count, &top); err != nil {
		return nil, err
	}
	if count != size || top != size {
		return nil, wholeFault(Deleted, -1, "the log holds "+itoa(count)+" of "+itoa(max(size, top))+" statements")
	}
	s := &seal{}
	if size > 0 {
		if s, err = c.verifySeal(x, size, signed); err != nil {
			return nil, err
		}
	}
	c.seal.signed, c.seal.of = signed, s
	return s, nil
}

func (c *Casebook) verifySeal(x tx, size int64, signed string) (*seal, error) {
	s := &seal{keys: newAuditor(x, c.id)}
	items, err := readChain(x, "")
	if err != nil {
		return nil, err
	}
	s.keys.examine(items)()
	for _, i := range items {
		if i.st == nil || i.st.Case != "" {
			return nil, wholeFault(BadStatement, i.index, "the key register was edited")
		}
		s.keys.alone(i, func(kind FaultKind, what string) { s.keys.report.fault(Fault{kind, i.index, "", what}) })
		s.keys.keyAct(i)
	}
	if !s.keys.report.Clean() {
		return nil, s.keys.report.Faults[0]
	}
	if s.tree, err = openCheckpoint(signed, s.keys.keys); err != nil {
		return nil, err
	}
	if s.tree.Casebook != c.id || s.tree.Size != size {
		return nil, wholeFault(BadCheckpoint, size-1, "the newest checkpoint is another one's")
	}
	hashes := hashReader{x, map[int64]tlog.Hash{}}
	root, err := tlog.TreeHash(size, hashes)
	if err != nil && !errors.Is(err, ErrDamaged) {
		return nil, err
	}
	if err != nil || root != s.tree.Root {
		return nil, wholeFault(WrongHash, -1, "the stored hashes are not those of the newest checkpoint")
	}
	for _, i := range items {
		if err := s.includes(x, i); err != nil {
			return nil, err
		}
	}
	return s, nil
}

// includes proves that a statement stands in the log of the newest checkpoint.
func (s *seal) includes(x tx, i *item) error {
	not := Fault{NotInLog, i.index, i.caseID, "it is not the statement that was put into the log here"}
	proof, err := tlog.ProveRecord(s.tree.Size, i.index, hashReader{x, map[int64]tlog.Hash{}})
	switch {
	case errors.Is(err, ErrDamaged):
		return not
	case err != nil:
		return err
	case tlog.CheckRecord(proof, s.tree.Size, s.tree.Root, i.index, i.leaf) != nil:
		return not
	}
	return nil
}

// look finds the statements that stand in the columns under another case than
// they were signed for: one moved away would hide a correction or a withdrawal. It
// is one pass inside the database, done once.
func (s *seal) look(x tx) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.looked {
		return nil
	}
	strays := map[string]Fault{}
	err := x.each("SELECT idx, case_id, statement FROM leaf WHERE "+x.s.stray, []any{followUpEnd, followUpEnd}, func(rows *sql.Rows) error {
		var at int64
		var chain string
		var statement []byte
		if err := rows.Scan(&at, &chain, &statement); err != nil {
			return err
		}
		strays[chain] = Fault{WrongIndex, at, caseOf(chain), "the columns beside the statement differ from it"}
		if st, err := readStatement(statement); err == nil {
			strays[st.chain()] = Fault{BrokenChain, at, st.Case, "the statement was moved away from its case"}
		}
		return nil
	})
	if err != nil {
		return err
	}
	if f, all := strays[""]; all {
		return f
	}
	s.strays, s.ruled = strays, s.tree.Size
	if _, err := x.one("SELECT idx FROM leaf WHERE "+x.s.newer+" ORDER BY idx LIMIT 1", nil, &s.ruled); err != nil {
		return err
	}
	s.looked = true
	return nil
}

// readChain reads the statements of one chain as they are stored.
func readChain(x tx, chain string) ([]*item, error) {
	var out []*item
	err := x.each("SELECT l.idx, l.case_id, l.revision, l.kind, l.key_id, l.signed, l.statement, l.signature, COALESCE(c.note, '') FROM leaf l LEFT JOIN checkpoint c ON c.size = l.idx + 1 WHERE l.case_id = ? ORDER BY l.revision",
		[]any{chain}, func(rows *sql.Rows) error {
			var i item
			out = append(out, &i)
			return rows.Scan(&i.index, &i.caseID, &i.revision, &i.kind, &i.key, &i.signed, &i.statement, &i.signature, &i.checkpoint)
		})
	return out, err
}
