package main

import (
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"graftnote/casebook"
	"graftnote/fhir"
	"graftnote/note"
	"graftnote/pdf"
	"graftnote/schema"
)

// splitNotes parts the arguments of 'write': what is a file, a folder, a pattern
// that fits or standard input is an entry, as ever; what else has the form of a
// case identifier is a note of the casebook.
func splitNotes(args []string) (entries, notes []string) {
	for _, arg := range args {
		_, err := os.Stat(arg)
		found, _ := filepath.Glob(arg)
		if arg == "-" || err == nil || len(found) > 0 || !safeID.MatchString(arg) {
			entries = append(entries, arg)
			continue
		}
		notes = append(notes, arg)
	}
	return entries, notes
}

// openShelf opens a casebook that exists. Where it can't be written it is read:
// making a note needs no more.
func (a *app) openShelf(ctx context.Context, b bookFlags) (*casebook.Casebook, error) {
	address := b.address(a)
	book, err := casebook.Open(ctx, address, casebook.Options{})
	readOnly := errors.Is(err, casebook.ErrReadOnly)
	if readOnly {
		book, err = casebook.Open(ctx, address, casebook.Options{ReadOnly: true})
	}
	if err != nil {
		return nil, bookFault(placeName(address), err)
	}
	a.hintPlace(address, book, readOnly)
	return book, nil
}

// readDossier reads a case with all its proofs, verified.
func readDossier(ctx context.Context, book *casebook.Casebook, id string, o schema.Options) (*dossier, error) {
	proofs, err := book.Proofs(ctx, id)
	if err != nil {
		return nil, err
	}
	d, err := newDossier(proofs, o)
	if errors.Is(err, schema.ErrNotCanonical) {
		return nil, &fault{status: statusIO, text: "the signed entry cannot be opened by this version of graftnote", hints: []string{"use the version that it was signed with, or a later one"}}
	}
	return d, err
}

// finalNames are the products of a signed note.
var finalNames = []kind{kindNote, kindBundle, kindDocument, kindRow}

// final makes the products of a signed note. The same case gives the same bytes:
// no clock is asked. held is the transaction of the case that was written before,
// nil for none.
func (m *maker) final(d *dossier, paper pdf.Paper, held []byte) (map[kind][]byte, string, error) {
	doc, err := d.build(m.phrases, m.language)
	if err != nil {
		return nil, "", err
	}
	page, err := m.page(doc, paper)
	if err != nil {
		return nil, "", err
	}
	out := map[kind][]byte{kindNote: page}
	o, err := m.finalFHIR(d, doc, page, paper)
	if err != nil {
		return nil, "", err
	}
	o.Held = held
	if out[kindBundle], err = fhir.Transaction(d.entry, doc, o); err != nil {
		return nil, "", err
	}
	if out[kindDocument], err = fhir.DocumentBundle(d.entry, doc, o); err != nil {
		return nil, "", err
	}
	row, why, err := m.finalRow(d)
	if err != nil {
		return nil, "", err
	}
	if why == "" {
		out[kindRow] = row
	}
	return out, why, nil
}

// finalRow is the row of a signed note: one that is withdrawn, or that the
// responsible surgeon has not yet signed, gives none.
func (m *maker) finalRow(d *dossier) ([]byte, string, error) {
	switch d.history.State {
	case casebook.StateWithdrawn:
		return nil, "the note is withdrawn", nil
	case casebook.StateAwaiting:
		return nil, "a counter-signature is missing", nil
	}
	return m.export.row(d.entry)
}

func (m *maker) page(doc note.Document, paper pdf.Paper) ([]byte, error) {
	r := <-m.drawers
	defer func() { m.drawers <- r }()
	return r.Render(doc, pdf.Options{Paper: paper, Producer: "graftnote"})
}

// finalFHIR adds what the casebook knows to the options of the bundles.
func (m *maker) finalFHIR(d *dossier, doc note.Document, page []byte, paper pdf.Paper) (fhir.Options, error) {
	o := m.export.fhir
	o.PDF, o.Signed = page, d.last().At()
	so := &fhir.Signoff{Revision: d.revision(), Checkpoint: d.history.Current().Checkpoint}
	so.Awaiting, so.Amended, so.Withdrawn = d.standing()
	for _, r := range d.history.Revisions {
		so.Acts = append(so.Acts, fhir.Act{Kind: string(r.Statement.Kind), Statement: r.Raw, Signature: r.Signature})
	}
	for n := 1; n < d.revision(); n++ {
		before, err := newDossier(d.proofs[:n], m.given.options)
		if err != nil {
			return o, err
		}
		doc, err := before.build(m.phrases, m.language)
		if err != nil {
			return o, err
		}
		e := fhir.Earlier{Entry: before.entry, At: before.last().At()}
		if e.PDF, err = m.page(doc, paper); err != nil {
			return o, err
		}
		e.Awaiting, e.Amended, _ = before.standing()
		so.Earlier = append(so.Earlier, e)
	}
	o.Signoff = so
	return o, nil
}

// standing says how the newest revision stands.
func (d *dossier) standing() (awaiting, amended, withdrawn bool) {
	for _, r := range d.history.Revisions {
		amended = amended || r.Statement.Kind == casebook.Corrected || r.Statement.Kind == casebook.Addendum
	}
	return d.history.State == casebook.StateAwaiting, amended, d.history.State == casebook.StateWithdrawn
}

// makeFinal writes the products of a signed note.
func (m *maker) makeFinal(ctx context.Context, book *casebook.Casebook, id string, dir *folder, done *caseDone) error {
	d, err := readDossier(ctx, book, id, m.given.options)
	if err != nil {
		return bookFault("the signed note", err)
	}
	done.checked, done.complete = true, true
	files, why, err := m.final(d, m.paper, dir.bundleOf(id))
	if err != nil {
		return err
	}
	done.withheld = why
	var made []product
	var of []kind
	for _, k := range finalNames {
		if data, ok := files[k]; ok {
			made, of = append(made, product{id + "." + string(k), data}), append(of, k)
			sum := sha256.Sum256(data)
			done.written = append(done.written, written{id + "." + string(k), k, sum, len(data)})
		}
	}
	if err := dir.replace(made, outdated(id, of)); err != nil {
		done.written = nil
		return writeFault(id, err)
	}
	return nil
}

// writeNotes writes the notes named by their cases.
func (a *app) writeNotes(ctx context.Context, notes []string, b bookFlags, m *maker, dir *folder, sum *summary) error {
	if len(notes) == 0 {
		return nil
	}
	book, err := a.openShelf(ctx, b)
	if err != nil {
		f := asFault(err)
		f.text = fmt.Sprintf("there is no file %s, and no signed note of this name can be read: %s", notes[0], f.text)
		return f
	}
	defer book.Close()
	bar := a.newBar("writing", len(notes))
	defer bar.end()
	seen := map[string]bool{}
	for _, id := range notes {
		if ctx.Err() != nil {
			break
		}
		if seen[id] {
			continue
		}
		seen[id] = true
		c := caseDone{name: id}
		if c.fault = safely(func() error { return m.makeFinal(ctx, book, id, dir, &c) }); c.fault != nil {
			if !strings.HasPrefix(c.fault.text, "case "+id) {
				c.fault.text = fmt.Sprintf("case %s: %s", id, c.fault.text)
			}
			a.fail(c.fault)
		}
		sum.take("the casebook", &c)
		sum.signed++
		bar.step()
	}
	return nil
}
