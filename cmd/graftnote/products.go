package main

import (
	"crypto/sha256"
	"path/filepath"
	"runtime"

	"graftnote/note"
	"graftnote/pdf"
	"graftnote/schema"
)

// maker makes the products of one case after another. Several workers share it.
type maker struct {
	app      *app
	given    given
	phrases  *note.Phrases
	language string
	paper    pdf.Paper
	drawers  chan *pdf.Renderer // one for each worker; it serves one at a time
	export   *exporter
}

func newMaker(a *app, g given, w *writeFlags) (*maker, error) {
	m := &maker{app: a, given: g, drawers: make(chan *pdf.Renderer, runtime.GOMAXPROCS(0))}
	var err error
	if m.phrases, m.language, err = g.phrases(); err != nil {
		return nil, err
	}
	paper := w.paper
	if paper == "" && g.options.Site != nil {
		paper = g.options.Site.Paper
	}
	if paper == "" {
		paper = "a4"
	}
	if m.paper, err = pdf.PaperByName(paper); err != nil {
		return nil, &fault{status: statusIO, text: "the site settings name a paper that is neither a4 nor letter"}
	}
	for range cap(m.drawers) {
		r, err := pdf.NewRenderer()
		if err != nil {
			return nil, err
		}
		m.drawers <- r
	}
	m.export, err = newExporter(g, w.update)
	return m, err
}

// make writes all products of a case, or its marked draft alone when a finding
// blocks sign-off.
func (m *maker) make(c schema.Checked, name string, dir *folder, done *caseDone) error {
	done.checked, done.complete = true, c.Complete()
	done.counts.add(c.Findings())
	d, err := note.Build(c, m.phrases, note.Options{Language: m.language})
	if err != nil {
		return err
	}
	page, err := m.draw(d)
	if err != nil {
		return err
	}
	var made []product
	var of []kind
	add := func(k kind, data []byte) {
		made = append(made, product{name + "." + string(k), data})
		of = append(of, k)
	}
	if !c.Complete() {
		add(kindDraft, page)
		done.withheld = "a finding blocks the entry"
	} else {
		add(kindNote, page)
		if err := m.export.bundles(c, d, page, dir.bundleOf(name), add); err != nil {
			return err
		}
		row, why, err := m.export.row(c)
		if err != nil {
			return err
		}
		if done.withheld = why; why == "" {
			add(kindRow, row)
		}
	}
	if err := dir.replace(made, outdated(name, of)); err != nil {
		return writeFault(name, err)
	}
	for i, p := range made {
		done.written = append(done.written, written{p.name, of[i], sha256.Sum256(p.data), len(p.data)})
	}
	return nil
}

// bundleOf is the transaction of a case that an earlier run left in the folder; nil
// when there is none that can be read.
func (f *folder) bundleOf(name string) []byte {
	b, err := readInput(filepath.Join(f.path, name+"."+string(kindBundle)), maxVerified)
	if err != nil || manyValues(b) {
		return nil
	}
	return b
}

func (m *maker) draw(d note.Document) ([]byte, error) {
	r := <-m.drawers
	defer func() { m.drawers <- r }()
	return r.Render(d, pdf.Options{Paper: m.paper, Producer: "graftnote"})
}

// outdated are the products that an earlier run may have left and that this
// one did not make: a row whose consent was withdrawn must not stay.
func outdated(name string, made []kind) []string {
	var out []string
	for _, k := range kinds {
		has := false
		for _, m := range made {
			has = has || m == k.kind
		}
		if !has {
			out = append(out, name+"."+string(k.kind))
		}
	}
	return out
}

// writeOnce writes what a folder holds once: the description of its rows, the
// code system of its bundles.
func (m *maker) writeOnce(dir *folder, sum *summary, name string, content func() ([]byte, error)) *fault {
	return safely(func() error {
		b, err := content()
		if err != nil {
			return err
		}
		if err := dir.replace([]product{{name, b}}, nil); err != nil {
			return writeFault(name, err)
		}
		sum.digest(name, sha256.Sum256(b))
		return nil
	})
}

// rowKey reads the key file that the site settings name. It is read once.
func (g given) rowKey() ([]byte, error) {
	site := g.options.Site
	if site == nil || site.RowKey == "" {
		return nil, nil
	}
	path := g.beside(site.RowKey)
	b, err := readInput(path, mostTyped)
	if err != nil {
		return nil, unread(path, err)
	}
	key, err := parseKey(b)
	if err != nil {
		return nil, &fault{status: statusIO, text: "the row key cannot be used: " + err.Error(),
			hints: []string{"'graftnote setup' makes one in a new folder; keep the old one if rows were sent with it"}}
	}
	return key, nil
}
