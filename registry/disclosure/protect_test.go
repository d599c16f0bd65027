package disclosure

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"reflect"
	"slices"
	"testing"
)

// clinicLike are columns and ladders of the kind a registry uses.
func clinicLike() []Column {
	return []Column{
		{Name: "year", Ladder: []Step{{Name: "year"}, {Name: "two years", Width: 2}, {Name: "four years", Width: 4}, {Name: "not given", All: true}}},
		{Name: "age", Ladder: []Step{{Name: "ten years"}, {Name: "twenty years", Width: 20}, {Name: "forty years", Width: 40}, {Name: "not given", All: true}}},
		{Name: "sex", Ladder: []Step{{Name: "sex"}, {Name: "not given", All: true}}},
		{Name: "eye", Ladder: []Step{{Name: "eye"}, {Name: "not given", All: true}}},
		{Name: "indication", Weight: 2, Ladder: []Step{{Name: "indication"}, {Name: "group", Groups: map[string][]string{"ectasia": {"i0", "i1", "i2"}, "other": {"i3", "i4", "i5", "i6", "i7"}}}, {Name: "not given", All: true}}},
		{Name: "procedure", Ladder: []Step{{Name: "procedure"}, {Name: "group", Groups: map[string][]string{"bubble": {"p0", "p1"}, "manual": {"p2", "p3"}}}, {Name: "not given", All: true}}},
	}
}

func random(rng *rand.Rand, rows int) Set {
	s := Set{Columns: []string{"year", "age", "sex", "eye", "indication", "procedure", "status"}}
	skew := func(n int) int { return min(rng.IntN(n), rng.IntN(n), rng.IntN(n)) }
	type person struct {
		sex string
		age int
	}
	people := map[int]person{}
	for i := range rows {
		p := rng.IntN(rows)
		who, known := people[p]
		if !known {
			who = person{[]string{"f", "m"}[rng.IntN(2)], 10 * skew(9)}
			people[p] = who
		}
		s.Rows = append(s.Rows, Row{Person: fmt.Sprint("person", p), Month: fmt.Sprintf("2026-%02d", 1+i%12), Values: []string{
			fmt.Sprint(2020 + rng.IntN(7)), fmt.Sprint(who.age), who.sex, []string{"left", "right"}[rng.IntN(2)],
			fmt.Sprint("i", skew(8)), fmt.Sprint("p", skew(4)), fmt.Sprint("s", skew(5)),
		}})
	}
	return s
}

// evaluateSlowly works out by the definitions, with maps of texts, what remains
// at a combination of steps: dropped rows and loss. ok is false when more rows
// than allowed would go.
func evaluateSlowly(s Set, p Policy, steps []int, allowed int) (drop []bool, loss float64, ok bool) {
	values := make([][]string, len(s.Rows))
	leaves := make([]map[string]map[string]bool, len(p.Quasi))
	all := make([]map[string]bool, len(p.Quasi))
	weight := 0.0
	for q, c := range p.Quasi {
		leaves[q], all[q] = map[string]map[string]bool{}, map[string]bool{}
		weight += max(c.Weight, 1)
		groups, _ := c.Ladder[steps[q]].byValue()
		for i, r := range s.Rows {
			base := r.Values[slices.Index(s.Columns, c.Name)]
			word, _ := c.coarsen(base, steps[q], groups)
			values[i] = append(values[i], word)
			if leaves[q][word] == nil {
				leaves[q][word] = map[string]bool{}
			}
			leaves[q][word][base], all[q][base] = true, true
		}
	}
	drop = make([]bool, len(s.Rows))
	for changed := true; changed; {
		changed = false
		people, outcomes, signature := map[string]map[string]bool{}, map[string]map[string]bool{}, map[string][]string{}
		for i, r := range s.Rows {
			if drop[i] {
				continue
			}
			key := fmt.Sprint(values[i])
			if people[key] == nil {
				people[key], outcomes[key] = map[string]bool{}, map[string]bool{}
			}
			people[key][r.Person] = true
			outcomes[key][r.Values[len(r.Values)-1]] = true
			signature[r.Person] = append(signature[r.Person], key)
		}
		alike := map[string]int{}
		for _, keys := range signature {
			slices.Sort(keys)
			alike[fmt.Sprint(keys)]++
		}
		gone := map[string]bool{}
		for i, r := range s.Rows {
			key := fmt.Sprint(values[i])
			few := len(people[key]) < p.K || len(outcomes[key]) < p.L
			if p.Linked {
				few = few || alike[fmt.Sprint(signature[r.Person])] < p.K
			}
			if !drop[i] && few {
				drop[i], changed = true, true
				gone[r.Person] = p.Linked
			}
		}
		for i, r := range s.Rows {
			if gone[r.Person] {
				drop[i] = true
			}
		}
	}
	n := 0
	for i := range s.Rows {
		if drop[i] {
			n++
			loss += weight
			continue
		}
		for q, c := range p.Quasi {
			if len(all[q]) > 1 {
				loss += max(c.Weight, 1) * float64(len(leaves[q][values[i][q]])-1) / float64(len(all[q])-1)
			}
		}
	}
	return drop, loss / weight / float64(len(s.Rows)), n <= allowed
}

