package casebook

import (
	"bytes"
	"context"
	"errors"
	"slices"
	"testing"

	"graftnote/schema"
)

// The whole life of a case: signed by a trainee, counter-signed, added to,
// corrected, withdrawn. The acts are those of CMS Pub. 100-08 chapter 3 section
// 3.3.2.5: marked, dated, signed, and the original stays readable.
func TestLifeOfACase(t *testing.T) {
	onEachPlace(t, func(t *testing.T, dsn string) {
		ctx := context.Background()
		c, boss := opened(t, dsn)
		junior := newKey(t, 8, "Pell Arden", "trainee")
		must(t)(c.AddKey(ctx, KeyRequest{Act: act(boss, 1), New: junior.Public()}))

		first := checkedEntry(t, "life-1")
		r := request(first, act(junior, 2))
		r.Responsible = boss.Public().ID
		if got := must(t)(signOff(ctx, c, r)); got.State != StateAwaiting || got.Revision != 1 || got.Index != 2 {
			t.Errorf("receipt %+v", got)
		}
		if _, err := c.CounterSign(ctx, AmendRequest{Act: act(junior, 3), Case: "life-1", Base: 1}); !errors.Is(err, ErrRole) {
			t.Errorf("a trainee counter-signs: %v", err)
		}
		if got := must(t)(c.CounterSign(ctx, AmendRequest{Act: act(boss, 4), Case: "life-1", Base: 1})); got.State != StateSigned {
			t.Errorf("state %s", got.State)
		}
		if _, err := c.CounterSign(ctx, AmendRequest{Act: act(boss, 4), Case: "life-1", Base: 2}); !errors.Is(err, ErrNotAwaiting) {
			t.Errorf("counter-signed twice: %v", err)
		}
		must(t)(c.Addendum(ctx, AmendRequest{Act: act(boss, 5), Case: "life-1", Base: 2, Text: "Seen on the ward.\nGraft clear.", When: theDay}))

		mended := checkedEntry(t, "life-1", "372 µm", "375 µm")
		if _, err := c.Correct(ctx, CorrectRequest{SignRequest: request(mended, act(boss, 6)), Base: 2, Why: "misread"}); !errors.Is(err, ErrMoved) {
			t.Errorf("corrected what was not shown: %v", err)
		}
		if _, err := c.Correct(ctx, CorrectRequest{SignRequest: request(first, act(boss, 6)), Base: 3, Why: "misread"}); !errors.Is(err, ErrUnchanged) {
			t.Errorf("a correction that changes nothing: %v", err)
		}
		got := must(t)(c.Correct(ctx, CorrectRequest{SignRequest: request(mended, act(boss, 6)), Base: 3, Why: "Misread from the map."}))
		if got.State != StateAmended || got.Revision != 4 {
			t.Errorf("receipt %+v", got)
		}
		must(t)(c.Withdraw(ctx, AmendRequest{Act: act(boss, 7), Case: "life-1", Base: 4, Why: "Wrong patient's file."}))
		if _, err := c.Addendum(ctx, AmendRequest{Act: act(boss, 8), Case: "life-1", Base: 5, Text: "more"}); !errors.Is(err, ErrWithdrawn) {
			t.Errorf("added to a withdrawn case: %v", err)
		}

		h, err := c.Get(ctx, "life-1")
		if err != nil {
			t.Fatal(err)
		}
		var kinds []Kind
		for _, r := range h.Revisions {
			kinds = append(kinds, r.Statement.Kind)
		}
		if want := []Kind{Signed, CounterSigned, Addendum, Corrected, Withdrawn}; !slices.Equal(kinds, want) {
			t.Errorf("kinds %v", kinds)
		}
		if h.State != StateWithdrawn || !bytes.Equal(h.Entry(3), first.Canonical()) || !bytes.Equal(h.Entry(5), mended.Canonical()) {
			t.Error("the original or the correction is not readable")
		}
		if got := h.Revisions[3].Statement.Changes; !slices.Equal(got, []Change{{"before.thinnest", "372 µm", "375 µm"}}) {
			t.Errorf("changes %v", got)
		}
		// 21 CFR 11.50(a): printed name, date and time, meaning.
		s := h.Revisions[0].Statement
		if s.Signer.Name != "Pell Arden" || s.Signed != "2026-09-08T11:02:00+01:00" || s.Zone != "Europe/London" || s.Meaning != "authored and approved" {
			t.Errorf("manifestation %+v", s)
		}
		if d, ok := s.Delay(); !ok || d.Minutes() != 60 { // ended 10:02, signed 11:02
			t.Errorf("delay %v %v", d, ok)
		}
		clean(t, c)
	})
}

