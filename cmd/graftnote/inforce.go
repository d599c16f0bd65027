package main

import (
	"context"
	"runtime"

	"graftnote/casebook"
	"graftnote/schema"
)

// packSize is how many entries are opened at a time.
const packSize = 256

// eachInForce takes every case of the casebook that is not withdrawn, some at a
// time on all cores, and adds the results one after the other in the order of the
// log.
func eachInForce[T any](ctx context.Context, book *casebook.Casebook, take func(casebook.InForce) T, add func(casebook.InForce, T) error) error {
	var pack []casebook.InForce
	flush := func() (failed error) {
		inOrder(len(pack), runtime.GOMAXPROCS(0), func() bool { return failed == nil },
			func(i int) T { return take(pack[i]) },
			func(i int, t T) {
				if failed == nil {
					failed = add(pack[i], t)
				}
			})
		pack = pack[:0]
		return failed
	}
	err := book.EachInForce(ctx, func(c casebook.InForce) error {
		if pack = append(pack, c); len(pack) < packSize {
			return nil
		}
		return flush()
	})
	if err != nil {
		return err
	}
	return flush()
}

func openEntry(c casebook.InForce, o schema.Options) (schema.Checked, error) {
	index, err := schema.Sealed(c.Entry, o)
	if err != nil {
		err = &fault{status: statusIO, text: "case " + c.Case + ": its entry cannot be read by this version of graftnote"}
	}
	return index, err
}
