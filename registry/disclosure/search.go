package disclosure

import (
	"cmp"
	"fmt"
	"slices"
)

// largestLattice bounds the combinations of steps that are searched.
const largestLattice = 100_000

// profile is a kind of person: people whose rows have the same combinations of
// base values. They share their fate, so the search moves profiles, not rows.
type profile struct {
	// vectors are the combinations, one for each row, in rising order.
	vectors []int32
	people  int
	// facts are the different pairs of a combination and a sensitive value, by
	// sensitive column.
	facts [][]fact
}

type fact struct {
	vector int32
	value  uint32
}

// search looks for the steps with the least loss.
type search struct {
	c        *coded
	policy   Policy
	allowed  int
	profiles []profile
	// of is the profile of each person.
	of []int
	// weights of the columns, adding up to 1.
	weights        []float64
	withheld       int // rows that the policy withholds
	tried, lattice int
}

// outcome is one combination of steps worked out.
type outcome struct {
	steps      []int
	suppressed int
	loss       float64
	// badClass and badProfile say what is suppressed: rows in a class, or all
	// rows of a profile when the policy is Linked.
	classes    grouping
	badClass   []bool
	badProfile []bool
}

func newSearch(c *coded, p Policy) *search {
	s := &search{c: c, policy: p, allowed: int(p.MaxSuppressed*float64(c.rows) + 1e-9), of: make([]int, len(c.persons))}
	total := 0.0
	for _, q := range p.Quasi {
		w := q.Weight
		if w == 0 {
			w = 1
		}
		s.weights = append(s.weights, w)
		total += w
	}
	for i := range s.weights {
		s.weights[i] /= total
	}
	at := map[string]int{}
	var key []byte
	var vectors []int32
	for person, rows := range c.persons {
		vectors = vectors[:0]
		for _, row := range rows {
			if p.withholds(row) {
				s.withheld++
				continue
			}
			vectors = append(vectors, c.vector[row])
		}
		slices.Sort(vectors)
		key = key[:0]
		for _, v := range vectors {
			key = append(key, byte(v), byte(v>>8), byte(v>>16), byte(v>>24))
		}
		n, known := at[string(key)]
		if !known {
			n = len(s.profiles)
			at[string(key)] = n
			s.profiles = append(s.profiles, profile{vectors: slices.Clone(vectors), facts: make([][]fact, len(c.values))})
		}
		s.of[person] = n
		s.profiles[n].people++
		for column, values := range c.values {
			for _, row := range rows {
				if p.withholds(row) {
					continue
				}
				s.profiles[n].facts[column] = append(s.profiles[n].facts[column], fact{c.vector[row], values[row]})
			}
		}
	}
	for _, p := range s.profiles {
		for i, facts := range p.facts {
			slices.SortFunc(facts, func(a, b fact) int {
				return cmp.Or(cmp.Compare(a.vector, b.vector), cmp.Compare(a.value, b.value))
			})
			p.facts[i] = slices.Compact(facts)
		}
	}
	return s
}

// run searches the lattice between low and high.
func (s *search) run(low, high []int) (outcome, error) {
	least := s.evaluate(high)
	if least.suppressed > s.allowed {
		return outcome{}, &Refusal{Rows: s.c.rows, Least: least.suppressed, Allowed: s.allowed}
	}
	low = s.raise(low, high)
	nodes, err := s.nodes(low, high)
	if err != nil {
		return outcome{}, err
	}
	best, found := outcome{}, false
	for _, n := range nodes {
		// Sums of the same numbers in another order may differ in the last digits.
		if found && n.bound >= best.loss-1e-12 {
			break
		}
		o := s.evaluate(n.steps)
		if o.suppressed <= s.allowed && (!found || o.loss < best.loss-1e-12) {
			best, found = o, true
		}
	}
	return best, nil
}

// raise lifts the least step of each column to the first that is possible at
// all: suppression only falls as any column gets coarser, so a step that fails
// with all other columns at their coarsest fails everywhere.
func (s *search) raise(low, high []int) []int {
	out := slices.Clone(low)
	for i := range out {
		for out[i] < high[i] {
			steps := slices.Clone(high)
			steps[i] = out[i]
			if s.evaluate(steps).suppressed <= s.allowed {
				break
			}
			out[i]++
		}
	}
	return out
}

// node is a combination of steps with the lower bound of its loss.
type node struct {
	steps []int
	bound float64
}

