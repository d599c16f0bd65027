package casebook

import (
	"bytes"
	"crypto/ed25519"
	"encoding/json"
	"errors"

	"golang.org/x/mod/sumdb/tlog"
)

// maxProof is the largest proof read, in bytes.
const maxProof = 2*maxStatement + 2*maxDocument + 1<<20

// Proof shows that a statement was signed and stands in the log. It holds all
// that is needed to verify it without the casebook, but not the trust: the
// verifier brings the keys that he trusts.
//
// The checkpoint is the one signed right after the statement, so the proof of a
// statement never changes.
type Proof struct {
	Statement  []byte      `json:"statement"` // exact bytes, base64 in JSON
	Signature  []byte      `json:"signature"`
	Index      int64       `json:"index"`
	Checkpoint string      `json:"checkpoint"`
	Inclusion  []tlog.Hash `json:"inclusion"`
	Keys       []PublicKey `json:"keys"`               // the signer's; it signed the checkpoint too
	Document   []byte      `json:"document,omitempty"` // the words that the statement binds, base64 in JSON
}

// Encode is the proof as JSON.
func (p Proof) Encode() ([]byte, error) { return json.Marshal(p) }

var errProof = errors.New("the proof is malformed")

// ParseProof reads a proof. It accepts only what Encode writes, byte for byte,
// and verifies nothing.
func ParseProof(b []byte) (Proof, error) {
	var p Proof
	if len(b) > maxProof || json.Unmarshal(b, &p) != nil {
		return Proof{}, errProof
	}
	if p.Index < 0 || len(p.Inclusion) > 64 || len(p.Keys) != 1 {
		return Proof{}, errProof
	}
	if again, err := p.Encode(); err != nil || !bytes.Equal(again, b) {
		return Proof{}, errProof
	}
	return p, nil
}

// Trust is what the verifier brings: keys that he knows to be the surgeons', and
// checkpoints that he has kept. Without keys the verdict says only that the proof
// agrees with itself; see Verdict.KeyTrusted.
type Trust struct {
	Keys        []PublicKey
	Checkpoints []string
}

// Verdict says what holds.
type Verdict struct {
	Statement  *Statement // nil when it could not be read
	Checkpoint Checkpoint
	Signer     PublicKey
	Content    bool // the entry has the digest that was signed
	Words      bool // the document has the digest that was signed; false also when none was
	Signature  bool
	Inclusion  bool // the statement stands in the tree of the checkpoint
	Sealed     bool // the checkpoint's signature holds
	KeyTrusted bool // the signer's key is among the trusted ones and was in force
	Faults     []Fault
}

// Holds reports that nothing is wrong. A verdict reached without trusted keys can
// hold while KeyTrusted is false.
func (v Verdict) Holds() bool { return len(v.Faults) == 0 && v.Statement != nil }

// Err is the first fault, or nil.
func (v Verdict) Err() error {
	if len(v.Faults) == 0 {
		return nil
	}
	return v.Faults[0]
}

func (v *Verdict) fault(kind FaultKind, index int64, what string) {
	id := ""
	if v.Statement != nil {
		id = v.Statement.Case
	}
	v.Faults = append(v.Faults, Fault{kind, index, id, what})
}

