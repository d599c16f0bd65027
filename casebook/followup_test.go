package casebook

import (
	"bytes"
	"context"
	"database/sql"
	"errors"
	"fmt"
	"strings"
	"testing"

	"graftnote/schema"
)

// followUpOf is a checked follow-up of the first sample under another case
// identifier; more are replacements of old by new.
func followUpOf(t testing.TB, id string, earlier []schema.CheckedFollowup, more ...string) schema.CheckedFollowup {
	t.Helper()
	text := "followup: " + id + `
entered-by: {name: Wren Calder, role: optometrist}
patient: {id: FIC-0101, born: 2002-03-14}
eye: {operated: right}
visits:
  - {date: 2026-12-09, eye: right, status: surviving, unaided: 6/24, corrected: 0.3 logMAR, refraction: -2.00/-3.00 x 20, clarity: 0, haze: 1, sutures-out: 0, double-chamber: none, rejection: none, pressure-treatment: none, late-events: none, further-surgery: none}
`
	text = strings.NewReplacer(more...).Replace(text)
	o := schema.Options{Now: theDay.AddDate(3, 0, 0)}
	r := schema.ReadFollowup(schema.Source{Name: "visit.yaml", Data: []byte(text)}, o)
	c, err := schema.CheckFollowup(r.Documents[0], checkedEntry(t, id), earlier, o)
	if err != nil || !c.Complete() {
		t.Fatalf("%v, %v", err, c.Gaps())
	}
	return c
}

func followUpRequest(c schema.CheckedFollowup, a Act, base int) FollowUpRequest {
	r := FollowUpRequest{Act: a, Checked: c, Shown: c.Digest(), Base: base}
	for _, f := range FollowUpToAnswer(c) {
		r.Answers = append(r.Answers, Answer{f.Rule, f.Path, "seen and true"})
	}
	return r
}

// A follow-up is recorded by somebody other than the surgeon, corrected,
// withdrawn, and leaves the signed note as it was.
func TestLifeOfAFollowUp(t *testing.T) {
	onEachPlace(t, func(t *testing.T, dsn string) {
		ctx := context.Background()
		c, boss := opened(t, dsn)
		optometrist := newKey(t, 21, "Wren Calder", "optometrist")
		must(t)(c.AddKey(ctx, KeyRequest{Act: act(boss, 1), New: optometrist.Public()}))
		sign(t, c, boss, "graft-1", 2)
		before, err := c.Get(ctx, "graft-1")
		if err != nil {
			t.Fatal(err)
		}

		first := followUpOf(t, "graft-1", nil)
		got := must(t)(c.RecordFollowUp(ctx, followUpRequest(first, act(optometrist, 3), 0)))
		if got.Kind != FollowUp || got.Case != "graft-1" || got.Revision != 1 || got.Index != 3 {
			t.Errorf("receipt %+v", got)
		}
		second := followUpOf(t, "graft-1", []schema.CheckedFollowup{first}, "2026-12-09", "2027-03-08")
		must(t)(c.RecordFollowUp(ctx, followUpRequest(second, act(boss, 4), 1)))
		mended := followUpOf(t, "graft-1", []schema.CheckedFollowup{second}, "haze: 1", "haze: 2")
		r := followUpRequest(mended, act(optometrist, 5), 2)
		r.Replaces, r.Why = 1, "Read from the wrong line."
		must(t)(c.RecordFollowUp(ctx, r))
		must(t)(c.WithdrawFollowUp(ctx, VoidRequest{Act: act(optometrist, 6), Case: "graft-1", Base: 3, Revision: 2, Why: "Entered twice."}))

		list, base, err := c.FollowUps(ctx, "graft-1")
		if err != nil || base != 4 || len(list) != 2 {
			t.Fatalf("%d of %d statements, %v", len(list), base, err)
		}
		if f := list[0]; f.Number != 1 || f.Revision != 3 || f.Withdrawn || !bytes.Equal(f.Document(), mended.Canonical()) || f.Why == "" {
			t.Errorf("corrected: %+v", f)
		}
		if f := list[1]; f.Number != 2 || f.Revision != 4 || !f.Withdrawn || !bytes.Equal(f.Document(), second.Canonical()) {
			t.Errorf("withdrawn: %+v", f)
		}
		all := inForce(t, c)
		if len(all) != 1 || all[0].Case != "graft-1" {
			t.Fatalf("in force: %+v", all)
		}
		entry, standing, err := all[0].Open()
		if err != nil || len(standing) != 1 || standing[0].Number != 1 || !bytes.Equal(standing[0].Document(), mended.Canonical()) || len(entry) == 0 {
			t.Errorf("in force: %v, %+v", err, standing)
		}
		after, err := c.Get(ctx, "graft-1")
		if err != nil || len(after.Revisions) != len(before.Revisions) || after.State != before.State {
			t.Errorf("the note has %d revisions in state %s, %v", len(after.Revisions), after.State, err)
		}
		p, err := c.FollowUpProof(ctx, "graft-1", 3)
		if err != nil {
			t.Fatal(err)
		}
		if v, err := VerifyProof(p, Trust{Keys: []PublicKey{optometrist.Public()}}); err != nil || !v.Holds() || !v.KeyTrusted {
			t.Errorf("proof: %v, %+v", err, v.Faults)
		}
		if _, err := Replay([]Proof{p}); err == nil {
			t.Error("a follow-up is taken for a revision of the note")
		}
		if r := clean(t, c); r.FollowUps != 4 || r.Cases != 1 {
			t.Errorf("report %+v", r)
		}
	})
}