// The result is the least loss of all combinations of steps, worked out by the
// definitions of k-anonymity (Sweeney 2002), distinct l-diversity
// (Machanavajjhala 2007) and the certainty penalty (Xu 2006), counting people.
func TestProtectAgainstAllCombinations(t *testing.T) {
	rng := rand.New(rand.NewPCG(2, 3))
	refused := 0
	for round := range 250 {
		s := random(rng, 20+rng.IntN(150))
		pick := clinicLike()
		rng.Shuffle(len(pick), func(i, j int) { pick[i], pick[j] = pick[j], pick[i] })
		p := Policy{Quasi: pick[:2+rng.IntN(2)], Sensitive: []string{"status"}, K: 2 + rng.IntN(6), L: rng.IntN(4), MaxSuppressed: []float64{NoSuppression, 0.1, 0.3}[rng.IntN(3)], Linked: round%2 == 0}
		if round%3 == 0 {
			p.AtMost = map[string]int{p.Quasi[0].Name: 1}
			p.AtLeast = map[string]int{p.Quasi[1].Name: 1}
		}
		full := p
		if err := full.normalise(); err != nil {
			t.Fatal(err)
		}
		low, high, _ := full.bounds()
		allowed := int(full.MaxSuppressed * float64(len(s.Rows)))
		best, least := math.Inf(1), []int(nil)
		for steps := slices.Clone(low); ; {
			if _, loss, ok := evaluateSlowly(s, full, steps, allowed); ok && loss < best-1e-12 {
				best, least = loss, slices.Clone(steps)
			}
			at := len(steps) - 1
			for at >= 0 && steps[at] == high[at] {
				steps[at] = low[at]
				at--
			}
			if at < 0 {
				break
			}
			steps[at]++
		}
		r, err := Protect(s, p)
		if err != nil {
			refused++
			if !errors.Is(err, ErrRefused) || least != nil {
				t.Fatalf("round %d: %v, but %v would do", round, err, least)
			}
			continue
		}
		if math.Abs(r.Loss-best) > 1e-9 {
			t.Fatalf("round %d: loss %v, least is %v at %v\n%+v", round, r.Loss, best, least, r.Changes)
		}
		drop, _, _ := evaluateSlowly(s, full, steps(r), allowed)
		for _, i := range r.Kept {
			if drop[i] {
				t.Fatalf("round %d: row %d must not be kept", round, i)
			}
		}
		promise(t, s, full, r)
	}
	if refused == 0 || refused > 150 {
		t.Errorf("%d rounds were refused: the test says little", refused)
	}
}

func steps(r *Release) []int {
	var out []int
	for _, c := range r.Changes {
		out = append(out, c.Step)
	}
	return out
}

