package casebook

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"strings"
	"testing"
)

// packageOf is a package with one row of an operation.
func packageOf(id, caseID string, revision, replaces int, action Action) Submission {
	return Submission{Package: id, Month: "2026-11", Mode: "safe-harbor", Manifest: digest([]byte("manifest " + id)), Checkpoint: "checkpoint\n", At: "2026-12-01T08:00:00Z", By: "coordinator",
		Steps: map[string]int{"age": 1},
		Rows:  []SentRow{{Kind: "operation", Key: "r-" + caseID, Revision: revision, Digest: digest(fmt.Appendf(nil, "%s %d", caseID, revision)), Action: action, Replaces: replaces, Reason: "first", Case: caseID, Note: 1}}}
}

func answerOf(id string, state AnswerState, rows ...RowResult) RegistryAnswer {
	return RegistryAnswer{Package: id, Answer: state, File: digest([]byte(id + string(state))), At: "2026-12-02T08:00:00Z", Rows: rows}
}

func accepted(t *testing.T, c *Casebook) string {
	t.Helper()
	list, err := c.Submitted(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	var out []string
	for _, r := range list {
		out = append(out, fmt.Sprintf("%s %d %s by %s", r.Key, r.Revision, r.Action, r.Package))
	}
	return strings.Join(out, "; ")
}

// Nothing counts as sent before an answer is read back; a correction names the
// accepted version; a withdrawal is a row; refused and pending change nothing.
// The answers are the three states in which registries answer (refused, received
// and pending, received with findings), and plain acceptance.
func TestSubmissions(t *testing.T) {
	onEachPlace(t, func(t *testing.T, dsn string) {
		ctx := context.Background()
		c, k := opened(t, dsn)
		for i, id := range []string{"sent-1", "sent-2"} {
			sign(t, c, k, id, i+1)
		}
		two := packageOf("p1", "sent-1", 1, 0, RowNew)
		two.Rows = append(two.Rows, packageOf("p1", "sent-2", 1, 0, RowNew).Rows...)
		step := func(what string, err, want error, have string) {
			t.Helper()
			if !errors.Is(err, want) || want == nil && err != nil {
				t.Errorf("%s: %v, want %v", what, err, want)
			}
			if got := accepted(t, c); got != have {
				t.Errorf("%s: accepted %q, want %q", what, got, have)
			}
		}
		const one = "r-sent-1 1 new by p1"
		step("answered before sent", c.RecordReceipt(ctx, answerOf("p1", AnswerAccepted)), ErrNoPackage, "")
		step("sent", c.RecordSubmission(ctx, two), nil, "")
		step("sent twice", c.RecordSubmission(ctx, two), nil, "")
		other := two
		other.Rows = two.Rows[:1]
		step("another under the name", c.RecordSubmission(ctx, other), ErrPackage, "")
		step("corrected before accepted", c.RecordSubmission(ctx, packageOf("p2", "sent-1", 2, 1, RowCorrected)), ErrNotAccepted, "")
		step("pending", c.RecordReceipt(ctx, answerOf("p1", AnswerPending)), nil, "")
		step("of no row", c.RecordReceipt(ctx, answerOf("p1", AnswerWithFindings, RowResult{"operation", "r-none", true, ""})), ErrPackage, "")
		step("accepted and refused", c.RecordReceipt(ctx, answerOf("p1", AnswerAccepted, RowResult{"operation", "r-sent-2", true, ""})), ErrPackage, "")
		step("one row twice", c.RecordReceipt(ctx, answerOf("p1", AnswerWithFindings, RowResult{"operation", "r-sent-2", true, "E12"}, RowResult{"operation", "r-sent-2", false, ""})), ErrPackage, "")
		step("with findings", c.RecordReceipt(ctx, answerOf("p1", AnswerWithFindings, RowResult{"operation", "r-sent-2", true, "E12"})), nil, one)
		step("the same again", c.RecordReceipt(ctx, answerOf("p1", AnswerWithFindings, RowResult{"operation", "r-sent-2", true, "E12"})), nil, one)
		step("another final answer", c.RecordReceipt(ctx, answerOf("p1", AnswerRefused)), ErrAnswered, one)
		step("same revision again", c.RecordSubmission(ctx, packageOf("p2", "sent-1", 1, 1, RowCorrected)), ErrPackage, one)
		step("new although accepted", c.RecordSubmission(ctx, packageOf("p2", "sent-1", 2, 1, RowNew)), ErrNotAccepted, one)
		step("correction sent", c.RecordSubmission(ctx, packageOf("p2", "sent-1", 2, 1, RowCorrected)), nil, one)
		step("correction refused", c.RecordReceipt(ctx, answerOf("p2", AnswerRefused)), nil, one)
		step("corrected again", c.RecordSubmission(ctx, packageOf("p3", "sent-1", 3, 1, RowCorrected)), nil, one)
		step("accepted", c.RecordReceipt(ctx, answerOf("p3", AnswerAccepted)), nil, "r-sent-1 3 corrected by p3")
		step("taken back", c.RecordSubmission(ctx, packageOf("p4", "sent-1", 4, 3, RowWithdrawn)), nil, "r-sent-1 3 corrected by p3")
		step("taken back, accepted", c.RecordReceipt(ctx, answerOf("p4", AnswerAccepted)), nil, "r-sent-1 4 withdrawn by p4")
		step("stands again", c.RecordSubmission(ctx, packageOf("p5", "sent-1", 5, 4, RowNew)), nil, "r-sent-1 4 withdrawn by p4")
		step("of a case that is not here", c.RecordSubmission(ctx, packageOf("p6", "sent-9", 1, 0, RowNew)), ErrNoCase, "r-sent-1 4 withdrawn by p4")
		bad := packageOf("p 7", "sent-2", 2, 0, RowNew)
		step("a name with a blank", c.RecordSubmission(ctx, bad), ErrPackage, "r-sent-1 4 withdrawn by p4")

		all, err := c.Sent(ctx)
		if err != nil || len(all) != 6 || !all[0].Accepted || all[1].Accepted || all[5].Answer != AnswerOpen {
			t.Errorf("sent: %d, %v", len(all), err)
		}
		packages, err := c.Packages(ctx)
		if err != nil || len(packages) != 5 || packages[0].Accepted != 1 || packages[0].Results[0].Finding != "E12" || packages[1].Answer != AnswerRefused || packages[0].Steps["age"] != 1 {
			t.Errorf("packages: %+v, %v", packages, err)
		}
		// The note is owed to the registry once it is amended.
		must(t)(c.Addendum(ctx, AmendRequest{Act: act(k, 9), Case: "sent-1", Base: 1, Text: "Seen."}))
		if s, err := c.Status(ctx); err != nil || len(s.Amended) != 1 {
			t.Errorf("amended since: %+v, %v", s.Amended, err)
		}
		if r := clean(t, c); r.Packages != 5 {
			t.Errorf("report %+v", r)
		}
		restoredEqual(t, c)
	})
}

// restoredEqual backs the casebook up, restores it to a file and compares what
// was sent.
func restoredEqual(t *testing.T, c *Casebook) {
	t.Helper()
	want := accepted(t, c)
	var b bytes.Buffer
	pass := []byte("a long enough passphrase")
	if _, err := c.Backup(t.Context(), &b, Lock{Passphrase: pass}); err != nil {
		t.Fatal(err)
	}
	at := filepath.Join(t.TempDir(), "restored.db")
	if r, err := Restore(t.Context(), bytes.NewReader(b.Bytes()), Unlock{Passphrase: pass}, at, RestoreOptions{}); err != nil {
		t.Fatalf("%v, %v", err, r.Faults)
	}
	again := open(t, at)
	if got := accepted(t, again); got != want {
		t.Errorf("restored %q, want %q", got, want)
	}
}

// A package of more rows than one record holds comes back whole, and random keys
// keep their names.
func TestManyRows(t *testing.T) {
	onEachPlace(t, func(t *testing.T, dsn string) {
		ctx := context.Background()
		c, k := opened(t, dsn)
		sign(t, c, k, "many-1", 1)
		s := packageOf("big", "many-1", 1, 0, RowNew)
		s.Rows = nil
		var keys []RowKey
		for i := range 2*recordPiece + 1 {
			r := packageOf("big", "many-1", 1, 0, RowNew).Rows[0]
			r.Key, r.Kind, r.Note = fmt.Sprintf("v%d", i), "followup", 0
			s.Rows = append(s.Rows, r)
			keys = append(keys, RowKey{"followup", fmt.Sprintf("many-1 %d", i), r.Key})
		}
		if err := errors.Join(c.RecordRowKeys(ctx, keys), c.RecordRowKeys(ctx, keys[:5]), c.RecordSubmission(ctx, s), c.RecordReceipt(ctx, answerOf("big", AnswerAccepted))); err != nil {
			t.Fatal(err)
		}
		if got, err := c.Submitted(ctx); err != nil || len(got) != len(s.Rows) {
			t.Errorf("%d rows, %v", len(got), err)
		}
		if got, err := c.RowKeys(ctx); err != nil || len(got) != len(keys) {
			t.Errorf("%d keys, %v", len(got), err)
		}
		for name, bad := range map[string]RowKey{"another key": {"followup", keys[0].Name, "v-other"}, "a key twice": {"followup", "many-1 x", keys[0].Key}} {
			if err := c.RecordRowKeys(ctx, []RowKey{bad}); !errors.Is(err, ErrPackage) {
				t.Errorf("%s: %v", name, err)
			}
		}
		clean(t, c)
		restoredEqual(t, c)
	})
}

// A record that was changed, taken out or put in another order is named; nothing
// more is recorded behind it.
func TestSubmissionTampering(t *testing.T) {
	for name, q := range map[string]string{
		"answer turned": "UPDATE dispatch SET kind = 'rows' WHERE kind = 'answer'",
		"record edited": "UPDATE dispatch SET link = '" + strings.Repeat("0", 64) + "' WHERE seq = 1",
		"record gone":   "DELETE FROM dispatch WHERE seq = 1",
		"end cut short": "DELETE FROM dispatch WHERE seq > 0",
	} {
		t.Run(name, func(t *testing.T) {
			onEachPlace(t, func(t *testing.T, dsn string) {
				c, k := opened(t, dsn)
				sign(t, c, k, "tamper-1", 1)
				if err := errors.Join(c.RecordSubmission(t.Context(), packageOf("p1", "tamper-1", 1, 0, RowNew)), c.RecordReceipt(t.Context(), answerOf("p1", AnswerAccepted))); err != nil {
					t.Fatal(err)
				}
				if err := c.s.write(t.Context(), func(x tx) error { return x.exec(q) }); err == nil {
					t.Error("the table lets it through")
				}
				db, mark := raw(t, dsn)
				for _, trigger := range []string{"dispatch_stays", "dispatch_kept", "dispatch_once"} {
					drop := "DROP TRIGGER IF EXISTS " + trigger
					if IsServer(dsn) {
						drop += " ON dispatch"
					}
					execs(drop)(t, db, mark)
				}
				execs(q)(t, db, mark)
				r, err := c.Check(t.Context(), nil)
				if err != nil || len(r.Faults) != 1 || r.Faults[0].Kind != WrongLedger {
					t.Errorf("%v, %v", r.Faults, err)
				}
				if err := c.RecordSubmission(t.Context(), packageOf("p2", "tamper-1", 2, 1, RowCorrected)); !errors.Is(err, ErrDamaged) {
					t.Errorf("recorded behind it: %v", err)
				}
			})
		})
	}
}
