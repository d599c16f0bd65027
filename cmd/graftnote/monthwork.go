package main

import (
	"bytes"
	"cmp"
	"context"
	"fmt"
	"io"
	"maps"
	"os"
	"path/filepath"
	"runtime"
	"slices"

	"graftnote/casebook"
	"graftnote/pdf"
	"graftnote/registry/month"
	"graftnote/registry/report"
	"graftnote/schema"
)

// monthOperations are all operations of the casebook in the order of surgery, and
// those that wait in entry files.
func (a *app) monthOperations(ctx context.Context, book *casebook.Casebook, f *monthFlags, g given, args []string) ([]month.Operation, error) {
	followUps, err := book.AllFollowUps(ctx)
	if err != nil {
		return nil, bookFault("the follow-ups", err)
	}
	var out []month.Operation
	dates := map[string]string{}
	known := map[string]bool{}
	var pack []monthEntry
	flush := func() error {
		var failed error
		inOrder(len(pack), runtime.GOMAXPROCS(0), func() bool { return failed == nil },
			func(i int) monthTaken { return pack[i].take(followUps[pack[i].s.Case], f.sealedOptions(a)) },
			func(_ int, t monthTaken) {
				if t.err != nil {
					failed = t.err
					return
				}
				out = append(out, t.operation)
			})
		pack = pack[:0]
		return failed
	}
	err = book.EntriesInForce(ctx, func(s casebook.Summary, entry []byte) error {
		dates[s.Case], known[s.Case] = s.Date, true
		pack = append(pack, monthEntry{s, entry})
		if len(pack) < duePack {
			return nil
		}
		return flush()
	})
	if err == nil {
		err = flush()
	}
	if err != nil {
		return nil, bookFault("the operations", err)
	}
	gone, err := book.List(ctx, casebook.Filter{State: casebook.StateWithdrawn})
	if err != nil {
		return nil, bookFault("the withdrawn notes", err)
	}
	for _, s := range gone {
		o := month.Operation{Case: s.Case, State: month.Withdrawn, Revision: s.Revision}
		_, _ = fmt.Sscanf(s.Date, "%4d-%2d", &o.Month.Year, &o.Month.Month) // without a date it belongs to no period
		dates[s.Case], known[s.Case] = s.Date, true
		out = append(out, o)
	}
	waiting, err := a.monthWaiting(f, g, args, known)
	if err != nil {
		return nil, err
	}
	slices.SortStableFunc(out, func(x, y month.Operation) int {
		return cmp.Or(cmp.Compare(dates[x.Case], dates[y.Case]), cmp.Compare(x.Case, y.Case))
	})
	return append(out, waiting...), nil
}

type monthEntry struct {
	s     casebook.Summary
	entry []byte
}

type monthTaken struct {
	operation month.Operation
	err       error
}

func (e monthEntry) take(recorded []casebook.FollowUpOf, o schema.Options) (t monthTaken) {
	unreadable := func(error) error {
		return &fault{status: statusIO, text: "case " + e.s.Case + ": its entry cannot be read by this version of graftnote"}
	}
	c, err := schema.Sealed(e.entry, o)
	if err != nil {
		return monthTaken{err: unreadable(err)}
	}
	s := month.Signing{State: month.Signed, Revision: e.s.Revision}
	if e.s.State == casebook.StateAwaiting {
		s.State = month.Awaiting
	}
	if e.s.Amended {
		s.Reason = "entry-corrected"
	}
	if t.operation, t.err = month.Take(c, s); t.err != nil {
		return t
	}
	for _, f := range recorded {
		open, err := openFollowUps([]casebook.FollowUpOf{f}, 0, c, o)
		if err != nil {
			return monthTaken{err: err}
		}
		for _, doc := range open {
			if err := t.operation.AddFollowup(doc, fmt.Sprint(f.Number)); err != nil {
				return monthTaken{err: err}
			}
		}
	}
	return t
}

// monthWaiting are the entries that nobody has signed, for the exceptions.
func (a *app) monthWaiting(f *monthFlags, g given, args []string, known map[string]bool) ([]month.Operation, error) {
	files, faults := gather(args)
	for _, x := range faults {
		return nil, x
	}
	var out []month.Operation
	for _, in := range files {
		src, err := a.load(in)
		if err != nil {
			return nil, unread(in.path, err)
		}
		for _, cs := range schema.Read(src, g.options).Cases {
			c, err := schema.Check(cs, g.options, nil)
			if err != nil {
				return nil, err
			}
			if known[c.ID()] {
				continue
			}
			known[c.ID()] = true
			state := month.Unsigned
			if !c.Complete() {
				state = month.Blocked
			}
			o, err := month.Take(c, month.Signing{State: state})
			if err != nil {
				return nil, err
			}
			out = append(out, o)
		}
	}
	return out, nil
}

