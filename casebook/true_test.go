package casebook

import (
	"context"
	"errors"
	"slices"
	"testing"
)

// A state that the entry confirms as true is affirmed by its signer, and the
// signature says so; without that nothing is signed.
func TestTrueStatesAreAffirmed(t *testing.T) {
	onEachPlace(t, func(t *testing.T, dsn string) {
		c, k := opened(t, dsn)
		e := checkedEntry(t, "true-state-1", "counts-correct: yes", "counts-correct: no",
			"events: none\n", "events: none\ntrue-states: {state: counts-not-settled, reason: one needle not found, told: the director, told-at: 18:20, incident: not yet given}\n")
		r := request(e, act(k, 2))
		want := []string{"counts-not-settled"}
		if !slices.Equal(r.True, want) {
			t.Fatalf("to affirm: %v", r.True)
		}
		r.True = nil
		if _, err := c.SignOff(context.Background(), r); !errors.Is(err, ErrNotTrue) {
			t.Errorf("signed without a word: %v", err)
		}
		r.True = want
		if _, err := c.SignOff(context.Background(), r); err != nil {
			t.Fatal(err)
		}
		h, err := c.Get(context.Background(), "true-state-1")
		if err != nil || !slices.Equal(h.Current().Statement.True, want) {
			t.Errorf("the statement says %v, %v", h.Current().Statement.True, err)
		}
		clean(t, c)
	})
}
