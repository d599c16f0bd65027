package registry

import (
	"bytes"
	"encoding/csv"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"graftnote/schema"
)

// now is after the last of the sample entries.
var now = time.Date(2026, 11, 25, 12, 0, 0, 0, time.UTC)

// testKey is no secret: the bytes 0 to 31.
var testKey = func() []byte {
	k := make([]byte, 32)
	for i := range k {
		k[i] = byte(i)
	}
	return k
}()

const firstSample = "01-double-bubble.yaml"

func sample(t testing.TB, name string) string {
	t.Helper()
	b, err := os.ReadFile(filepath.Join("../testdata/entries", name))
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

// changed is a sample with texts replaced; each must stand in it.
func changed(t testing.TB, name string, pairs ...string) string {
	t.Helper()
	text := sample(t, name)
	for i := 0; i < len(pairs); i += 2 {
		if !strings.Contains(text, pairs[i]) {
			t.Fatalf("%s does not hold %q", name, pairs[i])
		}
		text = strings.Replace(text, pairs[i], pairs[i+1], 1)
	}
	return text
}

func checked(t testing.TB, text string) schema.Checked {
	t.Helper()
	o := schema.Options{Now: now}
	r := schema.Read(schema.Source{Name: "entry.yaml", Data: []byte(text)}, o)
	if len(r.Cases) != 1 {
		t.Fatalf("%d cases", len(r.Cases))
	}
	c, err := schema.Check(r.Cases[0], o, nil)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// rowFrom makes the row of a text that must be complete.
func rowFrom(t testing.TB, text string) Row {
	t.Helper()
	c := checked(t, text)
	r, err := Make(c, Options{Key: testKey})
	if err != nil {
		for _, f := range c.Gaps() {
			t.Log(f.Layout())
		}
		t.Fatal(err)
	}
	return r
}

func cell(t testing.TB, r Row, column string) string {
	t.Helper()
	text, ok := r.Cell(column)
	if !ok {
		t.Fatalf("no column %s", column)
	}
	return text
}

func written(t testing.TB, rows []Row, o Options) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := Write(&b, rows, o); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func readBack(t testing.TB, data []byte) [][]string {
	t.Helper()
	r := csv.NewReader(bytes.NewReader(data))
	lines, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	return lines
}

// allSamples are the rows of every complete sample of one case.
func allSamples(t testing.TB) []Row {
	t.Helper()
	files, err := filepath.Glob("../testdata/entries/*.yaml")
	if err != nil || len(files) == 0 {
		t.Fatalf("no samples: %v", err)
	}
	var rows []Row
	for _, f := range files {
		o := schema.Options{Now: now}
		r := schema.Read(schema.Source{Name: "entry.yaml", Data: []byte(sample(t, filepath.Base(f)))}, o)
		for _, cs := range r.Cases {
			c, err := schema.Check(cs, o, nil)
			if err != nil {
				t.Fatal(err)
			}
			if row, err := Make(c, Options{Key: testKey}); err == nil {
				rows = append(rows, row)
			}
		}
	}
	if len(rows) < 10 {
		t.Fatalf("only %d samples give a row", len(rows))
	}
	return rows
}