// promise holds the result against a fresh measurement of its rows.
func promise(t *testing.T, s Set, p Policy, r *Release) {
	t.Helper()
	var names []string
	for _, q := range p.Quasi {
		names = append(names, q.Name)
	}
	m, err := Measure(r.Set, names, p.Sensitive)
	if err != nil || !reflect.DeepEqual(m, r.After) {
		t.Fatalf("measured again: %+v, reported %+v (%v)", m, r.After, err)
	}
	if m.Rows > 0 && (m.K < p.K || p.Linked && m.LinkedK < p.K || m.LinkedK > m.K || m.Diversity[0].L < p.L) {
		t.Fatalf("%+v does not keep to %d and %d", m, p.K, p.L)
	}
	if len(r.Kept)+len(r.Dropped) != len(s.Rows) || len(r.Dropped) > int(p.MaxSuppressed*float64(len(s.Rows))+1e-9) {
		t.Fatalf("%d kept, %d dropped of %d", len(r.Kept), len(r.Dropped), len(s.Rows))
	}
	// Coarsening only: equal values stay equal, other columns stay as they are.
	for c, name := range s.Columns {
		to := map[string]string{}
		for n, i := range r.Kept {
			was, is := s.Rows[i].Values[c], r.Set.Rows[n].Values[c]
			if before, known := to[was]; known && before != is {
				t.Fatalf("column %s: one value became two", name)
			}
			to[was] = is
			if !slices.Contains(names, name) && was != is {
				t.Fatalf("column %s was changed", name)
			}
		}
	}
}

// Own contract: the order of the rows and the number of runs change nothing.
func TestProtectIsDeterministic(t *testing.T) {
	rng := rand.New(rand.NewPCG(8, 8))
	s := random(rng, 3000)
	p := Policy{Quasi: clinicLike(), Sensitive: []string{"status"}, L: 2}
	a, err := Protect(s, p)
	if err != nil {
		t.Fatal(err)
	}
	b, _ := Protect(s, p)
	if !reflect.DeepEqual(a, b) {
		t.Fatal("two runs differ")
	}
	shuffled := Set{Columns: s.Columns, Rows: slices.Clone(s.Rows)}
	rng.Shuffle(len(shuffled.Rows), func(i, j int) {
		shuffled.Rows[i], shuffled.Rows[j] = shuffled.Rows[j], shuffled.Rows[i]
	})
	c, err := Protect(shuffled, p)
	if err != nil || c.Loss != a.Loss || !reflect.DeepEqual(steps(c), steps(a)) || !reflect.DeepEqual(c.After, a.After) || !reflect.DeepEqual(c.DroppedByMonth, a.DroppedByMonth) {
		t.Fatalf("%+v\n%+v", c.After, a.After)
	}
}

func BenchmarkProtect100000(b *testing.B)       { benchmarkProtect(b, 100_000, false) }
func BenchmarkProtectLinked100000(b *testing.B) { benchmarkProtect(b, 100_000, true) }
func BenchmarkProtect10000(b *testing.B)        { benchmarkProtect(b, 10_000, false) }

func benchmarkProtect(b *testing.B, rows int, linked bool) {
	s := random(rand.New(rand.NewPCG(1, 1)), rows)
	p := Policy{Quasi: clinicLike(), Sensitive: []string{"status"}, L: 2, Linked: linked, MaxSuppressed: 0.2}
	b.ReportAllocs()
	b.ResetTimer()
	for b.Loop() {
		r, err := Protect(s, p)
		if err != nil {
			b.Fatal(err)
		}
		b.ReportMetric(float64(r.Tried), "tried")
		b.ReportMetric(r.Loss, "loss")
		b.ReportMetric(100*r.Suppressed, "%suppressed")
	}
}

func BenchmarkMeasure100000(b *testing.B) {
	s := random(rand.New(rand.NewPCG(1, 1)), 100_000)
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Measure(s, s.Columns[:6], s.Columns[6:]); err != nil {
			b.Fatal(err)
		}
	}
}
