package casebook

import (
	"database/sql"
	"errors"
	"fmt"
	"strings"
	"testing"
)

// ofLists are the tamperings with what lists are made of. They reach no reader of a
// signed entry, who gets what the statements say.
var ofLists = map[string]bool{"list entry edited": true, "list entry deleted": true, "event invented": true, "key renamed": true, "key deleted": true, "revocation forgotten": true}

// oneCase are the tamperings that concern one case alone: the others go on.
var oneCase = map[string]bool{"a measurement edited": true, "entry and digest edited": true, "statement spoiled": true, "signer renamed": true, "signature exchanged": true, "column edited": true}

// Whoever reads a signed entry gets what was signed, or a fault that names the
// case; the list of what an intruder does is that of the check.
func TestReadersVerify(t *testing.T) {
	for _, x := range tamperings {
		t.Run(strings.ReplaceAll(x.name, " ", "-"), func(t *testing.T) {
			onEachPlace(t, func(t *testing.T, dsn string) {
				c, k := opened(t, dsn)
				must(t)(c.AddKey(t.Context(), KeyRequest{Act: act(k, 0), New: newKey(t, 9, "Pell Arden", "trainee").Public()}))
				for n := range 4 {
					sign(t, c, k, fmt.Sprintf("tamper-%d", n+1), n)
				}
				if err := c.Close(); err != nil {
					t.Fatal(err)
				}
				db, mark := raw(t, dsn)
				execs(x.do...)(t, db, mark)
				if x.in != nil {
					x.in(t, db, mark)
				}
				now, err := Open(t.Context(), dsn, Options{ReadOnly: true})
				if err != nil {
					t.Fatal(err)
				}
				defer now.Close()
				readAll(t, now, x.name)
			})
		})
	}
}

func readAll(t *testing.T, c *Casebook, tampering string) {
	t.Helper()
	single, refused := map[string]bool{}, 0
	for n := range 4 {
		id := fmt.Sprintf("tamper-%d", n+1)
		h, err := c.Get(t.Context(), id)
		var f Fault
		if err != nil && !errors.As(err, &f) && !errors.Is(err, ErrNoCase) {
			t.Errorf("%s: %v is not a fault", id, err)
		}
		if err == nil && digest(h.Entry(1)) != h.Revisions[0].Statement.EntrySHA256 {
			t.Errorf("%s: an entry that was not signed", id)
		}
		if single[id] = err != nil; single[id] {
			refused++
		}
	}
	bad, good := 0, 0
	err := c.EachInForce(t.Context(), func(i InForce) error {
		if i.Err == nil {
			good++
			if i.Eye != "right" {
				t.Errorf("%s: eye %s", i.Case, i.Eye)
			}
			return nil
		}
		bad++
		return nil
	})
	switch {
	case ofLists[tampering]:
		if refused+bad > 0 || err != nil || good != 4 {
			t.Errorf("%d refused singly, %d in one pass, %d good, %v", refused, bad, good, err)
		}
	case oneCase[tampering]:
		if refused < 1 || bad < 1 || err != nil || good < 2 {
			t.Errorf("%d refused singly, %d in one pass, %d good, %v", refused, bad, good, err)
		}
	case tampering == "tail cut": // what only a kept checkpoint shows
	case strings.Contains(tampering, "hash changed"), strings.HasPrefix(tampering, "checkpoint"):
		// The pass over all needs the leaves and the newest checkpoint; the proof of
		// one statement needs what was touched.
		if refused < 1 || bad > 0 || err != nil {
			t.Errorf("%d refused singly, %d in one pass, %v", refused, bad, err)
		}
	default:
		if refused == 0 || err == nil && bad == 0 {
			t.Errorf("%d refused singly, %d in one pass, %v", refused, bad, err)
		}
	}
}

