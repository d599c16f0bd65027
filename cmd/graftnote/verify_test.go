package main

import (
	"bytes"
	"context"
	"database/sql"
	"flag"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"graftnote/casebook"
	"graftnote/schema"
)

// allFlips makes TestBitFlips try more; the CI sets it.
var allFlips = flag.Bool("all-flips", false, "flip 1,000 bits in each product of three notes, not 1,000 in all")

// verifierOf looks with the eyes of 'verify' at files in memory.
func (b *testBook) verifier(more ...string) *verifier {
	b.t.Helper()
	return verifierWith(b.t, append([]string{"--casebook", b.path, "--site", "../../testdata/site", "--founders", b.founders()}, more...)...)
}

// founders is a reader's list with the first key of the casebook.
func (b *testBook) founders() string {
	b.t.Helper()
	path := filepath.Join(b.t.TempDir(), "founders")
	if err := os.WriteFile(path, []byte(b.keys["Imara Voss"].Public().ID+"\n"), 0o600); err != nil {
		b.t.Fatal(err)
	}
	return path
}

func verifierWith(t testing.TB, args ...string) *verifier {
	t.Helper()
	a := &app{env: testEnvironment()}
	a.print = newPrinter(&bytes.Buffer{}, &bytes.Buffer{}, a.env)
	var f verifyFlags
	for i := 0; i < len(args); i += 2 {
		switch args[i] {
		case "--casebook":
			f.place = args[i+1]
		case "--site":
			f.site = args[i+1]
		case "--trust":
			f.trust = append(f.trust, args[i+1])
		case "--founders":
			f.founders = args[i+1]
		case "--against":
			f.against = append(f.against, args[i+1])
		}
	}
	g, err := f.readSettings(a)
	if err != nil {
		t.Fatal(err)
	}
	v, err := a.newVerifier(&f, g)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if v.book != nil {
			v.book.Close()
		}
	})
	return v
}

// publicKey writes the public half of a signer.
func (b *testBook) publicKey(name string) string {
	b.t.Helper()
	path := filepath.Join(b.t.TempDir(), "signer.key"+publicEnd)
	if err := os.WriteFile(path, []byte(publicText(b.keys[name].Public())), 0o600); err != nil {
		b.t.Fatal(err)
	}
	return path
}

// said verifies bytes and gives the verdict and all lines that do not hold.
func said(t testing.TB, v *verifier, data []byte) (outcomeWord, string) {
	t.Helper()
	v.seen = map[string]*verified{}
	one, err := v.file("file", data)
	if err != nil {
		return fails, "unreadable"
	}
	var bad []string
	for _, l := range one.Lines {
		if l.Outcome != holds {
			bad = append(bad, l.Check+": "+l.What)
		}
	}
	return one.verdict(), strings.Join(bad, "\n")
}

// What was written verifies with the casebook. With the surgeon's public key alone
// note and transaction are proven, but not that they are still in force.
func TestVerifyWhatWasWritten(t *testing.T) {
	b, ids := wholeLife(t)
	out := b.write(ids...)
	pub, other := b.publicKey("Imara Voss"), b.publicKey("Noor Selby")
	v := b.verifier()
	alone := verifierWith(t, "--trust", pub, "--trust", other, "--site", "../../testdata/site")
	none := verifierWith(t, "--site", "../../testdata/site")
	n := 0
	for name, text := range contents(t, out) {
		if name == rowSchemaName || name == codeSystemName {
			// Nobody signs them; what another version or site wrote is no failure.
			if verdict, why := said(t, v, []byte(text)); verdict != holds {
				t.Errorf("%s: %s\n%s", name, verdict, why)
			}
			if verdict, why := said(t, v, []byte(strings.Replace(text, ":", ": ", 1))); verdict != unsigned {
				t.Errorf("%s of another version: %s\n%s", name, verdict, why)
			}
			continue
		}
		want := holds
		if strings.HasPrefix(name, ids[5]) {
			want = withdrawn
		}
		if verdict, why := said(t, v, []byte(text)); verdict != want {
			t.Errorf("%s: %s\n%s", name, verdict, why)
		}
		// Without the casebook all is proven but that the revision is still in force.
		wholeProof := !strings.HasSuffix(name, ".row.csv") // the page with the entry is in all the others
		verdict, why := said(t, alone, []byte(text))
		others := slices.DeleteFunc(strings.Split(why, "\n"), func(l string) bool { return strings.HasPrefix(l, "standing: ") })
		if verdict != notShown || (len(others) == 0) != wholeProof {
			t.Errorf("%s alone: %s\n%s", name, verdict, why)
		}
		if verdict, why := said(t, none, []byte(text)); verdict != notShown {
			t.Errorf("%s without keys: %s\n%s", name, verdict, why)
		}
		n++
	}
	if n < 30 {
		t.Errorf("only %d products", n)
	}
	if _, err := v.file("x", []byte("not a product")); err == nil {
		t.Error("a strange file")
	}
	// A draft is not signed.
	draft := filepath.Join(t.TempDir(), "draft")
	if code, _, stderr := runIn(testEnvironment(), "", "write", sample, "--out", draft); code != 0 {
		t.Fatal(stderr)
	}
	for _, end := range []string{".note.pdf", ".bundle.json", ".document.json"} {
		if verdict, why := said(t, v, read(t, draft, "a1k7-double-bubble"+end)); verdict != notShown || !strings.Contains(why, "not signed") {
			t.Errorf("draft%s: %s %s", end, verdict, why)
		}
	}
}

