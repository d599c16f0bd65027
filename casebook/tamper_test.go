package casebook

import (
	"context"
	"database/sql"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// raw opens the database behind a casebook as an intruder with its file or its
// database password would, and lifts the triggers that guard the tables.
func raw(t testing.TB, dsn string) (*sql.DB, func(string) string) {
	t.Helper()
	driver, mark := "sqlite", func(q string) string { return q }
	if IsServer(dsn) {
		driver, mark = "pgx", dollars
	}
	db, err := sql.Open(driver, dsn)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = db.Close() })
	for trigger, table := range map[string]string{"leaf_stays": "leaf", "leaf_kept": "leaf", "hash_stays": "hash", "hash_kept": "hash", "checkpoint_stays": "checkpoint", "checkpoint_kept": "checkpoint",
		"leaf_once": "leaf", "hash_once": "hash", "checkpoint_once": "checkpoint", "document_stays": "document", "document_kept": "document"} {
		q := "DROP TRIGGER IF EXISTS " + trigger
		if driver == "pgx" {
			q += " ON " + table
		}
		if _, err := db.Exec(q); err != nil {
			t.Fatal(err)
		}
	}
	return db, mark
}

// The tables themselves refuse to change what is signed.
func TestTablesRefuseChange(t *testing.T) {
	onEachPlace(t, func(t *testing.T, dsn string) {
		c, k := opened(t, dsn)
		sign(t, c, k, "table-1", 1)
		for _, q := range []string{"UPDATE leaf SET signed = ''", "DELETE FROM leaf", "UPDATE hash SET idx = idx + 100", "DELETE FROM hash", "UPDATE checkpoint SET note = ''", "DELETE FROM checkpoint"} {
			if err := c.s.write(t.Context(), func(x tx) error { return x.exec(q) }); err == nil {
				t.Errorf("%s went through", q)
			}
		}
		clean(t, c)
	})
}

// tampering is one thing an intruder does with the database in hand, and the
// fault that must be named for it. The list is that of the threats a signed log
// is held against (RFC 6962: no removal, no change, no second history).
type tampering struct {
	name string
	want FaultKind
	do   []string
	in   func(t *testing.T, db *sql.DB, mark func(string) string)
}

func rewriteStatement(index int64, edit func(string) string) func(*testing.T, *sql.DB, func(string) string) {
	return func(t *testing.T, db *sql.DB, mark func(string) string) {
		var b []byte
		if err := db.QueryRow(mark("SELECT statement FROM leaf WHERE idx = ?"), index).Scan(&b); err != nil {
			t.Fatal(err)
		}
		if _, err := db.Exec(mark("UPDATE leaf SET statement = ? WHERE idx = ?"), []byte(edit(string(b))), index); err != nil {
			t.Fatal(err)
		}
	}
}

