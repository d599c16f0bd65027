package registry

import (
	"crypto/hmac"
	"crypto/sha256"
	"encoding/base32"
	"encoding/binary"
	"strings"

	"golang.org/x/text/unicode/norm"
)

// minKey is the least length of the site's key in bytes: the output of the
// hash, as RFC 2104 section 3 advises.
const minKey = 32

// keyLength is the length of a pseudonym without its first letter: 26 letters
// of base32 are 130 bits.
const keyLength = 26

// What each hash is for. The words are part of the message, so a person key can
// never equal a row key or the name of the site's key.
const (
	forPerson = "graftnote row person 1"
	forRow    = "graftnote row operation 1"
	forEpoch  = "graftnote row key name 1"
)

// Pseudonym is HMAC-SHA-256 (RFC 2104, RFC 4231) of the parts under the site's
// key, in lower-case base32 (RFC 4648) cut to 130 bits. The parts are trimmed,
// brought to Unicode NFC and written with their lengths, so that no two lists of
// parts give the same message. purpose keeps the uses of one key apart.
//
// The result is a pseudonym: who holds the key can link it to the person. It
// carries nothing by itself, and without the key a dictionary of all record
// numbers does not help. It is not a code in the sense of 45 CFR 164.514(c),
// because it is derived from the person's number.
func Pseudonym(key []byte, purpose string, parts ...string) string {
	var message []byte
	for _, p := range append([]string{purpose}, parts...) {
		p = norm.NFC.String(strings.TrimSpace(p))
		message = binary.BigEndian.AppendUint64(message, uint64(len(p)))
		message = append(message, p...)
	}
	text := base32.StdEncoding.WithPadding(base32.NoPadding).EncodeToString(keyedHash(key, message))
	return strings.ToLower(text[:keyLength])
}

// keyedHash is HMAC-SHA-256.
func keyedHash(key, message []byte) []byte {
	mac := hmac.New(sha256.New, key)
	mac.Write(message)
	return mac.Sum(nil)
}

// PersonKey is the pseudonym of a person: the same for all rows of one record
// number under one key. It begins with p.
func PersonKey(key []byte, patientID string) string {
	return "p" + Pseudonym(key, forPerson, patientID)
}

// RowKey is the pseudonym of one operation on one eye. It rests on the random
// case identifier alone, so it lasts for life: a corrected record number or eye
// changes the row's content, not its key. It begins with r.
func RowKey(key []byte, caseID string) string {
	return "r" + Pseudonym(key, forRow, caseID)
}

// Epoch names the site's key without revealing it: rows under two keys carry
// unlike pseudonyms, and the name tells which key made them. It stands in the
// schema of a delivery, not in the row, where it would mark the site. It is the
// first 40 bits of a keyed hash.
func Epoch(key []byte) string {
	if len(key) < minKey {
		return ""
	}
	return "k" + Pseudonym(key, forEpoch)[:8]
}

func keyPattern(how string) string {
	first := map[string]string{"row-key": "r", "person-key": "p"}[how]
	return first + "[a-z2-7]{26}"
}

func (m *maker) personKey() string { return PersonKey(m.key, m.e.Patient.ID.Value()) }

func (m *maker) rowKey() string {
	return RowKey(m.key, m.e.Case.Value())
}
