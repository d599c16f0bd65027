package disclosure

import (
	"errors"
	"fmt"
	"slices"
	"strings"
)

// DefaultK is the least number of people in a class unless the policy says
// otherwise (own choice, no source; 5 is the customary least).
const DefaultK = 5

// DefaultSuppressed is the share of rows that may be suppressed unless the
// policy says otherwise (own choice, no source).
const DefaultSuppressed = 0.10

// NoSuppression is the MaxSuppressed of a policy that lets no row go.
const NoSuppression = -1

// ErrPolicy: a threshold of the policy is out of range.
var ErrPolicy = errors.New("the policy asks for the impossible")

// ErrRefused: no permitted coarsening protects the people within the permitted
// suppression. Errors of this kind are *Refusal.
var ErrRefused = errors.New("the rows cannot be protected within the limits")

// Refusal says what would have been needed.
type Refusal struct {
	// Rows in all, and Least rows that even the coarsest permitted form would
	// suppress; Allowed is the most that the policy permits.
	Rows, Least, Allowed int
}

func (r *Refusal) Error() string {
	return fmt.Sprintf("%v: of %d rows at least %d would have to be suppressed, and %d may be", ErrRefused, r.Rows, r.Least, r.Allowed)
}

// Unwrap makes errors.Is(err, ErrRefused) true.
func (r *Refusal) Unwrap() error { return ErrRefused }

// Policy says what a release must keep to.
type Policy struct {
	// Quasi are the columns a reader may know of a person, with their ladders.
	Quasi []Column
	// Sensitive are the columns that he must not learn; they are not changed.
	Sensitive []string
	// K is the least number of people in a class; 0 is DefaultK.
	K int
	// L is the least number of different values of each sensitive column in a
	// class; 0 and 1 ask for nothing.
	L int
	// MaxSuppressed is the largest share of rows that may be suppressed; 0 is
	// DefaultSuppressed, NoSuppression is none.
	MaxSuppressed float64
	// AtLeast and AtMost bound the step of a column, by name. AtLeast holds what
	// earlier releases had to be coarsened to, so that they need not be sent
	// again; AtMost keeps a column usable.
	AtLeast, AtMost map[string]int
	// Linked asks for K people whose rows agree row for row: needed when the
	// person key is on the rows. All rows of a person are kept or suppressed
	// together.
	Linked bool
	// Withhold marks rows that are not released whatever the others allow, by
	// place in the set; nil for none. They count as suppressed.
	Withhold []bool
}

// Change says how far one column was coarsened.
type Change struct {
	Column string
	// Step is 0 for the values as they are, up to Last; Name is the name of the
	// step.
	Step, Last int
	Name       string
	// Penalty is the mean certainty penalty of the kept cells, 0 to 1.
	Penalty float64
}

// MonthCount counts rows by the month of their package.
type MonthCount struct {
	Month string
	Rows  int
}

// Release is a protected set and what it cost.
type Release struct {
	// Set has the kept rows in their order, with coarser values.
	Set Set
	// Kept and Dropped are the indices of the rows in the given set.
	Kept, Dropped []int
	// Before and After measure the set as given and as released.
	Before, After Report
	// Changes has a line for each quasi-identifier.
	Changes []Change
	// DroppedByMonth counts the suppressed rows, by month in rising order.
	DroppedByMonth []MonthCount
	// DroppedPersons counts people of whom no row is left.
	DroppedPersons int
	// Suppressed is the share of rows suppressed.
	Suppressed float64
	// Loss is the certainty penalty of the release, 0 to 1; see Protect.
	Loss float64
	// Lattice counts the combinations of steps that can be enough; Tried counts
	// those worked out, including the ones that showed which can be.
	Tried, Lattice int
	// K and L are the thresholds that were kept to.
	K, L int
}

// Protect coarsens whole columns step by step and suppresses the rows that are
// then still in classes of fewer than K people or L values, so that the loss is
// least. It returns a *Refusal when the suppression would exceed the policy's
// limit, and ErrRow, ErrPerson, ErrColumn, ErrLadder or ErrPolicy for faults.
//
// The loss is the normalised certainty penalty (Xu and others, KDD 2006, pages
// 785-790). A cell costs (m-1)/(n-1), where m of the n different values of its
// column in the set could stand behind it; a suppressed row costs 1 in each
// column; the loss is the mean over all rows and columns, weighted by the columns'
// weights. All combinations of steps are searched in the order of the loss they
// would have without suppression, which is a lower bound, until no better one is
// possible; among equals the first in that order, then the finest from the first
// column on. So the result is the best there is under this loss, and does not
// depend on the order of the rows.
func Protect(set Set, p Policy) (*Release, error) {
	if err := p.normalise(); err != nil {
		return nil, err
	}
	c, err := newCoded(set, p.Quasi, p.Sensitive)
	if err != nil {
		return nil, err
	}
	low, high, err := p.bounds()
	if err != nil {
		return nil, err
	}
	s := newSearch(c, p)
	best, err := s.run(low, high)
	if err != nil {
		return nil, err
	}
	return c.release(set, p, s, best)
}