var tamperings = []tampering{
	{name: "a measurement edited", want: EditedEntry, in: rewriteStatement(2, func(s string) string { return replaceOnce(s, "372 µm", "472 µm") })},
	{name: "entry and digest edited", want: BadSignature, in: rewriteStatement(2, func(s string) string {
		st, _ := ParseStatement([]byte(s))
		st.Entry = []byte(replaceOnce(string(st.Entry), "372 µm", "472 µm"))
		st.EntrySHA256 = digest(st.Entry)
		b, _ := st.Encode()
		return string(b)
	})},
	{name: "statement spoiled", want: BadStatement, in: rewriteStatement(2, func(s string) string { return s + " " })},
	{name: "signer renamed", want: BadSignature, in: rewriteStatement(2, func(s string) string {
		return replaceOnce(s, `"name":"Imara Voss","role":"consultant"`, `"name":"Nobody Else","role":"consultant"`)
	})},
	{name: "signature exchanged", want: BadSignature, do: []string{"UPDATE leaf SET signature = (SELECT signature FROM leaf WHERE idx = 3) WHERE idx = 2"}},
	{name: "note deleted", want: Deleted, do: []string{"DELETE FROM leaf WHERE idx = 2"}},
	{name: "note deleted with its hash", want: WrongHash, do: []string{"DELETE FROM leaf WHERE idx = 2", "DELETE FROM hash WHERE idx = 3"}},
	{name: "last note deleted", want: Deleted, do: []string{"DELETE FROM leaf WHERE idx = 5"}},
	{name: "two notes exchanged", want: Reordered, do: []string{"UPDATE leaf SET idx = -1 WHERE idx = 2", "UPDATE leaf SET idx = 2 WHERE idx = 3", "UPDATE leaf SET idx = 3 WHERE idx = -1"}},
	{name: "a later note moved into a gap", want: Reordered, do: []string{"DELETE FROM leaf WHERE idx = 2", "UPDATE leaf SET idx = idx - 1 WHERE idx = 3", "UPDATE leaf SET idx = idx - 1 WHERE idx = 4", "UPDATE leaf SET idx = idx - 1 WHERE idx = 5"}},
	{name: "stored hash changed", want: WrongHash, do: []string{"UPDATE hash SET hash = (SELECT hash FROM hash WHERE idx = 0) WHERE idx = 3"}},
	{name: "inner hash changed", want: WrongHash, do: []string{"UPDATE hash SET hash = (SELECT hash FROM hash WHERE idx = 0) WHERE idx = 2"}},
	{name: "checkpoint exchanged", want: BadCheckpoint, do: []string{"UPDATE checkpoint SET note = (SELECT note FROM checkpoint WHERE size = 2) WHERE size = 3"}},
	{name: "checkpoint deleted", want: BadCheckpoint, do: []string{"DELETE FROM checkpoint WHERE size = 3"}},
	{name: "tail cut", want: RolledBack, do: []string{"DELETE FROM leaf WHERE idx = 5", "DELETE FROM checkpoint WHERE size = 6", "DELETE FROM hash WHERE idx > 7", "DELETE FROM casefile WHERE case_id = 'tamper-4'", "DELETE FROM case_event WHERE case_id = 'tamper-4'"}},
	{name: "list entry edited", want: WrongIndex, do: []string{"UPDATE casefile SET eye = 'left' WHERE case_id = 'tamper-2'"}},
	{name: "list entry deleted", want: WrongIndex, do: []string{"DELETE FROM casefile WHERE case_id = 'tamper-2'"}},
	{name: "event invented", want: WrongIndex, do: []string{"INSERT INTO case_event (kind, date, case_id) VALUES ('conversion', '2026-09-08', 'tamper-2')"}},
	{name: "column edited", want: WrongIndex, do: []string{"UPDATE leaf SET case_id = 'tamper-9' WHERE idx = 3"}},
	{name: "key renamed", want: WrongIndex, do: []string{"UPDATE pubkey SET name = 'Nobody Else'"}},
	{name: "key deleted", want: WrongIndex, do: []string{"DELETE FROM pubkey"}},
	{name: "revocation forgotten", want: WrongIndex, do: []string{"UPDATE pubkey SET revoked = 3 WHERE added = 0"}},
}

// Each tampering is named for what it is, on both stores; the log stands on
// statements 0 (key), 1 (key), 2 to 5 (four notes).
func TestTamperingIsNamed(t *testing.T) {
	for _, x := range tamperings {
		t.Run(strings.ReplaceAll(x.name, " ", "-"), func(t *testing.T) {
			onEachPlace(t, func(t *testing.T, dsn string) {
				c, k := opened(t, dsn)
				must(t)(c.AddKey(t.Context(), KeyRequest{Act: act(k, 0), New: newKey(t, 9, "Pell Arden", "trainee").Public()}))
				var kept string
				for n := range 4 {
					kept = sign(t, c, k, fmt.Sprintf("tamper-%d", n+1), n).Checkpoint
				}
				clean(t, c, kept)
				if err := c.Close(); err != nil {
					t.Fatal(err)
				}
				db, mark := raw(t, dsn)
				for _, q := range x.do {
					if _, err := db.Exec(q); err != nil {
						t.Fatal(err)
					}
				}
				if x.in != nil {
					x.in(t, db, mark)
				}
				r := look(t, dsn, kept)
				if !slices.ContainsFunc(r.Faults, func(f Fault) bool { return f.Kind == x.want }) {
					t.Errorf("faults %v, want %s", r.Faults, x.want)
				}
			})
		})
	}
}

