package fhir

import (
	"encoding/json"
	"strings"
	"testing"
	"time"

	"graftnote/schema"
)

// Planned and performed stay apart (two resources); a second coding is wider or
// equal and comes from the Global Patient Set.
func TestPlannedAndPerformed(t *testing.T) {
	b := final(t, whole(t, "01-double-bubble.yaml"))
	p := named(t, b, "Procedure", "procedure")
	r := all(b, "ServiceRequest")[0]
	wants(t, codesOf(object{"x": p["code"]}), "dalk-double-bubble", "60656008")
	wants(t, codesOf(object{"x": r["code"]}), "dalk-double-bubble", "60656008")
	if p["status"] != "completed" || p["statusReason"] != nil || r["intent"] != "plan" || r["status"] != "completed" {
		t.Errorf("status %v, %v %v", p["status"], r["intent"], r["status"])
	}
	wants(t, codesOf(object{"x": p["bodySite"]}), "362502000") // Entire right eye (GPS)
	if dig(p, "performedPeriod", "start") != "2026-09-08T09:05:00+01:00" || dig(p, "performedPeriod", "end") != "2026-09-08T10:02:00+01:00" {
		t.Errorf("performed %v: British Summer Time ends on 25 October 2026", p["performedPeriod"])
	}
}

// R4 Procedure.statusReason is for a status that is an exception: a conversion
// was completed, so its reason is a reasonCode.
func TestConversion(t *testing.T) {
	b := final(t, whole(t, "06-conversion.yaml"))
	p := named(t, b, "Procedure", "procedure")
	wants(t, codesOf(object{"x": p["code"]}), "pk-conversion", "42101009")
	wants(t, codesOf(object{"x": all(b, "ServiceRequest")[0]["code"]}), "dalk-air-big-bubble", "60656008")
	wants(t, codesOf(object{"x": p["reasonCode"]}), "conversion-reason:perforation")
	if p["status"] != "completed" || p["statusReason"] != nil || dig(p, "basedOn", 0, "reference") == nil {
		t.Errorf("status %v", p["status"])
	}
	section := object{}
	for _, s := range dig(all(b, "Composition")[0], "section").([]any) {
		section[codesOf(object{"x": dig(s, "code")})[0]] = s
	}
	if dig(section["59772-4"], "entry", 0, "reference") != dig(p, "basedOn", 0, "reference") {
		t.Error("section 59772-4 does not hold the plan")
	}
	if n := len(all(b, "BiologicallyDerivedProduct")); n != 2 {
		t.Errorf("%d tissues, want 2", n)
	}
	complication := named(t, b, "Condition", "complication-1")
	wants(t, codesOf(object{"x": complication["code"]}), "event:macroperforation", "88797001")
	if dig(p, "complicationDetail", 0, "reference") == nil || dig(complication, "evidence", 0, "detail", 0, "reference") == nil {
		t.Error("the tear is not tied to the operation and to its facts")
	}
}

// R4 event-status: stopped is "terminated prior to the full completion".
func TestStagedAndAbandoned(t *testing.T) {
	for _, c := range []struct{ performed, reason, request string }{{"staged", "keratoplasty-staged", "active"}, {"abandoned", "keratoplasty-abandoned", "revoked"}} {
		entry := read(t, "15-staged.yaml", "performed: staged", "performed: "+c.performed)[0]
		b := newTestBuilder(t, entry)
		b.signed = true
		b.build()
		if b.err != nil {
			t.Fatal(b.err)
		}
		raw, err := json.Marshal(b.entries)
		if err != nil {
			t.Fatal(err)
		}
		bundle := object{"entry": tree(t, []byte(`{"entry":`+string(raw)+`}`))["entry"]}
		p := named(t, bundle, "Procedure", "procedure")
		wants(t, codesOf(object{"x": p["statusReason"]}), c.reason)
		if p["status"] != "stopped" || !strings.HasPrefix(codesOf(object{"x": p["code"]})[0], "dalk") {
			t.Errorf("%s: %v %v", c.performed, p["status"], p["code"])
		}
		if got := all(bundle, "ServiceRequest")[0]["status"]; got != c.request {
			t.Errorf("%s: request %v", c.performed, got)
		}
	}
}

