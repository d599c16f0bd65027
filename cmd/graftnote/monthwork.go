package main

import (
	"bytes"
	"cmp"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"iter"
	"maps"
	"os"
	"path/filepath"
	"slices"

	"graftnote/casebook"
	"graftnote/pdf"
	"graftnote/registry/month"
	"graftnote/registry/report"
	"graftnote/schema"
)

// monthSource streams the operations of a casebook, then those that wait in entry
// files, and keeps what the report needs of them: the order of surgery.
type monthSource struct {
	a       *app
	book    *casebook.Casebook
	flags   *monthFlags
	given   given
	entries []string // files and folders of entries
	period  month.Period
	unread  []string          // entry files that cannot be read
	dates   map[string]string // of surgery, by case
	failed  error
}

// errEnough ends a stream that nobody reads on.
var errEnough = errors.New("enough")

func (m *monthSource) operations(ctx context.Context) iter.Seq2[month.Operation, error] {
	return func(yield func(month.Operation, error) bool) {
		give := func(o month.Operation) error {
			if !yield(o, nil) {
				return errEnough
			}
			return nil
		}
		if err := m.stream(ctx, give); err != nil && !errors.Is(err, errEnough) {
			m.failed = err
			yield(month.Operation{}, err)
		}
	}
}

func (m *monthSource) stream(ctx context.Context, give func(month.Operation) error) error {
	m.dates, m.unread = map[string]string{}, nil
	o := m.flags.sealedOptions(m.a)
	refused := func(c casebook.InForce) error {
		m.dates[c.Case] = ""
		if err := m.a.refused(c); err != nil {
			return err
		}
		// It must not vanish from the count.
		return give(month.Operation{Case: c.Case, State: month.Blocked, Month: m.period})
	}
	err := eachInForce(ctx, m.book, refused, func(c casebook.InForce) monthTaken { return takeMonth(c, o) }, func(c casebook.InForce, t monthTaken) error {
		m.dates[c.Case] = c.Date
		if t.err != nil {
			return t.err
		}
		return give(t.operation)
	})
	if err != nil {
		return err
	}
	err = m.book.EachWithdrawn(ctx, func(s casebook.InForce) error {
		o := month.Operation{Case: s.Case, State: month.Withdrawn, Revision: s.Revision}
		_, _ = fmt.Sscanf(s.Date, "%4d-%2d", &o.Month.Year, &o.Month.Month) // without a date it belongs to no period
		m.dates[s.Case] = s.Date
		return give(o)
	})
	if err != nil {
		return err
	}
	return m.waiting(give)
}

type monthTaken struct {
	operation month.Operation
	err       error
}

func takeMonth(c casebook.InForce, o schema.Options) (t monthTaken) {
	index, recorded, err := openCase(c, o)
	if err != nil {
		return monthTaken{err: err}
	}
	s := month.Signing{State: month.Signed, Revision: c.Revision}
	if c.State == casebook.StateAwaiting {
		s.State = month.Awaiting
	}
	if c.Amended {
		s.Reason = "entry-corrected"
	}
	if t.operation, t.err = month.Take(index, s); t.err != nil {
		return t
	}
	open, err := openFollowUps(recorded, 0, index, o)
	if err != nil {
		return monthTaken{err: err}
	}
	for i, doc := range open {
		if err := t.operation.AddFollowup(doc, fmt.Sprint(recorded[i].Number)); err != nil {
			return monthTaken{err: err}
		}
	}
	return t
}

// waiting gives the entries that nobody has signed, for the exceptions.
func (m *monthSource) waiting(give func(month.Operation) error) error {
	files, faults := gather(m.entries)
	for _, x := range faults {
		return x
	}
	for _, in := range files {
		src, err := m.a.load(in)
		if err != nil {
			return unread(in.path, err)
		}
		r := schema.Read(src, m.given.options)
		if len(r.Cases) == 0 {
			// It may be a patient's operation: it must not vanish from the count. The name
			// of the file may hold anything and is not kept.
			sum := sha256.Sum256(src.Data)
			m.unread = append(m.unread, in.path)
			if err := give(month.Operation{Case: "unread-" + hex.EncodeToString(sum[:8]), State: month.Blocked}); err != nil {
				return err
			}
		}
		for _, cs := range r.Cases {
			c, err := schema.Check(cs, m.given.options, nil)
			if err != nil {
				return err
			}
			if _, known := m.dates[c.ID()]; known {
				continue
			}
			m.dates[c.ID()] = ""
			state := month.Unsigned
			if !c.Complete() {
				state = month.Blocked
			}
			o, err := month.Take(c, month.Signing{State: state})
			if err != nil {
				return err
			}
			if err := give(o); err != nil {
				return err
			}
		}
	}
	return nil
}

// place is a key that sorts cases in the order of surgery.
func (m *monthSource) place(id string) string { return m.dates[id] + " " + id }

// writeMonth writes package and report into a folder that appears whole or not
// at all. note is called with the manifest before the folder gets its name.
func (a *app) writeMonth(dir string, p *month.Package, source *monthSource, note func(manifest []byte) error) error {
	parent := filepath.Dir(filepath.Clean(dir))
	if err := os.MkdirAll(parent, 0o700); err != nil {
		return unwritten(dir, err)
	}
	around, err := a.openParent(filepath.Clean(dir))
	if err != nil {
		return unwritten(dir, err)
	}
	defer around.close()
	part, err := os.MkdirTemp(parent, around.lease.prefix()+"*")
	if err != nil {
		return unwritten(dir, err)
	}
	defer os.RemoveAll(part) // nothing is left of it once it has its name
	inside := filepath.Join(part, "package")
	// The report is made while the tables are written.
	reported := apart(func() error { return writeMonthReport(part, p, source) })
	defer func() { _ = reported() }() // it must not write into a folder that is gone
	if err := p.Write(func(name string) (io.WriteCloser, error) {
		return createFile(filepath.Join(inside, filepath.FromSlash(name)))
	}); err != nil {
		return unwritten(dir, err)
	}
	manifest, err := readInput(filepath.Join(inside, month.ManifestName), maxPackaged)
	if err != nil {
		return unwritten(dir, err)
	}
	if err := reported(); err != nil {
		return err
	}
	if err := note(manifest); err != nil {
		return err
	}
	if err := os.Rename(part, dir); err != nil {
		return unwritten(dir, err)
	}
	if err := a.env.disk.syncFolder(parent); err != nil {
		return unwritten(dir, err)
	}
	return nil
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

// writeMonthReport words the figures of all rows that stand once the package is
// accepted. They are in our own form, whatever the registry asks for.
func writeMonthReport(part string, p *month.Package, source *monthSource) error {
	d := report.Data{Ordered: true, Counts: monthCounts(p.Manifest.Counts), GivenUp: p.GivenUp()}
	of := map[report.Row]string{}
	inPeriod := 0
	for r := range p.Standing(month.OperationRow) {
		d.Rows = append(d.Rows, r)
		of[r] = source.place(r.Case())
		if r.InPeriod() {
			inPeriod++
		}
	}
	slices.SortFunc(d.Rows, func(x, y report.Row) int { return cmp.Compare(of[x], of[y]) })
	for r := range p.Standing(month.VisitRow) {
		d.FollowUps = append(d.FollowUps, r)
	}
	d.Scope = fmt.Sprintf("All operations that stand at the registry once this package is accepted, up to the end of %s; %d of them are of %s.", p.Manifest.Period, inPeriod, p.Manifest.Period)
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
