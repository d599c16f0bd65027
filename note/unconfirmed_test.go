package note_test

import (
	"strings"
	"testing"

	"graftnote/note"
	"graftnote/schema"
)

// A value of the standing technique stays visibly unconfirmed until sign-off,
// in every place that says it; a measured or typed value never carries the mark
// (the prefill principle of the main job; common practice, no source).
func TestTechniqueIsMarkedUntilSigned(t *testing.T) {
	o := asked
	o.Technique = schema.ReadTechnique(schema.Source{Name: "habits.yaml", Data: []byte(
		"trephination: {method: suction}\ndissection: {interface-washed: yes, host-tissue: histology}\nplan: {steroid: dexamethasone 0.1 % two-hourly.}\n")}, o)
	r := schema.Read(schema.Source{Name: "e.yaml", Data: []byte(
		"case: habit-case-1\nprocedure: {performed: manual-layered}\ntrephination: {host-diameter: 7.75 mm}\ndissection: {excision: layered}\nevents: none\n")}, o)
	c, err := schema.Check(r.Cases[0], o, nil)
	if err != nil {
		t.Fatal(err)
	}
	p, err := note.LoadPhrases(nil)
	if err != nil {
		t.Fatal(err)
	}
	build := func(toSign bool) note.Document {
		d, err := note.Build(c, p, note.Options{ToSign: toSign})
		if err != nil {
			t.Fatal(err)
		}
		return d
	}
	draft := build(false)
	text := squeeze(draft.Text())
	for _, want := range []string{"with a suction trephine† to 7.75 mm.", "The interface was washed†.", "sent for histology†.",
		"Steroid: dexamethasone 0.1 % two-hourly†.", "† From the standing technique, not yet confirmed."} {
		if !strings.Contains(text, want) {
			t.Errorf("the draft lacks %q: %s", want, text)
		}
	}
	if got := draft.Brief[4].Value; got != "Excised host tissue: sent for histology (unconfirmed)." {
		t.Errorf("brief: %q", got)
	}
	if n := len(draft.Unconfirmed); n != 4 {
		t.Errorf("%d values listed as unconfirmed, want 4", n)
	}
	signed := build(true).Sign(note.Signoff{Signatures: []note.Signature{{}}})
	if s := signed.Text(); strings.Contains(s, "†") || strings.Contains(s, "(unconfirmed)") || signed.Brief[4].Value != "Excised host tissue: sent for histology." {
		t.Errorf("the signed note still marks values: %s", s)
	}
}
