package casebook

import (
	"context"
	"errors"
	"slices"
	"testing"
)

// A case can be read from its proofs alone, and only whole: a revision left out,
// moved or put in from another case is named (RFC 6962 gives the hash that each
// revision continues; the rule that nothing may be hidden is CMS Pub. 100-08
// chapter 3 section 3.3.2.5).
func TestReplay(t *testing.T) {
	onEachPlace(t, func(t *testing.T, dsn string) {
		c, k := opened(t, dsn)
		ctx := context.Background()
		sign(t, c, k, "replay-1", 1)
		must(t)(c.Addendum(ctx, AmendRequest{Act: act(k, 2), Case: "replay-1", Base: 1, Text: "added"}))
		must(t)(c.Withdraw(ctx, AmendRequest{Act: act(k, 3), Case: "replay-1", Base: 2, Why: "in error"}))
		sign(t, c, k, "replay-2", 4)
		var all []Proof
		for _, x := range []struct {
			id string
			n  int
		}{{"replay-1", 1}, {"replay-1", 2}, {"replay-1", 3}, {"replay-2", 1}} {
			p, err := c.Proof(ctx, x.id, x.n)
			if err != nil {
				t.Fatal(err)
			}
			all = append(all, p)
		}
		for n, want := range map[int]State{1: StateSigned, 2: StateAmended, 3: StateWithdrawn} {
			h, err := Replay(all[:n])
			if err != nil || h.State != want || len(h.Revisions) != n || h.Case != "replay-1" {
				t.Errorf("%d: %s, %v", n, h.State, err)
			}
		}
		stored, err := c.Get(ctx, "replay-1")
		if err != nil {
			t.Fatal(err)
		}
		h, err := Replay(all[:3])
		if err != nil || h.Current().Leaf != stored.Current().Leaf || !slices.Equal(h.Entry(3), stored.Entry(3)) {
			t.Error("the history differs from the stored one", err)
		}
		for name, p := range map[string][]Proof{
			"none":         nil,
			"first gone":   all[1:3],
			"middle gone":  {all[0], all[2]},
			"other order":  {all[1], all[0]},
			"twice":        {all[0], all[0]},
			"another case": {all[0], all[3]},
		} {
			var f Fault
			if _, err := Replay(p); !errors.As(err, &f) || f.Kind != BrokenChain {
				t.Errorf("%s: %v", name, err)
			}
		}
		bad := slices.Clone(all[:1])
		bad[0].Statement = []byte("{}")
		if _, err := Replay(bad); err == nil {
			t.Error("a statement that is none")
		}
	})
}