// newTestBuilder passes over the check for completeness only.
func newTestBuilder(t *testing.T, c schema.Checked) *builder {
	b, err := newBuilder(whole(t, "15-staged.yaml"), words(t, c), Options{}, false)
	if err != nil {
		t.Fatal(err)
	}
	b.c, b.e = c, c.Entry()
	return b
}

// R4 transaction, conditional references: a search that matches none or two
// fails the import; the patient is made only when the site asks for it.
func TestPatient(t *testing.T) {
	c := whole(t, "01-double-bubble.yaml")
	b := imported(t, c)
	ref := dig(named(t, b, "Procedure", "procedure"), "subject")
	if dig(ref, "reference") != "Patient?identifier=https%3A%2F%2Fgraftnote.example%2Fid%2Fpatient%7CFIC-0101" || dig(ref, "identifier", "value") != "FIC-0101" {
		t.Errorf("subject %v", ref)
	}
	site := &schema.Site{CreatePatient: true, Identifiers: map[string]string{"patient": "https://h.example/mrn"},
		MetaProfiles: map[string]string{"Patient": "https://h.example/StructureDefinition/patient"}}
	b = imported(t, c, func(o *Options) { o.Site = site })
	p := all(b, "Patient")
	if len(p) != 1 || p[0]["gender"] != "female" || p[0]["birthDate"] != "2002-03-14" || dig(p[0], "identifier", 0, "system") != "https://h.example/mrn" ||
		dig(p[0], "meta", "profile", 0) != "https://h.example/StructureDefinition/patient" {
		t.Errorf("patient %v", p)
	}
	if dig(named(t, b, "Procedure", "procedure"), "meta") != nil {
		t.Error("a profile that nobody asked for")
	}
}

// One registration number is one Practitioner, however often it is written.
func TestOnePersonOnce(t *testing.T) {
	c := whole(t, "01-double-bubble.yaml", "name: Pell Arden,", "name: Pell Arden, id: REG-1,", "name: Tomas Reyle,", "name: P. Arden, id: REG-1,")
	b := imported(t, c)
	if n := len(all(b, "Practitioner")); n != 2 {
		t.Errorf("%d practitioners, want 2", n)
	}
	who := named(t, b, "Procedure", "procedure")["performer"].([]any)
	if len(who) != 3 || dig(who[1], "actor", "reference") != dig(who[2], "actor", "reference") {
		t.Errorf("performers %v", who)
	}
	// Both codings of a function: SNOMED CT occupation and v3-ParticipationFunction.
	wants(t, codesOf(who[0]), "304292004", "PRISURG")
}

// Unsigned: preliminary. Signed: final, with the legal attester and the time.
func TestSignature(t *testing.T) {
	c := whole(t, "01-double-bubble.yaml")
	b := imported(t, c)
	comp, doc := all(b, "Composition")[0], all(b, "DocumentReference")[0]
	if comp["status"] != "preliminary" || doc["docStatus"] != "preliminary" || comp["attester"] != nil || all(b, "Observation")[0]["status"] != "preliminary" {
		t.Errorf("unsigned: %v %v", comp["status"], doc["docStatus"])
	}
	d := words(t, c)
	d.Draft = false
	at := time.Date(2026, 9, 8, 12, 30, 0, 0, time.FixedZone("", 3600))
	raw, err := Transaction(c, d, Options{PDF: pdf, Signed: at})
	if err != nil {
		t.Fatal(err)
	}
	b = tree(t, raw)
	comp, doc = all(b, "Composition")[0], all(b, "DocumentReference")[0]
	if comp["status"] != "final" || doc["docStatus"] != "final" || comp["date"] != "2026-09-08T12:30:00+01:00" ||
		dig(comp, "attester", 0, "mode") != "legal" || dig(comp, "attester", 0, "time") != "2026-09-08T12:30:00+01:00" {
		t.Errorf("signed: %v %v", comp["status"], comp["attester"])
	}
	prov := all(b, "Provenance")[0]
	wants(t, codesOf(object{"x": prov["activity"]}), "LA")
	own := 0
	for _, e := range entries(b) {
		switch dig(e, "resource", "resourceType") {
		case "Organization", "Location", "Practitioner", "Provenance":
		default:
			own++
		}
	}
	if n := len(prov["target"].([]any)); n != own {
		t.Errorf("Provenance has %d targets, the bundle %d resources of its own", n, own)
	}
}

