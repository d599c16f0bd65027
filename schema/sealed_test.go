package schema_test

import (
	"bytes"
	"errors"
	"os"
	"path/filepath"
	"testing"
	"time"

	"graftnote/schema"
)

// A signed entry opens to the same bytes years later; anything else is refused.
func TestSealed(t *testing.T) {
	raw, err := os.ReadFile("../testdata/entries/01-double-bubble.yaml")
	if err != nil {
		t.Fatal(err)
	}
	o := schema.Options{Now: time.Date(2026, 11, 25, 12, 0, 0, 0, time.UTC)}
	c, err := schema.Check(schema.Read(schema.Source{Name: "e", Data: raw}, o).Cases[0], o, nil)
	if err != nil {
		t.Fatal(err)
	}
	s, err := schema.Sealed(c.Canonical(), o)
	if err != nil || !s.Complete() || !bytes.Equal(s.Canonical(), c.Canonical()) || s.ID() != c.ID() {
		t.Fatalf("%v, complete %v", err, s.Complete())
	}
	for name, b := range map[string][]byte{
		"the typed file":  raw,
		"a blank more":    append(bytes.Clone(c.Canonical()), ' '),
		"a changed value": bytes.Replace(c.Canonical(), []byte("7.75 mm"), []byte("7.75mm"), 1),
		"nothing":         nil,
		"two documents":   append(append(bytes.Clone(c.Canonical()), "\n---\n"...), c.Canonical()...),
	} {
		if _, err := schema.Sealed(b, o); !errors.Is(err, schema.ErrNotCanonical) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// What a store took in opens without being written again, for every sample; what
// is not understood in full is refused.
func TestStored(t *testing.T) {
	files, err := filepath.Glob("../testdata/entries/*.*")
	if err != nil || len(files) < 15 {
		t.Fatal(files, err)
	}
	o := schema.Options{Now: time.Date(2026, 11, 25, 12, 0, 0, 0, time.UTC)}
	n := 0
	for _, path := range files {
		raw, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		for _, cs := range schema.Read(schema.Source{Name: "e", Data: raw}, o).Cases {
			c, err := schema.Check(cs, o, nil)
			if err != nil {
				t.Fatal(err)
			}
			for range 2 { // the second time its values are known
				s, err := schema.Stored(c.Canonical(), o)
				if err != nil || s.Digest() != c.Digest() || !bytes.Equal(s.Canonical(), c.Canonical()) {
					t.Fatalf("%s: %v", path, err)
				}
				whole, err := schema.Sealed(s.Canonical(), o)
				if err != nil || whole.Digest() != c.Digest() {
					t.Fatalf("%s: %v", path, err)
				}
			}
			n++
		}
	}
	if n < 20 {
		t.Errorf("%d entries", n)
	}
	good := entryOf(t, "01-double-bubble.yaml", o)
	for name, b := range map[string][]byte{
		"an unknown field": bytes.Replace(good, []byte(`"case":`), []byte(`"cases2":"x","case":`), 1),
		"an unknown code":  bytes.Replace(good, []byte(`"type-1"`), []byte(`"type-9"`), 1),
		"a number":         bytes.Replace(good, []byte(`"7.75 mm"`), []byte(`7.75`), 1),
		"another format":   bytes.Replace(good, []byte(`"graftnote":"1"`), []byte(`"graftnote":"2"`), 1),
		"no JSON":          good[1:],
	} {
		if bytes.Equal(b, good) {
			t.Fatalf("%s: nothing was replaced in %s", name, good)
		}
		if _, err := schema.Stored(b, o); !errors.Is(err, schema.ErrNotCanonical) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func entryOf(t *testing.T, name string, o schema.Options) []byte {
	t.Helper()
	raw, err := os.ReadFile(filepath.Join("../testdata/entries", name))
	if err != nil {
		t.Fatal(err)
	}
	c, err := schema.Check(schema.Read(schema.Source{Name: "e", Data: raw}, o).Cases[0], o, nil)
	if err != nil {
		t.Fatal(err)
	}
	return c.Canonical()
}
