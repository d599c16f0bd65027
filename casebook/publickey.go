package casebook

import (
	"crypto/ed25519"
	"encoding/base64"
	"strings"

	"golang.org/x/mod/sumdb/note"
)

// PublicKey is a registered key: enough to verify, nothing to sign with. The
// identifier names no person: it also stands in exports that must not.
//
// Added and Revoked are places in the log and decide what the key's signatures
// are worth; the times are claims.
type PublicKey struct {
	ID        string `json:"id"` // note key name and key hash
	Name      string `json:"name"`
	Role      string `json:"role"`
	Key       string `json:"key"`                  // verifier key text of golang.org/x/mod/sumdb/note
	ValidFrom string `json:"valid-from,omitempty"` // RFC 3339
	AddedBy   string `json:"added-by,omitempty"`   // the key that registered it; its own identifier when it registered itself
	Added     int64  `json:"added,omitempty"`      // log index of key-added
	Founder   bool   `json:"founder,omitempty"`    // needs no voucher; nobody vouched
	VouchedBy string `json:"vouched-by,omitempty"` // "" for a founder, and while nobody has vouched
	VouchedAt string `json:"vouched-at,omitempty"` // RFC 3339
	Vouched   int64  `json:"vouched,omitempty"`    // log index of the statement that vouched
	RevokedAt string `json:"revoked-at,omitempty"` // RFC 3339
	RevokedBy string `json:"revoked-by,omitempty"`
	Revoked   int64  `json:"revoked,omitempty"` // log index of key-revoked, 0 while in force
	Since     string `json:"since,omitempty"`   // not to be trusted from this time on
	Reason    string `json:"reason,omitempty"`  // of the revocation; of another founder while in force

	ruled bool // registered since a key needs a voucher
}

// NewPublicKey names a public key. The name in the note format is made from the
// key itself; the identifier adds the note package's key hash.
func NewPublicKey(key ed25519.PublicKey, name, role string) (PublicKey, error) {
	if !readable(name) || strings.TrimSpace(name) == "" || strings.Contains(name, "\n") || len(name) > 200 {
		return PublicKey{}, ErrText
	}
	if _, known := content().Roles[role]; !known {
		return PublicKey{}, ErrRole
	}
	if len(key) != ed25519.PublicKeySize {
		return PublicKey{}, ErrKey
	}
	text, err := note.NewEd25519VerifierKey("graftnote-"+digest(key)[:16], key)
	if err != nil {
		return PublicKey{}, ErrKey
	}
	return PublicKey{ID: keyID(text), Name: name, Role: role, Key: text}, nil
}

// keyID is the verifier key text without the key: name+hash.
func keyID(text string) string {
	parts := strings.SplitN(text, "+", 3)
	if len(parts) != 3 {
		return ""
	}
	return parts[0] + "+" + parts[1]
}

// parseVerifier reads a verifier key text and demands that its name is made from
// the key, so that one key has one identifier.
func parseVerifier(text string) (ed25519.PublicKey, note.Verifier, error) {
	parts := strings.SplitN(text, "+", 3)
	if len(parts) != 3 {
		return nil, nil, ErrKey
	}
	v, err := note.NewVerifier(text)
	if err != nil {
		return nil, nil, ErrKey
	}
	raw, err := base64.StdEncoding.DecodeString(parts[2])
	if err != nil || len(raw) != 1+ed25519.PublicKeySize {
		return nil, nil, ErrKey
	}
	key := ed25519.PublicKey(raw[1:])
	if again, err := note.NewEd25519VerifierKey("graftnote-"+digest(key)[:16], key); err != nil || again != text {
		return nil, nil, ErrKey
	}
	return key, v, nil
}

// register knows the keys of one casebook with what is needed to verify.
type register map[string]*registered

type registered struct {
	PublicKey
	key      ed25519.PublicKey
	verifier note.Verifier
}

func newRegister(keys []PublicKey) (register, error) {
	r := register{}
	for _, k := range keys {
		if err := r.add(k); err != nil {
			return nil, err
		}
	}
	return r, nil
}

func (r register) add(k PublicKey) error {
	key, v, err := parseVerifier(k.Key)
	if err != nil {
		return err
	}
	if k.ID != keyID(k.Key) {
		return ErrKey
	}
	r[k.ID] = &registered{k, key, v}
	return nil
}

// list is the register without what verifying needs.
func (r register) list() []PublicKey {
	out := make([]PublicKey, 0, len(r))
	for _, k := range r {
		out = append(out, k.PublicKey)
	}
	return out
}

// Verifier finds a key for a signed checkpoint.
func (r register) Verifier(name string, hash uint32) (note.Verifier, error) {
	for _, k := range r {
		if k.verifier.Name() == name && k.verifier.KeyHash() == hash {
			return k.verifier, nil
		}
	}
	return nil, &note.UnknownVerifierError{Name: name, KeyHash: hash}
}

// inForce reports whether the key could sign the statement at this place.
func (k *PublicKey) inForce(index int64) bool {
	return index >= k.Added && (k.Revoked == 0 || index <= k.Revoked)
}
