package main

import (
	"context"
	"fmt"
	"strings"
	"time"

	"graftnote/casebook"
	"graftnote/registry/month"
)

// monthHistory is what was sent before to the same registry in the same mode.
type monthHistory struct {
	sent     []casebook.SubmittedRow
	open     *casebook.PackageState // of this period, when it waits for its answer
	before   map[string]int         // steps of the package before that one
	repeated bool                   // the package is that one, byte for byte
	warnings []string
}

// monthHistory reads the history of the registry and fills in the random keys.
func (a *app) monthHistory(ctx context.Context, book *casebook.Casebook, f *monthFlags, in *month.Input) (h monthHistory, err error) {
	memory, err := book.Memory(ctx)
	if err != nil {
		return h, bookFault("the packages sent so far", err)
	}
	for i, p := range memory.Packages {
		if p.Mode != f.mode || p.Receiver != f.receiver() {
			continue // another series of packages
		}
		waits := p.Answer == casebook.AnswerOpen || p.Answer == casebook.AnswerPending
		switch {
		case waits && p.Month == in.Period.String():
			h.open, h.before = &memory.Packages[i], in.Steps
		case waits:
			h.warnings = append(h.warnings, "Package "+p.Package+" of "+p.Month+" has no final answer yet: its rows count as not sent and are in this package again. Read the answer first if it is there.")
		}
		in.Steps = p.Steps
	}
	other := map[string]bool{}
	for _, r := range memory.Sent {
		switch {
		case r.Receiver != f.receiver():
		case r.Mode == f.mode:
			h.sent = append(h.sent, r)
			in.Sent = append(in.Sent, sentRow(r))
		case r.Accepted:
			other[r.Kind+" "+r.Key] = r.Action != casebook.RowWithdrawn
		}
	}
	standing := 0
	for _, stands := range other {
		if stands {
			standing++
		}
	}
	if standing > 0 && !f.dropped {
		return h, &fault{status: statusBlocked, text: fmt.Sprintf("the registry has %s in the other mode; each would stand there twice", count(standing, "row")),
			hints: []string{"keep to the mode of the packages before, or have the registry drop those rows and say so with --other-mode-dropped"}}
	}
	if in.Checkpoint, err = book.Checkpoint(ctx); err != nil {
		return h, bookFault("the checkpoint", err)
	}
	if f.o.Mode != month.SafeHarbor {
		return h, nil
	}
	f.o.Rand, f.o.Keys = a.env.random, month.NewKeyMap()
	for _, k := range memory.RowKeys {
		kind, receiver, _ := strings.Cut(k.Kind, "/")
		if receiver != f.receiver() {
			continue
		}
		if err := f.o.Keys.Add(month.RowKey{Kind: kind, Name: k.Name, Key: k.Key}); err != nil {
			return h, monthFault(err)
		}
	}
	return h, nil
}

// again makes the package of a period. While one of the same period waits for its
// answer it is made as that one was, and is that one when nothing has changed.
// Otherwise the new one goes on from it.
func (h *monthHistory) again(in month.Input, build func(month.Input) (*month.Package, error)) (*month.Package, error) {
	if h.open == nil {
		return build(in)
	}
	was := in
	was.By, was.Checkpoint, was.Steps, was.Sent = h.open.By, h.open.Checkpoint, h.before, nil
	if at, err := time.Parse(time.RFC3339, h.open.At); err == nil {
		was.At = at
	}
	for _, r := range h.sent {
		if r.Package == h.open.Package {
			break // what came after it did not exist then
		}
		was.Sent = append(was.Sent, sentRow(r))
	}
	p, err := build(was)
	if err == nil && p.Manifest.Package == h.open.Package {
		h.repeated = true
		return p, nil
	}
	h.warnings = append(h.warnings, "Package "+h.open.Package+" of this period has no final answer yet, and casebook or count have changed since: this is another one. Its rows have higher revisions, so they stand whatever is said of the first.")
	return build(in)
}