func (s *search) nodes(low, high []int) ([]node, error) {
	s.lattice = 1
	for i := range low {
		s.lattice *= high[i] - low[i] + 1
		if s.lattice > largestLattice {
			return nil, fmt.Errorf("%w: the ladders have more than %d combinations", ErrPolicy, largestLattice)
		}
	}
	means := s.means()
	out := make([]node, 0, s.lattice)
	for steps := slices.Clone(low); ; {
		n := node{steps: slices.Clone(steps)}
		for i, step := range steps {
			n.bound += s.weights[i] * means[i][step]
		}
		out = append(out, n)
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
	slices.SortFunc(out, func(a, b node) int {
		return cmp.Or(cmp.Compare(a.bound, b.bound), slices.Compare(a.steps, b.steps))
	})
	return out, nil
}

// means is the mean penalty of each column at each step over all rows.
func (s *search) means() [][]float64 {
	rows := make([]int, len(s.c.base))
	for _, v := range s.c.vector {
		rows[v]++
	}
	out := make([][]float64, len(s.c.ladders))
	for i, l := range s.c.ladders {
		out[i] = make([]float64, len(l.code))
		counts := make([]int, len(l.words[0]))
		for v, n := range rows {
			counts[s.c.base[v][i]] += n
		}
		for step := range l.code {
			for base, n := range counts {
				out[i][step] += float64(n) * l.penalty[step][l.code[step][base]]
			}
			out[i][step] /= float64(max(s.c.rows, 1))
		}
	}
	return out
}

// evaluate works out what has to be suppressed at a combination of steps, and
// the loss.
func (s *search) evaluate(steps []int) outcome {
	s.tried++
	o := outcome{steps: slices.Clone(steps), classes: s.c.groupVectors(steps), badProfile: make([]bool, len(s.profiles))}
	o.badClass = make([]bool, o.classes.classes)
	if s.policy.Linked {
		s.linked(&o)
	} else {
		s.unlinked(&o)
	}
	penalty := make([]float64, len(s.c.base))
	for i, l := range s.c.ladders {
		codes, costs := l.code[steps[i]], l.penalty[steps[i]]
		for v, base := range s.c.base {
			penalty[v] += s.weights[i] * costs[codes[base[i]]]
		}
	}
	o.suppressed = s.withheld
	kept := make([]int, len(s.c.base))
	for i, p := range s.profiles {
		for _, v := range p.vectors {
			if o.badProfile[i] || o.badClass[o.classes.of[v]] {
				o.suppressed += p.people
			} else {
				kept[v] += p.people
			}
		}
	}
	for v, n := range kept {
		o.loss += float64(n) * penalty[v]
	}
	o.loss = (o.loss + float64(o.suppressed)) / float64(max(s.c.rows, 1))
	return o
}

// unlinked marks classes with too few people or values.
func (s *search) unlinked(o *outcome) {
	people := make([]int, o.classes.classes)
	var classes []int32
	for _, p := range s.profiles {
		classes = classes[:0]
		for _, v := range p.vectors {
			classes = append(classes, o.classes.of[v])
		}
		if len(classes) > 1 {
			slices.Sort(classes)
			classes = slices.Compact(classes)
		}
		for _, class := range classes {
			people[class] += p.people
		}
	}
	for class, n := range people {
		o.badClass[class] = n < s.policy.K
	}
	s.uniform(o)
}

// uniform marks the classes of kept rows with too few values of a sensitive
// column; it returns whether it marked a class with kept rows anew.
func (s *search) uniform(o *outcome) bool {
	if s.policy.L < 2 {
		return false
	}
	marked := false
	for column := range s.c.values {
		values := make([]int, o.classes.classes)
		rows := make([]bool, o.classes.classes)
		seen := map[uint64]struct{}{}
		for i, p := range s.profiles {
			if o.badProfile[i] {
				continue
			}
			for _, f := range p.facts[column] {
				class := o.classes.of[f.vector]
				rows[class] = true
				key := uint64(class)<<32 | uint64(f.value)
				if _, known := seen[key]; !known {
					seen[key] = struct{}{}
					values[class]++
				}
			}
		}
		for class, n := range values {
			if rows[class] && n < s.policy.L && !o.badClass[class] {
				o.badClass[class], marked = true, true
			}
		}
	}
	return marked
}

// linked marks profiles: those of people whose rows agree row for row with too
// few others, then those with a row in a class of too few values, until nothing
// changes. People who agree row for row are marked together, so those left keep
// their company.
func (s *search) linked(o *outcome) {
	group := make([]int, len(s.profiles))
	var people []int
	at := map[string]int{}
	var classes []int32
	var key []byte
	for i, p := range s.profiles {
		classes = classes[:0]
		for _, v := range p.vectors {
			classes = append(classes, o.classes.of[v])
		}
		slices.Sort(classes)
		key = key[:0]
		for _, class := range classes {
			key = append(key, byte(class), byte(class>>8), byte(class>>16), byte(class>>24))
		}
		n, known := at[string(key)]
		if !known {
			n = len(people)
			at[string(key)] = n
			people = append(people, 0)
		}
		group[i] = n
		people[n] += p.people
	}
	for i := range s.profiles {
		o.badProfile[i] = people[group[i]] < s.policy.K
	}
	for s.uniform(o) {
		for i, p := range s.profiles {
			for _, v := range p.vectors {
				o.badProfile[i] = o.badProfile[i] || o.badClass[o.classes.of[v]]
			}
		}
	}
}

// withholds reports whether a row is not to be released in any form.
func (p Policy) withholds(row int32) bool { return int(row) < len(p.Withhold) && p.Withhold[row] }

// dropped marks the rows that an outcome suppresses.
func (s *search) dropped(o outcome) []bool {
	out := make([]bool, s.c.rows)
	for person, rows := range s.c.persons {
		for _, row := range rows {
			out[row] = s.policy.withholds(row) || o.badProfile[s.of[person]] || o.badClass[o.classes.of[s.c.vector[row]]]
		}
	}
	return out
}