func inForce(t *testing.T, c *Casebook) (all []InForce) {
	t.Helper()
	if err := c.EachInForce(context.Background(), func(one InForce) error { all = append(all, one); return nil }); err != nil {
		t.Fatal(err)
	}
	return all
}

func TestFollowUpRefuses(t *testing.T) {
	onEachPlace(t, func(t *testing.T, dsn string) {
		ctx := context.Background()
		c, boss := opened(t, dsn)
		clerk := newKey(t, 22, "Tomas Reyle", "records-officer")
		must(t)(c.AddKey(ctx, KeyRequest{Act: act(boss, 1), New: clerk.Public()}))
		sign(t, c, boss, "graft-2", 2)
		doc := followUpOf(t, "graft-2", nil)
		for name, x := range map[string]struct {
			want error
			edit func(*FollowUpRequest)
		}{
			"unchecked":         {ErrUnchecked, func(r *FollowUpRequest) { r.Checked = schema.CheckedFollowup{} }},
			"not shown":         {ErrNotShown, func(r *FollowUpRequest) { r.Shown = "" }},
			"no such case":      {ErrNoCase, func(r *FollowUpRequest) { *r = followUpRequest(followUpOf(t, "graft-9", nil), r.Act, 0) }},
			"role":              {ErrRole, func(r *FollowUpRequest) { r.Key = clerk }},
			"unknown key":       {ErrUnknownKey, func(r *FollowUpRequest) { r.Key = newKey(t, 23, "Nobody Else", "nurse") }},
			"another was first": {ErrMoved, func(r *FollowUpRequest) { r.Base = 1 }},
			"nothing to mend":   {ErrNoCase, func(r *FollowUpRequest) { r.Replaces, r.Why = 1, "because" }},
			"no reason":         {ErrText, func(r *FollowUpRequest) { r.Replaces = 1 }},
			"answers too much":  {ErrUnanswered, func(r *FollowUpRequest) { r.Answers = []Answer{{"a", "b", "c"}} }},
		} {
			r := followUpRequest(doc, act(boss, 3), 0)
			x.edit(&r)
			if _, err := c.RecordFollowUp(ctx, r); !errors.Is(err, x.want) {
				t.Errorf("%s: %v, want %v", name, err, x.want)
			}
		}
		// No other act reaches the chain of the follow-ups.
		must(t)(c.RecordFollowUp(ctx, followUpRequest(doc, act(boss, 4), 0)))
		if _, err := c.RecordFollowUp(ctx, followUpRequest(doc, act(boss, 5), 1)); !errors.Is(err, ErrFollowUpKnown) {
			t.Errorf("recorded twice: %v", err)
		}
		if _, err := c.Addendum(ctx, AmendRequest{Act: act(boss, 6), Case: "graft-2/follow-up", Base: 1, Text: "x"}); !errors.Is(err, ErrNoCase) {
			t.Errorf("addendum: %v", err)
		}
		if _, err := c.Get(ctx, "graft-2/follow-up"); !errors.Is(err, ErrNoCase) {
			t.Errorf("get: %v", err)
		}
		// The operation was corrected since it was checked against.
		mended := checkedEntry(t, "graft-2", "372 µm", "375 µm")
		must(t)(c.Correct(ctx, CorrectRequest{SignRequest: request(mended, act(boss, 7)), Base: 1, Why: "Misread."}))
		late := followUpOf(t, "graft-2", nil, "2026-12-09", "2027-03-08")
		if _, err := c.RecordFollowUp(ctx, followUpRequest(late, act(boss, 8), 1)); !errors.Is(err, ErrMoved) {
			t.Errorf("against a former entry: %v", err)
		}
		must(t)(c.Withdraw(ctx, AmendRequest{Act: act(boss, 9), Case: "graft-2", Base: 2, Why: "Wrong file."}))
		if _, err := c.RecordFollowUp(ctx, followUpRequest(late, act(boss, 10), 1)); !errors.Is(err, ErrWithdrawn) {
			t.Errorf("of a withdrawn case: %v", err)
		}
		if all := inForce(t, c); len(all) != 0 {
			t.Errorf("a withdrawn case is in force: %+v", all)
		}
		clean(t, c)
	})
}

