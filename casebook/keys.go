package casebook

import (
	"context"
	"crypto/ed25519"
	"database/sql"
	"slices"
	"time"
)

// KeyRequest registers a public key. Act.Key is the new key itself, or the key of
// a registered person: one whose role vouches for others, or one who bears the
// printed name of the new key. The first key of a casebook registers itself.
type KeyRequest struct {
	Act
	New PublicKey
	// Lost makes the new key a founder beside the first one, and says why: the key
	// of the only surgeon is lost. It is refused where another person holds a key in
	// force. "" otherwise.
	Lost string
}

// AddKey registers a key in the log. A key that registers itself in a casebook
// with keys waits for a voucher and signs nothing until then; see Vouch. The error
// is ErrNameHeld where the printed name is in force and its holder did not sign,
// ErrFounder where another founder is not allowed.
func (c *Casebook) AddKey(ctx context.Context, r KeyRequest) (Receipt, error) {
	key, _, err := parseVerifier(r.New.Key)
	if err != nil {
		return Receipt{}, err
	}
	if again, err := NewPublicKey(key, r.New.Name, r.New.Role); err != nil {
		return Receipt{}, err
	} else if again.ID != r.New.ID {
		return Receipt{}, ErrKey
	}
	if !readable(r.Lost) {
		return Receipt{}, ErrText
	}
	return c.append(ctx, r.Act, "", func(x tx, _ position, s *Statement) error {
		keys, err := loadRegister(x)
		if err != nil {
			return err
		}
		if _, found := keyOf(keys, r.New.ID); found {
			return ErrKeyKnown
		}
		if r.Key.public.ID == r.New.ID {
			if r.Key.public.Name != r.New.Name || r.Key.public.Role != r.New.Role {
				return ErrKey
			}
		} else if err := isKey(keys, r.Key); err != nil {
			return err
		}
		s.Kind, s.Subject, s.Why = KeyAdded, &Subject{Key: r.New.Key, Name: r.New.Name, Role: r.New.Role}, r.Lost
		if r.Lost != "" {
			s.Subject.Founder = "yes"
		}
		return admit(keys, s)
	})
}

// VouchRequest vouches for a registered key that waits for it.
type VouchRequest struct {
	Act
	ID string
}

// Vouch lets a registered key sign. The voucher's key is another one, in force,
// stands itself, and has a role that vouches.
func (c *Casebook) Vouch(ctx context.Context, r VouchRequest) (Receipt, error) {
	return c.append(ctx, r.Act, "", func(x tx, _ position, s *Statement) error {
		keys, err := loadRegister(x)
		if err != nil {
			return err
		}
		if err := isKey(keys, r.Key); err != nil {
			return err
		}
		s.Kind, s.Subject = KeyVouched, &Subject{Key: r.ID}
		return admit(keys, s)
	})
}

// RevokeRequest revokes a key, with the key itself, or with the key of a
// registered person whose role vouches for others.
type RevokeRequest struct {
	Act
	ID    string
	Why   string
	Since time.Time // from when the key is not to be trusted; zero: from now on
}

// RevokeKey ends a key: it signs nothing more. What it signed before stays
// provable; from Since on Check remarks on it.
func (c *Casebook) RevokeKey(ctx context.Context, r RevokeRequest) (Receipt, error) {
	if r.Why == "" || !readable(r.Why) {
		return Receipt{}, ErrText
	}
	return c.append(ctx, r.Act, "", func(x tx, _ position, s *Statement) error {
		keys, err := loadRegister(x)
		if err != nil {
			return err
		}
		k, found := keyOf(keys, r.ID)
		switch {
		case !found:
			return ErrUnknownKey
		case k.Revoked != 0:
			return ErrRevokedKey
		}
		if err := isKey(keys, r.Key); err != nil {
			return err
		}
		if by, _ := keyOf(keys, r.Key.public.ID); by.ID != k.ID { // its own end needs nobody's word
			switch {
			case by.Revoked != 0:
				return ErrRevokedKey
			case !by.Stands():
				return ErrUnvouched
			case !content().Roles[by.Role].Keys:
				return ErrRole
			}
		}
		s.Kind, s.Why, s.Subject = KeyRevoked, r.Why, &Subject{Key: r.ID}
		if !r.Since.IsZero() {
			s.Subject.Since = r.Since.Format(time.RFC3339)
		}
		return nil
	})
}

// mayUse refuses a key that is unregistered, revoked or without a voucher, and one
// whose role forbids the act.
func mayUse(x tx, _ position, k *Key, allows func(duty) bool) error {
	keys, err := loadRegister(x)
	if err != nil {
		return err
	}
	if err := isKey(keys, k); err != nil {
		return err
	}
	if err := voucher(keys, k.public.ID); err != nil {
		return err
	}
	if !allows(content().Roles[k.public.Role]) {
		return ErrRole
	}
	return nil
}

// isKey refuses a key that is not registered just so.
func isKey(keys []PublicKey, k *Key) error {
	known, found := keyOf(keys, k.public.ID)
	if !found || known.Key != k.public.Key || known.Name != k.public.Name || known.Role != k.public.Role {
		return ErrUnknownKey
	}
	return nil
}

func keyOf(keys []PublicKey, id string) (PublicKey, bool) {
	i := slices.IndexFunc(keys, func(k PublicKey) bool { return k.ID == id })
	if i < 0 {
		return PublicKey{}, false
	}
	return keys[i], true
}

