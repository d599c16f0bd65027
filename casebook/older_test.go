package casebook

import (
	"bytes"
	"slices"
	"testing"
)

// olderKey is the consultant's key of that casebook.
func olderKey(t testing.TB) *Key {
	t.Helper()
	return keyBefore(t, "voss.key")
}

// stands holds the old casebook to what was signed in it, whichever layout it has.
func stands(t *testing.T, c *Casebook) {
	t.Helper()
	if r := clean(t, c); r.Statements < 34 || r.Cases < 19 {
		t.Errorf("report %+v", r)
	}
	for id, want := range map[string]struct {
		state State
		acts  int
	}{"a1k7-double-bubble": {StateAmended, 4}, "e5t2-healed-hydrops": {StateAwaiting, 1}, "b2m4-failed-bubble": {StateWithdrawn, 2}} {
		h, err := c.Get(t.Context(), id)
		if err != nil || h.State != want.state || len(h.Revisions) != want.acts || h.Document(9) != nil {
			t.Errorf("%s: %s, %d acts, %v", id, h.State, len(h.Revisions), err)
			continue
		}
		for _, r := range h.Revisions {
			if r.Statement.Format != formatEntryOnly {
				t.Errorf("%s: %s", id, r.Statement.Format)
			}
		}
	}
	n := 0
	if err := c.EachInForce(t.Context(), func(i InForce) error { n++; return i.Err }); err != nil || n < 18 {
		t.Errorf("%d in force, %v", n, err)
	}
}

// A casebook of an earlier layout is read as it is, brought to the present one, and
// signed on; what stood in it keeps its bytes.
func TestOlderCasebookOpens(t *testing.T) {
	dsn, _ := writtenBefore(t)
	before, err := Open(t.Context(), dsn, Options{ReadOnly: true})
	if err != nil {
		t.Fatal(err)
	}
	stands(t, before)
	if list, err := before.Submitted(t.Context()); err != nil || len(list) != 14 {
		t.Errorf("%v, %v", list, err)
	}
	was, err := before.Proofs(t.Context(), "a1k7-double-bubble")
	if err != nil {
		t.Fatal(err)
	}
	_ = before.Close()
	goesOn(t, dsn)
	after := open(t, dsn)
	now, err := after.Proofs(t.Context(), "a1k7-double-bubble")
	if err != nil || len(now) != len(was) {
		t.Fatalf("%d proofs, %v", len(now), err)
	}
	for i := range was {
		a, _ := was[i].Encode()
		b, _ := now[i].Encode()
		if !bytes.Equal(a, b) {
			t.Errorf("the proof of revision %d changed", i+1)
		}
	}
}

// The same on each store, restored from a backup and set back to the first layout.
func TestMigration(t *testing.T) {
	onEachPlace(t, func(t *testing.T, dsn string) {
		var b bytes.Buffer
		lock, unlock := Lock{Passphrase: []byte("back up")}, Unlock{Passphrase: []byte("back up")}
		old, _ := writtenBefore(t)
		if _, err := open(t, old).Backup(t.Context(), &b, lock); err != nil {
			t.Fatal(err)
		}
		if _, err := Restore(t.Context(), &b, unlock, dsn, RestoreOptions{}); err != nil {
			t.Fatal(err)
		}
		db, _ := raw(t, dsn)
		blob := map[bool]string{true: "TEXT", false: "TEXT COLLATE \"C\""}[!IsServer(dsn)]
		execs("DROP TABLE dispatch", "DROP TABLE document", "DROP INDEX leaf_followup", "DELETE FROM schema_version WHERE version > 1",
			"CREATE TABLE product (case_id "+blob+" NOT NULL)")(t, db, nil)
		before, err := Open(t.Context(), dsn, Options{ReadOnly: true})
		if err != nil {
			t.Fatal(err)
		}
		stands(t, before)
		_ = before.Close()
		goesOn(t, dsn)
	})
}

// goesOn opens an older casebook for writing and acts on it.
func goesOn(t *testing.T, dsn string) {
	t.Helper()
	c := open(t, dsn)
	defer c.Close()
	stands(t, c)
	k := newKey(t, 9, "Noor Talber", "consultant")
	must(t)(c.AddKey(t.Context(), KeyRequest{Act: act(olderKey(t), 1), New: k.Public()}))
	must(t)(c.CounterSign(t.Context(), AmendRequest{Act: act(k, 2), Case: "e5t2-healed-hydrops", Base: 1, Why: "the named surgeon is away"}))
	sign(t, c, k, "after-1", 3)
	must(t)(c.RecordFollowUp(t.Context(), followUpRequest(followUpOf(t, "after-1", nil), act(k, 4), 0)))
	if err := c.RecordSubmission(t.Context(), packageOf("first", "after-1", 1, 0, RowNew)); err != nil {
		t.Fatal(err)
	}
	h, err := c.Get(t.Context(), "after-1")
	if err != nil || h.Current().Statement.Format != Format || !slices.Equal(h.Document(1), shownAs(checkedEntry(t, "after-1"))) {
		t.Errorf("%v, %s", err, h.Document(1))
	}
	if r := clean(t, c); r.FollowUps < 1 || r.Packages < 1 {
		t.Errorf("report %+v", r)
	}
}
