package casebook

import (
	"slices"
	"strings"
	"unicode"

	"golang.org/x/text/cases"
	"golang.org/x/text/unicode/norm"
)

// formatAnyKey is the format of statements made while any registered key signed,
// also one that nobody had vouched for. They stay as good as they were.
const formatAnyKey = "graftnote statement 1"

// Stands reports whether the key may sign: it is a founder, or somebody vouched
// for it. Revocation is another matter.
func (k PublicKey) Stands() bool { return k.Founder || k.VouchedBy != "" }

// maySign reports whether the rules in force at the statement let this key sign
// it: a key without a voucher signed only where both are of the time before.
func (k *PublicKey) maySign(s *Statement) bool {
	return k.Founder || k.VouchedBy != "" && k.Vouched < s.Sequence || !k.ruled && s.Format == formatAnyKey
}

// Vouchers are the key and those on whom its trust rests: who vouched for it, who
// vouched for that one, up to a founder. It is the key alone for a founder, and
// for a key that nobody vouched for or that is not among keys.
func Vouchers(keys []PublicKey, id string) []PublicKey {
	var out []PublicKey
	for id != "" {
		i := slices.IndexFunc(keys, func(k PublicKey) bool { return k.ID == id })
		if i < 0 || len(out) > len(keys) { // a vouch is older than what rests on it: no circle
			break
		}
		out = append(out, keys[i])
		id = keys[i].VouchedBy
	}
	return out
}

// sameName reports whether two printed names are one to somebody who reads them:
// case, accents, spaces and punctuation apart.
func sameName(a, b string) bool { return plainName(a) == plainName(b) }

func plainName(name string) string {
	plain := strings.Map(func(r rune) rune {
		if unicode.IsLetter(r) || unicode.IsDigit(r) {
			return r
		}
		return -1
	}, norm.NFKD.String(cases.Fold().String(name)))
	if plain == "" {
		return name
	}
	return plain
}

// vouches reports whether whoever adds a key vouches for it by that: the role
// allows it, and it is not a way to give oneself a wider role.
func vouches(by Signer, name, role string) bool {
	roles := content().Roles
	return roles[by.Role].Keys && !(sameName(by.Name, name) && roles[role].wider(roles[by.Role]))
}

// wider reports whether d allows something that e does not.
func (d duty) wider(e duty) bool {
	return d.Notes && !e.Notes || d.Alone && !e.Alone || d.Counter && !e.Counter || d.Keys && !e.Keys || d.FollowUp && !e.FollowUp
}

// admit says whether a key may be added, or vouched for, by this statement, with
// the keys as they stood before it:
//
//   - the first key of a casebook is its founder and needs nobody;
//   - another key that registers itself waits for a voucher;
//   - a voucher is in force, stands, and has a role that vouches;
//   - a printed name that is in force needs the yes of that person: a signature
//     under a key of that name;
//   - where nobody of another name holds a key in force, a lost key may be followed
//     by another founder, who says why.
func admit(keys []PublicKey, s *Statement) error {
	if s.Kind == KeyVouched {
		return admitVouch(keys, s)
	}
	name := s.Subject.Name
	held := holders(keys, name)
	if keyID(s.Subject.Key) == s.Signer.Key {
		switch {
		case len(keys) == 0:
			return nil
		case s.Subject.Founder != "":
			if strangers := slices.ContainsFunc(keys, func(k PublicKey) bool { return k.Revoked == 0 && k.Stands() && !sameName(k.Name, name) }); strangers {
				return ErrFounder
			}
			return nil
		case len(held) > 0:
			return ErrNameHeld
		}
		return nil
	}
	if err := voucher(keys, s.Signer.Key); err != nil {
		return err
	}
	own := sameName(s.Signer.Name, name)
	switch {
	case s.Subject.Founder != "":
		return ErrFounder
	case len(held) > 0 && !own:
		return ErrNameHeld
	case !own && !content().Roles[s.Signer.Role].Keys:
		return ErrRole
	}
	return nil
}

func admitVouch(keys []PublicKey, s *Statement) error {
	i := slices.IndexFunc(keys, func(k PublicKey) bool { return k.ID == s.Subject.Key })
	switch {
	case i < 0:
		return ErrUnknownKey
	case keys[i].Revoked != 0:
		return ErrRevokedKey
	case keys[i].Stands():
		return ErrVouched
	}
	k := keys[i]
	if err := voucher(keys, s.Signer.Key); err != nil {
		return err
	}
	if !vouches(s.Signer, k.Name, k.Role) {
		return ErrRole
	}
	if len(holders(keys, k.Name)) == 0 || sameName(s.Signer.Name, k.Name) {
		return nil
	}
	// The yes of the name's holder is that one's signature under the adding.
	if by := slices.IndexFunc(keys, func(o PublicKey) bool { return o.ID == k.AddedBy && o.ID != k.ID && sameName(o.Name, k.Name) }); by < 0 {
		return ErrNameHeld
	}
	return nil
}

// voucher refuses a key that is not in force or stands on nobody's word.
func voucher(keys []PublicKey, id string) error {
	i := slices.IndexFunc(keys, func(k PublicKey) bool { return k.ID == id })
	switch {
	case i < 0:
		return ErrUnknownKey
	case keys[i].Revoked != 0:
		return ErrRevokedKey
	case !keys[i].Stands():
		return ErrUnvouched
	}
	return nil
}

// holders are the keys in force under a printed name.
func holders(keys []PublicKey, name string) []PublicKey {
	var out []PublicKey
	for _, k := range keys {
		if k.Revoked == 0 && k.Stands() && sameName(k.Name, name) {
			out = append(out, k)
		}
	}
	return out
}

// Waits reports whether the key waits for a voucher and never could sign: it was
// registered since a key needs one.
func (k PublicKey) Waits() bool { return !k.Stands() && k.ruled }

// waiting remarks on keys in force that nobody has vouched for to the end.
func (a *auditor) waiting() {
	keys := a.keys.list()
	slices.SortFunc(keys, func(x, y PublicKey) int { return int(x.Added - y.Added) })
	for _, k := range keys {
		switch {
		case k.Stands():
		case k.Waits():
			a.remark("statement %d: key %s waits for somebody to vouch for it, and signs nothing", k.Added, k.ID)
		default:
			a.remark("statement %d: key %s registered itself when that was allowed; nobody vouched for it since, and it signs nothing more", k.Added, k.ID)
		}
	}
}
