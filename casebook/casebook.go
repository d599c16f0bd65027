package casebook

import (
	"context"
	"encoding/hex"
	"errors"
	"io"
	"strings"
	"sync"
	"time"

	"golang.org/x/mod/sumdb/tlog"
)

// Options are what the casebook can't know by itself.
type Options struct {
	// Rand gives the identifier of a new casebook; nil: Open makes none and
	// answers ErrEmpty.
	Rand io.Reader
	// ReadOnly opens for reading and proving only, also a casebook that was
	// rolled back.
	ReadOnly bool
	// Network tells whether a folder lies on a network file system; nil asks the
	// operating system.
	Network func(dir string) bool

	id     string
	memory bool // keep it in memory, and nowhere else
}

// Casebook is an open casebook. It may be used by several goroutines.
type Casebook struct {
	s  store
	id string

	forgot bool // see Forgot

	mu   sync.Mutex
	edge edge // of the newest tree this process has written or verified
	seal struct {
		signed string // the newest checkpoint
		of     *seal  // verified under it
	}
}

// edge is the right edge of the tree: what the next append needs of it.
type edge struct {
	size   int64
	root   tlog.Hash
	hashes map[int64]tlog.Hash
	signed time.Time // of the newest statement
}

// Open opens a casebook, and makes it on first use: dsn is a file, or an address
// that begins with postgres:// or postgresql://. It verifies the newest
// checkpoint against the stored tree; a casebook that is damaged or older than a
// checkpoint it once acknowledged is not opened for writing.
func Open(ctx context.Context, dsn string, o Options) (*Casebook, error) {
	if o.Rand != nil && !o.ReadOnly {
		var b [16]byte
		if _, err := io.ReadFull(o.Rand, b[:]); err != nil {
			return nil, errors.New("the source of randomness failed")
		}
		o.id = hex.EncodeToString(b[:])
	}
	open := openSQLite
	switch {
	case o.memory:
		open = openMemory
	case dsn == "" || strings.ContainsRune(dsn, 0):
		return nil, ErrAddress
	case IsServer(dsn):
		open = openPostgres
	case IsAddress(dsn):
		return nil, ErrAddress
	}
	s, err := open(ctx, dsn, o)
	if err != nil {
		return nil, err
	}
	c := &Casebook{s: s}
	if err := c.inspect(ctx, o.ReadOnly); err != nil {
		_ = s.close()
		return nil, err
	}
	return c, nil
}

// ID is the random identifier given at creation.
func (c *Casebook) ID() string { return c.id }

// Forgot reports that a filled casebook lay there without the newest checkpoint
// that is remembered beside it: whether its end was cut off can't be told. A server
// remembers none.
func (c *Casebook) Forgot() bool { return c.forgot }

// Close closes the casebook.
func (c *Casebook) Close() error { return c.s.close() }

// inspect reads the identifier and verifies the end of the log.
//
// The acknowledged checkpoint is read before the log: another process may sign
// in between, and its statements must not seem to be missing.
func (c *Casebook) inspect(ctx context.Context, readOnly bool) error {
	acknowledged := c.s.guarded()
	return c.s.read(ctx, func(x tx) error {
		found, err := x.one("SELECT value FROM about WHERE name = 'casebook'", nil, &c.id)
		if err != nil {
			return err
		}
		if !found || len(c.id) != 32 || !isHex(c.id) {
			return ErrDamaged
		}
		if err := c.recall(x, acknowledged); err != nil || readOnly {
			return err
		}
		e, err := c.loadEdge(x)
		if err != nil {
			return err
		}
		c.edge = e
		return c.againstTip(x, e, acknowledged)
	})
}

// recall notes whether a filled casebook lacks its remembered checkpoint.
func (c *Casebook) recall(x tx, acknowledged string) error {
	if _, file := c.s.(*sqliteStore); !file {
		return nil
	}
	if tip, err := ParseCheckpoint(acknowledged); err == nil && tip.Casebook == c.id {
		return nil
	}
	var leaves int64
	_, err := x.one("SELECT COUNT(*) FROM leaf", nil, &leaves)
	c.forgot = leaves > 0
	return err
}