// look checks a casebook that may be too broken to open for writing.
func look(t testing.TB, dsn string, older ...string) Report {
	t.Helper()
	c, err := Open(context.Background(), dsn, Options{ReadOnly: true})
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	r, err := c.Check(context.Background(), nil, older...)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// A whole log forged by an insider: another key under the surgeon's name signs a
// note into the tables with correct hashes. It is named as an unknown key.
func TestForgedNoteUnderUnknownKey(t *testing.T) {
	onEachPlace(t, func(t *testing.T, dsn string) {
		c, k := opened(t, dsn)
		sign(t, c, k, "forged-1", 1)
		thief := newKey(t, 60, "Imara Voss", "consultant")
		err := c.s.write(t.Context(), func(x tx) error {
			e, err := c.loadEdge(x)
			if err != nil {
				return err
			}
			st, err := loadStatement(x, 1)
			if err != nil {
				return err
			}
			st.Sequence, st.Case, st.Signer.Key = 2, "forged-2", thief.Public().ID
			text, err := st.Encode()
			if err != nil {
				return err
			}
			if _, _, err = c.extend(x, e, st, text, thief.sign(text), thief); err != nil {
				return err
			}
			_, err = record(x, st, caseRow{})
			return err
		})
		if err != nil {
			t.Fatal(err)
		}
		r := look(t, dsn)
		if !slices.ContainsFunc(r.Faults, func(f Fault) bool { return f.Kind == UnknownKey && f.Index == 2 }) {
			t.Errorf("faults %v", r.Faults)
		}
		if _, err := Open(t.Context(), dsn, Options{}); err == nil {
			t.Error("a log under an unknown key is opened for writing")
		}
	})
}

// Each of 1,000 random single-bit changes to what is stored of a note (statement,
// signature, checkpoint, hash) is detected.
func TestEveryStoredBitCounts(t *testing.T) {
	dsn := places()[0].dsn(t)
	c, k := opened(t, dsn)
	sign(t, c, k, "bits-1", 1)
	sign(t, c, k, "bits-2", 2)
	db, _ := raw(t, dsn)
	r := rand.New(rand.NewPCG(5, 6))
	targets := []struct{ table, column, where string }{
		{"leaf", "statement", "idx = 1"}, {"leaf", "signature", "idx = 1"}, {"checkpoint", "note", "size = 2"}, {"hash", "hash", "idx = 1"}, {"leaf", "statement", "idx = 2"},
	}
	for range 1000 {
		x := targets[r.IntN(len(targets))]
		var b []byte
		if err := db.QueryRow("SELECT " + x.column + " FROM " + x.table + " WHERE " + x.where).Scan(&b); err != nil {
			t.Fatal(err)
		}
		bent := slices.Clone(b)
		at := r.IntN(len(bent) * 8)
		bent[at/8] ^= 1 << (at % 8)
		put := func(v []byte) {
			if _, err := db.Exec("UPDATE "+x.table+" SET "+x.column+" = ? WHERE "+x.where, asStored(x.column, v)); err != nil {
				t.Fatal(err)
			}
		}
		put(bent)
		if rep, err := c.Check(t.Context(), nil); err == nil && rep.Clean() {
			t.Errorf("bit %d of %s.%s is not noticed", at, x.table, x.column)
		}
		put(b)
	}
	clean(t, c)
}

// asStored keeps the column's type: a note is text, all else bytes.
func asStored(column string, v []byte) any {
	if column == "note" {
		return string(v)
	}
	return v
}

// A page of the file overwritten, or a bit of it flipped: either the casebook
// says that it is damaged, or nothing that was signed has changed.
func TestCorruptedPages(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "whole.db")
	c, k := opened(t, path)
	var proofs []Proof
	for n := range 8 {
		sign(t, c, k, fmt.Sprintf("page-%d", n), n)
	}
	for n := range 8 {
		p, err := c.Proof(t.Context(), fmt.Sprintf("page-%d", n), 1)
		if err != nil {
			t.Fatal(err)
		}
		proofs = append(proofs, p)
	}
	if err := c.Close(); err != nil {
		t.Fatal(err)
	}
	whole, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	const page = 4096
	r := rand.New(rand.NewPCG(7, 8))
	noticed := 0
	try := func(bent []byte) {
		at := filepath.Join(dir, "bent.db")
		if err := os.WriteFile(at, bent, 0o600); err != nil {
			t.Fatal(err)
		}
		if sound(t, at, proofs) {
			return
		}
		noticed++
	}
	for at := 0; at+page <= len(whole); at += page {
		bent := slices.Clone(whole)
		for i := range page {
			bent[at+i] = byte(r.Uint32())
		}
		try(bent)
	}
	for range 100 {
		bent := slices.Clone(whole)
		bent[r.IntN(len(bent))] ^= 1 << r.IntN(8)
		try(bent)
	}
	if pages := len(whole) / page; noticed < pages {
		t.Errorf("%d of %d damaged pages and 100 bits were noticed", noticed, pages)
	}
}

// sound opens and checks a casebook; when it calls itself clean, every proof must
// be as it was.
func sound(t *testing.T, path string, proofs []Proof) bool {
	c, err := Open(t.Context(), path, Options{})
	if err != nil {
		return false
	}
	defer c.Close()
	r, err := c.Check(t.Context(), nil)
	if err != nil || !r.Clean() {
		return false
	}
	for n, want := range proofs {
		got, err := c.Proof(t.Context(), fmt.Sprintf("page-%d", n), 1)
		a, _ := got.Encode()
		b, _ := want.Encode()
		if err != nil || string(a) != string(b) {
			t.Errorf("called clean, but the proof of case %d changed (%v)", n, err)
		}
	}
	return true
}

func loadStatement(x tx, index int64) (*Statement, error) {
	var b []byte
	found, err := x.one("SELECT statement FROM leaf WHERE idx = ?", []any{index}, &b)
	if err != nil {
		return nil, err
	}
	s, err := ParseStatement(b)
	if !found || err != nil {
		return nil, ErrDamaged
	}
	return s, nil
}
