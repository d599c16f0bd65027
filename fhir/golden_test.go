package fhir

import (
	"bytes"
	"encoding/json"
	"os"
	"path/filepath"
	"testing"

	"graftnote/schema"
)

// The golden bundles were read by eye against the entry and passed the outside
// validators of .ci (R4 definitions by HL7, two independent readers). They are
// indented here so that a change can be read.
func TestGolden(t *testing.T) {
	src, err := os.ReadFile("../testdata/site/site.yaml")
	if err != nil {
		t.Fatal(err)
	}
	site, err := schema.ParseSite(schema.Source{Name: "site.yaml", Data: src})
	if err != nil {
		t.Fatal(err)
	}
	c := whole(t, "01-double-bubble.yaml")
	d := words(t, c)
	o := Options{PDF: pdf, Site: site, Mapping: sampleMapping(t), Tool: "graftnote 1.0.0"}
	bundle, err := Transaction(c, d, o)
	if err != nil {
		t.Fatal(err)
	}
	document, err := DocumentBundle(c, d, o)
	if err != nil {
		t.Fatal(err)
	}
	for name, b := range map[string][]byte{"01-double-bubble.bundle.json": bundle, "01-double-bubble.document.json": document} {
		var got bytes.Buffer
		if err := json.Indent(&got, b, "", " "); err != nil {
			t.Fatal(err)
		}
		got.WriteByte('\n')
		path := filepath.Join("..", "testdata", "golden", name)
		if *update {
			if err := os.WriteFile(path, got.Bytes(), 0o644); err != nil {
				t.Fatal(err)
			}
		}
		want, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		if !bytes.Equal(got.Bytes(), want) {
			t.Errorf("%s differs; run go test ./fhir -update and read it", name)
		}
	}
}