// VerifyProof checks content, signature, inclusion and checkpoint of a proof, and
// the keys against those trusted. The error is the first fault.
func VerifyProof(p Proof, trust Trust) (Verdict, error) {
	var v Verdict
	st, err := ParseStatement(p.Statement)
	if err != nil {
		v.fault(BadStatement, p.Index, "the statement cannot be read")
		return v, v.Err()
	}
	v.Statement = st
	keys, err := newRegister(p.Keys)
	if err != nil {
		v.fault(UnknownKey, p.Index, "a key of the proof is malformed")
		return v, v.Err()
	}
	v.Content = st.content()
	if !v.Content {
		v.fault(EditedEntry, p.Index, "the entry does not have the digest that was signed")
	}
	v.Words = st.DocumentSHA256 != "" && digest(p.Document) == st.DocumentSHA256
	if !v.Words && (st.DocumentSHA256 != "" || p.Document != nil) {
		v.fault(EditedWords, p.Index, "the words of the note do not have the digest that was signed")
	}
	signer, known := keys[st.Signer.Key]
	if !known && st.Kind == KeyAdded && keyID(st.Subject.Key) == st.Signer.Key {
		if keys.add(PublicKey{ID: st.Signer.Key, Key: st.Subject.Key, Name: st.Subject.Name, Role: st.Subject.Role}) == nil {
			signer, known = keys[st.Signer.Key]
		}
	}
	if !known {
		v.fault(UnknownKey, p.Index, "the proof lacks the signer's key")
		return v, v.Err()
	}
	v.Signer = signer.PublicKey
	if bare := (PublicKey{ID: signer.ID, Name: signer.Name, Role: signer.Role, Key: signer.Key}); bare != signer.PublicKey {
		v.fault(UnknownKey, p.Index, "the proof says more of the key than it can prove")
	}
	v.Signature = ed25519.Verify(signer.key, p.Statement, p.Signature)
	if !v.Signature {
		v.fault(BadSignature, p.Index, "the signature does not belong to this statement")
	}
	if signer.Name != st.Signer.Name || signer.Role != st.Signer.Role {
		v.fault(WrongSigner, p.Index, "name or role differ from those of the key")
	}
	v.checkTree(p, st, keys)
	v.checkTrust(p, st, trust)
	return v, v.Err()
}

func (v *Verdict) checkTree(p Proof, st *Statement, keys register) {
	c, err := openCheckpoint(p.Checkpoint, keys)
	var f Fault
	if errors.As(err, &f) {
		v.fault(f.Kind, p.Index, f.What)
	}
	v.Checkpoint, v.Sealed = c, err == nil
	if v.Sealed && c.Key != st.Signer.Key {
		v.fault(WrongSigner, p.Index, "statement and checkpoint are signed under two keys")
	}
	if c.Size == 0 {
		return
	}
	if c.Casebook != st.Casebook {
		v.fault(OtherCasebook, p.Index, "statement and checkpoint belong to two casebooks")
	}
	if p.Index != st.Sequence {
		v.fault(Reordered, p.Index, "the statement was signed for another place in the log")
	}
	v.Inclusion = p.Index < c.Size && tlog.CheckRecord(p.Inclusion, c.Size, c.Root, p.Index, LeafHash(p.Statement, p.Signature)) == nil
	if !v.Inclusion {
		v.fault(NotInLog, p.Index, "the statement does not stand in the log of the checkpoint")
	}
}

func (v *Verdict) checkTrust(p Proof, st *Statement, trust Trust) {
	for _, old := range trust.Checkpoints {
		c, err := ParseCheckpoint(old)
		switch {
		case err != nil:
			v.fault(BadCheckpoint, -1, "a kept checkpoint is malformed")
		case c.Casebook != v.Checkpoint.Casebook:
			v.fault(OtherCasebook, -1, "a kept checkpoint belongs to another casebook")
		case c.Size == v.Checkpoint.Size && c.Root != v.Checkpoint.Root:
			v.fault(Forked, -1, "two checkpoints of the same size differ")
		}
	}
	if len(trust.Keys) == 0 {
		return
	}
	trusted, err := newRegister(trust.Keys)
	if err != nil {
		v.fault(UnknownKey, -1, "a trusted key is malformed")
		return
	}
	k, ok := trusted[st.Signer.Key]
	switch {
	case !ok:
		v.fault(UnknownKey, p.Index, "the signer's key is not among the trusted ones")
	case k.Name != st.Signer.Name || k.Role != st.Signer.Role:
		v.fault(WrongSigner, p.Index, "name or role differ from those of the trusted key")
	case !k.inForce(p.Index):
		v.fault(RevokedKey, p.Index, "the key was not in force at this place of the log")
	case k.AddedBy != "" && !k.maySign(st):
		v.fault(NoVoucher, p.Index, "nobody had vouched for the key at this place of the log")
	default:
		v.KeyTrusted = true
	}
}