// Keys are all keys that were ever registered, in the order of their adding.
func (c *Casebook) Keys(ctx context.Context) ([]PublicKey, error) {
	var out []PublicKey
	err := c.s.read(ctx, func(x tx) error {
		var err error
		out, err = loadRegister(x)
		return err
	})
	return out, err
}

// loadRegister makes the register from the statements about keys. Each must be
// signed and allowed: a row that somebody put into the table of keys, or a vouch
// that nobody signed, lets no key sign.
func loadRegister(x tx) ([]PublicKey, error) {
	var out []PublicKey
	err := x.each("SELECT statement, signature FROM leaf WHERE case_id = '' ORDER BY revision", nil, func(rows *sql.Rows) error {
		var statement, signature []byte
		if err := rows.Scan(&statement, &signature); err != nil {
			return err
		}
		s, err := readStatement(statement)
		if err != nil || s.Case != "" || s.Subject == nil {
			return ErrDamaged
		}
		text := s.Subject.Key
		if by, found := keyOf(out, s.Signer.Key); found {
			text = by.Key
		}
		key, _, err := parseVerifier(text)
		if err != nil || keyID(text) != s.Signer.Key || !ed25519.Verify(key, statement, signature) {
			return ErrDamaged
		}
		if s.Format != formatAnyKey && s.Kind != KeyRevoked && admit(out, s) != nil {
			return ErrDamaged
		}
		out = fold(out, s)
		return nil
	})
	return out, err
}

// fold brings the register up to a statement about a key.
func fold(keys []PublicKey, s *Statement) []PublicKey {
	if s.Kind == KeyAdded {
		var k PublicKey
		k.apply(s)
		return append(keys, k)
	}
	for i := range keys {
		if keys[i].ID == s.Subject.Key {
			keys[i].apply(s)
		}
	}
	return keys
}

func loadKeys(x tx) ([]PublicKey, error) {
	var out []PublicKey
	err := x.each("SELECT id, key, name, role, valid_from, added_by, added, revoked_at, revoked_by, revoked, since, reason FROM pubkey ORDER BY added", nil, func(rows *sql.Rows) error {
		var k PublicKey
		err := scanKey(rows, &k)
		out = append(out, k)
		return err
	})
	return out, err
}

func loadKey(x tx, id string, into *PublicKey) (found bool, err error) {
	err = x.each(queryKey, []any{id}, func(rows *sql.Rows) error {
		found = true
		return scanKey(rows, into)
	})
	return found, err
}

func scanKey(rows *sql.Rows, k *PublicKey) error {
	return rows.Scan(&k.ID, &k.Key, &k.Name, &k.Role, &k.ValidFrom, &k.AddedBy, &k.Added, &k.RevokedAt, &k.RevokedBy, &k.Revoked, &k.Since, &k.Reason)
}

// apply is what a statement about a key makes of it.
func (k *PublicKey) apply(s *Statement) {
	switch s.Kind {
	case KeyAdded:
		*k = PublicKey{ID: keyID(s.Subject.Key), Name: s.Subject.Name, Role: s.Subject.Role, Key: s.Subject.Key,
			ValidFrom: s.Signed, AddedBy: s.Signer.Key, Added: s.Sequence, ruled: s.Format != formatAnyKey}
		switch {
		case s.Signer.Key == k.ID:
			k.Founder = s.Revision == 1 || s.Subject.Founder != ""
			k.Reason = s.Why
		case !k.ruled && content().Roles[s.Signer.Role].Keys || vouches(s.Signer, k.Name, k.Role):
			k.vouch(s)
		}
	case KeyVouched:
		k.vouch(s)
	case KeyRevoked:
		k.RevokedAt, k.RevokedBy, k.Revoked, k.Since, k.Reason = s.Signed, s.Signer.Key, s.Sequence, s.Subject.Since, s.Why
	}
}

func (k *PublicKey) vouch(s *Statement) {
	k.VouchedBy, k.VouchedAt, k.Vouched = s.Signer.Key, s.Signed, s.Sequence
}

// stored is what the table of keys holds of a key: it serves looking up the key
// of a statement, and the rest is made from the log.
func (k PublicKey) stored() PublicKey {
	k.Founder, k.VouchedBy, k.VouchedAt, k.Vouched, k.ruled = false, "", "", 0, false
	if k.Revoked == 0 {
		k.Reason = ""
	}
	return k
}

func recordKey(x tx, s *Statement) error {
	if s.Kind == KeyVouched {
		return nil // see stored
	}
	var k PublicKey
	if s.Kind == KeyRevoked {
		if found, err := loadKey(x, s.Subject.Key, &k); err != nil || !found {
			return orDamaged(err)
		}
	}
	k.apply(s)
	if s.Kind == KeyAdded {
		return x.exec("INSERT INTO pubkey (id, key, name, role, valid_from, added_by, added, revoked_at, revoked_by, revoked, since, reason) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
			k.ID, k.Key, k.Name, k.Role, k.ValidFrom, k.AddedBy, k.Added, "", "", 0, "", "")
	}
	return x.exec("UPDATE pubkey SET revoked_at = ?, revoked_by = ?, revoked = ?, since = ?, reason = ? WHERE id = ?",
		k.RevokedAt, k.RevokedBy, k.Revoked, k.Since, k.Reason, k.ID)
}

func orDamaged(err error) error {
	if err == nil {
		return ErrDamaged
	}
	return err
}
