package month

import (
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"math/rand/v2"
	"reflect"
	"slices"
	"testing"
	"testing/fstest"
)

// history is a run of months with what happens at a hospital and at a registry.
type history struct {
	r        *rand.Rand
	list     []Operation
	sent     []Sent
	steps    map[string]int
	packages []fs.FS // accepted ones
	key      []byte
	base     []Operation
}

func (h *history) happen(t *testing.T, month int) {
	for range 5 + h.r.IntN(25) {
		o := h.base[h.r.IntN(len(h.base))]
		o.Cells, o.Visits = slices.Clone(o.Cells), slices.Clone(o.Visits)
		o.Case, o.Person = fmt.Sprintf("case-%05d", len(h.list)), fmt.Sprintf("FIC-%04d", h.r.IntN(len(h.list)+30))
		o.Month = Period{2026, month}
		for i := range o.Visits {
			o.Visits[i].Month = Period{2026, month}
		}
		h.list = append(h.list, o)
	}
	for range 4 {
		o := &h.list[h.r.IntN(len(h.list))]
		switch h.r.IntN(7) {
		case 0:
			o.State, o.Reason, o.Cells, o.Visits = Withdrawn, "note-withdrawn", nil, nil
		case 1:
			o.Consent, o.Cells, o.Visits = false, nil, nil
		case 2, 3:
			if o.Cells == nil { // the note stands again
				*o = Operation{Case: o.Case, Person: o.Person, Month: o.Month, State: Signed, Revision: o.Revision + 1, Consent: true, Cells: slices.Clone(h.base[0].Cells)}
			}
			o.Cells[columnPlace("sex")], o.Reason, o.Revision = []string{"male", "female"}[h.r.IntN(2)], "entry-added-to", o.Revision+1
		case 4, 5:
			if o.Cells != nil {
				v := h.base[13%len(h.base)].Visits
				for _, b := range h.base {
					if len(b.Visits) > 0 {
						v = b.Visits
					}
				}
				o.Visits = append(slices.Clone(o.Visits), Visit{ID: fmt.Sprintf("added/%d", h.r.Int()), Month: Period{2026, month}, Cells: v[h.r.IntN(len(v))].Cells})
			}
		case 6:
			if len(o.Visits) > 0 {
				o.Visits = o.Visits[1:]
			}
		}
	}
	if h.r.IntN(6) == 0 {
		h.key = slices.Clone(h.key)
		h.key[0]++
	}
}

func (h *history) submit(t *testing.T, month int, profile *Profile) {
	in := Input{Period: Period{2026, month}, Operations: Operations(h.list...), Sent: h.sent, Steps: h.steps, TheatreCount: -1, At: now}
	o := Options{Mode: Pseudonymised, Key: h.key, K: 2, MaxSuppressed: 0.5, HoldBack: true, Refine: h.r.IntN(3) == 0, Profile: profile}
	p := build(t, in, o)
	f := folder(t, p)
	if problems, err := Verify(f); err != nil || len(problems) > 0 {
		t.Fatalf("%v %v", problems, err)
	}
	foreignKeyHolds(t, f)
	switch h.r.IntN(4) {
	case 0: // refused, or not answered
		for c := range p.Changes {
			h.sent = append(h.sent, c)
		}
		return
	}
	h.sent, h.steps = accept(h.sent, p), p.Steps
	h.packages = append(h.packages, f)
}

// Every visit of a package belongs to an operation of the package.
func foreignKeyHolds(t *testing.T, f fstest.MapFS) {
	t.Helper()
	d, err := readDescriptor(f)
	if err != nil {
		t.Fatal(err)
	}
	at := map[string]string{}
	for _, r := range d.Resources {
		for _, field := range r.Schema.Fields {
			if field.Role == "row-key" {
				at[r.Name] = field.Name
			}
		}
	}
	operations := columnOf(t, records(t, f, "operations.csv"), at["operations"])
	for _, key := range columnOf(t, records(t, f, "followups.csv"), at["followups"]) {
		if !slices.Contains(operations, key) {
			t.Fatal("a visit belongs to no operation of the package")
		}
	}
}

