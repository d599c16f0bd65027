package casebook

import (
	"errors"
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
