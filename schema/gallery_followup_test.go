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