// What the surgeon adds to a note that awaits the counter-signature is no bar to
// giving it; the signers of what awaits it still cannot, under a later key either.
func TestCounterSignAfterAddendum(t *testing.T) {
	onEachPlace(t, func(t *testing.T, dsn string) {
		ctx := context.Background()
		c, boss := opened(t, dsn)
		junior := newKey(t, 8, "Pell Arden", "trainee")
		promoted := newKey(t, 9, "Pell Arden", "surgeon")
		must(t)(c.AddKey(ctx, KeyRequest{Act: act(boss, 1), New: junior.Public()}))
		must(t)(c.AddKey(ctx, KeyRequest{Act: act(junior, 1), New: promoted.Public()}))
		must(t)(c.Vouch(ctx, VouchRequest{Act: act(boss, 1), ID: promoted.Public().ID}))
		mended := func(id string) schema.Checked { return checkedEntry(t, id, "372 µm", "375 µm") }
		signs := func(k *Key) func(id string, base int) (Receipt, error) {
			return func(id string, _ int) (Receipt, error) {
				return signOff(ctx, c, request(checkedEntry(t, id), act(k, 2)))
			}
		}
		corrects := func(k *Key) func(id string, base int) (Receipt, error) {
			return func(id string, base int) (Receipt, error) {
				return c.Correct(ctx, CorrectRequest{SignRequest: request(mended(id), act(k, 3)), Base: base, Why: "Misread."})
			}
		}
		adds := func(k *Key) func(id string, base int) (Receipt, error) {
			return func(id string, base int) (Receipt, error) {
				return c.Addendum(ctx, AmendRequest{Act: act(k, 4), Case: id, Base: base, Text: "Graft clear."})
			}
		}
		type step = func(id string, base int) (Receipt, error)
		for id, steps := range map[string][]step{
			"signed-1":    {signs(junior), adds(boss)},
			"corrected-1": {signs(boss), corrects(junior), adds(boss)},
			"both-add-1":  {signs(junior), adds(boss), adds(junior), adds(boss)},
			"own-note-1":  {signs(boss), adds(junior)},
		} {
			for base, s := range steps {
				if _, err := s(id, base); err != nil {
					t.Fatalf("%s, step %d: %v", id, base, err)
				}
			}
			base := len(steps)
			if _, err := c.CounterSign(ctx, AmendRequest{Act: act(promoted, 5), Case: id, Base: base}); !errors.Is(err, ErrSameSigner) {
				t.Errorf("%s: the signer counter-signs under a later key: %v", id, err)
			}
			if got, err := c.CounterSign(ctx, AmendRequest{Act: act(boss, 6), Case: id, Base: base}); err != nil || got.State != StateAmended {
				t.Errorf("%s: %+v, %v", id, got, err)
			}
		}
		clean(t, c)
	})
}

// What must not be signed is refused, and nothing is stored.
func TestSignOffRefuses(t *testing.T) {
	onEachPlace(t, func(t *testing.T, dsn string) {
		ctx := context.Background()
		c, k := opened(t, dsn)
		e := checkedEntry(t, "refused-1", "gas: air", "gas: air") // sample as it is
		stranger := newKey(t, 99, "Imara Voss", "consultant")
		clerk := newKey(t, 98, "Tomas Reyle", "records-officer")
		must(t)(c.AddKey(ctx, KeyRequest{Act: act(k, 1), New: clerk.Public()}))
		for name, x := range map[string]struct {
			want error
			edit func(*SignRequest)
		}{
			"not checked":         {ErrUnchecked, func(r *SignRequest) { r.Checked = schemaZero }},
			"not shown":           {ErrNotShown, func(r *SignRequest) { r.Shown = checkedEntry(t, "another-1").Digest() }},
			"confirmed too much":  {ErrUnconfirmed, func(r *SignRequest) { r.Confirmed = append(r.Confirmed, "eye.operated") }},
			"affirmed too much":   {ErrNotTrue, func(r *SignRequest) { r.True = append(r.True, "wrong-side") }},
			"answered nothing":    {ErrUnanswered, func(r *SignRequest) { r.Answers = append(r.Answers, Answer{"no-rule", "eye", "because"}) }},
			"no time":             {ErrTime, func(r *SignRequest) { r.Now = zeroTime }},
			"no zone":             {ErrTime, func(r *SignRequest) { r.Zone = "" }},
			"hidden characters":   {ErrText, func(r *SignRequest) { r.Meaning = "approved\u202e" }},
			"unknown key":         {ErrUnknownKey, func(r *SignRequest) { r.Key = stranger }},
			"role without notes":  {ErrRole, func(r *SignRequest) { r.Key = clerk }},
			"responsible unknown": {ErrUnknownKey, func(r *SignRequest) { r.Responsible = stranger.Public().ID }},
			"no key":              {ErrKey, func(r *SignRequest) { r.Key = nil }},
		} {
			r := request(e, act(k, 2))
			x.edit(&r)
			if _, err := signOff(ctx, c, r); !errors.Is(err, x.want) {
				t.Errorf("%s: %v, want %v", name, err, x.want)
			}
		}
		if r := clean(t, c); r.Statements != 2 || r.Cases != 0 {
			t.Errorf("something was stored: %+v", r)
		}
		sign(t, c, k, "refused-1", 3)
		if _, err := signOff(ctx, c, request(e, act(k, 4))); !errors.Is(err, ErrAlreadySigned) {
			t.Errorf("signed twice: %v", err)
		}
	})
}
