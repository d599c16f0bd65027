package fhir

import (
	"encoding/json"
	"strings"
	"testing"
)

// A state that was confirmed as true travels as an Observation of its own code with
// all that was said about it, and the words stand in the section of complications
// (R4: Observation.value and component; the codes are our own, no published one was
// found).
func TestTrueStatesTravel(t *testing.T) {
	b := final(t, whole(t, "18-bad-night.yaml"))
	for role, want := range map[string][]string{
		"true-states-1": {"true-state:tissue-expired", "the only cornea in the unit", "the tissue bank and the medical director", "20:25:00", "INC-FIC-0412"},
		"true-states-2": {"true-state:graft-without-membrane", "Stripped for the lamellar graft"},
		"true-states-3": {"true-state:counts-not-settled", "One needle was not found", "theatre coordinator", "22:00:00", "not yet given"},
	} {
		o := named(t, b, "Observation", role)
		text, err := json.Marshal(o)
		if err != nil || o == nil {
			t.Fatalf("%s: %v", role, err)
		}
		for _, w := range want {
			if !strings.Contains(string(text), w) {
				t.Errorf("%s lacks %q", role, w)
			}
		}
		if o["status"] != "final" {
			t.Errorf("%s: %v", role, o["status"])
		}
	}
	for _, s := range dig(all(b, "Composition")[0], "section").([]any) {
		if codesOf(object{"x": dig(s, "code")})[0] != "55109-3" {
			continue
		}
		div, _ := dig(s, "text", "div").(string)
		if !strings.Contains(div, "Counts not settled at the end: One needle was not found") || !strings.Contains(div, "Incident number: not yet given.") {
			t.Errorf("the section of complications says %s", div)
		}
	}
}

// Measurements from the sheet of the other eye go out as that eye's, never as the
// operated one's.
func TestSheetOfTheOtherEye(t *testing.T) {
	c := read(t, "01-double-bubble.yaml", "before: {", "before: {eye: left, ", "events: none\n",
		"events: none\ntrue-states: {state: papers-of-other-eye, reason: the sheet was the fellow eye's}\n")[0]
	b := final(t, c)
	n := 0
	for _, o := range all(b, "Observation") {
		text, err := json.Marshal(o)
		if err != nil {
			t.Fatal(err)
		}
		if !strings.Contains(string(text), ".before.") {
			continue
		}
		n++
		if words, _ := dig(o, "bodySite", "text").(string); words != "left eye" {
			t.Errorf("measured at %q", words)
		}
	}
	if n < 3 {
		t.Errorf("only %d measurements", n)
	}
}
