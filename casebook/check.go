package casebook

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"slices"

	"golang.org/x/mod/sumdb/tlog"
)

// maxFaults is how many faults are listed; the rest is counted.
const maxFaults = 1000

// Report is what a check of the whole casebook found.
type Report struct {
	Casebook   string
	Statements int64
	Cases      int64
	FollowUps  int64 // statements about follow-ups
	Packages   int64 // recorded as sent to a registry
	Keys       int
	Checkpoint string // the newest, "" when empty
	Faults     []Fault
	More       int      // faults beyond those listed
	Remarks    []string // nothing wrong, but worth knowing
}

// Clean reports that everything holds.
func (r Report) Clean() bool { return len(r.Faults) == 0 }

func (r *Report) fault(f Fault) {
	if len(r.Faults) >= maxFaults {
		r.More++
		return
	}
	r.Faults = append(r.Faults, f)
}

// Check verifies every digest, signature, checkpoint and stored hash, every chain
// of revisions and every list entry, and that the log continues each of the older
// checkpoints given. It works through the log in pieces, in memory that does not
// grow with it. It repairs nothing. The error tells that the check could not be
// done; what is wrong with the casebook stands in the report.
func (c *Casebook) Check(ctx context.Context, progress func(done, total int64), older ...string) (Report, error) {
	if progress == nil {
		progress = func(int64, int64) {}
	}
	var r Report
	older = append(slices.Clone(older), c.s.guarded()) // before the log is read: see inspect
	err := c.s.read(ctx, func(x tx) error {
		var err error
		r, err = c.check(x, progress, older)
		return err
	})
	if c.forgot {
		r.Remarks = append(r.Remarks, "no checkpoint is remembered beside the casebook (its file .tip is missing or of another one): only a checkpoint kept elsewhere tells whether its end was cut off")
	}
	return r, err
}

func (c *Casebook) check(x tx, progress func(done, total int64), older []string) (Report, error) {
	a := newAuditor(x, c.id)
	if x.s.sound != "" {
		var verdict string
		if _, err := x.one(x.s.sound, nil, &verdict); err != nil {
			return a.report, err
		}
		if verdict != "ok" {
			a.report.fault(Fault{DamagedStorage, -1, "", "the database's own check finds its file damaged"})
		}
	}
	for _, o := range older {
		if o != "" {
			a.expect(o)
		}
	}
	var leaves, newest, cases int64
	for query, into := range map[string]*int64{
		"SELECT COALESCE(MAX(idx), -1) + 1 FROM leaf":   &leaves,
		"SELECT COALESCE(MAX(size), 0) FROM checkpoint": &newest,
		"SELECT COUNT(*) FROM casefile":                 &cases,
	} {
		if _, err := x.one(query, nil, into); err != nil {
			return a.report, err
		}
	}
	total := max(leaves, newest)
	if err := a.walk(total, progress); err != nil {
		return a.report, err
	}
	a.finish(total, cases)
	if err := a.lists(x); err != nil {
		return a.report, err
	}
	return a.report, a.sent(x)
}

// sent folds the record of packages and answers again.
func (a *auditor) sent(x tx) error {
	l, seq, _, err := loadLedger(x, nil)
	a.report.Packages = int64(len(l.order))
	if errors.Is(err, ErrDamaged) {
		a.report.fault(Fault{WrongLedger, -1, "", "record " + itoa(seq) + " does not continue what was sent before it"})
		return nil
	}
	return err
}

// piece is a part of the log as read.
type piece struct {
	from, to int64
	items    []*item
	hashes   map[int64]tlog.Hash
}

func (a *auditor) readPiece(from, total int64) (p piece, err error) {
	p = piece{from: from, to: min(from+auditChunk, total)}
	if p.from >= p.to {
		return p, a.x.ctx.Err()
	}
	if p.items, err = readItems(a.x, p.from, p.to); err != nil {
		return p, err
	}
	for _, i := range p.items {
		if sum := documentOf(i.statement); sum != "" && err == nil {
			i.packed, err = loadPacked(a.x, sum)
		}
	}
	if err != nil {
		return p, err
	}
	p.hashes, err = readHashes(a.x, tlog.StoredHashIndex(0, p.from), tlog.StoredHashIndex(0, p.to))
	return p, err
}

