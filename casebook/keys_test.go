package casebook

import (
	"bytes"
	"encoding/base64"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"strings"
	"testing"
	"time"

	"filippo.io/age"
	"filippo.io/age/armor"
)

// A key comes back from its file under its passphrase only, and the file is one
// that age itself opens (filippo.io/age, armoured, scrypt).
func TestKeyFile(t *testing.T) {
	k := newKey(t, 20, "Imara Voss", "consultant")
	var file bytes.Buffer
	if err := k.Seal([]byte("correct horse"), &file); err != nil {
		t.Fatal(err)
	}
	again, err := OpenKey(bytes.NewReader(file.Bytes()), []byte("correct horse"))
	if err != nil || again.Public() != k.Public() || !bytes.Equal(again.private, k.private) {
		t.Fatalf("%v, %v", again, err)
	}
	id, err := age.NewScryptIdentity("correct horse")
	if err != nil {
		t.Fatal(err)
	}
	if r, err := age.Decrypt(armor.NewReader(bytes.NewReader(file.Bytes())), id); err != nil {
		t.Error(err)
	} else if text, err := io.ReadAll(r); err != nil || !bytes.Contains(text, []byte(`"graftnote key 1"`)) {
		t.Errorf("%d bytes, %v", len(text), err)
	}
	for name, x := range map[string]struct {
		file, passphrase string
		want             error
	}{
		"wrong passphrase": {file.String(), "wrong horse", ErrPassphrase},
		"no passphrase":    {file.String(), "", ErrPassphrase},
		"no key file":      {"hello", "correct horse", ErrKeyFile},
		"cut file":         {file.String()[:len(file.String())/2], "correct horse", ErrKeyFile},
		"empty file":       {"", "correct horse", ErrKeyFile},
	} {
		if _, err := OpenKey(strings.NewReader(x.file), []byte(x.passphrase)); !errors.Is(err, x.want) {
			t.Errorf("%s: %v, want %v", name, err, x.want)
		}
	}
	if err := k.Seal(nil, io.Discard); !errors.Is(err, ErrPassphrase) {
		t.Errorf("sealed without a passphrase: %v", err)
	}
}

// The private half does not come out by any way of printing, and is nowhere in
// the casebook's file or its companions.
func TestPrivateHalfStaysPrivate(t *testing.T) {
	k := newKey(t, 21, "Imara Voss", "consultant")
	j, err := json.Marshal(k)
	if err != nil {
		t.Fatal(err)
	}
	printed := fmt.Sprintf("%v %+v %#v %s %x %d", k, k, k, k, k, k) + string(j) + fmt.Sprint(act(k, 1))
	seed := k.private.Seed()
	for _, secret := range []string{string(seed), hex.EncodeToString(seed), base64.StdEncoding.EncodeToString(seed), fmt.Sprint(seed), fmt.Sprint([]byte(k.private))} {
		if strings.Contains(printed, strings.Trim(secret, "[]")) {
			t.Error("the private half was printed")
		}
	}
}

// A name or role that cannot stand in print is refused.
func TestNewKeyRefuses(t *testing.T) {
	for _, x := range []struct {
		name, role string
		want       error
	}{
		{"", "consultant", ErrText}, {" ", "consultant", ErrText}, {"Imara\nVoss", "consultant", ErrText}, {"Imara\u202eVoss", "consultant", ErrText},
		{"Imara Voss", "king", ErrRole}, {strings.Repeat("x", 201), "consultant", ErrText}, {"\xff", "consultant", ErrText},
	} {
		if _, err := NewKey(noise(1), x.name, x.role); !errors.Is(err, x.want) {
			t.Errorf("%q, %q: %v", x.name, x.role, err)
		}
	}
	if _, err := NewKey(strings.NewReader("short"), "Imara Voss", "consultant"); err == nil {
		t.Error("a key from too little randomness")
	}
}

