package casebook

import (
	"context"
	"database/sql"
	"time"
)

// KeyRequest registers a public key. Act.Key is the new key itself, or the key of
// a registered person whose role vouches for others. The first key of a casebook
// registers itself.
type KeyRequest struct {
	Act
	New PublicKey
}

// AddKey registers a key in the log. Where nobody else can vouch (one surgeon who
// lost the key), the new key registers itself; the register shows it, and a
// reader who trusts the old key only is told.
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
	return c.append(ctx, r.Act, "", func(x tx, p position, s *Statement) error {
		var known PublicKey
		found, err := loadKey(x, r.New.ID, &known)
		if err != nil {
			return err
		}
		if found {
			return ErrKeyKnown
		}
		if self := r.Key.public.ID == r.New.ID; !self {
			if err := mayUse(x, p, r.Key, func(d duty) bool { return d.Keys }); err != nil {
				return err
			}
		} else if r.Key.public.Name != r.New.Name || r.Key.public.Role != r.New.Role {
			return ErrKey
		}
		s.Kind, s.Subject = KeyAdded, &Subject{Key: r.New.Key, Name: r.New.Name, Role: r.New.Role}
		return nil
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
	return c.append(ctx, r.Act, "", func(x tx, p position, s *Statement) error {
		var k PublicKey
		found, err := loadKey(x, r.ID, &k)
		switch {
		case err != nil:
			return err
		case !found:
			return ErrUnknownKey
		case k.Revoked != 0:
			return ErrRevokedKey
		}
		self := r.Key.public.ID == r.ID
		if err := mayUse(x, p, r.Key, func(d duty) bool { return self || d.Keys }); err != nil {
			return err
		}
		s.Kind, s.Why, s.Subject = KeyRevoked, r.Why, &Subject{Key: r.ID}
		if !r.Since.IsZero() {
			s.Subject.Since = r.Since.Format(time.RFC3339)
		}
		return nil
	})
}

// mayUse refuses an unregistered or revoked key and one whose role forbids the
// act.
func mayUse(x tx, _ position, k *Key, allows func(duty) bool) error {
	var known PublicKey
	found, err := loadKey(x, k.public.ID, &known)
	switch {
	case err != nil:
		return err
	case !found || known.Key != k.public.Key || known.Name != k.public.Name || known.Role != k.public.Role:
		return ErrUnknownKey
	case known.Revoked != 0:
		return ErrRevokedKey
	case !allows(content().Roles[known.Role]):
		return ErrRole
	}
	return nil
}

// Keys are all keys that were ever registered, in the order of their adding.
func (c *Casebook) Keys(ctx context.Context) ([]PublicKey, error) {
	var out []PublicKey
	err := c.s.read(ctx, func(x tx) error {
		var err error
		out, err = loadKeys(x)
		return err
	})
	return out, err
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

// registerKey is what a key statement makes of the register.
func (k *PublicKey) apply(s *Statement) {
	switch s.Kind {
	case KeyAdded:
		*k = PublicKey{ID: keyID(s.Subject.Key), Name: s.Subject.Name, Role: s.Subject.Role, Key: s.Subject.Key,
			ValidFrom: s.Signed, AddedBy: s.Signer.Key, Added: s.Sequence}
	case KeyRevoked:
		k.RevokedAt, k.RevokedBy, k.Revoked, k.Since, k.Reason = s.Signed, s.Signer.Key, s.Sequence, s.Subject.Since, s.Why
	}
}

func recordKey(x tx, s *Statement) error {
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
