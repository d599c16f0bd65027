package casebook

import (
	"encoding/json"
	"errors"
	"math/rand/v2"
	"slices"
	"testing"

	"golang.org/x/mod/sumdb/tlog"
)

// twoNotes is a casebook with two signed notes and their proofs.
func twoNotes(t testing.TB, dsn string) (c *Casebook, k *Key, a, b Proof) {
	t.Helper()
	c, k = opened(t, dsn)
	sign(t, c, k, "proof-1", 1)
	sign(t, c, k, "proof-2", 2)
	for i, into := range []*Proof{&a, &b} {
		p, err := c.Proof(t.Context(), []string{"proof-1", "proof-2"}[i], 1)
		if err != nil {
			t.Fatal(err)
		}
		*into = p
	}
	return c, k, a, b
}

// A proof stands by itself, through JSON, and each way of lying has its name.
// 21 CFR 11.70: a signature cannot be moved to another record.
func TestVerifyProof(t *testing.T) {
	onEachPlace(t, func(t *testing.T, dsn string) {
		c, k, a, b := twoNotes(t, dsn)
		keys, err := c.Keys(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		text, err := a.Encode()
		if err != nil {
			t.Fatal(err)
		}
		again, err := ParseProof(text)
		if err != nil {
			t.Fatal(err)
		}
		v, err := VerifyProof(again, Trust{Keys: keys})
		if err != nil || !v.Holds() || !v.Content || !v.Signature || !v.Inclusion || !v.Sealed || !v.KeyTrusted {
			t.Fatalf("%+v, %v", v, err)
		}
		if v, err := VerifyProof(a, Trust{}); err != nil || v.KeyTrusted {
			t.Errorf("without trusted keys: %v, %v", v.KeyTrusted, err)
		}
		stranger := newKey(t, 50, "Imara Voss", "consultant")
		for name, x := range map[string]struct {
			want  FaultKind
			edit  func(*Proof)
			trust Trust
		}{
			"signature of another note":  {BadSignature, func(p *Proof) { p.Signature = b.Signature }, Trust{}},
			"statement of another note":  {BadSignature, func(p *Proof) { p.Statement = b.Statement }, Trust{}},
			"checkpoint of another note": {NotInLog, func(p *Proof) { p.Checkpoint = b.Checkpoint }, Trust{}},
			"inclusion cut":              {NotInLog, func(p *Proof) { p.Inclusion = p.Inclusion[:0] }, Trust{}},
			"another place":              {Reordered, func(p *Proof) { p.Index-- }, Trust{}},
			"key left out":               {UnknownKey, func(p *Proof) { p.Keys = nil }, Trust{}},
			"key of a stranger":          {UnknownKey, func(*Proof) {}, Trust{Keys: []PublicKey{stranger.Public()}}},
			"edited entry":               {EditedEntry, editEntry, Trust{}},
			"older checkpoint, forked":   {Forked, func(*Proof) {}, Trust{Checkpoints: []string{forged(t, k, a.Checkpoint)}}},
			"revoked key":                {RevokedKey, func(p *Proof) { *p = b }, Trust{Keys: []PublicKey{revoked(k)}}},
			"renamed signer":             {WrongSigner, func(*Proof) {}, Trust{Keys: []PublicKey{renamed(k)}}},
		} {
			p := again
			p.Statement, p.Inclusion = slices.Clone(p.Statement), slices.Clone(p.Inclusion)
			x.edit(&p)
			v, err := VerifyProof(p, x.trust)
			if err == nil || !slices.ContainsFunc(v.Faults, func(f Fault) bool { return f.Kind == x.want }) {
				t.Errorf("%s: %v, want %s", name, v.Faults, x.want)
			}
		}
	})
}

// editEntry changes one digit of a measurement and leaves all else.
func editEntry(p *Proof) {
	const old, new = "372 µm", "472 µm"
	p.Statement = []byte(replaceOnce(string(p.Statement), old, new))
}

// revoked is the key as known to somebody who knows of its revocation at the
// first note's place.
func revoked(k *Key) PublicKey {
	p := k.Public()
	p.Revoked, p.RevokedAt = 1, "2026-09-08T10:00:00Z"
	return p
}

func renamed(k *Key) PublicKey {
	p := k.Public()
	p.Name = "Somebody Else"
	return p
}

// forged signs another tree of the same size.
func forged(t testing.TB, k *Key, checkpoint string) string {
	t.Helper()
	c, err := ParseCheckpoint(checkpoint)
	if err != nil {
		t.Fatal(err)
	}
	c.Root = tlog.RecordHash([]byte("another history"))
	s, err := c.seal(k)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// Each of 1,000 random single-bit changes to a proof is detected, wherever it
// falls: statement, signature, place, hashes, checkpoint, key.
func TestEveryBitOfAProofCounts(t *testing.T) {
	c, _, a, _ := twoNotes(t, places()[0].dsn(t))
	keys, err := c.Keys(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	text, err := json.Marshal(a)
	if err != nil {
		t.Fatal(err)
	}
	r := rand.New(rand.NewPCG(3, 4))
	for range 1000 {
		bent := slices.Clone(text)
		at, bit := r.IntN(len(bent)), r.IntN(8)
		bent[at] ^= 1 << bit
		p, err := ParseProof(bent)
		if err != nil {
			continue
		}
		if _, err := VerifyProof(p, Trust{Keys: keys}); err == nil {
			t.Errorf("bit %d of byte %d is not noticed", bit, at)
		}
	}
}

// A rolled-back, a forked and a foreign casebook are told apart by a checkpoint
// that somebody kept.
func TestGrowthTellsApart(t *testing.T) {
	onEachPlace(t, func(t *testing.T, dsn string) {
		c, k, a, b := twoNotes(t, dsn)
		cp, _ := ParseCheckpoint(b.Checkpoint)
		later, foreign := cp, cp
		later.Size += 3
		foreign.Casebook = "00000000000000000000000000000000"
		for name, x := range map[string]struct {
			old  string
			want FaultKind
		}{
			"larger":       {sealed(t, k, later), RolledBack},
			"foreign":      {sealed(t, k, foreign), OtherCasebook},
			"forked":       {forged(t, k, a.Checkpoint), Forked},
			"forked, same": {forged(t, k, b.Checkpoint), Forked},
			"malformed":    {"graftnote", BadCheckpoint},
		} {
			var f Fault
			if _, err := c.ProveGrowth(t.Context(), x.old); !errors.As(err, &f) || f.Kind != x.want {
				t.Errorf("%s: %v, want %s", name, err, x.want)
			}
		}
		g, err := c.ProveGrowth(t.Context(), a.Checkpoint)
		if err != nil {
			t.Fatal(err)
		}
		if err := VerifyGrowth(g, Trust{Keys: []PublicKey{newKey(t, 51, "A B", "surgeon").Public()}}); err == nil {
			t.Error("growth under an unknown key")
		}
		g.Old = forged(t, k, a.Checkpoint)
		var f Fault
		if err := VerifyGrowth(g, Trust{}); !errors.As(err, &f) || f.Kind != Forked {
			t.Errorf("forked growth: %v", err)
		}
	})
}

func sealed(t testing.TB, k *Key, c Checkpoint) string {
	t.Helper()
	s, err := c.seal(k)
	if err != nil {
		t.Fatal(err)
	}
	return s
}
