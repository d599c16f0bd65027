package fhir

import (
	"strings"
	"testing"

	"graftnote/schema"
)

// Every field of the dictionary has its row on the importer's page, and every
// published code on it is one of codes.tsv. The dictionary is the outside fact.
func TestMappingPageIsWhole(t *testing.T) {
	page := string(MappingMarkdown())
	for _, g := range schema.Content().Groups {
		for _, r := range g.Fields {
			if !strings.Contains(page, "\n| `"+r.Path()+"` | ") {
				t.Errorf("no row for %s", r.Path())
			}
		}
	}
	for _, line := range strings.Split(page, "\n") {
		if strings.HasPrefix(line, "| ") && strings.Contains(line, "|  |  |") {
			t.Errorf("a row without content: %s", line)
		}
	}
	if !strings.Contains(page, terms().CheckpointExtension) || strings.Contains(page, "{") {
		t.Error("a place that was not filled")
	}
}
