package casebook

import (
	"errors"
	"strings"
	"testing"
)

// A key signs only when somebody in force vouched for it (NIST SP 800-57 part 2,
// registration: the binding of a key to a person is somebody's act; from memory,
// unverified). A trainee gives no vouch, nobody vouches for the own key, and a key
// without a voucher vouches for none.
func TestVoucher(t *testing.T) {
	onEachPlace(t, func(t *testing.T, dsn string) {
		ctx := t.Context()
		c, first := opened(t, dsn)
		junior := newKey(t, 40, "Pell Arden", "trainee")
		waiting := newKey(t, 41, "Tomas Reyle", "surgeon")
		other := newKey(t, 42, "Wren Calder", "surgeon")
		must(t)(c.AddKey(ctx, KeyRequest{Act: act(first, 1), New: junior.Public()}))
		must(t)(c.AddKey(ctx, KeyRequest{Act: act(waiting, 2), New: waiting.Public()}))
		must(t)(c.AddKey(ctx, KeyRequest{Act: act(other, 2), New: other.Public()}))
		signs := func(k *Key, id string, minute int) error {
			_, err := c.SignOff(ctx, request(checkedEntry(t, id), act(k, minute)))
			return err
		}
		if err := signs(waiting, "vouch-1", 3); !errors.Is(err, ErrUnvouched) {
			t.Errorf("signed without a voucher: %v", err)
		}
		if err := signs(junior, "vouch-2", 3); err != nil {
			t.Error(err)
		}
		if _, err := c.CounterSign(ctx, AmendRequest{Act: act(waiting, 4), Case: "vouch-2", Base: 1}); !errors.Is(err, ErrUnvouched) {
			t.Errorf("counter-signed without a voucher: %v", err)
		}
		if _, err := c.AddKey(ctx, KeyRequest{Act: act(waiting, 4), New: newKey(t, 43, "A B", "surgeon").Public()}); !errors.Is(err, ErrUnvouched) {
			t.Errorf("vouched for another without a voucher: %v", err)
		}
		if _, err := c.RevokeKey(ctx, RevokeRequest{Act: act(waiting, 4), ID: first.Public().ID, Why: "x"}); !errors.Is(err, ErrUnvouched) {
			t.Errorf("revoked another without a voucher: %v", err)
		}
		for name, x := range map[string]struct {
			by   *Key
			id   string
			want error
		}{
			"a trainee":             {junior, waiting.Public().ID, ErrRole},
			"the key itself":        {waiting, waiting.Public().ID, ErrUnvouched},
			"one without a voucher": {other, waiting.Public().ID, ErrUnvouched},
			"for nobody":            {first, "graftnote-0+0", ErrUnknownKey},
			"for a founder":         {first, first.Public().ID, ErrVouched},
			"for one that has it":   {first, junior.Public().ID, ErrVouched},
			"an unknown key":        {newKey(t, 44, "C D", "surgeon"), waiting.Public().ID, ErrUnknownKey},
		} {
			if _, err := c.Vouch(ctx, VouchRequest{Act: act(x.by, 5), ID: x.id}); !errors.Is(err, x.want) {
				t.Errorf("%s: %v, want %v", name, err, x.want)
			}
		}
		must(t)(c.Vouch(ctx, VouchRequest{Act: act(first, 6), ID: waiting.Public().ID}))
		if err := signs(waiting, "vouch-1", 7); err != nil {
			t.Errorf("vouched for, it does not sign: %v", err)
		}
		must(t)(c.CounterSign(ctx, AmendRequest{Act: act(waiting, 8), Case: "vouch-2", Base: 1}))
		must(t)(c.RevokeKey(ctx, RevokeRequest{Act: act(other, 9), ID: other.Public().ID, Why: "not needed"}))
		keys, err := c.Keys(ctx)
		if err != nil || len(keys) != 4 || !keys[0].Founder || keys[2].VouchedBy != first.Public().ID || keys[2].Founder || keys[3].Stands() {
			t.Errorf("%+v, %v", keys, err)
		}
		if chain := Vouchers(keys, waiting.Public().ID); len(chain) != 2 || !chain[1].Founder {
			t.Errorf("the chain of vouchers: %v", chain)
		}
		if chain := Vouchers(keys, other.Public().ID); len(chain) != 1 || chain[0].Stands() {
			t.Errorf("the chain of nobody: %v", chain)
		}
		clean(t, c)
	})
}

