package fhir

import (
	"bytes"
	"encoding/json"
	"reflect"
	"testing"

	"github.com/samply/golang-fhir-models/fhir-models/fhir"
)

// The tree read off a model value equals the model's own JSON, which is the
// outside here: resources, data types, enums, numbers with their typed digits.
func TestTreeEqualsTheModelsJSON(t *testing.T) {
	yes, text, n := true, "a < b", json.Number("8.50")
	quantity := fhir.Quantity{Value: &n, Unit: &text}
	for _, v := range []any{
		fhir.Procedure{Status: fhir.EventStatusCompleted, Subject: fhir.Reference{Reference: &text}, Note: []fhir.Annotation{{Text: "x"}}},
		fhir.Observation{Status: fhir.ObservationStatusFinal, ValueQuantity: &quantity, Component: []fhir.ObservationComponent{{ValueBoolean: &yes}}},
		fhir.Composition{Status: fhir.CompositionStatusPreliminary, Section: []fhir.CompositionSection{{Title: &text, Text: &fhir.Narrative{Status: fhir.NarrativeStatusGenerated, Div: "<div/>"}}}},
		fhir.DocumentReference{Content: []fhir.DocumentReferenceContent{{Attachment: fhir.Attachment{ContentType: &text}}}},
		fhir.Patient{Active: &yes, Identifier: []fhir.Identifier{{Value: &text}}},
		fhir.BiologicallyDerivedProduct{Storage: []fhir.BiologicallyDerivedProductStorage{{Temperature: &n}}},
		fhir.Provenance{Recorded: "2026-09-08T10:00:00+01:00", Target: []fhir.Reference{{Reference: &text}}},
		fhir.BundleEntryRequest{Method: fhir.HTTPVerbPUT, Url: "Procedure"},
		fhir.CodeSystem{Status: fhir.PublicationStatusActive, Content: fhir.CodeSystemContentModeComplete, Concept: []fhir.CodeSystemConcept{{Code: "x"}}},
	} {
		b, err := json.Marshal(v)
		if err != nil {
			t.Fatal(err)
		}
		dec := json.NewDecoder(bytes.NewReader(b))
		dec.UseNumber()
		var want any
		if err := dec.Decode(&want); err != nil {
			t.Fatal(err)
		}
		got, err := anyTree(v)
		if err != nil {
			t.Fatal(err)
		}
		if !reflect.DeepEqual(got, want) {
			t.Errorf("%T:\n got %v\nwant %v", v, got, want)
		}
	}
	if _, err := anyTree(fhir.Quantity{Value: new(json.Number)}); err == nil {
		t.Error("an empty number became a value")
	}
}
