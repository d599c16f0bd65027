package casebook

import (
	"bufio"
	"bytes"
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"encoding/json"
	"hash"
	"io"

	"filippo.io/age"
)

// backupFormat is the first line of an opened backup.
const backupFormat = "graftnote casebook backup 1"

// Lock closes a backup; Unlock opens it. Give a passphrase or an age recipient
// ("age1...") and identity ("AGE-SECRET-KEY-1..."), not both.
type Lock struct {
	Passphrase []byte
	Recipient  string
}

// Unlock is the other half of Lock.
type Unlock struct {
	Passphrase []byte
	Identity   string
}

func (l Lock) recipient() (age.Recipient, error) {
	if l.Recipient == "" {
		return passphraseRecipient(l.Passphrase)
	}
	all, err := age.ParseRecipients(bytes.NewReader([]byte(l.Recipient)))
	if err != nil || len(all) != 1 || len(l.Passphrase) > 0 {
		return nil, ErrKey
	}
	return all[0], nil
}

func (u Unlock) identity() (age.Identity, error) {
	if u.Identity == "" {
		return passphraseIdentity(u.Passphrase)
	}
	all, err := age.ParseIdentities(bytes.NewReader([]byte(u.Identity)))
	if err != nil || len(all) != 1 || len(u.Passphrase) > 0 {
		return nil, ErrPassphrase
	}
	return all[0], nil
}

// The lines of a backup: a head, one line per statement in the order of the log,
// one per recorded product, one per record of what was sent, and a tail with the counts and the digest of all
// bytes before it. What lists and proofs need besides is worked out again.
type (
	backupHead struct {
		Format   string `json:"format"`
		Casebook string `json:"casebook"`
	}
	backupLeaf struct {
		Statement  []byte `json:"s"`
		Signature  []byte `json:"g"`
		Checkpoint string `json:"c"`
		Document   []byte `json:"d,omitempty"`
	}
	// backupProduct was written once; nothing is restored of it.
	backupProduct struct {
		Case     string `json:"case"`
		Revision int    `json:"revision"`
		Kind     string `json:"kind"`
		SHA256   string `json:"sha256"`
	}
	backupDispatch struct {
		Kind string `json:"kind"`
		Body []byte `json:"body"`
	}
	backupTail struct {
		Statements int64  `json:"statements"`
		Products   int64  `json:"products"`
		Dispatches int64  `json:"dispatches,omitempty"`
		Checkpoint string `json:"checkpoint"`
		SHA256     string `json:"sha256"`
	}
	backupLine struct {
		Head    *backupHead    `json:"head,omitempty"`
		Leaf    *backupLeaf    `json:"leaf,omitempty"`
		Product *backupProduct `json:"product,omitempty"`

		Dispatch *backupDispatch `json:"dispatch,omitempty"`
		Tail     *backupTail     `json:"tail,omitempty"`
	}
)

type backupWriter struct {
	w   *bufio.Writer
	sum hash.Hash
}

func (b backupWriter) line(l backupLine) error {
	text, err := json.Marshal(l)
	if err != nil {
		return err
	}
	text = append(text, '\n')
	b.sum.Write(text)
	_, err = b.w.Write(text)
	return err
}

// leaves writes statements, each with the document that it binds.
func (b backupWriter) leaves(x tx, piece []backupLeaf) error {
	for _, l := range piece {
		if sum := documentOf(l.Statement); sum != "" {
			packed, err := loadPacked(x, sum)
			if err != nil {
				return err
			}
			whole := false
			if l.Document, whole = unpack(packed, sum); !whole {
				return ErrDamaged
			}
		}
		if err := b.line(backupLine{Leaf: &l}); err != nil {
			return err
		}
	}
	return nil
}

// Backup writes the whole casebook as one age-encrypted stream: nothing readable
// touches the disk. It is a view of one moment; signing may go on meanwhile. The
// checkpoint given back is the one to keep with the backup.
func (c *Casebook) Backup(ctx context.Context, w io.Writer, lock Lock) (checkpoint string, err error) {
	r, err := lock.recipient()
	if err != nil {
		return "", err
	}
	sealed, err := age.Encrypt(w, r)
	if err != nil {
		return "", err
	}
	out := backupWriter{bufio.NewWriterSize(sealed, 1<<16), sha256.New()}
	err = c.s.read(ctx, func(x tx) error {
		checkpoint, err = c.writeBackup(x, out)
		return err
	})
	if err == nil {
		err = out.w.Flush()
	}
	if err != nil {
		return "", err
	}
	return checkpoint, sealed.Close()
}

func (c *Casebook) writeBackup(x tx, out backupWriter) (checkpoint string, err error) {
	if err := out.line(backupLine{Head: &backupHead{backupFormat, c.id}}); err != nil {
		return "", err
	}
	tail := backupTail{}
	for {
		n := 0
		var piece []backupLeaf
		err := x.each("SELECT l.statement, l.signature, c.note FROM leaf l JOIN checkpoint c ON c.size = l.idx + 1 WHERE l.idx >= ? AND l.idx < ? ORDER BY l.idx",
			[]any{tail.Statements, tail.Statements + auditChunk}, func(rows *sql.Rows) error {
				var l backupLeaf
				if err := rows.Scan(&l.Statement, &l.Signature, &l.Checkpoint); err != nil {
					return err
				}
				n++
				tail.Checkpoint = l.Checkpoint
				piece = append(piece, l)
				return nil
			})
		if err == nil {
			err = out.leaves(x, piece)
		}
		if err != nil {
			return "", err
		}
		tail.Statements += int64(n)
		if n < auditChunk {
			break
		}
	}
	size, _, err := newestCheckpoint(x)
	if err != nil {
		return "", err
	}
	if size != tail.Statements {
		return "", ErrDamaged
	}
	err = x.each("SELECT kind, body FROM dispatch ORDER BY seq", nil, func(rows *sql.Rows) error {
		var d backupDispatch
		if err := rows.Scan(&d.Kind, &d.Body); err != nil {
			return err
		}
		tail.Dispatches++
		return out.line(backupLine{Dispatch: &d})
	})
	if err != nil {
		return "", err
	}
	tail.SHA256 = hex.EncodeToString(out.sum.Sum(nil))
	return tail.Checkpoint, out.line(backupLine{Tail: &tail})
}
