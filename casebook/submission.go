package casebook

import (
	"cmp"
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"encoding/json"
	"errors"
	"maps"
	"slices"
	"strings"
	"time"
)

// maxName bounds what a row key stands for, in bytes; maxFinding the words of a
// registry about one row.
const (
	maxName    = 256
	maxFinding = 500
	maxCells   = 2000
)

// word accepts what may be a code, an identifier or a key: it can't hide anything.
func word(s string) bool {
	return len(s) > 0 && len(s) <= 128 && strings.IndexFunc(s, func(r rune) bool {
		return !(r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' || strings.ContainsRune("-._/", r))
	}) < 0
}

func hexSum(s string) bool { return len(s) == 64 && isHex(s) }

func moment(s string) bool {
	_, err := time.Parse(time.RFC3339, s)
	return err == nil
}

func (h submissionHead) sound() bool {
	for column, step := range h.Steps {
		if !word(column) || step < 0 {
			return false
		}
	}
	return word(h.Package) && word(h.Month) && word(h.Mode) && (h.Receiver == "" || word(h.Receiver)) && hexSum(h.Manifest) &&
		readable(h.Checkpoint) && moment(h.At) && len(h.By) <= maxName && readable(h.By)
}

func (r SentRow) sound() bool {
	action := r.Action == RowNew || r.Action == RowCorrected || r.Action == RowWithdrawn
	// A withdrawn row has no cells, so it may have no digest.
	sum := hexSum(r.Digest) || r.Digest == "" && r.Action == RowWithdrawn
	return action && sum && word(r.Kind) && word(r.Key) && (r.Operation == "" || word(r.Operation)) && (r.Raw == "" || hexSum(r.Raw)) &&
		r.Revision > 0 && r.Replaces >= 0 && r.Replaces < r.Revision && (r.Reason == "" || word(r.Reason)) && r.Dictionary >= 0 &&
		(r.Epoch == "" || word(r.Epoch)) && (r.Case == "" && r.Action == RowWithdrawn || word(r.Case)) && r.Note >= 0 && len(r.Cells) <= maxCells && readable(r.Cells)
}

func (h answerHead) sound() bool {
	return (h.Answer.Final() || h.Answer == AnswerPending) && hexSum(h.File) && moment(h.At) && len(h.By) <= maxName && readable(h.By)
}

func (r RowResult) sound() bool {
	return word(r.Kind) && word(r.Key) && len(r.Finding) <= maxFinding && readable(r.Finding)
}

// sumOf is the SHA-256 of a list as JSON, line by line.
func sumOf[T any](list []T) string {
	h := sha256.New()
	enc := json.NewEncoder(h)
	for _, x := range list {
		_ = enc.Encode(x) // structs of texts and numbers can always be written
	}
	return hex.EncodeToString(h.Sum(nil))
}

// dispatchVersion is the layout of the tables that brought the record.
const dispatchVersion = 2

// linkOf chains a record to the one before it.
func linkOf(before, kind string, body []byte) string {
	h := sha256.New()
	h.Write([]byte(before + "\n" + kind + "\n"))
	h.Write(body)
	return hex.EncodeToString(h.Sum(nil))
}

// loadLedger folds all records; the error names what does not fit. each may be
// nil.
func loadLedger(x tx, each func(kind string, body []byte) error) (l *ledger, seq int64, link string, err error) {
	l = newLedger()
	var layout int
	if _, err := x.one("SELECT COALESCE(MAX(version), 0) FROM schema_version", nil, &layout); err != nil || layout < dispatchVersion {
		return l, 0, "", err // opened for reading only, and older than the record
	}
	err = x.each("SELECT seq, kind, body, link FROM dispatch ORDER BY seq", nil, func(rows *sql.Rows) error {
		var at int64
		var kind, have string
		var body []byte
		if err := rows.Scan(&at, &kind, &body, &have); err != nil {
			return err
		}
		if at != seq || have != linkOf(link, kind, body) {
			return ErrDamaged
		}
		seq, link = seq+1, have
		if err := l.take(kind, body); err != nil {
			return ErrDamaged
		}
		if each != nil {
			return each(kind, body)
		}
		return nil
	})
	if err == nil && l.missing > 0 {
		err = ErrDamaged
	}
	return l, seq, link, err
}

// pen writes records behind those that stand.
type pen struct {
	x    tx
	l    *ledger
	seq  int64
	link string
}

func newPen(x tx) (*pen, error) {
	l, seq, link, err := loadLedger(x, nil)
	return &pen{x, l, seq, link}, err
}

func (p *pen) write(kind string, content any) error {
	body, err := json.Marshal(content)
	if err != nil {
		return ErrText
	}
	if err := p.l.take(kind, body); err != nil {
		return err
	}
	return p.store(kind, body)
}

func (p *pen) store(kind string, body []byte) error {
	p.link = linkOf(p.link, kind, body)
	err := p.x.exec("INSERT INTO dispatch (seq, kind, body, link) VALUES (?, ?, ?, ?)", p.seq, kind, body, p.link)
	p.seq++
	return err
}

func writePieces[T any](p *pen, kind string, list []T) error {
	for piece := range slices.Chunk(list, recordPiece) {
		if err := p.write(kind, piece); err != nil {
			return err
		}
	}
	return nil
}

// RecordSubmission remembers a package that goes to a registry, once: the same
// package again changes nothing, another one under its identifier is refused. A
// row must go on from the version that the registry has accepted. It does not
// count as sent before RecordReceipt has read the registry's answer.
func (c *Casebook) RecordSubmission(ctx context.Context, s Submission) error {
	return c.dispatch(ctx, func(p *pen) error {
		h := submissionHead{Submission: s, Count: len(s.Rows), Sum: sumOf(s.Rows)}
		if was, known := p.l.packages[s.Package]; known {
			if was.head.same(h) {
				return nil
			}
			return ErrPackage
		}
		cases := map[string]bool{}
		for _, r := range s.Rows {
			if r.Case == "" || cases[r.Case] {
				continue
			}
			cases[r.Case] = true
			if found, err := loadCase(p.x, r.Case, &caseRow{}); err != nil {
				return err
			} else if !found {
				return ErrNoCase
			}
		}
		if err := p.write(recordSubmission, h); err != nil {
			return err
		}
		return writePieces(p, recordRows, s.Rows)
	})
}

// same compares all but who recorded it and when.
func (h submissionHead) same(o submissionHead) bool {
	return h.Month == o.Month && h.Mode == o.Mode && h.Receiver == o.Receiver && h.Manifest == o.Manifest && h.Checkpoint == o.Checkpoint &&
		h.Sum == o.Sum && maps.Equal(h.Steps, o.Steps)
}

// RecordReceipt remembers the registry's answer to a package: one result for each
// row. A final answer stands; the same one again changes nothing.
func (c *Casebook) RecordReceipt(ctx context.Context, r RegistryAnswer) error {
	type row struct{ kind, key string }
	answered := map[row]bool{}
	for _, x := range r.Rows {
		if at := (row{x.Kind, x.Key}); answered[at] {
			return ErrPackage
		} else {
			answered[at] = true
		}
	}
	return c.dispatch(ctx, func(p *pen) error {
		h := answerHead{RegistryAnswer: r, Count: len(r.Rows), Sum: sumOf(r.Rows)}
		was := p.l.packages[r.Package]
		if was != nil && was.answer.Answer == r.Answer && was.answer.Sum == h.Sum && was.answer.File == r.File {
			return nil
		}
		if err := p.write(recordAnswer, h); err != nil {
			return err
		}
		return writePieces(p, recordResults, r.Rows)
	})
}

// RecordRowKeys remembers random row keys. Those known already may be given
// again; another key for the same name, or a key twice, is refused.
func (c *Casebook) RecordRowKeys(ctx context.Context, keys []RowKey) error {
	return c.dispatch(ctx, func(p *pen) error {
		scratch := &ledger{keys: maps.Clone(p.l.keys), names: maps.Clone(p.l.names)}
		fresh, err := scratch.draw(keys)
		if err != nil {
			return err
		}
		return writePieces(p, recordKeys, fresh)
	})
}

func (c *Casebook) dispatch(ctx context.Context, f func(*pen) error) error {
	err := c.s.write(ctx, func(x tx) error {
		p, err := newPen(x)
		if err != nil {
			return err
		}
		return f(p)
	})
	var broken commitError
	if errors.As(err, &broken) {
		return ErrOutcomeUnknown
	}
	return err
}

// RowKeys are all random row keys that were recorded.
func (c *Casebook) RowKeys(ctx context.Context) ([]RowKey, error) {
	l, err := c.ledger(ctx)
	if err != nil {
		return nil, err
	}
	return l.rowKeys(), nil
}

func (l *ledger) rowKeys() []RowKey {
	out := make([]RowKey, 0, len(l.keys))
	for name, key := range l.keys {
		out = append(out, RowKey{name.kind, name.key, key})
	}
	slices.SortFunc(out, func(a, b RowKey) int { return cmp.Or(strings.Compare(a.Kind, b.Kind), strings.Compare(a.Name, b.Name)) })
	return out
}

// Memory is what the casebook remembers of packages, read at one moment.
type Memory struct {
	Packages []PackageState // as Packages gives them
	Sent     []SubmittedRow // as Sent gives them
	RowKeys  []RowKey       // as RowKeys gives them
}

// Memory gives all of it at once; it is read once, not three times.
func (c *Casebook) Memory(ctx context.Context) (Memory, error) {
	l, err := c.ledger(ctx)
	if err != nil {
		return Memory{}, err
	}
	return Memory{l.states(), l.sent(), l.rowKeys()}, nil
}

func (c *Casebook) ledger(ctx context.Context) (l *ledger, err error) {
	err = c.s.read(ctx, func(x tx) error {
		l, _, _, err = loadLedger(x, nil)
		return err
	})
	return l, err
}
