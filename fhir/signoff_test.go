package fhir

import (
	"bytes"
	"encoding/json"
	"strings"
	"testing"
	"time"

	"graftnote/note"
)

// signedSample is a sample note under two signatures: one of the team's surgeon,
// one of a person whom the team does not name.
func signedSample(t *testing.T, so *Signoff) (transaction, document []byte, err error) {
	t.Helper()
	c := whole(t, "01-double-bubble.yaml")
	p, err := note.LoadPhrases(nil)
	if err != nil {
		t.Fatal(err)
	}
	at := time.Date(2026, 9, 8, 11, 3, 0, 0, time.FixedZone("", 3600))
	d, err := note.Build(c, p, note.Options{ToSign: true})
	if err != nil {
		t.Fatal(err)
	}
	d = d.Sign(note.Signoff{Withdrawn: so.Withdrawn, Signatures: []note.Signature{
		{Name: "Imara Voss", Role: "consultant", Meaning: "authored and approved", At: at, Zone: "Europe/London", Key: "a"},
		{Name: "Noor Selby", Role: "surgeon", Meaning: "addition authored", At: at.Add(time.Hour), Zone: "Europe/London", Key: "b"}}})
	o := Options{PDF: pdf, Tool: "graftnote test", Signed: at.Add(time.Hour), Signoff: so}
	if transaction, err = Transaction(c, d, o); err != nil {
		return nil, nil, err
	}
	document, err = DocumentBundle(c, d, o)
	return transaction, document, err
}

func someActs() []Act {
	return []Act{{"signed", []byte("one"), bytes.Repeat([]byte{1}, 64)}, {"addendum", []byte("two"), bytes.Repeat([]byte{2}, 64)}}
}

// R4 Signature.type is bound (preferred) to value set signature-type: an author's
// signature is 1.2.840.10065.1.12.1.1, an addendum 1.2.840.10065.1.12.1.15. R4
// DocumentReference.relatesTo with replaces; the replaced one is superseded.
func TestSignedBundle(t *testing.T) {
	so := &Signoff{Amended: true, Revision: 2, Acts: someActs(), Checkpoint: "graftnote casebook checkpoint\nx\n",
		Earlier: []Earlier{{Entry: whole(t, "01-double-bubble.yaml"), PDF: append(pdf, "%old"...), At: time.Date(2026, 9, 8, 10, 3, 0, 0, time.UTC)}}}
	transaction, document, err := signedSample(t, so)
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{`"code":"1.2.840.10065.1.12.1.1"`, `"code":"1.2.840.10065.1.12.1.15"`, `"status":"amended"`, `"status":"superseded"`,
		`"code":"replaces"`, `"who":{"display":"Noor Selby","type":"Practitioner"}`, `"valueBase64Binary":"Z3JhZnRub3RlIGNhc2Vib29rIGNoZWNrcG9pbnQKeAo="`,
		`"time":"2026-09-08T12:03:00+01:00"`, `"value":"a1k7-double-bubble.note-pdf.2"`} {
		if !bytes.Contains(transaction, []byte(want)) {
			t.Errorf("no %s", want)
		}
	}
	if bytes.Contains(transaction, []byte(`"ifNoneExist":"identifier=https%3A%2F%2Fgraftnote.example%2Fid%2Fnote`)) {
		t.Error("a signed note goes out as an update")
	}
	if !bytes.Contains(document, []byte(`"value":"a1k7-double-bubble.document.2"`)) || bytes.Contains(document, []byte("superseded")) || !bytes.Contains(document, []byte(`"code":"replaces"`)) {
		t.Error("the document is that of the revision")
	}
	so.Acts[1].Kind = "no such act"
	if _, _, err := signedSample(t, so); err == nil || !strings.Contains(err.Error(), "no signature type") {
		t.Error(err)
	}
}

// R4 con-5: a Condition entered in error has no clinical status. All that the note
// said is in error, and nothing that others own is touched.
func TestWithdrawnBundle(t *testing.T) {
	_, document, err := signedSample(t, &Signoff{Withdrawn: true, Revision: 2, Acts: someActs()})
	if err != nil {
		t.Fatal(err)
	}
	var b struct {
		Entry []struct {
			Resource struct {
				ResourceType, Status string
				Active               *bool
				ClinicalStatus       any
				VerificationStatus   struct{ Coding []struct{ Code string } }
			}
		}
	}
	if err := json.Unmarshal(document, &b); err != nil {
		t.Fatal(err)
	}
	n := 0
	for _, e := range b.Entry {
		switch r := e.Resource; r.ResourceType {
		case "Composition", "Procedure", "Observation", "ServiceRequest":
			n++
			if r.Status != "entered-in-error" {
				t.Errorf("%s is %s", r.ResourceType, r.Status)
			}
		case "Condition":
			n++
			if r.ClinicalStatus != nil || r.VerificationStatus.Coding[0].Code != "entered-in-error" {
				t.Errorf("%+v", r)
			}
		case "Patient", "Practitioner", "Location", "Organization":
			if r.Status == "entered-in-error" {
				t.Errorf("%s is not this note's", r.ResourceType)
			}
		}
	}
	if n < 8 {
		t.Errorf("only %d resources", n)
	}
}

