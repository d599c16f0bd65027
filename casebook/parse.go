package casebook

import (
	"bytes"
	"encoding/hex"
	"encoding/json"
	"errors"
	"time"
	"unicode/utf8"

	"github.com/gowebpki/jcs"
	"golang.org/x/mod/sumdb/tlog"

	"graftnote/schema"
)

// maxStatement is the largest statement read, in bytes: an entry file may have a
// megabyte, a correction holds both sides of each change.
const maxStatement = 4 * schema.MaxFile

// maxText is the longest free text of a statement, in bytes.
const maxText = 64 << 10

var errStatement = errors.New("the statement is malformed")

// ParseStatement reads the signed bytes. It accepts only what Encode writes: the
// same statement has one form, byte for byte.
func ParseStatement(b []byte) (*Statement, error) {
	s, err := readStatement(b)
	if err != nil {
		return nil, err
	}
	if s.Entry != nil {
		if canonical, err := jcs.Transform(s.Entry); err != nil || !bytes.Equal(canonical, s.Entry) {
			return nil, errStatement
		}
	}
	if again, err := s.Encode(); err != nil || !bytes.Equal(again, b) {
		return nil, errStatement
	}
	return s, nil
}

// readStatement reads without asking for the one form. It is enough where the
// signature over the exact bytes is verified besides, and several times faster.
func readStatement(b []byte) (*Statement, error) {
	if len(b) > maxStatement || !utf8.Valid(b) || !onlyTexts(b) {
		return nil, errStatement
	}
	dec := json.NewDecoder(bytes.NewReader(b))
	dec.DisallowUnknownFields()
	var s Statement
	if err := dec.Decode(&s); err != nil || dec.InputOffset() != int64(len(b)) || !s.sound() {
		return nil, errStatement
	}
	return &s, nil
}

// onlyTexts refuses white space, numbers, true, false and null outside of texts,
// and deep nesting, before any other reader sees the bytes.
func onlyTexts(b []byte) bool {
	depth, quoted := 0, false
	for i := 0; i < len(b); i++ {
		c := b[i]
		switch {
		case quoted && c == '\\':
			i++
		case c == '"':
			quoted = !quoted
		case quoted:
		case c == '{' || c == '[':
			if depth++; depth > 16 {
				return false
			}
		case c == '}' || c == ']':
			depth--
		case c == ',' || c == ':':
		default:
			return false
		}
	}
	return !quoted && depth == 0
}

// sound checks what does not depend on other statements.
func (s *Statement) sound() bool {
	if s.Format != Format && s.Format != formatEntryOnly || len(s.Casebook) != 32 || !isHex(s.Casebook) || s.Sequence < 0 || s.Revision < 1 {
		return false
	}
	if (s.Revision == 1) != (s.Previous == "") {
		return false
	}
	if s.Previous != "" {
		if h, err := tlog.ParseHash(s.Previous); err != nil || h.String() != s.Previous {
			return false
		}
	}
	if s.Signer.Name == "" || s.Signer.Role == "" || s.Signer.Key == "" || s.Meaning == "" || s.Zone == "" {
		return false
	}
	if _, err := time.Parse(time.RFC3339, s.Signed); err != nil {
		return false
	}
	for _, t := range []string{s.ClockBefore, s.Event, s.Written} {
		if _, err := time.Parse(time.RFC3339, t); t != "" && err != nil {
			return false
		}
	}
	for _, sum := range s.Products {
		if len(sum) != 64 || !isHex(sum) {
			return false
		}
	}
	return s.soundDocument() && s.soundKind()
}

// soundDocument: who signs an entry signs its words, since the second format.
func (s *Statement) soundDocument() bool {
	if !s.CarriesEntry() || s.Format == formatEntryOnly {
		return s.DocumentSHA256 == ""
	}
	return hexSum(s.DocumentSHA256)
}

func (s *Statement) soundKind() bool {
	if s.ofFollowUps() {
		return s.soundFollowUp()
	}
	if s.FollowUp != nil || s.FollowUpSHA256 != "" || s.Of != "" || s.Replaces != 0 {
		return false
	}
	ofCase := s.Case != "" && len(s.EntrySHA256) == 64 && isHex(s.EntrySHA256) && s.Subject == nil
	ofKey := s.Case == "" && s.EntrySHA256 == "" && s.Subject != nil && s.Subject.Key != ""
	entry := s.Entry != nil
	switch s.Kind {
	case Signed:
		return ofCase && entry && s.Revision == 1
	case Corrected:
		return ofCase && entry && s.Revision > 1 && s.Why != "" && len(s.Changes) > 0
	case CounterSigned:
		return ofCase && !entry && s.Revision > 1
	case Addendum:
		return ofCase && !entry && s.Revision > 1 && s.Text != ""
	case Withdrawn:
		return ofCase && !entry && s.Revision > 1 && s.Why != ""
	case KeyAdded:
		founder := s.Subject.Founder == "" || s.Subject.Founder == "yes" && s.Why != ""
		return ofKey && !entry && s.Subject.Name != "" && s.Subject.Role != "" && founder
	case KeyVouched:
		return ofKey && !entry && *s.Subject == Subject{Key: s.Subject.Key}
	case KeyRevoked:
		return ofKey && !entry && s.Why != ""
	}
	return false
}

func isHex(s string) bool {
	b, err := hex.DecodeString(s)
	return err == nil && hex.EncodeToString(b) == s
}

// readable reports whether a text can be shown as it is: UTF-8, nothing hidden,
// not too long. Lines may be broken.
func readable(s string) bool {
	if len(s) > maxText || !utf8.ValidString(s) {
		return false
	}
	for _, line := range bytes.Split([]byte(s), []byte("\n")) {
		if schema.Visible(string(line)) != string(line) {
			return false
		}
	}
	return true
}