// Each of 1,000 random single-bit changes to a note, its proof (the stored statement
// and signature) and a bundle is detected. The generator's seed is fixed.
func TestBitFlips(t *testing.T) {
	b, ids := wholeLife(t)
	chosen := ids[1:2]
	if *allFlips {
		chosen = []string{ids[1], ids[3], ids[5]} // corrected, awaiting, withdrawn
	}
	out := b.write(chosen...)
	v := b.verifier()
	for _, id := range chosen {
		d, err := readDossier(t.Context(), b.book, id, schema.Options{Now: testNow})
		if err != nil {
			t.Fatal(err)
		}
		proof, err := encodeProofs(d.proofs)
		if err != nil {
			t.Fatal(err)
		}
		for name, data := range map[string][]byte{"proof": proof, "note": read(t, out, id+".note.pdf"), "bundle": read(t, out, id+".bundle.json"),
			"document": read(t, out, id+".document.json")} {
			n := 300 // 1,000 in all
			if name == "document" {
				n = 100
			}
			if *allFlips {
				n = 1000
			}
			if verdict, why := said(t, v, data); verdict != holds && verdict != withdrawn {
				t.Fatalf("%s of %s: %s %s", name, id, verdict, why)
			}
			r := rand.New(rand.NewPCG(3, uint64(len(data))))
			for range n {
				at, bit := r.IntN(len(data)), r.IntN(8)
				bad := slices.Clone(data)
				bad[at] ^= 1 << bit
				if verdict, _ := said(t, v, bad); verdict != fails && verdict != notShown {
					t.Fatalf("%s of %s: bit %d of byte %d of %d goes unseen", name, id, bit, at, len(data))
				}
			}
		}
	}
}

// Keys: a stranger's, a trusted name with another key, and a revoked one.
func TestVerifyKeys(t *testing.T) {
	b := newBook(t)
	id := b.sign(sampleText(t), "Imara Voss")
	page := read(t, b.write(id), id+".note.pdf")
	k, err := casebook.NewKey(&noise{n: 99}, "Imara Voss", "consultant")
	if err != nil {
		t.Fatal(err)
	}
	pub := filepath.Join(t.TempDir(), "other.key.pub")
	if err := os.WriteFile(pub, []byte(publicText(k.Public())), 0o600); err != nil {
		t.Fatal(err)
	}
	if verdict, why := said(t, verifierWith(t, "--trust", pub, "--site", "../../testdata/site"), page); verdict != fails || !strings.Contains(why, "unknown key") {
		t.Errorf("%s %s", verdict, why)
	}
	if verdict, why := said(t, b.verifier("--trust", pub), page); verdict != fails || !strings.Contains(why, "unknown key") {
		t.Errorf("%s %s", verdict, why)
	}
	r := casebook.RevokeRequest{Act: b.act(b.keys["Imara Voss"]), ID: b.keys["Imara Voss"].Public().ID, Why: "lost", Since: time.Date(2026, 9, 1, 0, 0, 0, 0, time.UTC)}
	if _, err := b.book.RevokeKey(context.Background(), r); err != nil {
		t.Fatal(err)
	}
	if verdict, why := said(t, b.verifier(), page); verdict != notShown || !strings.Contains(why, "revoked key") {
		t.Errorf("%s %s", verdict, why)
	}
}