// writeMonth writes package and report into a folder that appears whole or not
// at all, and gives the manifest's bytes.
func (a *app) writeMonth(dir string, p *month.Package, list []month.Operation) (manifest []byte, err error) {
	parent := filepath.Dir(filepath.Clean(dir))
	if err := os.MkdirAll(parent, 0o700); err != nil {
		return nil, unwritten(dir, err)
	}
	part, err := os.MkdirTemp(parent, ".graftnote-*")
	if err != nil {
		return nil, unwritten(dir, err)
	}
	defer os.RemoveAll(part) // nothing is left of it once it has its name
	inside := filepath.Join(part, "package")
	if err := p.Write(func(name string) (io.WriteCloser, error) {
		return createFile(filepath.Join(inside, filepath.FromSlash(name)))
	}); err != nil {
		return nil, unwritten(dir, err)
	}
	if manifest, err = os.ReadFile(filepath.Join(inside, month.ManifestName)); err != nil {
		return nil, unwritten(dir, err)
	}
	if err := writeMonthReport(part, inside, p, list); err != nil {
		return nil, err
	}
	if err := os.Rename(part, dir); err != nil {
		return nil, unwritten(dir, err)
	}
	if err := a.env.disk.syncFolder(parent); err != nil {
		return nil, unwritten(dir, err)
	}
	return manifest, nil
}

// synced is a file that is on the disk when it is closed.
type synced struct{ *os.File }

func createFile(path string) (io.WriteCloser, error) {
	if err := os.MkdirAll(filepath.Dir(path), 0o700); err != nil {
		return nil, err
	}
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	return synced{f}, err
}

// Close flushes the file first.
func (s synced) Close() error {
	err := s.Sync()
	if closing := s.File.Close(); err == nil {
		err = closing
	}
	return err
}

// monthCounts is the denominator of the report: what became of every operation.
func monthCounts(c month.Counts) *report.Counts {
	out := &report.Counts{Theatre: -1, Operated: c.Entered, Signed: c.Signed, Sent: c.Sent}
	if c.Theatre != nil {
		out.Theatre = *c.Theatre
	}
	says := map[string]string{}
	for _, r := range month.ExceptionReasons() {
		says[r.Code] = r.Says
	}
	for _, code := range slices.Sorted(maps.Keys(c.HeldBack)) {
		out.Held = append(out.Held, report.Held{Reason: says[code], N: c.HeldBack[code]})
	}
	return out
}

// writeMonthReport words the figures of the rows in the package. Rows of a
// registry's own form have other columns, so its package has no report of ours.
func writeMonthReport(part, inside string, p *month.Package, list []month.Operation) error {
	if p.Manifest.Profile != nil {
		return nil
	}
	d, err := readRows([]string{inside})
	if err != nil {
		return err
	}
	order := map[string]int{}
	place := map[string]int{}
	for i, o := range list {
		place[o.Case] = i
	}
	p.Changes(func(r month.Sent) bool {
		if r.Kind == month.OperationRow {
			order[r.Key] = place[r.Case]
		}
		return true
	})
	slices.SortStableFunc(d.Rows, func(x, y report.Row) int {
		return cmp.Compare(order[x.Cell(report.KeyColumn)], order[y.Cell(report.KeyColumn)])
	})
	d.Ordered = true
	d.Counts = monthCounts(p.Manifest.Counts)
	r, err := report.Build(d, report.Options{Minimum: p.Manifest.MinCell, Period: p.Manifest.Period})
	if err != nil {
		return &fault{status: statusIO, text: "the report could not be made: " + err.Error()}
	}
	var page, web bytes.Buffer
	if err := pdf.RenderReport(&page, r, pdf.Options{Producer: "graftnote"}); err != nil {
		return err
	}
	if err := report.HTML(&web, r); err != nil {
		return err
	}
	for name, data := range map[string][]byte{"report.pdf": page.Bytes(), "report.html": web.Bytes()} {
		f, err := createFile(filepath.Join(part, name))
		if err != nil {
			return unwritten(name, err)
		}
		_, err = f.Write(data)
		if closing := f.Close(); err == nil {
			err = closing
		}
		if err != nil {
			return unwritten(name, err)
		}
	}
	return nil
}
