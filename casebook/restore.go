package casebook

import (
	"bufio"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"io"
	"io/fs"
	"os"

	"filippo.io/age"
	"github.com/jackc/pgx/v5/pgconn"
	"golang.org/x/mod/sumdb/tlog"
	"modernc.org/sqlite"
)

// RestoreOptions say how to restore.
type RestoreOptions struct {
	Options
	// AcceptOlder restores although the place once held more than the backup.
	AcceptOlder bool
	// Older are checkpoints that the backup must continue.
	Older []string
}

// Restore makes a casebook from a backup at an empty place, verifies it whole and
// gives the report. A file casebook is built beside its place under another name
// and moved there only when everything holds. A backup with a fault is not put in
// place: the report names the fault and the error is ErrBackup.
func Restore(ctx context.Context, r io.Reader, u Unlock, dsn string, o RestoreOptions) (Report, error) {
	if IsServer(dsn) {
		return restoreInto(ctx, r, u, dsn, o)
	}
	if _, err := os.Lstat(dsn); err == nil {
		return Report{}, ErrNotEmpty
	}
	t := openTip(dsn+".tip", true)
	if tip := t.read(); tip != "" && !o.AcceptOlder {
		o.Older = append(o.Older[:len(o.Older):len(o.Older)], tip)
	}
	t.close()
	scratch := dsn + ".restoring"
	if err := removeCasebook(scratch); err != nil {
		return Report{}, err
	}
	report, err := restoreInto(ctx, r, u, scratch, o)
	if err != nil {
		return report, errors.Join(err, removeCasebook(scratch))
	}
	if pending, err := os.Stat(scratch + "-wal"); err == nil && pending.Size() > 0 {
		return report, ErrDisk // closing should have emptied it
	}
	for _, end := range []string{"", ".tip"} {
		if err := os.Rename(scratch+end, dsn+end); err != nil && !errors.Is(err, fs.ErrNotExist) {
			return report, fileFault(err)
		}
	}
	return report, removeCasebook(scratch)
}

// VerifyBackup restores a backup into memory and checks it whole. Nothing of it
// touches a disk, so nothing is left when the program is killed. It needs about as
// much memory as the casebook is large.
func VerifyBackup(ctx context.Context, r io.Reader, u Unlock, o RestoreOptions) (Report, error) {
	o.Options.memory = true
	return restoreInto(ctx, r, u, "memory", o)
}

// removeCasebook removes a scratch casebook with its companions.
func removeCasebook(path string) error {
	for _, end := range []string{"", "-wal", "-shm", "-journal", ".tip"} {
		if err := os.Remove(path + end); err != nil && !errors.Is(err, fs.ErrNotExist) {
			return fileFault(err)
		}
	}
	return nil
}

func restoreInto(ctx context.Context, r io.Reader, u Unlock, dsn string, o RestoreOptions) (report Report, err error) {
	in, err := openBackup(r, u)
	if err != nil {
		return Report{}, err
	}
	head, err := in.next()
	if err != nil || head.Head == nil || head.Head.Format != backupFormat || len(head.Head.Casebook) != 32 || !isHex(head.Head.Casebook) {
		return Report{}, ErrBackup
	}
	o.Options.ReadOnly, o.Options.id, o.Options.Rand = false, head.Head.Casebook, nil
	c, err := Open(ctx, dsn, o.Options)
	if err != nil {
		return Report{}, err
	}
	defer func() {
		if closed := c.Close(); err == nil {
			err = closed
		}
	}()
	// Everything is verified before it is committed: a faulty backup leaves the
	// place as empty as it was.
	err = c.s.write(ctx, func(x tx) error {
		var n int64
		if _, err := x.one("SELECT COUNT(*) FROM leaf", nil, &n); err != nil {
			return err
		}
		if n > 0 {
			return ErrNotEmpty
		}
		if c.id != head.Head.Casebook { // an empty casebook takes the restored identifier
			if err := x.exec("UPDATE about SET value = ? WHERE name = 'casebook'", head.Head.Casebook); err != nil {
				return err
			}
			c.id = head.Head.Casebook
		}
		if err := c.replay(x, in); err != nil {
			return err
		}
		report, err = c.check(x, func(int64, int64) {}, o.Older)
		if err == nil && !report.Clean() {
			err = ErrBackup
		}
		return err
	})
	if err == nil && report.Checkpoint != "" {
		c.s.guard(report.Checkpoint)
	}
	return report, err
}