// What an intruder does to a follow-up is named (the threats of RFC 6962: no
// removal, no change, no other order).
func TestFollowUpTampering(t *testing.T) {
	for name, x := range map[string]struct {
		want FaultKind
		do   func(t *testing.T, db *sql.DB, mark func(string) string)
	}{
		"value edited": {EditedEntry, rewriteStatement(2, func(s string) string { return replaceOnce(s, `"clarity":"0"`, `"clarity":"3"`) })},
		"value and digest edited": {BadSignature, rewriteStatement(2, func(s string) string {
			st, _ := ParseStatement([]byte(s))
			st.FollowUp = []byte(replaceOnce(string(st.FollowUp), `"clarity":"0"`, `"clarity":"3"`))
			st.FollowUpSHA256 = digest(st.FollowUp)
			b, _ := st.Encode()
			return string(b)
		})},
		"deleted":               {Deleted, execs("DELETE FROM leaf WHERE idx = 2")},
		"moved to another case": {WrongIndex, execs("UPDATE leaf SET case_id = 'graft-8/follow-up' WHERE idx = 2")},
	} {
		t.Run(name, func(t *testing.T) {
			onEachPlace(t, func(t *testing.T, dsn string) {
				c, k := opened(t, dsn)
				sign(t, c, k, "graft-3", 1)
				first := followUpOf(t, "graft-3", nil)
				must(t)(c.RecordFollowUp(t.Context(), followUpRequest(first, act(k, 2), 0)))
				must(t)(c.RecordFollowUp(t.Context(), followUpRequest(followUpOf(t, "graft-3", []schema.CheckedFollowup{first}, "2026-12-09", "2027-03-08"), act(k, 3), 1)))
				db, mark := raw(t, dsn)
				x.do(t, db, mark)
				r, err := c.Check(t.Context(), nil)
				if err != nil {
					t.Fatal(err)
				}
				for _, f := range r.Faults {
					if f.Kind == x.want {
						return
					}
				}
				t.Errorf("want %q, have %v", x.want, r.Faults)
			})
		})
	}
}

func execs(queries ...string) func(*testing.T, *sql.DB, func(string) string) {
	return func(t *testing.T, db *sql.DB, _ func(string) string) {
		for _, q := range queries {
			if _, err := db.Exec(q); err != nil {
				t.Fatal(fmt.Errorf("%s: %w", q, err))
			}
		}
	}
}
