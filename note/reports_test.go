package note

import (
	"fmt"
	"os"
	"strings"
	"testing"
	"time"

	"graftnote/schema"
)

// sealedSample is a sample entry as a signed note holds it.
func sealedSample(t *testing.T, name string, edits ...string) schema.Checked {
	t.Helper()
	b, err := os.ReadFile("../testdata/entries/" + name)
	if err != nil {
		t.Fatal(err)
	}
	text := string(b)
	for i := 0; i < len(edits); i += 2 {
		if !strings.Contains(text, edits[i]) {
			t.Fatalf("no %q", edits[i])
		}
		text = strings.Replace(text, edits[i], edits[i+1], 1)
	}
	o := schema.Options{Now: time.Date(2026, 11, 25, 12, 0, 0, 0, time.UTC)}
	c, err := schema.Check(schema.Read(schema.Source{Name: name, Data: []byte(text)}, o).Cases[0], o, nil)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func someSignoff() *Signoff {
	at := time.Date(2026, 9, 29, 12, 0, 0, 0, time.FixedZone("", 3600))
	return &Signoff{Signatures: []Signature{{Name: "Imara Voss", Role: "consultant", Meaning: "authored and approved", At: at, Zone: "Europe/London", Key: "k"}},
		Revisions: []Revision{{Number: 1, Kind: "Signed", Who: "Imara Voss", At: at, Zone: "Europe/London"}}}
}

func reportsOf(t *testing.T) *Reports {
	t.Helper()
	p, err := LoadPhrases(nil)
	if err != nil {
		t.Fatal(err)
	}
	r, err := LoadReports(p)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// stated is what a report says under each label.
func stated(d Document) map[string]string {
	out := map[string]string{}
	for _, s := range d.Sections {
		for _, b := range s.Blocks {
			if b.Table != nil {
				for _, r := range b.Table.Rows {
					out[r[0]] = r[1]
				}
			}
		}
	}
	return out
}

// Directive 2004/23/EC article 11(2): the user of tissue reports what traceability
// needs, for each tissue opened, used or not. The wanted values are read off the
// sample entry by hand.
func TestTissueReport(t *testing.T) {
	c := sealedSample(t, "06-conversion.yaml")
	r := reportsOf(t)
	for tissue, want := range []map[string]string{
		{"Tissue identifier": "T-FIC-9006A", "Fate": "Punched and not used", "Reason": "stripped before the membrane tore", "Eye": "Left eye",
			"Date of surgery": "29 September 2026", "Hospital": "Lindow Eye Unit", "Operation in the end": "Deep anterior lamellar keratoplasty converted to penetrating keratoplasty"},
		{"Tissue identifier": "T-FIC-9006B", "Fate": "Grafted", "Layers grafted": "Full thickness", "Not stated": "Nothing; every item above is stated",
			"Case and revision": "f6w9-conversion, 1", "Authored and approved": "Imara Voss (consultant), 29 September 2026, 12:00:00 +01:00 (Europe/London)"},
	} {
		d, err := r.Tissue(c, someSignoff(), "", tissue+1, false)
		if err != nil {
			t.Fatal(err)
		}
		got := stated(d)
		for label, value := range want {
			if got[label] != value {
				t.Errorf("tissue %d: %s: %q, want %q", tissue+1, label, got[label], value)
			}
		}
		for _, private := range []string{"Marchbank", "FIC-0106", "1983"} {
			if strings.Contains(fmt.Sprint(d), private) {
				t.Errorf("tissue %d names %s", tissue+1, private)
			}
		}
		if _, asked := got["Reason"]; asked != (tissue == 0) || d.Draft {
			t.Errorf("tissue %d: %v", tissue+1, got)
		}
	}
	d, err := r.Tissue(c, someSignoff(), "", 1, true)
	if err != nil || !strings.Contains(d.Banner.Patient, "Marchbank") {
		t.Error("the name that was asked for", err)
	}
	for _, n := range []int{0, 3} {
		if _, err := r.Tissue(c, someSignoff(), "", n, false); err == nil {
			t.Errorf("tissue %d", n)
		}
	}
}

// The heading says whether the container was opened: a tissue that went back
// closed was not.
func TestTissueHeading(t *testing.T) {
	const first = "outcome: punched-not-used, outcome-reason: stripped before the membrane tore"
	for _, x := range []struct{ file, old, new, want string }{
		{"06-conversion.yaml", first, first, "Tissue 1 of 2 recorded in this operation, opened"},
		{"06-conversion.yaml", first, "outcome: discarded, outcome-reason: stripped before the membrane tore", "Tissue 1 of 2 recorded in this operation, opened"},
		{"06-conversion.yaml", "punched-from: endothelial, diameter: 8.25 mm, membrane: removed-complete, stain: trypan-blue, stain-strength: 0.06 %, " + first,
			"outcome: returned, outcome-reason: never opened", "Tissue 1 of 2 recorded in this operation, not opened"},
	} {
		d, err := reportsOf(t).Tissue(sealedSample(t, x.file, x.old, x.new), nil, "", 1, false)
		if err != nil || d.Subtitle != x.want {
			t.Errorf("%s: %q, %v", x.new, d.Subtitle, err)
		}
	}
}

// A fault of the tissue is told from its kind, and not made up.
func TestTissueFault(t *testing.T) {
	r := reportsOf(t)
	for text, want := range map[string]string{
		"events: none": "None among the recorded events and confirmed states",
		"events: [{kind: donor-tissue-problem, problem: torn, step: donor-preparation, managed-by: second-tissue, consequence: continued}]": "Torn, at the step: donor preparation (recorded for the operation, not tied to one tissue)",
		"events: [{kind: donor-tissue-problem, managed-by: second-tissue, consequence: continued}]":                                         "Problem of donor tissue; of which kind is not stated",
		"events: \"not recorded: sheet lost\"": "Not stated",
	} {
		d, err := r.Tissue(sealedSample(t, "01-double-bubble.yaml", "events: none", text), nil, "", 1, false)
		if err != nil {
			t.Fatal(err)
		}
		if got := stated(d)["Fault of tissue or packing"]; got != want {
			t.Errorf("%s: %q", text, got)
		}
	}
}

// What the signer confirmed of a tissue stands on the page for its bank, and on the
// coder's sheet with every other confirmed state: no page that is made of a note says
// less than the note's first lines. Who was told and why stay in the note.
func TestConfirmedStatesOnReports(t *testing.T) {
	r := reportsOf(t)
	c := sealedSample(t, "18-bad-night.yaml")
	d, err := r.Tissue(c, someSignoff(), "", 1, false)
	if err != nil {
		t.Fatal(err)
	}
	for label, want := range map[string]string{
		"Fault of tissue or packing":   "Donor tissue used after its expiry (confirmed as true by the signer for the operation, not tied to one tissue)",
		"Also confirmed of the tissue": "Full-thickness graft that has lost its Descemet membrane (confirmed as true by the signer for the operation, not tied to one tissue)",
	} {
		if got := stated(d)[label]; got != want {
			t.Errorf("%s: %q, want %q", label, got, want)
		}
	}
	if sheet, err := r.Coder(c, someSignoff(), ""); err != nil || stated(sheet)["Confirmed as true by the signer"] !=
		"Donor tissue used after its expiry; Full-thickness graft that has lost its Descemet membrane; Counts not settled at the end" {
		t.Errorf("%q, %v", stated(sheet)["Confirmed as true by the signer"], err)
	} else {
		for _, own := range []string{"INC-FIC-0412", "coordinator", "the only cornea"} {
			if strings.Contains(sheet.Text()+d.Text(), own) {
				t.Errorf("%q stays in the note", own)
			}
		}
	}
	c = sealedSample(t, "18-bad-night.yaml", "{state: tissue-expired,", `{state: tissue-expired, at: "tissues[1]",`)
	if d, err = r.Tissue(c, nil, "", 1, false); err != nil || stated(d)["Fault of tissue or packing"] != "Donor tissue used after its expiry, tissue 1 (confirmed as true by the signer)" {
		t.Errorf("%q, %v", stated(d)["Fault of tissue or packing"], err)
	}
}

// The coder's sheet keeps apart what was planned and what was done, says what is
// not stated, and never suggests (the query practice of coders: a question may not
// lead, and nothing is inferred; secondary source).
func TestCoderReport(t *testing.T) {
	r := reportsOf(t)
	d, err := r.Coder(sealedSample(t, "06-conversion.yaml"), someSignoff(), "")
	if err != nil {
		t.Fatal(err)
	}
	got := stated(d)
	for label, want := range map[string]string{
		"Side": "Left eye", "Planned": "Deep anterior lamellar keratoplasty by air big-bubble",
		"Performed":                         "Deep anterior lamellar keratoplasty converted to penetrating keratoplasty",
		"Full thickness or lamellar":        "Full thickness in the end; begun as anterior lamellar",
		"First or repeat graft in this eye": "First: no graft is recorded as earlier surgery",
		"Lens status before surgery":        "Phakic", "Combined steps": "None", "Specimen": "Excised host tissue: sent for histology",
		"Tissue 1": "Punched and not used (stripped before the membrane tore)", "Tissue 2": "Grafted",
	} {
		if got[label] != want {
			t.Errorf("%s: %q, want %q", label, got[label], want)
		}
	}
	d, err = r.Coder(sealedSample(t, "08-regraft.yaml"), someSignoff(), "")
	if err != nil || !strings.HasPrefix(stated(d)["First or repeat graft in this eye"], "Repeat: ") {
		t.Error(stated(d), err)
	}
	d, err = r.Coder(sealedSample(t, "01-double-bubble.yaml", "lens: phakic", `lens: "not recorded: sheet lost"`, "type: general, ", ""), someSignoff(), "")
	if err != nil {
		t.Fatal(err)
	}
	got = stated(d)
	if got["Lens status before surgery"] != "Not recorded (sheet lost)" || got["Anaesthesia"] != "Not stated" || got["Not stated"] != "Lens status before surgery; Anaesthesia" {
		t.Errorf("%q %q %q", got["Lens status before surgery"], got["Anaesthesia"], got["Not stated"])
	}
	for _, leading := range []string{"?", "did you", "consider", "should"} {
		if strings.Contains(strings.ToLower(d.Text()), leading) {
			t.Errorf("the sheet leads: %q", leading)
		}
	}
	if _, err := r.Coder(schema.Checked{}, nil, ""); err == nil {
		t.Error("an unchecked entry")
	}
}

// A slip in a report file is found when it is read, with its line.
func TestReportFiles(t *testing.T) {
	for text, want := range map[string]string{
		"Label | x":                                 "x:1: a line stands before",
		"[A]\nLabel: x":                             "x:2: a line is  Label | text",
		"[A]\nLabel | {no.field}":                   "x:2: no field",
		"[A]\nif no.field is y: Label | x":          "x:2: ",
		"[A]\neach patient: Label | x":              "x:2: \"patient\" is no list",
		"[A]\neach tissues Label | x":               "x:2: 'each' needs",
		"[A]\nif Label | x":                         "x:2: 'if' needs",
		"[words]\nx":                                "x:2: a word is",
		"[A]\nif eye.operated is up: Label! | left": "x:2: ",
	} {
		if _, err := readReport("x", text); err == nil || !strings.HasPrefix(err.Error(), want) {
			t.Errorf("%q: %v", text, err)
		}
	}
}
