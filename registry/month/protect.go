package month

import (
	"errors"
	"slices"
	"strings"

	"graftnote/registry"
	"graftnote/registry/disclosure"
)

// protected says which operations may stand at the registry, and in which form.
type protected struct {
	release *disclosure.Release
	dropped []bool
	// coarse holds the cells of the columns that were changed, by place in
	// registry.Columns; span the years that the year stands for.
	coarse map[int]*coded
	span   *coded
	steps  map[string]int
	finer  *disclosure.Release
	joined joinedView
	quasi  []string // what is sent of each row that a reader may know, packed
}

// protect hides the people of all rows among each other, and in all versions that
// the registry has had of them.
func (s *store) protect(in Input, o Options) (*protected, error) {
	p := &protected{dropped: make([]bool, len(s.operations)), coarse: map[int]*coded{}, span: newCoded()}
	if len(s.operations) == 0 {
		p.steps = in.Steps
		return p, nil
	}
	set, places := s.set()
	policy := disclosure.Policy{Quasi: load().Quasi, Sensitive: load().Sensitive, K: o.K, L: o.L,
		MaxSuppressed: o.MaxSuppressed, Linked: o.Mode == Pseudonymised}
	j, err := s.join(in, o, set)
	if err != nil {
		return nil, err
	}
	f := finder{joined: j, set: set, policy: policy, in: in, o: o}
	release, err := f.find()
	if errors.Is(err, disclosure.ErrRefused) && o.HoldBack {
		for i := range p.dropped {
			p.dropped[i] = true
		}
		p.steps = in.Steps
		return p, nil
	}
	if err != nil {
		return nil, err
	}
	p.release, p.finer, p.joined, p.steps = release, f.finer, f.view, map[string]int{}
	for _, i := range release.Dropped {
		p.dropped[i] = true
	}
	for _, change := range release.Changes {
		p.steps[change.Column] = change.Step
	}
	p.keep(set)
	p.coarsen(s, places)
	release.Set = disclosure.Set{} // the store holds the rows
	return p, nil
}

// keep remembers what is sent of each row, for the versions to come.
func (p *protected) keep(set disclosure.Set) {
	names := quasiNames()
	p.quasi = make([]string, len(set.Rows))
	once := map[string]string{}
	for n, i := range p.release.Kept {
		text := packed(names, p.release.Set.Rows[n].Values[:len(names)])
		if _, known := once[text]; !known {
			once[text] = text
		}
		p.quasi[i] = once[text]
	}
}

// finder looks for the form in which the rows leave.
type finder struct {
	*joined
	set    disclosure.Set
	policy disclosure.Policy
	in     Input
	o      Options
	view   joinedView          // of the form that was found
	finer  *disclosure.Release // a less coarse one, when that would do
}

// find keeps to the steps of the package before while they still protect the
// people, so that rows need not be sent again, and says when finer ones would do.
// Otherwise it looks for the best, then for the best that is nowhere finer than the
// package before, and last, when rows may be held back without a limit, for what
// may leave at the steps of the package before. A form counts only when it protects
// in all versions together.
func (f *finder) find() (*disclosure.Release, error) {
	if f.o.Refine || !fits(f.in.Steps) {
		release, err := f.try(best(f.set, f.policy, f.o.Profile))
		if err == nil || f.joined == nil || !errors.Is(err, disclosure.ErrRefused) || !fits(f.in.Steps) {
			return release, err
		}
	}
	fixed, coarser := f.policy, f.policy
	fixed.AtLeast, fixed.AtMost, coarser.AtLeast = f.in.Steps, f.in.Steps, f.in.Steps
	release, err := f.try(disclosure.Protect(f.set, fixed))
	if err == nil {
		view := f.view
		if free, failed := best(f.set, f.policy, f.o.Profile); failed == nil && free.Loss < release.Loss && !f.o.Refine {
			if free, failed = f.try(free, nil); failed == nil && free.Loss < release.Loss {
				f.finer = free
			}
		}
		f.view = view
		return release, nil
	}
	looks := []func() (*disclosure.Release, error){
		func() (*disclosure.Release, error) { return f.try(best(f.set, f.policy, f.o.Profile)) },
		func() (*disclosure.Release, error) { return f.try(disclosure.Protect(f.set, coarser)) },
	}
	if f.o.HoldBack {
		looks = append(looks, func() (*disclosure.Release, error) {
			f.policy.MaxSuppressed, fixed.MaxSuppressed = 1, 1
			release, err := f.try(disclosure.Protect(f.set, fixed))
			if err == nil && len(release.Kept) == 0 {
				err = ErrRefused
			}
			return release, err
		})
	}
	for _, look := range looks {
		release, again := look()
		if again == nil || !errors.Is(again, disclosure.ErrRefused) {
			return release, again
		}
		if !errors.Is(err, ErrJoined) {
			err = again
		}
	}
	return nil, err
}