// resign puts another entry into a stored statement, with its digest, as one who
// has the database and no key.
func editStored(t *testing.T, dsn string, index int64, edit func(*Statement)) {
	t.Helper()
	db, mark := raw(t, dsn)
	rewriteStatement(index, func(text string) string {
		st, err := ParseStatement([]byte(text))
		if err != nil {
			t.Fatal(err)
		}
		edit(st)
		st.EntrySHA256 = digest(st.Entry)
		b, err := st.Encode()
		if err != nil {
			t.Fatal(err)
		}
		return string(b)
	})(t, db, mark)
	execs("UPDATE casefile SET entry_sha256 = 'x'")(t, db, mark)
}

// Nobody counter-signs, corrects, adds to or follows up an entry that was edited
// after its signature, whatever the caller looked at.
func TestActsVerify(t *testing.T) {
	onEachPlace(t, func(t *testing.T, dsn string) {
		ctx := t.Context()
		c, k := opened(t, dsn)
		junior := newKey(t, 9, "Pell Arden", "trainee")
		must(t)(c.AddKey(ctx, KeyRequest{Act: act(k, 0), New: junior.Public()}))
		sign(t, c, junior, "edited-1", 1)
		sign(t, c, k, "whole-1", 2)
		before := followUpOf(t, "edited-1", nil)
		editStored(t, dsn, 2, func(s *Statement) { s.Entry = []byte(replaceOnce(string(s.Entry), "372 µm", "472 µm")) })
		mended := checkedEntry(t, "edited-1", "372 µm", "375 µm")
		for name, do := range map[string]func() (Receipt, error){
			"counter-sign": func() (Receipt, error) {
				return c.CounterSign(ctx, AmendRequest{Act: act(k, 3), Case: "edited-1", Base: 1})
			},
			"correct": func() (Receipt, error) {
				return c.Correct(ctx, CorrectRequest{SignRequest: request(mended, act(k, 3)), Base: 1, Why: "Misread."})
			},
			"addendum": func() (Receipt, error) {
				return c.Addendum(ctx, AmendRequest{Act: act(k, 3), Case: "edited-1", Base: 1, Text: "Seen."})
			},
			"withdraw": func() (Receipt, error) {
				return c.Withdraw(ctx, AmendRequest{Act: act(k, 3), Case: "edited-1", Base: 1, Why: "In error."})
			},
			"follow-up": func() (Receipt, error) { return c.RecordFollowUp(ctx, followUpRequest(before, act(k, 3), 0)) },
		} {
			var f Fault
			if _, err := do(); !errors.As(err, &f) || f.Case != "edited-1" || f.Kind != BadSignature {
				t.Errorf("%s: %v", name, err)
			}
		}
		must(t)(c.Addendum(ctx, AmendRequest{Act: act(k, 4), Case: "whole-1", Base: 1, Text: "Seen."}))
	})
}

// What hides a withdrawal is seen: its statement moved to another case, or to the
// follow-ups of its own.
func TestHiddenWithdrawal(t *testing.T) {
	for _, to := range []string{"hidden-2", "hidden-1" + followUpEnd} {
		onEachPlace(t, func(t *testing.T, dsn string) {
			ctx := t.Context()
			c, k := opened(t, dsn)
			sign(t, c, k, "hidden-1", 1)
			sign(t, c, k, "hidden-3", 2)
			must(t)(c.Withdraw(ctx, AmendRequest{Act: act(k, 3), Case: "hidden-1", Base: 1, Why: "Wrong patient."}))
			if err := c.Close(); err != nil {
				t.Fatal(err)
			}
			db, mark := raw(t, dsn)
			execs("UPDATE leaf SET case_id = '"+to+"', revision = 1 WHERE idx = 3", "UPDATE casefile SET revision = 1, last_idx = 1, state = 'signed' WHERE case_id = 'hidden-1'")(t, db, mark)
			now, err := Open(ctx, dsn, Options{ReadOnly: true})
			if err != nil {
				t.Fatal(err)
			}
			defer now.Close()
			if _, err := now.Get(ctx, "hidden-1"); err == nil {
				t.Error("the withdrawn note is given as in force")
			}
			if _, err := now.Get(ctx, "hidden-3"); err != nil {
				t.Errorf("another case: %v", err)
			}
			err = now.EachInForce(ctx, func(i InForce) error {
				if i.Case == "hidden-1" && i.Err == nil {
					t.Error("the withdrawn note is in force")
				}
				return nil
			})
			if err != nil {
				t.Error(err)
			}
		})
	}
}

