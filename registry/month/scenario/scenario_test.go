package scenario_test

import (
	"bytes"
	"regexp"
	"testing"
	"time"

	"graftnote/registry/month/scenario"
	"graftnote/schema"
)

var plan = scenario.Plan{Seed: 1, From: time.Date(2024, 1, 1, 0, 0, 0, 0, time.UTC), Until: time.Date(2026, 11, 30, 0, 0, 0, 0, time.UTC)}

// Every entry passes the checks of the schema: nothing stands against signing it.
func TestEntriesAreComplete(t *testing.T) {
	o := schema.Options{Now: time.Date(2026, 12, 1, 0, 0, 0, 0, time.UTC)}
	visits, refused := 0, 0
	courses := map[string]int{}
	for i := range 400 {
		r := schema.Read(schema.Source{Name: plan.Name(i), Data: plan.Entry(i)}, o)
		if len(r.Cases) != 1 || len(r.Findings) > 0 {
			t.Fatalf("entry %d cannot be read: %v\n%s", i, r.Findings, plan.Entry(i))
		}
		c, err := schema.Check(r.Cases[0], o, nil)
		if err != nil {
			t.Fatal(err)
		}
		if !c.Complete() {
			for _, f := range c.Gaps() {
				t.Log(f.Layout())
			}
			t.Fatalf("entry %d is not complete\n%s", i, plan.Entry(i))
		}
		visits += len(c.Entry().Visits)
		courses[c.Entry().Procedure.Performed.Text()]++
		if !c.Entry().Consent.Registry.Is("yes") {
			refused++
		}
	}
	if visits < 400 || refused == 0 || len(courses) < 5 {
		t.Errorf("%d visits, %d refused, %v", visits, refused, courses)
	}
}

// The documents of the follow-up pass too, each beside those before it, and hold
// the visits of the whole entry.
func TestFollowupsAreComplete(t *testing.T) {
	o := schema.Options{Now: time.Date(2026, 12, 1, 0, 0, 0, 0, time.UTC)}
	all := 0
	for i := range 60 {
		entry, documents := plan.Operation(i)
		index, err := schema.Check(schema.Read(schema.Source{Name: "a.yaml", Data: entry}, o).Cases[0], o, nil)
		if err != nil || !index.Complete() || len(index.Entry().Visits) > 0 {
			t.Fatalf("entry %d: %v\n%s", i, err, entry)
		}
		var earlier []schema.CheckedFollowup
		for _, d := range documents {
			r := schema.ReadFollowup(schema.Source{Name: "f.yaml", Data: d}, o)
			if len(r.Documents) != 1 {
				t.Fatalf("%v\n%s", r.Findings, d)
			}
			c, err := schema.CheckFollowup(r.Documents[0], index, earlier, o)
			if err != nil || len(c.Gaps()) > 0 || c.Visits() != 1 {
				t.Fatalf("a follow-up of entry %d: %v %v\n%s", i, err, c.Gaps(), d)
			}
			earlier = append(earlier, c)
		}
		whole := schema.Read(schema.Source{Name: "a.yaml", Data: plan.Entry(i)}, o).Cases[0]
		if len(whole.Entry.Visits) != len(documents) {
			t.Errorf("entry %d: %d documents of %d visits", i, len(documents), len(whole.Entry.Visits))
		}
		all += len(documents)
	}
	if all < 60 {
		t.Errorf("%d follow-ups", all)
	}
}

func TestSameSeedSameEntries(t *testing.T) {
	other := plan
	other.Seed = 2
	same := 0
	for i := range 50 {
		if !bytes.Equal(plan.Entry(i), plan.Entry(i)) {
			t.Fatal("one seed gives two entries")
		}
		if bytes.Equal(plan.Entry(i), other.Entry(i)) {
			same++
		}
	}
	if same > 0 {
		t.Errorf("%d entries are the same under another seed", same)
	}
	// Some people have both eyes operated on.
	people := map[string]int{}
	id := regexp.MustCompile(`FIC-[0-9]+`)
	for i := range 300 {
		people[string(id.Find(plan.Entry(i)))]++
	}
	if len(people) > 290 || len(people) < 200 {
		t.Errorf("%d people of 300 operations", len(people))
	}
}
