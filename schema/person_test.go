package schema

import (
	"fmt"
	"strings"
	"testing"
)

// An identifier that a person could have been found by, in the spellings that
// people use; and identifiers that only look like one.
func TestCaseNamesPatient(t *testing.T) {
	for _, c := range []struct {
		id, patient string
		want        bool
	}{
		{"tobias-renshaw", "id: M-40311, name: Tobias Renshaw", true},
		{"m-40311", "id: M-40311, name: Tobias Renshaw", true},
		{"m40311-right", "id: M-40311, name: Tobias Renshaw", true},
		{"eye-40311", "id: M-40311, name: Tobias Renshaw", true},
		{"case-renshaw2", "id: M-40311, name: Tobias Renshaw", true},
		{"ren-shaw-7", "id: M-40311, name: Tobias Renshaw", true},
		{"oda-right-1", "id: M-40311, name: Oda Lind", true},
		{"k7coda-2f9x", "id: M-40311, name: Oda Lind", true}, // a run of letters ends with it
		{"k7codab-2f9x", "id: M-40311, name: Oda Lind", false},
		{"k7mq-2f9x", "id: M-40311, name: Jo Wu", false},
		{"zoe-mueller", "id: M-40311, name: Zoë Müller", true},
		{"case-muller", "id: M-40311, name: Zoë Müller", true},
		{"groesse-lukasz", "id: M-40311, name: Łukasz Prus", true},
		{"ivanova-77", "id: M-40311, name: Иванова, latin-name: Ivanova", true},
		{"case-0012345", "id: \"0012345\", name: Tobias Renshaw", true},
		{"case-12345", "id: \"0012345\", name: Tobias Renshaw", true},
		{"case-77-1", "id: \"77\", name: Tobias Renshaw", true},
		{"k77q-2f9x", "id: \"77\", name: Tobias Renshaw", false},
		{"case-9434765919", "id: M-40311, name: Tobias Renshaw, national-number: 943 476 5919", true},
		{"case-19610303", "id: M-40311, name: Tobias Renshaw, born: 1961-03-03", true},
		{"c-03-03-1961", "id: M-40311, name: Tobias Renshaw, born: 1961-03-03", true},
		{"k7mq-2f9x", "id: M-40311, name: Tobias Renshaw, born: 1961-03-03", false},
		{"a1k7-double-bubble", "id: FIC-0101, name: Ines Calloway", false},
	} {
		text := fmt.Sprintf("case: %s\npatient: {%s}\n", c.id, c.patient)
		r := Read(Source{Name: "c.yaml", Data: []byte(text)}, Options{Now: galleryNow})
		if got := r.Cases[0].Entry.CaseNamesPatient(); got != c.want {
			t.Errorf("%s for {%s}: %v", c.id, c.patient, got)
		}
		checked, err := Check(r.Cases[0], Options{Now: galleryNow}, nil)
		if err != nil {
			t.Fatal(err)
		}
		for _, f := range checked.Findings() {
			if c.want && (f.Case != "" || strings.Contains(f.What+f.Why+f.Fix, c.id)) {
				t.Errorf("%s stands in a finding", c.id)
			}
		}
		if named := checked.DraftID() == c.id; named == c.want {
			t.Errorf("files of %s are named %s", c.id, checked.DraftID())
		}
	}
}

// One hospital number and two persons; a spelling is no person.
func TestNumberOfTwoPersons(t *testing.T) {
	const one = "id: FIC-0201, name: Ines Calloway, born: 1996-03-14"
	for _, c := range []struct {
		other string
		want  bool
	}{
		{"id: FIC-0201, name: Nerys Coldwell, born: 1996-03-14", true},
		{"id: FIC-0201, name: Ines Calloway, born: 1969-03-14", true},
		{"id: fic 0201, name: Nerys Coldwell, born: 1983-04-17", true},
		{"id: FIC-0201, name: \"CALLOWAY, Inès\", born: 1996-03-14", false},
		{"id: FIC-0201, name: Ines Calloway", false},
		{"id: FIC-0202, name: Nerys Coldwell, born: 1983-04-17", false},
	} {
		text := fmt.Sprintf("cases:\n  - {case: k7mq-2f9x, patient: {%s}}\n  - {case: p3vd-8h4c, patient: {%s}}\n", one, c.other)
		r := Read(Source{Name: "c.yaml", Data: []byte(text)}, Options{Now: galleryNow})
		b := NewBatch()
		for _, cs := range r.Cases {
			b.Add(cs)
		}
		for _, cs := range r.Cases {
			checked, err := Check(cs, Options{Now: galleryNow}, b)
			if err != nil {
				t.Fatal(err)
			}
			n := 0
			for _, f := range checked.Findings() {
				if f.Rule == "number-of-two-persons" {
					n++
					if f.Severity != Blocks || len(f.Related) != 1 || !f.Related[0].Pos.Known() {
						t.Errorf("the finding %v does not show the other entry", f)
					}
				}
			}
			if (n == 1) != c.want {
				t.Errorf("{%s}: %d findings", c.other, n)
			}
		}
	}
}
