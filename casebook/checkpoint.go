package casebook

import (
	"encoding/base64"
	"errors"
	"strconv"
	"strings"

	"golang.org/x/mod/sumdb/note"
	"golang.org/x/mod/sumdb/tlog"
)

// checkpointLine is our own first line, so that no stranger's tool takes our
// checkpoint for the head of another log.
const checkpointLine = "graftnote casebook checkpoint"

var errCheckpoint = errors.New("the checkpoint is malformed")

// Checkpoint is the state of a casebook after some statement.
type Checkpoint struct {
	Casebook string
	Size     int64 // number of statements
	Root     tlog.Hash
	Key      string // identifier of the key that signed it
}

// text is the signed text.
func (c Checkpoint) text() string {
	return checkpointLine + "\n" + c.Casebook + "\n" + itoa(c.Size) + "\n" + c.Root.String() + "\n"
}

// seal signs the checkpoint in the form of golang.org/x/mod/sumdb/note.
func (c Checkpoint) seal(k *Key) (string, error) {
	s, err := k.noteSigner()
	if err != nil {
		return "", err
	}
	b, err := note.Sign(&note.Note{Text: c.text()}, s)
	if err != nil {
		return "", ErrKey
	}
	return string(b), nil
}

// ParseCheckpoint reads a signed checkpoint without verifying its signature. It
// accepts only the one form that is written: text, blank line, one signature.
func ParseCheckpoint(signed string) (Checkpoint, error) {
	lines := strings.Split(signed, "\n")
	if len(signed) > 1024 || len(lines) != 7 || lines[0] != checkpointLine || lines[4] != "" || lines[6] != "" {
		return Checkpoint{}, errCheckpoint
	}
	c := Checkpoint{Casebook: lines[1]}
	var err error
	if c.Size, err = strconv.ParseInt(lines[2], 10, 64); err != nil || c.Size < 1 || itoa(c.Size) != lines[2] {
		return Checkpoint{}, errCheckpoint
	}
	if c.Root, err = tlog.ParseHash(lines[3]); err != nil || c.Root.String() != lines[3] {
		return Checkpoint{}, errCheckpoint
	}
	if len(c.Casebook) != 32 || !isHex(c.Casebook) {
		return Checkpoint{}, errCheckpoint
	}
	// The note package reads the signature line; an unknown key still tells its name.
	_, err = note.Open([]byte(signed), note.VerifierList())
	var unverified *note.UnverifiedNoteError
	if !errors.As(err, &unverified) || len(unverified.Note.UnverifiedSigs) != 1 {
		return Checkpoint{}, errCheckpoint
	}
	sig := unverified.Note.UnverifiedSigs[0]
	if _, err := base64.StdEncoding.Strict().DecodeString(sig.Base64); err != nil {
		return Checkpoint{}, errCheckpoint
	}
	c.Key = sig.Name + "+" + hash32(sig.Hash)
	return c, nil
}

func hash32(h uint32) string {
	s := strconv.FormatUint(uint64(h), 16)
	return strings.Repeat("0", 8-len(s)) + s
}

// openCheckpoint reads a checkpoint and verifies its signature.
func openCheckpoint(signed string, keys register) (Checkpoint, error) {
	c, err := ParseCheckpoint(signed)
	if err != nil {
		return c, Fault{BadCheckpoint, -1, "", "the checkpoint is malformed"}
	}
	k, ok := keys[c.Key]
	if !ok {
		return c, Fault{UnknownKey, -1, "", "the checkpoint is signed under an unknown key"}
	}
	if _, err := note.Open([]byte(signed), note.VerifierList(k.verifier)); err != nil {
		return c, Fault{BadCheckpoint, -1, "", "the checkpoint's signature does not match"}
	}
	return c, nil
}
