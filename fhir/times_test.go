package fhir

import (
	"strings"
	"testing"
	"time"
)

// R4 Observation.effective[x]: without it receivers sort by the time of import. So
// every Observation has a time, or says by extension data-absent-reason that
// nobody knows it.
func TestEveryObservationHasATime(t *testing.T) {
	for id, c := range samples(t) {
		open := 0
		for _, o := range all(imported(t, c, made), "Observation") {
			unknown := dig(o, "_effectiveDateTime", "extension", 0, "valueCode")
			switch {
			case o["effectiveDateTime"] != nil || o["effectivePeriod"] != nil:
				if unknown != nil {
					t.Errorf("%s: %v is dated and not dated", id, o["identifier"])
				}
			case unknown != "unknown":
				t.Errorf("%s: %v has no time", id, o["identifier"])
			default:
				open++
			}
		}
		if open == 0 { // no sample has the date of its measurements
			t.Errorf("%s: when was the eye measured?", id)
		}
	}
	b := imported(t, whole(t, "01-double-bubble.yaml", "before: {", "before: {measured: 2026-08-30, "))
	if got := named(t, b, "Observation", "before.thinnest"); got["effectiveDateTime"] != "2026-08-30" || got["_effectiveDateTime"] != nil {
		t.Errorf("%v %v", got["effectiveDateTime"], got["_effectiveDateTime"])
	}
	if got := named(t, b, "Observation", "tissues-1"); dig(got, "effectivePeriod", "start") == nil || dig(got, "partOf", 0, "reference") == nil {
		t.Errorf("the tissue was used in the operation: %v", got)
	}
	if got := named(t, b, "Observation", "eye"); got["effectiveDateTime"] != "2026-09-08" {
		t.Errorf("the state of the eye is that of the day of surgery: %v", got["effectiveDateTime"])
	}
}

// The pressure before surgery and at its end have one LOINC code. A code of our
// own tells them apart, and so does the time.
func TestPressuresDiffer(t *testing.T) {
	b := imported(t, whole(t, "01-double-bubble.yaml", "corrected: 0.7 logMAR", "corrected: 0.7 logMAR, pressure: 13 mmHg", "tone: normal", "tone: normal, pressure: 14 mmHg"))
	before, end := named(t, b, "Observation", "before.pressure"), named(t, b, "Observation", "end.pressure")
	wants(t, codesOf(object{"x": before["code"]}), "79892-6", "41633001", "before.pressure")
	wants(t, codesOf(object{"x": end["code"]}), "79892-6", "41633001", "end.pressure")
	if dig(end, "effectivePeriod", "start") == nil || before["effectivePeriod"] != nil {
		t.Error("the pressure at the end has the time of the operation")
	}
}

// R4 Observation.bodySite: a finding of the fellow eye has the fellow eye's.
func TestFellowEye(t *testing.T) {
	b := imported(t, whole(t, "01-double-bubble.yaml"))
	fellow := named(t, b, "Observation", "eye.fellow")
	wants(t, codesOf(object{"x": fellow["bodySite"]}), "362503005") // Entire left eye (GPS)
	wants(t, codesOf(object{"x": fellow["code"]}), "eye.fellow")
	operated := named(t, b, "Observation", "eye")
	wants(t, codesOf(object{"x": operated["bodySite"]}), "362502000")
	for _, k := range codesOf(object{"x": operated["component"]}) {
		if strings.HasPrefix(k, "eye.fellow") || strings.HasPrefix(k, "fellow:") {
			t.Errorf("%s stands in the operated eye's Observation", k)
		}
	}
}

// SNOMED CT 419775003 is best corrected visual acuity; a pinhole corrects nothing.
func TestBestCorrected(t *testing.T) {
	for correction, want := range map[string]string{"rigid-lens": "419775003 before.corrected", "spectacles": "419775003 before.corrected",
		"pinhole": "before.corrected", "none": "before.corrected", "\"not recorded: sheet lost\"": "before.corrected"} {
		b := imported(t, whole(t, "01-double-bubble.yaml", "correction: rigid-lens", "correction: "+correction))
		wants(t, codesOf(object{"x": named(t, b, "Observation", "before.corrected")["code"]}), strings.Fields(want)...)
	}
}

// A tissue is recalled by its number. R4 has no search for a
// BiologicallyDerivedProduct, so an Observation is found by each of its numbers.
func TestTissueNumber(t *testing.T) {
	for id, c := range samples(t) {
		b := imported(t, c, made)
		known := map[string]bool{}
		for _, o := range all(b, "Observation") {
			for _, i := range o["identifier"].([]any) {
				known[dig(i, "system").(string)+"|"+dig(i, "value").(string)] = true
			}
		}
		for _, p := range all(b, "BiologicallyDerivedProduct") {
			for _, i := range p["identifier"].([]any) {
				if !known[dig(i, "system").(string)+"|"+dig(i, "value").(string)] {
					t.Errorf("%s: no Observation is found by %v", id, i)
				}
			}
		}
	}
}

// The cells of the donor's cornea are not the patient's: the count has a code of
// its own, the tissue as its focus and no eye, and a site can't send a code of the
// patient's eye for it.
func TestDonorCount(t *testing.T) {
	b := imported(t, whole(t, "01-double-bubble.yaml"), func(o *Options) { o.Mapping = sampleMapping(t) })
	count := named(t, b, "Observation", "tissues-1.ecd")
	wants(t, codesOf(object{"x": count["code"]}), "tissues.ecd")
	if count["bodySite"] != nil || dig(count, "focus", 0, "reference") == nil {
		t.Errorf("%v", count)
	}
	_, err := ParseMapping("m.csv", []byte(strings.Join(mappingColumns, ",")+"\ntissues.ecd,,http://dicom.nema.org/resources/ontology/DCM,131309,Endothelial cell density,,\n"))
	if err == nil || !strings.Contains(err.Error(), "m.csv:2: column code") {
		t.Error(err)
	}
}

// Until all have signed who must, no resource says that anything is settled (R4:
// Composition, DocumentReference.docStatus and Observation preliminary, Condition
// provisional; event-status and request-status have no word but unknown).
func TestProvisional(t *testing.T) {
	c := whole(t, "03-type-2-microperforation.yaml")
	awaiting := final(t, c, func(o *Options) { o.Signoff.Awaiting = true })
	for name, b := range map[string]object{"draft": imported(t, c), "awaiting": awaiting, "signed": final(t, c)} {
		settled := name == "signed"
		seen := map[string]int{}
		for _, e := range entries(b) {
			res := e["resource"].(object)
			kind := res["resourceType"].(string)
			got := res["status"]
			var open, done any
			switch kind {
			case "Composition", "Observation":
				open, done = "preliminary", "final"
			case "DocumentReference":
				got, open, done = res["docStatus"], "preliminary", "final"
			case "Condition":
				got, open, done = dig(res, "verificationStatus", "coding", 0, "code"), "provisional", "confirmed"
			case "Procedure", "ServiceRequest":
				open, done = "unknown", "completed"
			case "Encounter":
				open, done = "unknown", "finished"
			default:
				continue
			}
			seen[kind]++
			if want := map[bool]any{false: open, true: done}[settled]; got != want {
				t.Errorf("%s: %s is %v, want %v", name, kind, got, want)
			}
		}
		if len(seen) != 7 || seen["Condition"] < 2 {
			t.Errorf("%s: only %v", name, seen)
		}
	}
}

// made is for the entry that names no moment.
func made(o *Options) { o.Made = time.Date(2026, 9, 8, 12, 0, 0, 0, time.UTC) }
