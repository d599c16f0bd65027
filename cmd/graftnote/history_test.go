package main

import (
	"flag"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"graftnote/casebook"
	"graftnote/pdf"
	"graftnote/schema"
)

// keepHistory keeps the products of every sample after each of its signatures, for
// the FHIR servers of the outside checks.
var keepHistory = flag.String("keep-history", "", "`folder`, not yet there, for the products of every sample after each signature")

// everySample are the cases of all sample entries.
func everySample(t testing.TB) []schema.Checked {
	t.Helper()
	o := schema.Options{Now: testNow, Covers: pdf.Covers}
	var err error
	if o.Site, err = schema.ParseSite(schema.Source{Name: "site.yaml", Data: read(t, "../../testdata/site/site.yaml")}); err != nil {
		t.Fatal(err)
	}
	names, err := filepath.Glob("../../testdata/entries/*.*")
	if err != nil {
		t.Fatal(err)
	}
	batch, cases := schema.NewBatch(), []*schema.Case{}
	for _, name := range names {
		o.Technique = nil
		if strings.Contains(name, "with-technique") {
			o.Technique = schema.ReadTechnique(schema.Source{Name: "technique.yaml", Data: read(t, "../../testdata/technique.yaml")}, o)
		}
		for _, c := range schema.Read(schema.Source{Name: name, Data: read(t, name)}, o).Cases {
			batch.Add(c)
			cases = append(cases, c)
		}
	}
	var out []schema.Checked
	for _, c := range cases {
		checked, err := schema.Check(c, o, batch)
		if err != nil || !checked.Complete() {
			t.Fatal(c, err)
		}
		out = append(out, checked)
	}
	return out
}

// TestHistory takes every sample through its life: signed, then corrected, added
// to, counter-signed or withdrawn, then once more. After each step the products of
// the cases that moved are what a hospital would import next.
func TestHistory(t *testing.T) {
	b := newBook(t)
	b.addKey("Noor Selby", "trainee", 40)
	step := 0
	keep := func(name string, ids ...string) {
		step++
		out := b.write(ids...)
		found, err := filepath.Glob(filepath.Join(out, "*.bundle.json"))
		if err != nil || len(found) != len(ids) {
			t.Fatalf("%s: %d bundles of %d cases", name, len(found), len(ids))
		}
		if *keepHistory != "" {
			if err := os.CopyFS(filepath.Join(*keepHistory, string(rune('0'+step))+"-"+name), os.DirFS(out)); err != nil {
				t.Fatal(err)
			}
		}
	}
	var all []string
	trainees := []string{"g7y3-second-eye", "h8n5-regraft"} // their notes await a counter-signature
	for _, c := range everySample(t) {
		signer := "Imara Voss"
		if slices.Contains(trainees, c.ID()) {
			signer = "Noor Selby"
		}
		all = append(all, b.signChecked(c, signer))
	}
	if len(all) < 21 {
		t.Fatalf("only %d samples", len(all))
	}
	keep("signed", all...)

	const corrected, torn, added, withdrawn = "b2m4-failed-bubble", "c3p8-type-two", "a1k7-double-bubble", "n4f6-femtosecond"
	b.correct(entryFile(t, "02-failed-bubble-manual.yaml", "blood-loss: none", "blood-loss: minimal"), "Imara Voss", "read again on the theatre sheet", 1)
	// There was no tear after all: what the first revision said of it is over.
	text := entryFile(t, "03-type-2-microperforation.yaml")
	from, to := strings.Index(text, "events:\n"), strings.Index(text, "end: {")
	b.correct(text[:from]+"events: none\n"+text[to:], "Imara Voss", "the tear was the first assistant's reading of a fold", 1)
	b.amend(b.book.Addendum, added, "Imara Voss", 1, casebook.AmendRequest{Text: "Histology: keratoconus.", When: testNow.Add(-24 * time.Hour)})
	b.amend(b.book.CounterSign, trainees[1], "Imara Voss", 1, casebook.AmendRequest{})
	b.amend(b.book.Withdraw, withdrawn, "Imara Voss", 1, casebook.AmendRequest{Why: "entered for another patient"})
	keep("later", corrected, torn, added, trainees[1], withdrawn)

	b.amend(b.book.Withdraw, corrected, "Imara Voss", 2, casebook.AmendRequest{Why: "entered for another patient"})
	b.amend(b.book.Addendum, trainees[1], "Imara Voss", 2, casebook.AmendRequest{Text: "A suture was replaced on the ward.", When: testNow.Add(-20 * time.Hour)})
	keep("last", corrected, trainees[1])
}
