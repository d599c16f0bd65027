package casebook

import (
	"bytes"
	"context"
	"database/sql"
	"errors"
	"os"
	"path/filepath"
	"testing"
	"time"

	"graftnote/schema"
)

// writtenBefore is a copy of the casebook that an earlier program wrote; see
// testdata/casebook-1/README.md.
func writtenBefore(t testing.TB) (path, checkpoint string) {
	t.Helper()
	from, dir := filepath.Join("..", "testdata", "casebook-1"), t.TempDir()
	for _, name := range []string{"casebook.db", "casebook.db.tip", "checkpoint"} {
		b, err := os.ReadFile(filepath.Join(from, name))
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(dir, name), b, 0o600); err != nil {
			t.Fatal(err)
		}
		checkpoint = string(b)
	}
	return filepath.Join(dir, "casebook.db"), checkpoint
}

// A casebook that was written opens ever after, also for signing, with every
// statement as it was signed (common practice, no source: records outlive
// programs).
func TestWrittenBefore(t *testing.T) {
	path, checkpoint := writtenBefore(t)
	ctx := context.Background()
	for _, o := range []Options{{ReadOnly: true}, {}} {
		c, err := Open(ctx, path, o)
		if err != nil {
			t.Fatalf("%+v: %v", o, err)
		}
		defer c.Close()
		r, err := c.Check(ctx, nil, checkpoint)
		if err != nil || !r.Clean() {
			t.Fatalf("%v: %v", err, r.Faults)
		}
		if r.Statements < 34 || r.Cases != 19 || r.FollowUps != 4 || r.Packages != 1 || r.Keys != 5 {
			t.Errorf("%d statements, %d cases, %d follow-ups, %d packages, %d keys", r.Statements, r.Cases, r.FollowUps, r.Packages, r.Keys)
		}
		list, err := c.List(ctx, Filter{})
		if err != nil || len(list) != 19 {
			t.Fatalf("%d cases, %v", len(list), err)
		}
		for _, s := range list {
			replayed(t, c, s)
		}
		packages, err := c.Packages(ctx)
		if err != nil || len(packages) != 1 {
			t.Errorf("%d packages, %v", len(packages), err)
		}
	}
}

// replayed holds the proofs of a case to each other and to what the list says.
func replayed(t *testing.T, c *Casebook, s Summary) {
	t.Helper()
	ctx := context.Background()
	keys, err := c.Keys(ctx)
	if err != nil {
		t.Fatal(err)
	}
	h, err := c.Get(ctx, s.Case)
	if err != nil {
		t.Fatalf("%s: %v", s.Case, err)
	}
	var proofs []Proof
	for i := range h.Revisions {
		p, err := c.Proof(ctx, s.Case, i+1)
		if err != nil {
			t.Fatalf("%s: %v", s.Case, err)
		}
		if v, err := VerifyProof(p, Trust{Keys: keys}); err != nil || !v.KeyTrusted {
			t.Errorf("%s, revision %d: %v", s.Case, i+1, err)
		}
		proofs = append(proofs, p)
	}
	again, err := Replay(proofs)
	if err != nil || again.State != s.State || !bytes.Equal(again.Entry(99), h.Entry(99)) {
		t.Errorf("%s: %s, not %s: %v", s.Case, again.State, s.State, err)
	}
	now := time.Date(2026, 11, 29, 0, 0, 0, 0, time.UTC)
	if _, err := schema.Stored(h.Entry(99), schema.Options{Now: now}); err != nil {
		t.Errorf("%s: its entry: %v", s.Case, err)
	}
}

// The signed bytes of an old statement are made again from what was read of it.
func TestStatementsWrittenBefore(t *testing.T) {
	path, _ := writtenBefore(t)
	db, err := sql.Open("sqlite", sqliteDSN(path, "ro", "_pragma=query_only(1)"))
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	rows, err := db.Query("SELECT statement FROM leaf ORDER BY idx")
	if err != nil {
		t.Fatal(err)
	}
	defer rows.Close()
	kinds := map[Kind]int{}
	for n := int64(0); rows.Next(); n++ {
		var b []byte
		if err := rows.Scan(&b); err != nil {
			t.Fatal(err)
		}
		s, err := ParseStatement(b)
		if err != nil {
			t.Fatalf("statement %d: %v", n, err)
		}
		if again, err := s.Encode(); err != nil || !bytes.Equal(again, b) || s.Sequence != n || s.Format != "graftnote statement 1" {
			t.Errorf("statement %d is another one when encoded again: %v", n, err)
		}
		kinds[s.Kind]++
	}
	if err := rows.Err(); err != nil {
		t.Fatal(err)
	}
	for kind, want := range map[Kind]int{Signed: 19, CounterSigned: 1, Corrected: 1, Addendum: 2, Withdrawn: 1, FollowUp: 3, FollowUpVoid: 1, KeyAdded: 5, KeyRevoked: 1} {
		if kinds[kind] != want {
			t.Errorf("%d of %s, want %d", kinds[kind], kind, want)
		}
	}
}

// A key that nobody vouched for signed by the rules of its time: what it signed
// stays, and it signs nothing more until somebody vouches.
func TestUnvouchedBefore(t *testing.T) {
	path, _ := writtenBefore(t)
	ctx := t.Context()
	c, err := Open(ctx, path, Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	keys, err := c.Keys(ctx)
	if err != nil || len(keys) != 5 || !keys[0].Founder || keys[1].VouchedBy != keys[0].ID || keys[2].Stands() {
		t.Fatalf("%+v, %v", keys, err)
	}
	voss, reyle := keyBefore(t, "voss.key"), keyBefore(t, "reyle.key")
	late := func(k *Key, minute int) Act {
		a := act(k, minute)
		a.Now = a.Now.AddDate(0, 3, 0)
		return a
	}
	p, err := c.Proof(ctx, "f6w9-conversion", 1)
	if err != nil {
		t.Fatal(err)
	}
	if v, err := VerifyProof(p, Trust{Keys: keys}); err != nil || !v.KeyTrusted {
		t.Errorf("what it signed: %v, %v", v.KeyTrusted, err)
	}
	add := AmendRequest{Act: late(reyle, 1), Case: "f6w9-conversion", Base: 1, Text: "added"}
	if _, err := c.Addendum(ctx, add); !errors.Is(err, ErrUnvouched) {
		t.Errorf("it signs on: %v", err)
	}
	must(t)(c.Vouch(ctx, VouchRequest{Act: late(voss, 2), ID: reyle.Public().ID}))
	must(t)(c.Addendum(ctx, add))
	clean(t, c)
}

func keyBefore(t testing.TB, name string) *Key {
	t.Helper()
	f, err := os.Open(filepath.Join("..", "testdata", "casebook-1", name))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	k, err := OpenKey(f, []byte("correct horse battery"))
	if err != nil {
		t.Fatal(err)
	}
	return k
}