// try holds a form against all versions.
func (f *finder) try(release *disclosure.Release, err error) (*disclosure.Release, error) {
	if err != nil {
		return nil, err
	}
	release, f.view, err = f.settle(f.set, f.policy, release, keyring{f.o}.epoch())
	return release, err
}

// best looks for the least loss. The columns that a registry requires are not
// withheld as long as anything else protects the people; when all of them cannot
// stay, those that stand last in the profile go first.
func best(set disclosure.Set, policy disclosure.Policy, profile *Profile) (*disclosure.Release, error) {
	names, steps := usableSteps(profile)
	for n := len(names); n > 0; n-- {
		bound := policy
		bound.AtMost = map[string]int{}
		for i, name := range names[:n] {
			bound.AtMost[name] = steps[i]
		}
		release, err := disclosure.Protect(set, bound)
		if err == nil || !errors.Is(err, disclosure.ErrRefused) {
			return release, err
		}
	}
	return disclosure.Protect(set, policy)
}

// usableSteps are the required columns, in the order of the profile, with the
// coarsest step of each that still says something.
func usableSteps(p *Profile) (names []string, steps []int) {
	if p == nil {
		return nil, nil
	}
	for _, c := range p.Operations {
		for _, q := range load().Quasi {
			if last := len(q.Ladder) - 1; c.Required && q.Name == c.From && q.Ladder[last].All {
				names, steps = append(names, q.Name), append(steps, last-1)
			}
		}
	}
	return names, steps
}

// fits reports whether steps of a former package are steps of the ladders of this
// version.
func fits(steps map[string]int) bool {
	if len(steps) != len(load().Quasi) {
		return false
	}
	for _, q := range load().Quasi {
		n, ok := steps[q.Name]
		if !ok || n < 0 || n >= len(q.Ladder) {
			return false
		}
	}
	return true
}

// set is the cumulative set of what a reader may know and must not learn, and the
// places of its columns in registry.Columns.
func (s *store) set() (disclosure.Set, map[string]int) {
	c := load()
	places := map[string]int{}
	for i, col := range registry.Columns() {
		places[col.Name] = i
	}
	var set disclosure.Set
	var columns []*coded
	for _, q := range c.Quasi {
		set.Columns = append(set.Columns, q.Name)
		columns = append(columns, s.cells[places[q.Name]])
	}
	for _, name := range c.Sensitive {
		set.Columns = append(set.Columns, name)
		if name == lastStatus {
			columns = append(columns, s.status)
			continue
		}
		columns = append(columns, s.cells[places[name]])
	}
	set.Rows = make([]disclosure.Row, len(s.operations))
	values := make([]string, len(columns)*len(s.operations))
	for i, o := range s.operations {
		v := values[i*len(columns) : (i+1)*len(columns)]
		for n, col := range columns {
			v[n] = col.text(i)
		}
		set.Rows[i] = disclosure.Row{Person: o.person, Month: o.month.String(), Values: v}
	}
	return set, places
}

// coarsen writes the columns that were changed. Rows that were dropped get the
// withheld code: they are not sent.
func (p *protected) coarsen(s *store, places map[string]int) {
	p.span = newCoded()
	for q, change := range p.release.Changes {
		if change.Column != "operation_year" && change.Step == 0 {
			continue
		}
		into := newCoded()
		kept := 0
		for i := range s.operations {
			cell := withheld
			if !p.dropped[i] {
				cell = p.release.Set.Rows[kept].Values[q]
				kept++
			}
			if change.Column == "operation_year" {
				first, years := firstYear(cell)
				cell = first
				p.span.add(years)
			}
			into.add(cell)
		}
		p.coarse[places[change.Column]] = into
		if change.Step == 0 {
			continue
		}
		for _, name := range load().Follows[change.Column] {
			hidden := newCoded()
			for range s.operations {
				hidden.add(withheld)
			}
			p.coarse[places[name]] = hidden
		}
	}
}

// firstYear splits "2024 to 2025" into the first year and how many.
func firstYear(cell string) (first, years string) {
	from, to, several := strings.Cut(cell, " to ")
	switch {
	case cell == withheld:
		return withheld, withheld
	case !several:
		return cell, "1"
	}
	return from, itoa(wholeNumber(to) - wholeNumber(from) + 1)
}

// coarseCodes are the codes that the coarser steps of a column add.
func coarseCodes(column string) []string {
	var out []string
	for _, q := range load().Quasi {
		if q.Name != column {
			continue
		}
		for _, step := range q.Ladder {
			for code := range step.Groups {
				if !slices.Contains(out, code) {
					out = append(out, code)
				}
			}
		}
	}
	slices.Sort(out)
	return out
}
