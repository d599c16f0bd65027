package schema

import (
	"os"
	"path/filepath"
	"slices"
	"testing"
)

// checkGalleryFollowup checks a follow-up document of the gallery against the
// sample operation that it names, or the first sample when it names none.
func checkGalleryFollowup(t *testing.T, src Source) []Finding {
	t.Helper()
	o := Options{Now: galleryNow}
	r := ReadFollowup(src, o)
	all := slices.Clone(r.Findings)
	for _, f := range r.Documents {
		c, err := CheckFollowup(f, sampleCase(t, f.Case.Value(), o), nil, o)
		if err != nil {
			t.Fatal(err)
		}
		all = append(all, c.Findings()...)
	}
	return all
}

// sampleCase is the checked sample of a case identifier, or the first sample.
func sampleCase(t testing.TB, id string, o Options) Checked {
	t.Helper()
	files, err := filepath.Glob("../testdata/entries/*.yaml")
	if err != nil || len(files) == 0 {
		t.Fatalf("no samples: %v", err)
	}
	var first Checked
	for _, f := range files {
		b, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		for _, cs := range Read(Source{Name: filepath.Base(f), Data: b}, o).Cases {
			c, err := Check(cs, o, nil)
			if err != nil {
				t.Fatal(err)
			}
			if !first.Valid() {
				first = c
			}
			if c.ID() == id {
				return c
			}
		}
	}
	return first
}

// The findings of a document whose identifier names the patient do not carry it.
func TestFollowupIdentifierNamesNobody(t *testing.T) {
	o := Options{Now: galleryNow}
	index := sampleCase(t, "a1k7-double-bubble", o)
	for id, names := range map[string]bool{"fic-0101-visit": true, "calloway-visit": true, "visit-20020314": true, "zz99-other-case": false} {
		doc := "followup: " + id + "\npatient: {id: FIC-0101, born: 2002-03-14}\nvisits:\n  - {status: odd word}\n"
		f := ReadFollowup(Source{Name: "v.yaml", Data: []byte(doc)}, o).Documents[0]
		c, err := CheckFollowup(f, index, nil, o)
		if err != nil {
			t.Fatal(err)
		}
		raised := false
		for _, x := range c.Findings() {
			raised = raised || x.Rule == "followup-names-patient"
			if names && x.Case != "" {
				t.Errorf("%s: a finding carries the identifier", id)
			}
		}
		if raised != names {
			t.Errorf("%s: names the patient: %v, want %v", id, raised, names)
		}
	}
}