// The words are bound as the entry is: edited or lost, they are named, and a
// reader gets neither.
func TestWordsAreBound(t *testing.T) {
	packed := func(t *testing.T, db *sql.DB, mark func(string) string) {
		var body []byte
		if err := db.QueryRow(mark("SELECT body FROM document WHERE sha256 <> ?"), "").Scan(&body); err != nil {
			t.Fatal(err)
		}
		body[len(body)/2] ^= 1
		if _, err := db.Exec(mark("UPDATE document SET body = ?"), body); err != nil {
			t.Fatal(err)
		}
	}
	for name, do := range map[string]func(*testing.T, *sql.DB, func(string) string){"edited": packed, "lost": execs("DELETE FROM document")} {
		onEachPlace(t, func(t *testing.T, dsn string) {
			c, k := opened(t, dsn)
			sign(t, c, k, "words-1", 1)
			db, mark := raw(t, dsn)
			do(t, db, mark)
			var f Fault
			if _, err := c.Get(t.Context(), "words-1"); !errors.As(err, &f) || f.Kind != EditedWords {
				t.Errorf("%s: %v", name, err)
			}
			if r := look(t, dsn); r.Clean() || r.Faults[0].Kind != EditedWords {
				t.Errorf("%s: %v", name, r.Faults)
			}
			if _, err := c.Backup(t.Context(), discard{}, Lock{Passphrase: []byte("back up")}); err == nil {
				t.Errorf("%s: backed up", name)
			}
		})
	}
}

type discard struct{}

func (discard) Write(b []byte) (int, error) { return len(b), nil }

// Without words nothing is signed, nor under words of another form.
func TestNothingSignedWithoutWords(t *testing.T) {
	c, k := opened(t, t.TempDir()+"/casebook.db")
	for _, words := range []string{"", "{", `{"b":1,"a":2}`, "[]", "{\"a\":\"\xff\"}"} {
		r := request(checkedEntry(t, "wordless"), act(k, 1))
		r.Document = []byte(words)
		if _, err := c.SignOff(t.Context(), r); !errors.Is(err, ErrDocument) {
			t.Errorf("%q: %v", words, err)
		}
	}
}

// Whoever calls is held to the check for copies, and a case is not a copy of itself:
// of two that sign the same one, the later hears that it is signed.
func TestCopyIsRefusedWhereItIsSigned(t *testing.T) {
	onEachPlace(t, func(t *testing.T, dsn string) {
		ctx := t.Context()
		c, k := opened(t, dsn)
		first := request(checkedEntry(t, "copied-1"), act(k, 1))
		must(t)(c.SignOff(ctx, first))
		if _, err := c.SignOff(ctx, first); !errors.Is(err, ErrAlreadySigned) {
			t.Errorf("the same case again: %v", err)
		}
		alike, err := c.Likenesses(ctx, "Imara Voss", []Earlier{{"copied-1", first.Checked.Canonical()}})
		if err != nil || len(alike) != 1 || alike[0] != nil {
			t.Errorf("a case is like %v, %v", alike, err)
		}
		var like AlikeError
		r := request(checkedEntry(t, "copied-2"), act(k, 2))
		if _, err := c.SignOff(ctx, r); !errors.As(err, &like) || like.Cases[0] != "copied-1" {
			t.Errorf("a copy: %v", err)
		}
		r.Different = like.Cases
		must(t)(c.SignOff(ctx, r))
	})
}