// The whole casebook: what was deleted, moved, edited or rolled back has its name,
// and a note shows it too (RFC 6962 section 2.1.2: the later tree must contain the
// earlier one).
func TestVerifyCasebook(t *testing.T) {
	b := newBook(t)
	one := b.sign(sampleText(t), "Imara Voss")
	before := read(t, b.path)
	wal, _ := os.ReadFile(b.path + "-wal")
	two := b.sign(entryFile(t, "02-failed-bubble-manual.yaml"), "Imara Voss")
	page := read(t, b.write(one, two), two+".note.pdf")
	kept := filepath.Join(t.TempDir(), "kept")
	cp, err := b.book.Checkpoint(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(kept, []byte(cp), 0o600); err != nil {
		t.Fatal(err)
	}
	if err := b.book.Close(); err != nil {
		t.Fatal(err)
	}
	code, stdout, stderr := runIn(testEnvironment(), "", "verify", "--casebook", b.path, "--against", kept, "--founders", b.founders())
	if code != 0 || !strings.Contains(stdout, "It holds.") || !strings.Contains(strings.Join(strings.Fields(stdout), " "), "continues the kept checkpoint") {
		t.Fatalf("%d %s %s", code, stdout, stderr)
	}
	if verdict, why := said(t, b.verifier(), []byte(cp)); verdict != holds {
		t.Errorf("kept checkpoint: %s %s", verdict, why)
	}
	whole := read(t, b.path)
	for name, x := range map[string]struct {
		do         func(t *testing.T, db *sql.DB)
		want, note string
	}{
		"deleted": {sqlDo("DELETE FROM leaf WHERE idx = 2"), "deleted statement", ""},
		"edited":  {sqlDo("UPDATE leaf SET statement = CAST(replace(CAST(statement AS TEXT), '7.75 mm', '7.25 mm') AS BLOB) WHERE idx = 1"), "edited entry", ""},
		"moved": {sqlDo("UPDATE leaf SET idx = 9 WHERE idx = 1", "UPDATE leaf SET idx = 1 WHERE idx = 2", "UPDATE leaf SET idx = 2 WHERE idx = 9"),
			"reordered statement", ""},
		"rolled back": {nil, "rolled-back casebook", "rolled-back casebook"},
	} {
		path := filepath.Join(t.TempDir(), "casebook.db")
		text := whole
		if x.do == nil {
			text = before
			if err := os.WriteFile(path+"-wal", wal, 0o600); err != nil {
				t.Fatal(err)
			}
		}
		if err := os.WriteFile(path, text, 0o600); err != nil {
			t.Fatal(err)
		}
		if x.do != nil {
			db, err := sql.Open("sqlite", path)
			if err != nil {
				t.Fatal(err)
			}
			x.do(t, db)
			if err := db.Close(); err != nil {
				t.Fatal(err)
			}
		}
		code, stdout, stderr := runIn(testEnvironment(), "", "verify", "--casebook", path, "--against", kept)
		if code != statusBlocked || !strings.Contains(strings.Join(strings.Fields(stdout), " "), x.want) || !strings.Contains(stdout, "It does not hold.") {
			t.Errorf("%s: %d %s %s", name, code, stdout, stderr)
		}
		if x.note == "" {
			continue
		}
		if verdict, why := said(t, verifierWith(t, "--casebook", path, "--site", "../../testdata/site"), page); verdict != fails || !strings.Contains(why, x.note) {
			t.Errorf("%s, the note: %s %s", name, verdict, why)
		}
	}
}

func sqlDo(statements ...string) func(*testing.T, *sql.DB) {
	return func(t *testing.T, db *sql.DB) {
		t.Helper()
		// An intruder with the file in hand lifts the triggers first.
		statements = append([]string{"DROP TRIGGER leaf_stays", "DROP TRIGGER leaf_kept"}, statements...)
		for _, s := range statements {
			if _, err := db.Exec(s); err != nil {
				t.Fatal(err)
			}
		}
	}
}

// An older revision is genuine and no longer in force: that is a verdict of its own,
// and no success for a script.
func TestVerifyOlderRevision(t *testing.T) {
	b := newBook(t)
	id := b.sign(sampleText(t), "Imara Voss")
	old := contents(t, b.write(id))
	look := func(after string, want outcomeWord) {
		t.Helper()
		for _, end := range []string{".note.pdf", ".bundle.json", ".document.json", ".row.csv"} {
			verdict, why := said(t, b.verifier(), []byte(old[id+end]))
			fit := want
			switch { // a row holds the entry alone, and not who added what to the note
			case end == ".row.csv" && want == superseded:
				fit = holds
			case end == ".row.csv" && want == withdrawn:
				fit = superseded
			}
			if verdict != fit {
				t.Errorf("%s after %s: %s %s", end, after, verdict, why)
			}
		}
		path := filepath.Join(t.TempDir(), "old.pdf")
		if err := os.WriteFile(path, []byte(old[id+".note.pdf"]), 0o600); err != nil {
			t.Fatal(err)
		}
		code, stdout, _ := runIn(testEnvironment(), "", "verify", path, "--casebook", b.path, "--site", "../../testdata/site", "--founders", b.founders())
		if (code == statusDone) != (want == holds) {
			t.Errorf("status %d after %s: %s", code, after, stdout)
		}
	}
	look("signing", holds)
	b.amend(b.book.Addendum, id, "Imara Voss", 1, casebook.AmendRequest{Text: "seen on the ward"})
	look("an addendum", superseded)
	b.amend(b.book.Withdraw, id, "Imara Voss", 2, casebook.AmendRequest{Why: "entered for another patient"})
	look("a withdrawal", withdrawn)
}