// A printed name in force needs the yes of its holder, also written otherwise: a
// trainee can't become the consultant, and nobody counter-signs the own note under
// another key of the own name.
func TestNameInForce(t *testing.T) {
	onEachPlace(t, func(t *testing.T, dsn string) {
		ctx := t.Context()
		c, first := opened(t, dsn)
		junior := newKey(t, 50, "Pell Ardén", "trainee")
		boss := newKey(t, 51, "Tomas Reyle", "consultant")
		must(t)(c.AddKey(ctx, KeyRequest{Act: act(first, 1), New: junior.Public()}))
		must(t)(c.AddKey(ctx, KeyRequest{Act: act(first, 1), New: boss.Public()}))
		for i, name := range []string{"Imara Voss", "IMARA VOSS", "Imara  Voss", "Ímara Voss", "ImaraVoss", "Imara-Voss"} {
			k := newKey(t, uint64(60+i), name, "consultant")
			if _, err := c.AddKey(ctx, KeyRequest{Act: act(k, 2), New: k.Public()}); !errors.Is(err, ErrNameHeld) {
				t.Errorf("%q registers itself: %v", name, err)
			}
			if _, err := c.AddKey(ctx, KeyRequest{Act: act(k, 2), New: k.Public(), Lost: "I lost it."}); !errors.Is(err, ErrFounder) {
				t.Errorf("%q makes itself a founder: %v", name, err)
			}
			if _, err := c.AddKey(ctx, KeyRequest{Act: act(boss, 2), New: k.Public()}); !errors.Is(err, ErrNameHeld) {
				t.Errorf("a colleague vouches for a second %q: %v", name, err)
			}
		}
		// The holder says yes: one signature where the role vouches.
		spare := newKey(t, 70, "Imara Voss", "consultant")
		must(t)(c.AddKey(ctx, KeyRequest{Act: act(first, 3), New: spare.Public()}))
		sign(t, c, spare, "name-1", 4)
		// And two where it does not, or where the role would become wider.
		risen := newKey(t, 71, "Pell Arden", "consultant")
		if _, err := c.AddKey(ctx, KeyRequest{Act: act(boss, 5), New: risen.Public()}); !errors.Is(err, ErrNameHeld) {
			t.Errorf("a name without its holder: %v", err)
		}
		must(t)(c.SignOff(ctx, request(checkedEntry(t, "name-2"), act(junior, 5))))
		must(t)(c.AddKey(ctx, KeyRequest{Act: act(junior, 6), New: risen.Public()}))
		if _, err := c.CounterSign(ctx, AmendRequest{Act: act(risen, 7), Case: "name-2", Base: 1}); !errors.Is(err, ErrUnvouched) {
			t.Errorf("a trainee made a consultant of a key: %v", err)
		}
		must(t)(c.Vouch(ctx, VouchRequest{Act: act(boss, 8), ID: risen.Public().ID}))
		if _, err := c.CounterSign(ctx, AmendRequest{Act: act(risen, 9), Case: "name-2", Base: 1}); !errors.Is(err, ErrSameSigner) {
			t.Errorf("counter-signed the own note under another key: %v", err)
		}
		clean(t, c)
		// A revoked key holds no name any more.
		must(t)(c.RevokeKey(ctx, RevokeRequest{Act: act(first, 10), ID: first.Public().ID, Why: "left"}))
		must(t)(c.RevokeKey(ctx, RevokeRequest{Act: act(spare, 10), ID: spare.Public().ID, Why: "left"}))
		must(t)(c.AddKey(ctx, KeyRequest{Act: act(boss, 11), New: newKey(t, 72, "Imara Voss", "trainee").Public()}))
	})
}