// replay stores the statements of a backup as they are; the check that follows
// judges them.
func (c *Casebook) replay(x tx, in *backupReader) error {
	e := edge{hashes: map[int64]tlog.Hash{}}
	var products int64
	sent := &pen{x: x}
	last := ""
	for {
		sum := in.digest()
		l, err := in.next()
		if err != nil {
			return err
		}
		switch {
		case l.Leaf != nil:
			if e, err = c.replayLeaf(x, e, *l.Leaf); err != nil {
				return err
			}
			last = l.Leaf.Checkpoint
		case l.Product != nil:
			products++ // an older backup; what a program once wrote proves nothing
		case l.Dispatch != nil: // the check that follows folds them
			if err := sent.store(l.Dispatch.Kind, l.Dispatch.Body); err != nil {
				return ErrBackup
			}
		case l.Tail != nil:
			if l.Tail.Dispatches != sent.seq || l.Tail.Statements != e.size || l.Tail.Products != products || l.Tail.Checkpoint != last || l.Tail.SHA256 != sum {
				return ErrBackup
			}
			return in.end()
		default:
			return ErrBackup
		}
	}
}

func (c *Casebook) replayLeaf(x tx, e edge, l backupLeaf) (edge, error) {
	s, err := ParseStatement(l.Statement)
	if err != nil || s.Sequence != e.size {
		return e, ErrBackup
	}
	p := position{}
	if s.Case != "" {
		if _, err := loadCase(x, s.Case, &p.file); err != nil {
			return e, err
		}
	}
	if err := x.exec(insertLeaf, s.Sequence, s.chain(), s.Revision, string(s.Kind), s.Signer.Key, s.Signed, l.Statement, l.Signature); err != nil {
		if known(err) { // the backup holds one revision twice
			err = ErrBackup
		}
		return e, err
	}
	next, err := e.grow(tx{}, LeafHash(l.Statement, l.Signature), func(at int64, h tlog.Hash) error { return x.exec(insertHash, at, h[:]) })
	if err != nil {
		return e, err
	}
	if err := x.exec(insertCheckpoint, next.size, l.Checkpoint); err != nil {
		return e, err
	}
	if s.DocumentSHA256 != "" {
		if digest(l.Document) != s.DocumentSHA256 || !soundDocument(l.Document) {
			return e, ErrBackup
		}
		if err := storeDocument(x, l.Document); err != nil {
			return e, err
		}
	}
	_, err = record(x, s, p.file)
	return next, err
}

// known reports whether the database refused a row because its key is there
// already.
func known(err error) bool {
	var p *pgconn.PgError
	var s *sqlite.Error
	return errors.As(err, &p) && p.Code == uniqueViolation || errors.As(err, &s) && s.Code()&0xff == sqliteKnown
}

// backupReader reads the lines of an opened backup.
type backupReader struct {
	r   *bufio.Reader
	sum interface {
		io.Writer
		Sum([]byte) []byte
	}
}

func openBackup(r io.Reader, u Unlock) (*backupReader, error) {
	id, err := u.identity()
	if err != nil {
		return nil, err
	}
	opened, err := age.Decrypt(r, id)
	if err != nil {
		var wrong *age.NoIdentityMatchError
		if errors.As(err, &wrong) {
			return nil, ErrPassphrase
		}
		return nil, ErrBackup
	}
	return &backupReader{bufio.NewReaderSize(opened, 1<<16), sha256.New()}, nil
}

// next reads a line; a line longer than any statement is refused before it fills
// the memory.
func (b *backupReader) next() (backupLine, error) {
	var line []byte
	for {
		part, err := b.r.ReadSlice('\n')
		line = append(line, part...)
		if err == nil {
			break
		}
		if !errors.Is(err, bufio.ErrBufferFull) || len(line) > 2*maxStatement {
			return backupLine{}, ErrBackup
		}
	}
	_, _ = b.sum.Write(line)
	var l backupLine
	if json.Unmarshal(line, &l) != nil {
		return backupLine{}, ErrBackup
	}
	return l, nil
}

func (b *backupReader) digest() string { return hex.EncodeToString(b.sum.Sum(nil)) }

// end demands that nothing follows and that the encryption's own end is there.
func (b *backupReader) end() error {
	if _, err := b.r.ReadByte(); err != io.EOF {
		return ErrBackup
	}
	return nil
}