// againstTip compares the log with the newest checkpoint that was acknowledged.
func (c *Casebook) againstTip(x tx, e edge, acknowledged string) error {
	tip, err := ParseCheckpoint(acknowledged)
	if err != nil || tip.Casebook != c.id {
		return nil
	}
	if tip.Size > e.size {
		return ErrRolledBack
	}
	root, err := tlog.TreeHash(tip.Size, hashReader{x, nil})
	if err != nil {
		return err
	}
	if root != tip.Root {
		return ErrForked
	}
	return nil
}

// loadEdge reads the newest checkpoint and the tree's right edge and compares
// them with each other and with the newest statement.
func (c *Casebook) loadEdge(x tx) (edge, error) {
	size, signed, err := newestCheckpoint(x)
	if err != nil {
		return edge{}, err
	}
	var leaves int64
	if _, err := x.one("SELECT COALESCE(MAX(idx), -1) + 1 FROM leaf", nil, &leaves); err != nil {
		return edge{}, err
	}
	if leaves != size {
		return edge{}, ErrDamaged
	}
	if size == 0 {
		return edge{hashes: map[int64]tlog.Hash{}}, nil
	}
	keys, err := loadKeys(x)
	if err != nil {
		return edge{}, err
	}
	known, err := newRegister(keys)
	if err != nil {
		return edge{}, ErrDamaged
	}
	cp, err := openCheckpoint(signed, known)
	if err != nil || cp.Casebook != c.id || cp.Size != size {
		return edge{}, ErrDamaged
	}
	seen := map[int64]tlog.Hash{}
	root, err := tlog.TreeHash(size, hashReader{x, seen})
	if err != nil {
		return edge{}, err
	}
	var statement, signature []byte
	if _, err := x.one("SELECT statement, signature FROM leaf WHERE idx = ?", []any{size - 1}, &statement, &signature); err != nil {
		return edge{}, err
	}
	last, err := (hashReader{x, nil}).ReadHashes([]int64{tlog.StoredHashIndex(0, size-1)})
	if err != nil {
		return edge{}, err
	}
	st, err := ParseStatement(statement)
	if err != nil || root != cp.Root || last[0] != LeafHash(statement, signature) {
		return edge{}, ErrDamaged
	}
	return edge{size, root, seen, st.At()}, nil
}

func newestCheckpoint(x tx) (size int64, signed string, err error) {
	_, err = x.one("SELECT size, note FROM checkpoint ORDER BY size DESC LIMIT 1", nil, &size, &signed)
	return size, signed, err
}

// Checkpoint is the newest signed checkpoint: what to print, send and keep.
func (c *Casebook) Checkpoint(ctx context.Context) (string, error) {
	var signed string
	err := c.s.read(ctx, func(x tx) error {
		size, text, err := newestCheckpoint(x)
		if err == nil && size == 0 {
			err = ErrEmpty
		}
		signed = text
		return err
	})
	return signed, err
}

// hashReader reads stored hashes, first from what is known.
type hashReader struct {
	x    tx
	seen map[int64]tlog.Hash // filled as it reads; may be nil
}

func (r hashReader) ReadHashes(indexes []int64) ([]tlog.Hash, error) {
	out := make([]tlog.Hash, len(indexes))
	for i, at := range indexes {
		if h, ok := r.seen[at]; ok {
			out[i] = h
			continue
		}
		if r.x.t == nil {
			return nil, ErrDamaged
		}
		var b []byte
		found, err := r.x.one("SELECT hash FROM hash WHERE idx = ?", []any{at}, &b)
		if err != nil {
			return nil, err
		}
		if !found || len(b) != tlog.HashSize {
			return nil, ErrDamaged
		}
		copy(out[i][:], b)
		if r.seen != nil {
			r.seen[at] = out[i]
		}
	}
	return out, nil
}
