package casebook

import (
	"bytes"
	"errors"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"filippo.io/age"
)

// filled is a casebook with all kinds of statements and a product.
func filled(t testing.TB, dsn string) (*Casebook, *Key) {
	t.Helper()
	c, k := opened(t, dsn)
	ctx := t.Context()
	sign(t, c, k, "filled-1", 1)
	sign(t, c, k, "filled-2", 2)
	must(t)(c.Addendum(ctx, AmendRequest{Act: act(k, 3), Case: "filled-1", Base: 1, Text: "Seen on the ward."}))
	mended := checkedEntry(t, "filled-2", "372 µm", "375 µm")
	must(t)(c.Correct(ctx, CorrectRequest{SignRequest: request(mended, act(k, 4)), Base: 1, Why: "Misread."}))
	return c, k
}

// A backup restores on either store to the same casebook: identifier, log,
// proofs, products, lists.
func TestBackupAndRestore(t *testing.T) {
	identity, err := age.GenerateX25519Identity()
	if err != nil {
		t.Fatal(err)
	}
	onEachPlace(t, func(t *testing.T, dsn string) {
		ctx := t.Context()
		c, _ := filled(t, dsn)
		for name, x := range map[string]struct {
			lock   Lock
			unlock Unlock
		}{
			"passphrase": {Lock{Passphrase: []byte("back up")}, Unlock{Passphrase: []byte("back up")}},
			"recipient":  {Lock{Recipient: identity.Recipient().String()}, Unlock{Identity: identity.String()}},
		} {
			var file bytes.Buffer
			checkpoint, err := c.Backup(ctx, &file, x.lock)
			if err != nil {
				t.Fatal(err)
			}
			if bytes.Contains(file.Bytes(), []byte("Calloway")) {
				t.Error("the backup is readable")
			}
			if rep, err := VerifyBackup(ctx, bytes.NewReader(file.Bytes()), x.unlock, RestoreOptions{}); err != nil || rep.Checkpoint != checkpoint {
				t.Errorf("%s: %v, %v", name, rep.Faults, err)
			}
			for _, p := range places() {
				to := p.dsn(t)
				rep, err := Restore(ctx, bytes.NewReader(file.Bytes()), x.unlock, to, RestoreOptions{Older: []string{checkpoint}})
				if err != nil || !rep.Clean() || rep.Statements != 5 || rep.Cases != 2 {
					t.Fatalf("%s to %s: %+v, %v", name, p.name, rep, err)
				}
				again := open(t, to)
				sameCasebook(t, c, again)
				if _, err := Restore(ctx, bytes.NewReader(file.Bytes()), x.unlock, to, RestoreOptions{}); !errors.Is(err, ErrNotEmpty) {
					t.Errorf("restored over a casebook: %v", err)
				}
			}
		}
	})
}

func sameCasebook(t *testing.T, a, b *Casebook) {
	t.Helper()
	if a.ID() != b.ID() {
		t.Error("another identifier")
	}
	clean(t, b)
	x, err := a.List(t.Context(), Filter{})
	if err != nil {
		t.Fatal(err)
	}
	y, err := b.List(t.Context(), Filter{})
	if err != nil || len(x) != len(y) {
		t.Fatalf("%d cases, %d; %v", len(x), len(y), err)
	}
	for _, s := range x {
		for n := range s.Revision {
			p, err := a.Proof(t.Context(), s.Case, n+1)
			q, err2 := b.Proof(t.Context(), s.Case, n+1)
			u, _ := p.Encode()
			v, _ := q.Encode()
			if err != nil || err2 != nil || !bytes.Equal(u, v) {
				t.Errorf("%s, revision %d: the proofs differ (%v, %v)", s.Case, n+1, err, err2)
			}
		}
	}
}

// A backup that is cut, bent, closed under another passphrase or older than what
// stood there is refused, and the place stays empty.
func TestBadBackups(t *testing.T) {
	ctx := t.Context()
	c, k := filled(t, filepath.Join(t.TempDir(), "casebook.db"))
	lock, unlock := Lock{Passphrase: []byte("back up")}, Unlock{Passphrase: []byte("back up")}
	var file bytes.Buffer
	if _, err := c.Backup(ctx, &file, lock); err != nil {
		t.Fatal(err)
	}
	later := sign(t, c, k, "filled-3", 9).Checkpoint
	dir := t.TempDir()
	to := filepath.Join(dir, "restored.db")
	refuse := func(name string, b []byte, u Unlock, o RestoreOptions, want error) {
		t.Helper()
		if _, err := Restore(ctx, bytes.NewReader(b), u, to, o); !errors.Is(err, want) {
			t.Errorf("%s: %v, want %v", name, err, want)
		}
		if left, err := os.ReadDir(dir); err != nil || len(left) > 1 || len(left) == 1 && left[0].Name() != "restored.db.tip" {
			t.Errorf("%s: left behind %v, %v", name, left, err)
		}
	}
	refuse("wrong passphrase", file.Bytes(), Unlock{Passphrase: []byte("other")}, RestoreOptions{}, ErrPassphrase)
	refuse("no backup", []byte("hello"), unlock, RestoreOptions{}, ErrBackup)
	refuse("older than a kept checkpoint", file.Bytes(), unlock, RestoreOptions{Older: []string{later}}, ErrBackup)
	r := rand.New(rand.NewPCG(13, 14))
	for range 20 {
		refuse("cut", file.Bytes()[:200+r.IntN(file.Len()-200)], unlock, RestoreOptions{}, ErrBackup)
		bent := slices.Clone(file.Bytes())
		bent[300+r.IntN(len(bent)-300)] ^= 1
		refuse("bent", bent, unlock, RestoreOptions{}, ErrBackup)
	}
	if err := os.WriteFile(to+".tip", []byte(later), 0o600); err != nil {
		t.Fatal(err)
	}
	refuse("older than what stood here", file.Bytes(), unlock, RestoreOptions{}, ErrBackup)
	if rep, err := Restore(ctx, bytes.NewReader(file.Bytes()), unlock, to, RestoreOptions{AcceptOlder: true}); err != nil || rep.Statements != 5 {
		t.Errorf("accepted as older: %+v, %v", rep, err)
	}
	again := open(t, to)
	clean(t, again)
}
