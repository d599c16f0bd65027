package main

import (
	"context"
	"runtime"

	"graftnote/casebook"
	"graftnote/schema"
)

// packSize is how many cases a worker takes at a time.
const packSize = 64

// eachInForce takes every case of the casebook that is not withdrawn on all cores,
// while the casebook is read on, and adds the results one after the other in the
// order of the log. The packs that wait are bounded, so memory does not grow.
//
// A case that does not hold is refused by name and the others go on; refused hears
// of it.
func eachInForce[T any](ctx context.Context, book *casebook.Casebook, refused func(casebook.InForce) error, take func(casebook.InForce) T, add func(casebook.InForce, T) error) error {
	type pack struct {
		in  []casebook.InForce
		out chan outcomeOf[[]T]
	}
	workers := runtime.GOMAXPROCS(0)
	jobs, queue := make(chan pack), make(chan pack, 2*workers)
	ctx, stop := context.WithCancel(ctx)
	for range workers {
		go func() {
			for p := range jobs {
				p.out <- caught(func() []T {
					out := make([]T, len(p.in))
					for i, c := range p.in {
						out[i] = take(c)
					}
					return out
				})
			}
		}()
	}
	var failed error // of reading; queue is closed after it is set
	go func() {
		defer close(queue)
		defer close(jobs)
		var next []casebook.InForce
		send := func() error {
			p := pack{next, make(chan outcomeOf[[]T], 1)}
			next = nil
			for _, to := range []chan pack{queue, jobs} {
				select {
				case to <- p:
				case <-ctx.Done():
					return ctx.Err()
				}
			}
			return nil
		}
		failed = book.EachInForce(ctx, func(c casebook.InForce) error {
			if next = append(next, c); len(next) < packSize {
				return nil
			}
			return send()
		})
		if failed == nil {
			failed = send()
		}
	}()
	var stopped error
	for p := range queue {
		if stopped != nil {
			continue // until the reader has stopped
		}
		select {
		case out := <-p.out:
			for i, t := range out.get() {
				if p.in[i].Err != nil {
					stopped = refused(p.in[i])
				} else {
					stopped = add(p.in[i], t)
				}
				if stopped != nil {
					break
				}
			}
		case <-ctx.Done(): // it was queued and never worked on
		}
		if stopped != nil {
			stop()
		}
	}
	stop()
	if stopped != nil {
		return stopped
	}
	return failed
}

// refused names a case of the casebook that does not hold, once.
func (a *app) refused(c casebook.InForce) error {
	if a.named[c.Case] {
		return nil
	}
	if a.named == nil {
		a.named = map[string]bool{}
	}
	a.named[c.Case] = true
	a.fail(asFault(bookFault("case "+c.Case, c.Err)))
	return nil
}

// openCase opens the entry in force of a case and its follow-ups.
func openCase(c casebook.InForce, o schema.Options) (schema.Checked, []casebook.FollowUpOf, error) {
	entry, followUps, err := c.Open()
	if err != nil {
		return schema.Checked{}, nil, bookFault("case "+c.Case, err)
	}
	index, err := schema.Stored(entry, o)
	if err != nil {
		return index, nil, &fault{status: statusIO, text: "case " + c.Case + ": its entry cannot be read by this version of graftnote"}
	}
	return index, followUps, nil
}
