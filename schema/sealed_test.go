package schema_test

import (
	"bytes"
	"errors"
	"os"
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