// NIST SP 800-57 part 1 appendix B: a lost key is replaced and revoked, what it
// signed stays provable. One surgeon alone: the new key makes itself a founder, says
// why, and revokes the old one; the register shows that nobody vouched.
func TestLostKey(t *testing.T) {
	onEachPlace(t, func(t *testing.T, dsn string) {
		ctx := t.Context()
		c, lost := opened(t, dsn)
		sign(t, c, lost, "lost-key-1", 1)
		fresh := newKey(t, 30, "Imara Voss", "consultant")
		if _, err := signOff(ctx, c, request(checkedEntry(t, "lost-key-2"), act(fresh, 2))); !errors.Is(err, ErrUnknownKey) {
			t.Errorf("signed under an unregistered key: %v", err)
		}
		if _, err := c.AddKey(ctx, KeyRequest{Act: act(fresh, 3), New: fresh.Public()}); !errors.Is(err, ErrNameHeld) {
			t.Errorf("a second key of one name, without a word: %v", err)
		}
		must(t)(c.AddKey(ctx, KeyRequest{Act: act(fresh, 3), New: fresh.Public(), Lost: "Passphrase forgotten."}))
		must(t)(c.RevokeKey(ctx, RevokeRequest{Act: act(fresh, 4), ID: lost.Public().ID, Why: "Passphrase forgotten."}))
		if _, err := signOff(ctx, c, request(checkedEntry(t, "lost-key-2"), act(lost, 5))); !errors.Is(err, ErrRevokedKey) {
			t.Errorf("signed under a revoked key: %v", err)
		}
		sign(t, c, fresh, "lost-key-2", 6)
		rep := clean(t, c)
		if len(rep.Remarks) != 1 || !strings.Contains(rep.Remarks[0], "another founder, nobody vouched") {
			t.Errorf("remarks %v", rep.Remarks)
		}
		keys, err := c.Keys(ctx)
		if err != nil || len(keys) != 2 || keys[0].Reason != "Passphrase forgotten." || keys[0].RevokedBy != fresh.Public().ID || keys[1].AddedBy != keys[1].ID {
			t.Errorf("%+v, %v", keys, err)
		}
		p, err := c.Proof(ctx, "lost-key-1", 1)
		if err != nil {
			t.Fatal(err)
		}
		if v, err := VerifyProof(p, Trust{Keys: keys}); err != nil || !v.KeyTrusted {
			t.Errorf("a note signed before the revocation: %v, %v", v.KeyTrusted, err)
		}
	})
}

// A changed surgeon: the colleague's key is vouched for, the leaver's is revoked.
// A stolen key is revoked with the time from which it is not to be trusted.
func TestChangedSurgeonAndStolenKey(t *testing.T) {
	onEachPlace(t, func(t *testing.T, dsn string) {
		ctx := t.Context()
		c, first := opened(t, dsn)
		second := newKey(t, 31, "Pell Arden", "surgeon")
		junior := newKey(t, 32, "Tomas Reyle", "trainee")
		must(t)(c.AddKey(ctx, KeyRequest{Act: act(first, 1), New: second.Public()}))
		must(t)(c.AddKey(ctx, KeyRequest{Act: act(second, 2), New: junior.Public()}))
		if _, err := c.AddKey(ctx, KeyRequest{Act: act(second, 2), New: junior.Public()}); !errors.Is(err, ErrKeyKnown) {
			t.Errorf("registered twice: %v", err)
		}
		if _, err := c.AddKey(ctx, KeyRequest{Act: act(junior, 3), New: newKey(t, 33, "A B", "surgeon").Public()}); !errors.Is(err, ErrRole) {
			t.Errorf("a trainee vouches: %v", err)
		}
		if _, err := c.RevokeKey(ctx, RevokeRequest{Act: act(junior, 3), ID: first.Public().ID, Why: "x"}); !errors.Is(err, ErrRole) {
			t.Errorf("a trainee revokes: %v", err)
		}
		if _, err := c.RevokeKey(ctx, RevokeRequest{Act: act(second, 3), ID: first.Public().ID}); !errors.Is(err, ErrText) {
			t.Errorf("revoked without a reason: %v", err)
		}
		must(t)(c.RevokeKey(ctx, RevokeRequest{Act: act(first, 4), ID: first.Public().ID, Why: "Left the hospital."}))
		must(t)(c.RevokeKey(ctx, RevokeRequest{Act: act(second, 5), ID: junior.Public().ID, Why: "Laptop stolen.", Since: theDay.Add(-time.Hour)}))
		if _, err := c.RevokeKey(ctx, RevokeRequest{Act: act(second, 6), ID: junior.Public().ID, Why: "again"}); !errors.Is(err, ErrRevokedKey) {
			t.Errorf("revoked twice: %v", err)
		}
		forgery := second.Public()
		forgery.Name = "Somebody Else"
		if _, err := c.AddKey(ctx, KeyRequest{Act: act(second, 7), New: forgery}); !errors.Is(err, ErrKeyKnown) {
			t.Errorf("a known key under another name: %v", err)
		}
		rep := clean(t, c)
		if len(rep.Remarks) != 1 || !strings.Contains(rep.Remarks[0], "2026-09-08T10:00:00+01:00") {
			t.Errorf("remarks %v", rep.Remarks)
		}
	})
}