func (p *Policy) normalise() error {
	if p.K == 0 {
		p.K = DefaultK
	}
	if p.MaxSuppressed == 0 {
		p.MaxSuppressed = DefaultSuppressed
	}
	if p.MaxSuppressed == NoSuppression {
		p.MaxSuppressed = 0
	}
	if p.K < 1 || p.L < 0 || !(p.MaxSuppressed >= 0 && p.MaxSuppressed <= 1) || p.L > 1 && len(p.Sensitive) == 0 {
		return ErrPolicy
	}
	return nil
}

// bounds are the least and the most permitted step of each column.
func (p Policy) bounds() (low, high []int, err error) {
	names := map[string]bool{}
	for _, q := range p.Quasi {
		names[q.Name] = true
		from, to := 0, len(q.Ladder)-1
		if n, given := p.AtLeast[q.Name]; given {
			from = n
		}
		if n, given := p.AtMost[q.Name]; given {
			to = n
		}
		if from < 0 || to >= len(q.Ladder) || from > to {
			return nil, nil, ErrPolicy
		}
		low, high = append(low, from), append(high, to)
	}
	for _, bound := range []map[string]int{p.AtLeast, p.AtMost} {
		for name := range bound {
			if !names[name] {
				return nil, nil, ErrColumn
			}
		}
	}
	return low, high, nil
}

// release makes the rows and the report of the chosen steps.
func (c *coded) release(set Set, p Policy, s *search, best outcome) (*Release, error) {
	out := &Release{
		Set:        Set{Columns: slices.Clone(set.Columns)},
		Before:     c.report(c.group(make([]int, len(p.Quasi))), nil),
		Suppressed: share(best.suppressed, c.rows), Loss: best.loss,
		Tried: s.tried, Lattice: s.lattice, K: p.K, L: max(p.L, 1),
	}
	column := map[string]int{}
	for i, name := range set.Columns {
		column[name] = i
	}
	penalty := make([]float64, len(p.Quasi))
	months := map[string]int{}
	dropped := s.dropped(best)
	for i, row := range set.Rows {
		if dropped[i] {
			out.Dropped = append(out.Dropped, i)
			months[row.Month]++
			continue
		}
		values := slices.Clone(row.Values)
		for q, l := range c.ladders {
			code := l.code[best.steps[q]][c.base[c.vector[i]][q]]
			values[column[p.Quasi[q].Name]] = l.words[best.steps[q]][code]
			penalty[q] += l.penalty[best.steps[q]][code]
		}
		out.Kept = append(out.Kept, i)
		out.Set.Rows = append(out.Set.Rows, Row{Person: row.Person, Month: row.Month, Values: values})
	}
	for q, col := range p.Quasi {
		out.Changes = append(out.Changes, Change{
			Column: col.Name, Step: best.steps[q], Last: len(col.Ladder) - 1, Name: col.Ladder[best.steps[q]].Name,
			Penalty: penalty[q] / float64(max(len(out.Kept), 1)),
		})
	}
	for month, n := range months {
		out.DroppedByMonth = append(out.DroppedByMonth, MonthCount{month, n})
	}
	slices.SortFunc(out.DroppedByMonth, func(a, b MonthCount) int { return strings.Compare(a.Month, b.Month) })
	out.After = c.report(c.group(best.steps), dropped)
	out.DroppedPersons = out.Before.Persons - out.After.Persons
	// A release that does not keep its promise must not leave, whatever the reason.
	if !p.kept(out.After) {
		return nil, &Refusal{Rows: c.rows, Least: c.rows, Allowed: s.allowed}
	}
	return out, nil
}

// kept says whether a report keeps to the policy.
func (p Policy) kept(r Report) bool {
	if r.Rows == 0 {
		return true
	}
	for _, d := range r.Diversity {
		if d.L < p.L {
			return false
		}
	}
	return r.K >= p.K && (!p.Linked || r.LinkedK >= p.K)
}

func share(part, whole int) float64 {
	if whole == 0 {
		return 0
	}
	return float64(part) / float64(whole)
}