// What the registry holds after any run of packages, in order, twice and in any
// order, is what a hospital that starts anew would send (own rule, no source), but
// for the rows that are held back because of what the registry has had before.
func TestReplayEndsInTheSameState(t *testing.T) {
	base := crowd(t, 20)
	for seed := range uint64(12) {
		h := &history{r: rand.New(rand.NewPCG(seed, 7)), key: testKey, base: base}
		for month := 1; month <= 8; month++ {
			h.happen(t, month)
			h.submit(t, month, nil)
		}
		// A last package that is accepted, so that nothing is still on its way.
		in := Input{Period: Period{2026, 8}, Operations: Operations(h.list...), Sent: h.sent, Steps: h.steps, TheatreCount: -1, At: now}
		o := Options{Mode: Pseudonymised, Key: h.key, K: 2, MaxSuppressed: 0.5, HoldBack: true}
		last := build(t, in, o)
		h.packages = append(h.packages, folder(t, last))
		state, err := Replay(h.packages...)
		if err != nil {
			t.Fatalf("seed %d: %v", seed, err)
		}
		shuffled := slices.Concat(h.packages, h.packages)
		h.r.Shuffle(len(shuffled), func(i, j int) { shuffled[i], shuffled[j] = shuffled[j], shuffled[i] })
		again, err := Replay(shuffled...)
		if err != nil || !reflect.DeepEqual(state, again) {
			t.Fatalf("seed %d: the order matters: %v", seed, err)
		}
		in.Sent, in.Steps = nil, last.Steps
		anew, err := Replay(folder(t, build(t, in, o)))
		if err != nil {
			t.Fatal(err)
		}
		for kind, rows := range anew {
			standing := maps.Clone(state[kind])
			maps.DeleteFunc(standing, func(_ string, s Standing) bool { return s.Withdrawn })
			maps.DeleteFunc(rows, func(key string, s Standing) bool {
				if s.Operation != "" {
					key = s.Operation
				}
				return slices.ContainsFunc(last.Exceptions, func(e Exception) bool { return e.Key == key && e.Reason == suppressed })
			})
			if len(standing) != len(rows) || len(rows) == 0 {
				t.Fatalf("seed %d: %d %s rows stand, %d should", seed, len(standing), kind, len(rows))
			}
			for key, want := range rows {
				if !slices.Equal(standing[key].Cells, want.Cells) || standing[key].Operation != want.Operation {
					t.Fatalf("seed %d: a %s row differs", seed, kind)
				}
			}
		}
		// Sent once more with everything accepted, nothing is left to say.
		in.Sent, in.Steps = accept(h.sent, last), last.Steps
		if p := build(t, in, o); p.Manifest.Rows["operations.new"]+p.Manifest.Rows["operations.corrected"]+p.Manifest.Rows["operations.withdrawn"] > 0 {
			t.Errorf("seed %d: %v", seed, p.Manifest.Rows)
		}
	}
}

// The reasons and the revision replaced, by hand.
func TestCorrectionsSayWhy(t *testing.T) {
	list := crowd(t, 40)
	first := build(t, input(list), keyed())
	sent := accept(nil, first)
	if first.Manifest.Rows["operations.new"] != 40 {
		t.Fatalf("%v", first.Manifest.Rows)
	}
	list[3].Person += "9" // a record number that was wrong
	withVisits := slices.IndexFunc(list, func(o Operation) bool { return len(o.Visits) > 1 })
	list[0].Cells[columnPlace("suture_pattern")], list[0].Revision, list[0].Reason = "single-running", 2, "entry-corrected"
	list[1].State, list[1].Reason = Withdrawn, "note-withdrawn"
	list[2].Consent = false
	list[withVisits].Visits = list[withVisits].Visits[1:]
	in := input(list)
	in.Sent, in.Steps = sent, first.Steps
	f := folder(t, build(t, in, keyed()))
	got := map[string][]string{}
	for _, name := range []string{"operations.csv", "followups.csv"} {
		lines := records(t, f, name)
		for i, change := range columnOf(t, lines, "change") {
			got[change] = append(got[change], fmt.Sprint(name[:1], columnOf(t, lines, "reason")[i], columnOf(t, lines, "revision")[i], columnOf(t, lines, "replaces")[i]))
		}
	}
	for _, list := range got {
		slices.Sort(list)
	}
	want := map[string][]string{
		"corrected": {"oentry-corrected21", "oentry-corrected21"}, "unchanged": {"onone11"},
		"withdrawn": {"fvisit-withdrawn21", "oconsent-withdrawn21", "onote-withdrawn21"},
	}
	if !reflect.DeepEqual(got, want) {
		t.Errorf("%v", got)
	}
}

// A correction to a row that was never accepted is a new row under the next
// revision, and replaces nothing.
func TestNothingCountsBeforeTheAnswer(t *testing.T) {
	list := crowd(t, 40)
	first := build(t, input(list), keyed())
	var pending []Sent
	for c := range first.Changes {
		pending = append(pending, c)
	}
	in := input(list)
	in.Sent = pending
	p := build(t, in, keyed())
	for c := range p.Changes {
		if c.Change != "new" || c.Revision != 2 || c.Replaces != 0 || c.Reason != "first" || c.Case == "" {
			t.Fatalf("%+v", c)
		}
	}
}

// Two packages that give one revision different contents cannot both be right.
func TestReplayRefusesContradictions(t *testing.T) {
	list := crowd(t, 40)
	one := folder(t, build(t, input(list), keyed()))
	list[0].Cells[columnPlace("suture_pattern")] = "single-running"
	other := folder(t, build(t, input(list), keyed()))
	if _, err := Replay(one, other); !errors.Is(err, ErrOutOfOrder) {
		t.Errorf("%v", err)
	}
	for name, f := range map[string]fstest.MapFS{
		"empty":           {},
		"no description":  {"operations.csv": one["operations.csv"]},
		"path outside":    {DescriptorName: {Data: []byte(`{"resources":[{"name":"operations","path":"../x.csv"}]}`)}},
		"no roles":        {DescriptorName: {Data: []byte(`{"resources":[{"name":"operations","path":"x.csv","schema":{"fields":[{"name":"a"}]}}]}`)}},
		"not JSON":        {DescriptorName: {Data: []byte(`{`)}},
		"table not there": {DescriptorName: one[DescriptorName]},
	} {
		if _, err := Replay(f); !errors.Is(err, ErrPackage) {
			t.Errorf("%s: %v", name, err)
		}
	}
}
