package casebook

import (
	"bytes"
	"crypto/ed25519"
	"encoding/base64"
	"encoding/json"
	"errors"
	"fmt"
	"io"

	"filippo.io/age"
	"filippo.io/age/armor"
	"golang.org/x/mod/sumdb/note"
)

// keyFormat is the first line of an opened key file.
const keyFormat = "graftnote key 1"

// maxKeyFile is the largest key file read, in bytes.
const maxKeyFile = 64 << 10

// workFactor is the scrypt work factor as a power of two: about a second on a
// present-day machine, the default of filippo.io/age. Tests lower it.
var workFactor = 18

// Key is a surgeon's private signing key. It prints as its identifier only.
type Key struct {
	public  PublicKey
	private ed25519.PrivateKey
}

// NewKey makes an Ed25519 key (RFC 8032) from 32 bytes of randomness. Name is the
// printed name beside each signature; role is one of Roles.
func NewKey(rand io.Reader, name, role string) (*Key, error) {
	seed := make([]byte, ed25519.SeedSize)
	if _, err := io.ReadFull(rand, seed); err != nil {
		return nil, errors.New("the source of randomness failed")
	}
	return keyFromSeed(seed, name, role)
}

func keyFromSeed(seed []byte, name, role string) (*Key, error) {
	private := ed25519.NewKeyFromSeed(seed)
	public, err := NewPublicKey(private.Public().(ed25519.PublicKey), name, role)
	if err != nil {
		return nil, err
	}
	return &Key{public: public, private: private}, nil
}

// Public is the half that everyone may have.
func (k *Key) Public() PublicKey { return k.public }

// Format prints the identifier whatever the verb, so that no log line can carry
// the private half.
func (k *Key) Format(f fmt.State, _ rune) { fmt.Fprintf(f, "key %s", k.public.ID) }

// MarshalJSON writes the identifier only.
func (k *Key) MarshalJSON() ([]byte, error) { return json.Marshal(k.public.ID) }

// sealedKey is the content of a key file under its passphrase.
type sealedKey struct {
	Format string `json:"format"`
	Name   string `json:"name"`
	Role   string `json:"role"`
	Seed   string `json:"seed"` // base64 of the RFC 8032 private key
}

// Seal writes the key to a file format of filippo.io/age: scrypt over the
// passphrase, armoured text. Only the passphrase opens it; there is no other way.
func (k *Key) Seal(passphrase []byte, w io.Writer) error {
	r, err := passphraseRecipient(passphrase)
	if err != nil {
		return err
	}
	text, err := json.Marshal(sealedKey{keyFormat, k.public.Name, k.public.Role, base64.StdEncoding.EncodeToString(k.private.Seed())})
	if err != nil {
		return ErrText
	}
	outer := armor.NewWriter(w)
	inner, err := age.Encrypt(outer, r)
	if err != nil {
		return err
	}
	if _, err := inner.Write(text); err != nil {
		return err
	}
	if err := inner.Close(); err != nil {
		return err
	}
	return outer.Close()
}

// OpenKey reads what Seal wrote. A wrong passphrase gives ErrPassphrase, any
// other file ErrKeyFile.
func OpenKey(r io.Reader, passphrase []byte) (*Key, error) {
	id, err := passphraseIdentity(passphrase)
	if err != nil {
		return nil, err
	}
	file, err := io.ReadAll(io.LimitReader(r, maxKeyFile+1))
	if err != nil || len(file) > maxKeyFile {
		return nil, ErrKeyFile
	}
	opened, err := age.Decrypt(armor.NewReader(bytes.NewReader(file)), id)
	if err != nil {
		var wrong *age.NoIdentityMatchError
		if errors.As(err, &wrong) {
			return nil, ErrPassphrase
		}
		return nil, ErrKeyFile
	}
	text, err := io.ReadAll(opened)
	if err != nil {
		return nil, ErrKeyFile
	}
	var s sealedKey
	if err := json.Unmarshal(text, &s); err != nil || s.Format != keyFormat {
		return nil, ErrKeyFile
	}
	seed, err := base64.StdEncoding.DecodeString(s.Seed)
	if err != nil || len(seed) != ed25519.SeedSize {
		return nil, ErrKeyFile
	}
	k, err := keyFromSeed(seed, s.Name, s.Role)
	if err != nil {
		return nil, ErrKeyFile
	}
	return k, nil
}

func passphraseRecipient(passphrase []byte) (age.Recipient, error) {
	if len(passphrase) == 0 {
		return nil, ErrPassphrase
	}
	r, err := age.NewScryptRecipient(string(passphrase))
	if err != nil {
		return nil, ErrPassphrase
	}
	r.SetWorkFactor(workFactor)
	return r, nil
}

func passphraseIdentity(passphrase []byte) (age.Identity, error) {
	if len(passphrase) == 0 {
		return nil, ErrPassphrase
	}
	id, err := age.NewScryptIdentity(string(passphrase))
	if err != nil {
		return nil, ErrPassphrase
	}
	return id, nil
}

// sign signs the exact bytes.
func (k *Key) sign(b []byte) []byte { return ed25519.Sign(k.private, b) }

// noteSigner signs checkpoints in the signed-note form.
type noteSigner struct {
	k    *Key
	name string
	hash uint32
}

func (k *Key) noteSigner() (note.Signer, error) {
	v, err := note.NewVerifier(k.public.Key)
	if err != nil {
		return nil, ErrKey
	}
	return noteSigner{k, v.Name(), v.KeyHash()}, nil
}

func (s noteSigner) Name() string                    { return s.name }
func (s noteSigner) KeyHash() uint32                 { return s.hash }
func (s noteSigner) Sign(msg []byte) ([]byte, error) { return s.k.sign(msg), nil }
