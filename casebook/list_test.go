package casebook

import (
	"fmt"
	"slices"
	"testing"
)

// Lists find by date, eye, separation, event and state, the newest operation
// first.
func TestList(t *testing.T) {
	onEachPlace(t, func(t *testing.T, dsn string) {
		ctx := t.Context()
		c, k := opened(t, dsn)
		sign(t, c, k, "listed-1", 1)
		left := checkedEntry(t, "listed-2", "listed: right", "listed: left", "operated: right", "operated: left",
			"events: none", "events:\n  - {kind: failed-bubble, step: injection, managed-by: [observed], consequence: continued}")
		must(t)(signOff(ctx, c, request(left, act(k, 2))))
		sign(t, c, k, "listed-3", 3)
		must(t)(c.Withdraw(ctx, AmendRequest{Act: act(k, 4), Case: "listed-3", Base: 1, Why: "Entered twice."}))
		for name, x := range map[string]struct {
			f    Filter
			want []string
		}{
			"all":        {Filter{}, []string{"listed-1", "listed-2", "listed-3"}},
			"eye":        {Filter{Eye: "left"}, []string{"listed-2"}},
			"event":      {Filter{Event: "failed-bubble"}, []string{"listed-2"}},
			"both":       {Filter{Event: "failed-bubble", Eye: "right"}, nil},
			"state":      {Filter{State: StateWithdrawn}, []string{"listed-3"}},
			"separation": {Filter{Separation: "complete", Eye: "right"}, []string{"listed-1", "listed-3"}},
			"from":       {Filter{From: "2026-09-09"}, nil},
			"to":         {Filter{To: "2026-09-08"}, []string{"listed-1", "listed-2", "listed-3"}},
			"signer":     {Filter{Signer: "Nobody"}, nil},
			"page":       {Filter{Limit: 1, Offset: 1}, []string{"listed-2"}},
		} {
			got, err := c.List(ctx, x.f)
			var ids []string
			for _, s := range got {
				ids = append(ids, s.Case)
			}
			if err != nil || !slices.Equal(ids, x.want) {
				t.Errorf("%s: %v, %v, want %v", name, ids, err, x.want)
			}
		}
		clean(t, c)
	})
}

// Status tells what was amended after it was sent.
func TestStatus(t *testing.T) {
	onEachPlace(t, func(t *testing.T, dsn string) {
		ctx := t.Context()
		c, k := filled(t, dsn)
		for id, note := range map[string]int{"filled-1": 1, "filled-2": 2} {
			sent := packageOf("of-"+id, id, 1, 0, RowNew)
			sent.Rows[0].Note = note
			if err := c.RecordSubmission(ctx, sent); err != nil {
				t.Fatal(err)
			}
			if err := c.RecordReceipt(ctx, answerOf("of-"+id, AnswerAccepted)); err != nil {
				t.Fatal(err)
			}
		}
		junior := newKey(t, 40, "Pell Arden", "trainee")
		must(t)(c.AddKey(ctx, KeyRequest{Act: act(k, 5), New: junior.Public()}))
		sign(t, c, junior, "filled-3", 6)
		s, err := c.Status(ctx)
		if err != nil || s.Cases != 3 || s.ByState[StateAmended] != 2 || len(s.Awaiting) != 1 || s.Awaiting[0].Case != "filled-3" {
			t.Errorf("%+v, %v", s, err)
		}
		if len(s.Amended) != 1 || s.Amended[0].Case != "filled-1" {
			t.Errorf("amended since: %+v", s.Amended)
		}
	})
}

// A note copied forward is told from another of the same surgeon's cases. Common
// practice, no source: copy-forward is a known hazard without a published
// threshold.
func TestAlike(t *testing.T) {
	onEachPlace(t, func(t *testing.T, dsn string) {
		ctx := t.Context()
		c, k := opened(t, dsn)
		sign(t, c, k, "alike-1", 1)
		other := checkedEntry(t, "alike-2", "54.1 D", "49.8 D", "372 µm", "431 µm", "540 µm", "612 µm", "11.8 mm", "12.1 mm", "3.5 mm, volume: 0.03 mL", "3.0 mm, volume: 0.02 mL",
			"depth: 360 µm", "depth: 410 µm", "volume: 0.6 mL", "volume: 0.8 mL", "storage: 5 d", "storage: 2 d", "2450 cells", "2710 cells", "61 years", "48 years",
			"0.7 logMAR", "1.0 logMAR", "gauge: 27 G", "gauge: 30 G", "11 o'clock", "8 o'clock", "hour: 1 o'clock", "hour: 4 o'clock", "host-diameter: 7.75 mm", "host-diameter: 7.50 mm",
			"stage: 3", "stage: 2", "T-FIC-9001", "T-FIC-9002")
		must(t)(signOff(ctx, c, request(other, act(k, 2))))
		var last []Earlier
		if err := c.s.read(ctx, func(x tx) (err error) { last, err = lastOf(x, "Imara Voss", 1); return err }); err != nil || len(last) != 2 || last[0].Case != "alike-2" {
			t.Fatalf("%v, %v", last, err)
		}
		copied := checkedEntry(t, "alike-3", "FIC-0101", "FIC-0177", "Ines Calloway", "Otto Fenwright", "372 µm", "375 µm", "T-FIC-9001", "T-FIC-9003")
		if got := Alike(copied.Canonical(), last); !slices.Equal(got, []string{"alike-1"}) {
			t.Errorf("alike %v", got)
		}
		if got := Alike(other.Canonical(), []Earlier{last[1]}); got != nil {
			t.Errorf("a case of its own is called a copy of %v", got)
		}
	})
}

// A batch of copies must not make its own values look usual.
func TestAlikeManyCopies(t *testing.T) {
	first := checkedEntry(t, "alike-1")
	var earlier []Earlier
	for i := range 20 {
		earlier = append(earlier, Earlier{fmt.Sprintf("copy-%d", i), first.Canonical()})
	}
	if got := Alike(first.Canonical(), earlier); len(got) != len(earlier) {
		t.Errorf("%d of %d copies are seen", len(got), len(earlier))
	}
}