// R4 conditional update: PUT with a search, for what this program owns only. A person
// without a registration number is known by this case alone.
func TestUpdate(t *testing.T) {
	b := imported(t, whole(t, "01-double-bubble.yaml"), func(o *Options) { o.Update = true })
	for _, e := range entries(b) {
		kind, method := dig(e, "resource", "resourceType").(string), dig(e, "request", "method")
		theirs := kind == "Organization" || kind == "Location"
		if theirs != (method == "POST") {
			t.Errorf("%s by %v", kind, method)
		}
		if url := dig(e, "request", "url").(string); method == "PUT" && !strings.HasPrefix(url, kind+"?") {
			t.Errorf("PUT %s", url)
		}
		sought(t, "update", e)
	}
}

// Every measured or coded answer of an entry is in the bundle, under its code
// and with its digits as typed.
func TestEveryAnswerArrives(t *testing.T) {
	for _, name := range []string{"01-double-bubble.yaml", "06-conversion.yaml", "13-femtosecond.yaml", "14-viscodissection-visits.yaml"} {
		c := whole(t, name)
		bundle := imported(t, c)
		codes := map[string]bool{}
		for _, k := range codesOf(bundle) {
			codes[k] = true
		}
		raw, _ := json.Marshal(bundle)
		n := 0
		c.Entry().Walk(func(r *schema.Row, item int, f schema.Field) {
			row := terms().fields[r.Path()]
			if f.Blank() || row.as != "observation" && row.as != "component" && row.as != "value" && row.as != "beside" {
				return
			}
			n++
			want := r.Path()
			if len(row.codes) > 0 {
				want = strings.Split(row.codes[0], ":")[1]
			} else if k := row.eyes[string(c.Entry().Eye.Operated.Value())]; k != "" {
				want = strings.Split(k, ":")[1]
			}
			if r.Type == "refraction" {
				want = "251795007"
			}
			if !codes[want] {
				t.Errorf("%s: %s (%s) is not in the bundle", name, r.Path(), want)
			}
			if _, measured := r.Dimension(); measured && f.Recorded() {
				digits, _, _ := strings.Cut(f.Text(), " ")
				if r.Type == "count" {
					digits = `"valueInteger":` + digits
				} else {
					digits = `"value":` + digits
				}
				if !strings.Contains(string(raw), digits+`}`) && !strings.Contains(string(raw), digits+`,`) {
					t.Errorf("%s: %s: no value %s", name, r.Path(), digits)
				}
			}
		})
		if n < 30 {
			t.Errorf("%s: only %d answers looked at", name, n)
		}
	}
}

// R4 BiologicallyDerivedProduct.status: available is "currently available for
// use". No entry says that: what was opened is gone, and of what went back the
// bank decides.
func TestTissueStatus(t *testing.T) {
	for outcome, want := range map[string]any{"returned": nil, "discarded": "unavailable", "opened-not-used": "unavailable"} {
		b := newTestBuilder(t, read(t, "15-staged.yaml", "outcome: opened-not-used", "outcome: "+outcome)[0])
		b.build()
		raw, err := json.Marshal(b.entries)
		if err != nil {
			t.Fatal(err)
		}
		products := all(tree(t, []byte(`{"entry":`+string(raw)+`}`)), "BiologicallyDerivedProduct")
		if got := products[0]["status"]; got != want {
			t.Errorf("%s: status %v, want %v", outcome, got, want)
		}
	}
}
