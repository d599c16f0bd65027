package month

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
)

// Digest is a SHA-256, written in hex.
type Digest [sha256.Size]byte

// String is the digest in hex.
func (d Digest) String() string { return hex.EncodeToString(d[:]) }

// MarshalText writes the digest in hex.
func (d Digest) MarshalText() ([]byte, error) { return []byte(d.String()), nil }

// UnmarshalText reads a digest in hex.
func (d *Digest) UnmarshalText(text []byte) error {
	if len(text) != 2*len(d) {
		return errors.New("month: not a SHA-256 in hex")
	}
	_, err := hex.Decode(d[:], text)
	return err
}

// digester takes cells in and gives their digest. A cell is followed by a byte
// that no cell holds.
type digester struct{ buf []byte }

func (d *digester) cell(text string) {
	d.buf = append(d.buf, text...)
	d.buf = append(d.buf, 0)
}

func (d *digester) sum() Digest {
	out := sha256.Sum256(d.buf)
	d.buf = d.buf[:0]
	return out
}
