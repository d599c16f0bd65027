package month

import (
	"cmp"
	"fmt"

	"graftnote/registry"
	"graftnote/registry/disclosure"
)

// Build works out the package. The error is one of this package's, a
// *disclosure.Refusal when the people cannot be hidden within the limits, a
// *ProfileError, or what the stream of operations gave.
func Build(in Input, o Options) (*Package, error) {
	o.K = cmp.Or(o.K, disclosure.DefaultK)
	o.MinCell = cmp.Or(o.MinCell, 11)
	if o.MaxSuppressed == 0 {
		o.MaxSuppressed = disclosure.DefaultSuppressed
	}
	if err := o.valid(in); err != nil {
		return nil, err
	}
	keys := keyring{o}
	s := newStore()
	if err := s.fill(in, keys); err != nil {
		return nil, err
	}
	p, err := s.protect(in, o)
	if err != nil {
		return nil, err
	}
	d := &differ{store: s, protected: p, keys: keys, ledger: ledger(in.Sent), dictionary: registry.Version()}
	d.run()
	operations, visits := d.tables()
	out := &Package{finer: p.finer, Exceptions: s.exceptions, Disclosure: p.release, Steps: p.steps, differ: d}
	out.tables = []*table{operations, visits}
	if o.Profile != nil {
		if out.tables, err = o.Profile.apply(operations, visits); err != nil {
			return nil, err
		}
		out.Gaps = o.Profile.gaps(out.tables)
	}
	s.counts.close(in.TheatreCount, d.sentInTime)
	out.Manifest = manifestOf(in, o, d, out)
	out.Warnings = warnings(in, o, out)
	out.cover = coverOf(out)
	return out, nil
}

func (o Options) valid(in Input) error {
	switch o.Mode {
	case SafeHarbor:
		if o.Rand == nil || o.Keys == nil {
			return ErrRandom
		}
	case Pseudonymised:
		if registry.Epoch(o.Key) == "" {
			return ErrKey
		}
	default:
		return ErrMode
	}
	switch {
	case !in.Period.valid():
		return ErrPeriod
	case o.MinCell != 5 && o.MinCell != 8 && o.MinCell != 11:
		return ErrMinCell
	case in.TheatreCount > 10_000_000:
		return ErrTheatre
	case in.Operations == nil:
		return fmt.Errorf("%w: none at all", ErrInput)
	}
	for _, r := range in.Sent {
		if r.Kind != OperationRow && r.Kind != VisitRow || len(r.Key) != keyLength || r.Revision < 1 || r.Kind == VisitRow && len(r.Operation) != keyLength {
			return fmt.Errorf("%w: a row of an earlier package is damaged", ErrInput)
		}
	}
	return nil
}
