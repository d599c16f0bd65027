package main

import (
	"bytes"
	"errors"
	"path/filepath"

	"graftnote/fhir"
	"graftnote/note"
	"graftnote/registry"
	"graftnote/schema"
)

// exporter turns a checked entry into what other systems read. It is read only
// once it is made, so that workers share it.
type exporter struct {
	rows registry.Options
	fhir fhir.Options
}

func newExporter(g given, update bool) (*exporter, error) {
	site := g.options.Site
	x := &exporter{fhir: fhir.Options{Site: site, Tool: "graftnote " + programVersion(), Made: g.options.Now, Update: update}}
	var err error
	if x.rows.Key, err = g.rowKey(); err != nil {
		return nil, err
	}
	if site == nil {
		return x, nil
	}
	if len(site.RowColumns) > 0 {
		x.rows.Columns = site.RowColumns
	}
	x.fhir.Mapping, err = g.mapping()
	return x, err
}

// mapping reads the site's own and licensed codes.
func (g given) mapping() (*fhir.Mapping, error) {
	if g.options.Site.Mapping == "" {
		return nil, nil
	}
	path := g.beside(g.options.Site.Mapping)
	b, err := readInput(path, maxMapping)
	if err != nil {
		return nil, unread(path, err)
	}
	m, err := fhir.ParseMapping(schema.Visible(filepath.ToSlash(path)), b)
	if err != nil {
		return nil, &fault{status: statusIO, text: "the site's code mapping cannot be used: " + err.Error()}
	}
	return m, nil
}

// bundles adds the transaction, with the note as PDF, and the document.
func (x *exporter) bundles(c schema.Checked, d note.Document, page, held []byte, add func(kind, []byte)) error {
	o := x.fhir
	o.PDF, o.Held = page, held
	transaction, err := fhir.Transaction(c, d, o)
	if err != nil {
		return err
	}
	document, err := fhir.DocumentBundle(c, d, o)
	if err != nil {
		return err
	}
	add(kindBundle, transaction)
	add(kindDocument, document)
	return nil
}

// row gives the registry row, or why there is none.
func (x *exporter) row(c schema.Checked) (data []byte, withheld string, err error) {
	if x.rows.Key == nil {
		return nil, "the site settings name no row key", nil
	}
	r, err := registry.Make(c, x.rows)
	switch {
	case errors.Is(err, registry.ErrNoConsent):
		return nil, "consent to the registry is not recorded as yes", nil
	case err != nil:
		return nil, "", err
	}
	var b bytes.Buffer
	if err := registry.Write(&b, []registry.Row{r}, x.rows); err != nil {
		return nil, "", err
	}
	return b.Bytes(), "", nil
}

// rowSchema describes the rows of the folder.
func (x *exporter) rowSchema() ([]byte, error) { return registry.TableSchema(x.rows) }