// Whoever registers others does not make the own role wider.
func TestNoWiderRoleForOneself(t *testing.T) {
	c, first := opened(t, places()[0].dsn(t))
	clerk := newKey(t, 80, "Wren Calder", "records-officer")
	wider := newKey(t, 81, "Wren Calder", "consultant")
	must(t)(c.AddKey(t.Context(), KeyRequest{Act: act(first, 1), New: clerk.Public()}))
	must(t)(c.AddKey(t.Context(), KeyRequest{Act: act(clerk, 2), New: wider.Public()}))
	if _, err := c.Vouch(t.Context(), VouchRequest{Act: act(clerk, 3), ID: wider.Public().ID}); !errors.Is(err, ErrRole) {
		t.Errorf("a records officer made a consultant of the own name: %v", err)
	}
	if _, err := c.SignOff(t.Context(), request(checkedEntry(t, "wider-1"), act(wider, 4))); !errors.Is(err, ErrUnvouched) {
		t.Errorf("and signed: %v", err)
	}
}

// What the program refuses is also found where another one wrote it: the check
// names a note under a key that nobody vouched for, a vouch that is none, and a
// statement in the older form by which the rule would be passed.
func TestCheckFindsWhatNobodyVouchedFor(t *testing.T) {
	ctx := t.Context()
	for name, x := range map[string]struct {
		kind FaultKind
		do   func(c *Casebook, first, waiting *Key) error
	}{
		"a note": {NoVoucher, func(c *Casebook, _, waiting *Key) error {
			r := request(checkedEntry(t, "forged-1"), act(waiting, 3))
			_, err := c.append(ctx, r.Act, "forged-1", func(_ tx, _ position, s *Statement) error {
				s.Kind = Signed
				r.fill(s)
				return nil
			})
			return err
		}},
		"a note in the older form": {NotAllowed, func(c *Casebook, _, waiting *Key) error {
			r := request(checkedEntry(t, "forged-2"), act(waiting, 3))
			_, err := c.append(ctx, r.Act, "forged-2", func(_ tx, _ position, s *Statement) error {
				s.Kind = Signed
				r.fill(s)
				s.Format, s.DocumentSHA256 = formatAnyKey, ""
				return nil
			})
			return err
		}},
		"its own vouch": {NotAllowed, func(c *Casebook, _, waiting *Key) error {
			_, err := c.append(ctx, act(waiting, 3), "", func(_ tx, _ position, s *Statement) error {
				s.Kind, s.Subject = KeyVouched, &Subject{Key: waiting.Public().ID}
				return nil
			})
			return err
		}},
		"a founder beside others": {NotAllowed, func(c *Casebook, first, _ *Key) error {
			k := newKey(t, 91, "Joss Keld", "consultant")
			_, err := c.append(ctx, act(k, 3), "", func(_ tx, _ position, s *Statement) error {
				s.Kind, s.Why, s.Subject = KeyAdded, "mine now", &Subject{Key: k.public.Key, Name: k.public.Name, Role: k.public.Role, Founder: "yes"}
				return nil
			})
			return err
		}},
	} {
		t.Run(strings.ReplaceAll(name, " ", "-"), func(t *testing.T) {
			c, first := opened(t, places()[0].dsn(t))
			waiting := newKey(t, 90, "Tomas Reyle", "surgeon")
			must(t)(c.AddKey(ctx, KeyRequest{Act: act(waiting, 1), New: waiting.Public()}))
			if err := x.do(c, first, waiting); err != nil {
				t.Fatal(err)
			}
			r, err := c.Check(ctx, nil)
			if err != nil || len(r.Faults) == 0 || r.Faults[0].Kind != x.kind {
				t.Errorf("%v, %v", r.Faults, err)
			}
		})
	}
}