// walk verifies the log piece by piece and reads the next one meanwhile.
func (a *auditor) walk(total int64, progress func(done, total int64)) error {
	p, err := a.readPiece(0, total)
	for err == nil && p.from < p.to {
		wait := a.examine(p.items)
		var next piece
		next, err = a.readPiece(p.to, total)
		wait()
		if err != nil {
			return err
		}
		if err = a.judge(p.from, p.to, p.items, p.hashes); err != nil {
			return err
		}
		progress(p.to, total)
		p = next
	}
	return err
}

const itemQuery = `SELECT l.idx, l.case_id, l.revision, l.kind, l.key_id, l.signed, l.statement, l.signature, COALESCE(c.note, ''),
COALESCE(f.case_id, ''), COALESCE(f.revision, 0), COALESCE(f.last_idx, -1), COALESCE(f.entry_idx, -1), COALESCE(f.entry_sha256, ''),
COALESCE(f.state, ''), COALESCE(f.amended, 0), COALESCE(f.date, ''), COALESCE(f.eye, ''), COALESCE(f.separation, ''),
COALESCE(f.events, ''), COALESCE(f.signer, ''), COALESCE(f.key_id, ''), COALESCE(f.signed, '')
FROM leaf l LEFT JOIN checkpoint c ON c.size = l.idx + 1 LEFT JOIN casefile f ON f.case_id = l.case_id
WHERE l.idx >= ? AND l.idx < ? ORDER BY l.idx`

func readItems(x tx, from, to int64) ([]*item, error) {
	var out []*item
	err := x.each(itemQuery, []any{from, to}, func(rows *sql.Rows) error {
		var i item
		var amended int64
		f := &i.file
		err := rows.Scan(&i.index, &i.caseID, &i.revision, &i.kind, &i.key, &i.signed, &i.statement, &i.signature, &i.checkpoint,
			&f.Case, &f.Revision, &f.LastIndex, &f.EntryIndex, &f.EntryHash, &f.State, &amended, &f.Date, &f.Eye, &f.Separation,
			&f.Events, &f.Signer, &f.Key, &f.Signed)
		f.Amended = amended != 0
		out = append(out, &i)
		return err
	})
	return out, err
}

func readHashes(x tx, from, to int64) (map[int64]tlog.Hash, error) {
	out := make(map[int64]tlog.Hash, to-from)
	err := x.each("SELECT idx, hash FROM hash WHERE idx >= ? AND idx < ?", []any{from, to}, func(rows *sql.Rows) error {
		var at int64
		var b sql.RawBytes
		if err := rows.Scan(&at, &b); err != nil {
			return err
		}
		if len(b) == tlog.HashSize {
			out[at] = tlog.Hash(b)
		}
		return nil
	})
	return out, err
}

// lists compares the tables that serve searching with what was counted.
func (a *auditor) lists(x tx) error {
	var events, matched, keys int64
	for query, into := range map[string]*int64{
		"SELECT COUNT(*) FROM case_event": &events,
		"SELECT COUNT(*) FROM case_event e JOIN casefile c ON c.case_id = e.case_id AND c.date = e.date WHERE (',' || c.events || ',') LIKE ('%,' || e.kind || ',%')": &matched,
		"SELECT COUNT(*) FROM pubkey": &keys,
	} {
		if _, err := x.one(query, nil, into); err != nil {
			return err
		}
	}
	if events != a.events || matched != events {
		a.report.fault(Fault{WrongIndex, -1, "", "the list of events does not match the signed notes"})
	}
	stored, err := loadKeys(x)
	if err != nil {
		return err
	}
	if len(stored) != len(a.keys) {
		a.report.fault(Fault{WrongIndex, -1, "", "the key register does not match the log"})
	}
	for _, k := range stored {
		if known, ok := a.keys[k.ID]; !ok || known.stored() != k {
			a.report.fault(Fault{WrongIndex, -1, "", "key " + k.ID + " stands otherwise in the register than in the log"})
		}
	}
	return nil
}

func (a *auditor) remark(format string, args ...any) {
	if len(a.report.Remarks) < maxFaults {
		a.report.Remarks = append(a.report.Remarks, fmt.Sprintf(format, args...))
	}
}
