package casebook

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"strconv"
	"time"

	"github.com/gowebpki/jcs"
	"golang.org/x/mod/sumdb/tlog"
)

// Format is the first thing a signature covers: which kind of text this is. From
// the second on, whoever signs an entry signs the words that were shown as well.
const Format = "graftnote statement 2"

// formatEntryOnly is read for good: its signatures cover the entry, no words.
const formatEntryOnly = formatAnyKey

// Kind is the act that a statement records.
type Kind string

// The acts.
const (
	Signed        Kind = "signed"
	CounterSigned Kind = "counter-signed"
	Corrected     Kind = "corrected"
	Addendum      Kind = "addendum"
	Withdrawn     Kind = "withdrawn"
	KeyAdded      Kind = "key-added"
	KeyVouched    Kind = "key-vouched"
	KeyRevoked    Kind = "key-revoked"
	FollowUp      Kind = "follow-up"
	FollowUpVoid  Kind = "follow-up-withdrawn"
)

// Statement is what a signature covers. In JSON every value is a text, a list or
// an object: no number can be rounded and no zero dropped.
//
// Sequence is the statement's place in the log, counted from 0, and decides the
// order; times are claims. Revision counts the statements of one case from 1.
// Previous is the leaf hash of the case's preceding statement: no statement can
// be moved to another case, or repeated. Key acts have the case "" and chain
// among themselves; the follow-ups of a case do so too, beside the statements about
// its note, and each names the statement whose entry it followed.
type Statement struct {
	Format   string `json:"format"`
	Kind     Kind   `json:"kind"`
	Casebook string `json:"casebook"`
	Sequence int64  `json:"sequence,string"`
	Case     string `json:"case"`
	Revision int    `json:"revision,string"`
	Previous string `json:"previous"` // base64, "" for the first

	Entry       json.RawMessage `json:"entry,omitempty"` // RFC 8785, with signed and corrected
	EntrySHA256 string          `json:"entry-sha256"`    // hex; of the entry in force, "" for keys

	// DocumentSHA256 is the digest (hex) of the note in the words that the signer
	// was shown; with signed and corrected. "" in a statement of the first format.
	DocumentSHA256 string `json:"document-sha256,omitempty"`

	Signer  Signer `json:"signer"`
	Signed  string `json:"signed"` // RFC 3339 with offset
	Zone    string `json:"zone"`   // IANA name
	Meaning string `json:"meaning"`

	ClockBefore string `json:"clock-before,omitempty"` // time of the preceding statement when the clock went back
	Event       string `json:"event,omitempty"`        // when it happened, RFC 3339
	Written     string `json:"written,omitempty"`      // when the entry was begun
	Why         string `json:"why,omitempty"`
	Text        string `json:"text,omitempty"` // of an addendum

	Responsible string            `json:"responsible,omitempty"` // key that is to counter-sign
	Confirmed   []string          `json:"confirmed,omitempty"`   // prefilled values, by path
	True        []string          `json:"true,omitempty"`        // states of the entry that the signer affirmed as true
	Answers     []Answer          `json:"answers,omitempty"`     // look-again findings
	Different   []string          `json:"different,omitempty"`   // earlier cases that look alike, said to be other operations
	SamePerson  string            `json:"same-person,omitempty"` // yes: a correction of the name or birth date is of the same person
	Changes     []Change          `json:"changes,omitempty"`     // of a correction
	Products    map[string]string `json:"products,omitempty"`    // kind to SHA-256, hex
	Subject     *Subject          `json:"subject,omitempty"`     // key that is added, vouched for or revoked
	Tool        string            `json:"tool,omitempty"`

	FollowUp       json.RawMessage `json:"follow-up,omitempty"`        // RFC 8785, with follow-up
	FollowUpSHA256 string          `json:"follow-up-sha256,omitempty"` // hex
	Of             string          `json:"of,omitempty"`               // leaf hash of the statement that carries the entry in force, base64
	Replaces       int             `json:"replaces,omitempty,string"`  // revision of the follow-up that is corrected or withdrawn
}

// Signer is the printed name and role beside a signature (21 CFR 11.50) and the
// identifier of the key.
type Signer struct {
	Name string `json:"name"`
	Role string `json:"role"`
	Key  string `json:"key"`
}

// Answer is the reason given to a look-again finding.
type Answer struct {
	Rule   string `json:"rule"`
	Path   string `json:"path"`
	Reason string `json:"reason"`
}

// Change is one field of a correction; Old or New is "" when the field was or
// became silent.
type Change struct {
	Path string `json:"path"`
	Old  string `json:"old"`
	New  string `json:"new"`
}

// Subject is the key that a key-added, key-vouched or key-revoked statement is
// about.
type Subject struct {
	Key     string `json:"key"`               // verifier key text when added, else the identifier
	Name    string `json:"name,omitempty"`    // printed name
	Role    string `json:"role,omitempty"`    // see Roles
	Since   string `json:"since,omitempty"`   // revoked: not to be trusted from this time on
	Founder string `json:"founder,omitempty"` // "yes": registers itself beside the first founder, for the reason in Why
}

// Encode is the statement as RFC 8785 canonical JSON: the signed bytes. The entry
// is canonical already and stands in it as it is.
func (s *Statement) Encode() ([]byte, error) {
	bare := *s
	bare.Entry = nil
	b, err := json.Marshal(&bare)
	if err != nil {
		return nil, ErrText
	}
	if b, err = jcs.Transform(b); err != nil || s.Entry == nil {
		return b, err
	}
	// Sorted, "entry" stands right before "entry-sha256". No text can hold these
	// bytes: its quotation marks are escaped.
	at := bytes.Index(b, []byte(`"entry-sha256":`))
	out := make([]byte, 0, len(b)+len(s.Entry)+len(`"entry":,`))
	out = append(append(out, b[:at]...), `"entry":`...)
	return append(append(append(out, s.Entry...), ','), b[at:]...), nil
}

// At is the time of signing as claimed.
func (s *Statement) At() time.Time {
	t, err := time.Parse(time.RFC3339, s.Signed)
	if err != nil {
		return time.Time{}
	}
	return t
}

// Delay is the time from the event to the signature; ok is false when the event
// has no recorded time.
func (s *Statement) Delay() (d time.Duration, ok bool) {
	t, err := time.Parse(time.RFC3339, s.Event)
	if err != nil {
		return 0, false
	}
	return s.At().Sub(t), true
}

// CarriesEntry reports whether the statement puts an entry in force.
func (s *Statement) CarriesEntry() bool { return s.Kind == Signed || s.Kind == Corrected }

// leaf is the record of the log: the statement and its signature.
func leaf(statement, signature []byte) []byte {
	out := make([]byte, 0, len(statement)+len(signature))
	return append(append(out, statement...), signature...)
}

// LeafHash is the RFC 6962 leaf hash of a signed statement.
func LeafHash(statement, signature []byte) tlog.Hash {
	return tlog.RecordHash(leaf(statement, signature))
}

func digest(b []byte) string {
	h := sha256.Sum256(b)
	return hex.EncodeToString(h[:])
}

func itoa(n int64) string { return strconv.FormatInt(n, 10) }