// R4 observation-status: preliminary is an initial one that may still be changed,
// amended one modified after it was final. The Observations go with the note: none
// is final that awaits a signature, and none that a correction left alone is
// amended.
func TestObservationStatus(t *testing.T) {
	for _, c := range []struct {
		so      Signoff
		note    string
		before  []string          // the first revision: what stood in the place of what
		changed map[string]string // by the end of the identifier; all others have rest
		rest    string
	}{
		{Signoff{Awaiting: true, Revision: 1}, "preliminary", nil, nil, "preliminary"},
		{Signoff{Revision: 1}, "final", nil, nil, "final"},
		{Signoff{Amended: true, Revision: 2}, "amended", []string{}, nil, "final"}, // an addendum
		{Signoff{Amended: true, Revision: 2}, "amended", []string{"tone: normal", "tone: soft"}, map[string]string{".end": "amended"}, "final"},
		{Signoff{Amended: true, Revision: 2}, "amended", []string{"volume: 0.6 mL", "volume: 0.7 mL"}, map[string]string{".injections-1": "amended"}, "final"},
		{Signoff{Amended: true, Revision: 2}, "amended", []string{"antibiotic: chloramphenicol 0.5 % four", "antibiotic: chloramphenicol 0.5 % six"}, nil, "final"},
		{Signoff{Amended: true, Revision: 2}, "amended", []string{"correction: rigid-lens", "correction: spectacles"}, map[string]string{".before.corrected": "amended"}, "final"},
		{Signoff{Amended: true, Awaiting: true, Revision: 2}, "preliminary", []string{"tone: normal", "tone: soft"}, nil, "preliminary"},
		{Signoff{Withdrawn: true, Amended: true, Revision: 2}, "entered-in-error", []string{"tone: normal", "tone: soft"}, nil, "entered-in-error"},
	} {
		if c.before != nil {
			c.so.Earlier = []Earlier{{Entry: whole(t, "01-double-bubble.yaml", c.before...), PDF: pdf, At: time.Date(2026, 9, 8, 10, 3, 0, 0, time.UTC)}}
		}
		c.so.Acts = someActs()
		transaction, _, err := signedSample(t, &c.so)
		if err != nil {
			t.Fatal(err)
		}
		b := tree(t, transaction)
		if got := all(b, "Composition")[0]["status"]; got != c.note {
			t.Errorf("%+v: Composition %v", c.before, got)
		}
		seen := 0
		for _, o := range all(b, "Observation") {
			id := dig(o, "identifier", 0, "value").(string)
			want := c.rest
			for end, status := range c.changed {
				if strings.HasSuffix(id, "double-bubble"+end) {
					want, seen = status, seen+1
				}
			}
			if o["status"] != want {
				t.Errorf("%v: %s is %v, want %s", c.before, id, o["status"], want)
			}
		}
		if seen != len(c.changed) {
			t.Errorf("%v: %d Observations changed, want %d", c.before, seen, len(c.changed))
		}
	}
}

// HL7's Operative Note (C-CDA on FHIR, R4 1.1) has one legal attester at most and
// any number of professional ones. Who answers for the note is legal; every signer
// stays, here and in Provenance (R4, Composition.attester).
func TestAttesters(t *testing.T) {
	for _, c := range []struct {
		acts     string
		awaiting bool
		want     string
	}{
		{"signed counter-signed", false, "professional legal"},
		{"signed corrected", false, "professional legal"},
		{"signed addendum", false, "legal professional"},
		{"signed withdrawn", false, "legal professional"},
		{"signed addendum", true, "professional professional"},
	} {
		so := &Signoff{Revision: 2, Awaiting: c.awaiting}
		for _, kind := range strings.Fields(c.acts) {
			so.Acts = append(so.Acts, Act{kind, []byte(kind), make([]byte, 64)})
		}
		raw, _, err := signedSample(t, so)
		if err != nil {
			t.Fatal(err)
		}
		b := tree(t, raw)
		note := all(b, "Composition")[0]
		var got []string
		for _, a := range note["attester"].([]any) {
			got = append(got, dig(a, "mode").(string))
			if dig(a, "time") == nil || dig(a, "party", "display") == nil {
				t.Errorf("%s: %v", c.acts, a)
			}
		}
		if strings.Join(got, " ") != c.want {
			t.Errorf("%s: %v, want %s", c.acts, got, c.want)
		}
		proof := all(b, "Provenance")[0]
		if n := len(proof["signature"].([]any)); n != 2 {
			t.Errorf("%s: %d signatures", c.acts, n)
		}
		// HL7 v3-DocumentCompletion: legally authenticated is what the one who is
		// legally responsible has signed; authenticated is signed by somebody.
		wants(t, codesOf(object{"x": proof["activity"]}), map[bool]string{true: "AU", false: "LA"}[c.awaiting])
		agents := strings.Join(codesOf(object{"x": proof["agent"]}), " ")
		if strings.Contains(agents, "legal") == c.awaiting || !strings.Contains(agents, "attester") {
			t.Errorf("%s: agents %s", c.acts, agents)
		}
		if note["confidentiality"] != nil || dig(note, "meta", "security", 0, "code") != "N" {
			t.Errorf("%s: confidentiality stands in meta.security", c.acts)
		}
	}
}

// The document is what its receiver has of the note: the page that was signed is
// in it, reached from the Composition through the report of the operation.
func TestDocumentCarriesThePage(t *testing.T) {
	_, raw, err := signedSample(t, &Signoff{Revision: 1, Acts: someActs()})
	if err != nil {
		t.Fatal(err)
	}
	b := tree(t, raw)
	page := all(b, "DocumentReference")[0]
	if dig(page, "content", 0, "attachment", "data") == nil || page["docStatus"] != "final" {
		t.Errorf("%v", page["docStatus"])
	}
	reached := false
	for _, r := range named(t, b, "Procedure", "procedure")["report"].([]any) {
		for _, e := range entries(b) {
			reached = reached || e["fullUrl"] == dig(r, "reference") && dig(e, "resource", "resourceType") == "DocumentReference"
		}
	}
	if !reached {
		t.Error("nothing refers to the page")
	}
}
