package main

import (
	"context"
	"errors"
	"io/fs"
	"os"
	"runtime"
	"sync/atomic"

	"graftnote/casebook"
	"graftnote/note"
	"graftnote/registry/month/scenario"
	"graftnote/schema"
)

// demoBook fills a new casebook with signed operations and follow-ups. The two
// invented people who sign have keys that are drawn for it and kept nowhere, so
// nobody can sign into it later as one of them.
func (a *app) demoBook(place string, p scenario.Plan, n int) error {
	if casebook.IsAddress(place) {
		return usage("a demonstration does not go into a department's casebook", "give a file: --casebook demo.db")
	}
	if _, err := os.Lstat(place); !errors.Is(err, fs.ErrNotExist) {
		return &fault{status: statusIO, text: placeName(place) + " is there already", hints: []string{"invented operations go into a new casebook only; name another file"}}
	}
	phrases, err := note.LoadPhrases(nil)
	if err != nil {
		return err
	}
	b := bookFlags{place: place}
	return b.withBook(a, casebook.Options{Rand: a.env.random}, func(ctx context.Context, book *casebook.Casebook) error {
		surgeon, err := a.demoKey(ctx, book, nil, "Imara Voss", "consultant")
		if err != nil {
			return err
		}
		clinic, err := a.demoKey(ctx, book, surgeon, "Wren Calder", "optometrist")
		if err != nil {
			return err
		}
		o := b.sealedOptions(a)
		followups := 0
		var failed error
		var stopped atomic.Bool // it is asked by another goroutine
		inOrder(n, runtime.GOMAXPROCS(0), func() bool { return !stopped.Load() },
			func(i int) demoCase { return openDemo(p, i, o, phrases) },
			func(_ int, d demoCase) {
				if failed == nil {
					failed = a.demoSign(ctx, book, d, surgeon, clinic)
					stopped.Store(failed != nil)
					followups += len(d.followups)
				}
			})
		if failed != nil {
			return bookFault("the demonstration", failed)
		}
		a.print.line("%s and %s signed in %s.", count(n, "invented operation"), countAre(followups, "follow-up", "follow-ups"), placeName(place))
		return nil
	})
}

// demoKey draws a key and registers it, vouched for by the key by, nil for the
// first.
func (a *app) demoKey(ctx context.Context, book *casebook.Casebook, by *casebook.Key, name, role string) (*casebook.Key, error) {
	k, err := casebook.NewKey(a.env.random, name, role)
	if err != nil {
		return nil, bookFault("a key", err)
	}
	if by == nil {
		by = k
	}
	_, err = book.AddKey(ctx, casebook.KeyRequest{Act: a.act(by), New: k.Public()})
	return k, bookFault("a key", err)
}

type demoCase struct {
	entry     schema.Checked
	words     []byte
	followups []schema.CheckedFollowup
	err       error
}

// openDemo checks one operation and its follow-ups as those of a user are.
func openDemo(p scenario.Plan, i int, o schema.Options, phrases *note.Phrases) (d demoCase) {
	entry, documents := p.Operation(i)
	odd := errors.New("an invented entry cannot be signed; this is a fault of the program")
	cases := schema.Read(schema.Source{Name: p.Name(i), Data: entry}, o).Cases
	if len(cases) != 1 {
		return demoCase{err: odd}
	}
	if d.entry, d.err = schema.Check(cases[0], o, nil); d.err == nil && !d.entry.Complete() {
		d.err = odd
	}
	if d.err == nil {
		var doc note.Document
		if doc, d.err = toSign(d.entry, phrases, ""); d.err == nil {
			d.words, d.err = wordsOf(d.entry, doc, demoAnswers(casebook.ToAnswer(d.entry)))
		}
	}
	for _, text := range documents {
		if d.err != nil {
			break
		}
		list := schema.ReadFollowup(schema.Source{Name: p.Name(i), Data: text}, o).Documents
		if len(list) != 1 {
			return demoCase{err: odd}
		}
		c, err := schema.CheckFollowup(list[0], d.entry, d.followups, o)
		d.followups, d.err = append(d.followups, c), err
	}
	return d
}

func (a *app) demoSign(ctx context.Context, book *casebook.Casebook, d demoCase, surgeon, clinic *casebook.Key) error {
	if d.err != nil {
		return d.err
	}
	zone := d.entry.Entry().Episode.Zone.Text()
	r := casebook.SignRequest{Act: a.act(surgeon, zone), Checked: d.entry, Shown: d.entry.Digest(), Document: d.words,
		Confirmed: casebook.Prefilled(d.entry), Answers: demoAnswers(casebook.ToAnswer(d.entry))}
	_, err := book.SignOff(ctx, r)
	var like casebook.AlikeError
	for errors.As(err, &like) { // of thousands of invented entries some are alike
		r.Different = append(r.Different, like.Cases...)
		_, err = book.SignOff(ctx, r)
	}
	for i, f := range d.followups {
		if err != nil {
			return err
		}
		_, err = book.RecordFollowUp(ctx, casebook.FollowUpRequest{Act: a.act(clinic, zone), Checked: f, Shown: f.Digest(),
			Answers: demoAnswers(casebook.FollowUpToAnswer(f)), Base: i})
	}
	return err
}

func demoAnswers(open []schema.Finding) []casebook.Answer {
	var out []casebook.Answer
	for _, f := range open {
		out = append(out, casebook.Answer{Rule: f.Rule, Path: f.Path, Reason: "invented entry"})
	}
	return out
}
