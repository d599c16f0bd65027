package fhir

import (
	"os"
	"strings"
	"testing"
)

const columns = "concept,side,system,code,display,version,licence_held_by\n"

// A system nobody licenses and one of each licensed kind: CPT, CDT and the others
// by the addresses that HL7 Terminology 7.0.1 registers. XXXXX is no CPT code.
func TestMappingFaults(t *testing.T) {
	for _, c := range []struct{ row, want string }{
		{"dalk,,https://h.example/code,A1,,,", ""},
		{"diagnosis:keratoconus,right," + cm + ",H18.601,,,", ""},
		{"diagnosis:keratoconus,," + cm + ",H18.609,,,", ""},
		{"diagnosis:scar-infective,," + cm + ",H17.89,,,", ""},
		{"dalk,,http://www.ama-assn.org/go/cpt,XXXXX,,,Lindow Eye Unit", ""},
		{"dalk,,http://www.ama-assn.org/go/cpt,XXXXX,,,", "m.csv:2: column licence_held_by"},
		{"dalk,,https://www.ama-assn.org/go/cpt,XXXXX,,,", "column licence_held_by"},
		{"dalk,,urn:oid:2.16.840.1.113883.6.12,XXXXX,,,", "column licence_held_by"},
		{"dalk,,http://snomed.info/sct,1413003,,,", "column licence_held_by"},
		{"dalk,,https://www.isbt128.org/uri/productdescriptioncode,X0001,,,", "column licence_held_by"},
		{"diagnosis:keratoconus,left," + cm + ",H18.601,,,", "name different eyes"},
		{"diagnosis:keratoconus,," + cm + ",H18.602,,,", "name different eyes"},
		{"diagnosis:keratoconus,right," + cm + ",H18.603,,,", "name different eyes"},
		{"diagnosis:keratoconus,right," + cm + ",H18.609,,,", "not specified"},
		{"diagnosis:scar-infective,right," + cm + ",H17.11,,,", ""},
		{"diagnosis:scar-infective,right," + cm + ",H17.12,,,", "name different eyes"},
		{"diagnosis:scar-infective,," + cm + ",H17.12,,,", "name different eyes"},
		{"diagnosis:scar-infective,right," + cm + ",H1712,,,", "name different eyes"},
		{"diagnosis:scar-infective,right,https://hl7.org/fhir/sid/icd-10-cm/,H17.12,,,", "name different eyes"},
		{"diagnosis:bullous-oedema,left,urn:oid:2.16.840.1.113883.6.90,H18.11,,,", "name different eyes"},
		{"diagnosis:bullous-oedema,left," + cm + ",H18.85,,,", "not in the list"},
		{"diagnosis:keratoconus,right,https://h.example/code,K1,Keratoconus of the left eye,,", "column display"},
		{"diagnosis:keratoconus,,https://h.example/code,K1,Keratoconus of the left eye,,", "column display"},
		{"event:macroperforation,left," + cm + ",H59.211,,,", "name different eyes"},
		{"before.k1,,http://snomed.info/sct,8966001,,,x", "inactive"},
		{"nothing,,https://h.example/code,A1,,,", "column concept"},
		{"dalk,both,https://h.example/code,A1,,,", "column side"},
		{"dalk,,local,A1,,,", "column system"},
		{"dalk,,https://h.example/code,,,,", "column code"},
		{"dalk,,https://h.example/code, A1,,,", "blanks at its ends"},
		{"dalk,,https://h.example/code,A1", "m.csv:2: the row has not 7 cells"},
		{"dalk,,\"https://h.example/code,A1,,,", "quotation mark"},
		{"dalk,,https://graftnote.example/fhir/CodeSystem/corneal-graft,dalk,,,", "our own codes"},
		{"dalk,,https://h.example/code,A1,,,\ndalk,,https://h.example/code,A1,,,", "m.csv:3: the same mapping stands in line 2"},
	} {
		m, err := ParseMapping("m.csv", []byte(columns+c.row+"\n"))
		switch {
		case c.want == "" && (err != nil || len(m.rows) != 1):
			t.Errorf("%s: %v", c.row, err)
		case c.want != "" && (err == nil || !strings.Contains(err.Error(), c.want)):
			t.Errorf("%s: %v, want %s", c.row, err, c.want)
		}
	}
	for _, text := range []string{"", "concept,side\n", "a,b,c,d,e,f,g\n", columns + "\xff"} {
		if _, err := ParseMapping("m.csv", []byte(text)); err == nil || !strings.HasPrefix(err.Error(), "m.csv:1: ") {
			t.Errorf("%q: %v", text, err)
		}
	}
	// Every fault is told in one run.
	_, err := ParseMapping("m.csv", []byte(columns+"nothing,,x,,,,\ndalk,up,https://h.example/code,A1,,,\n"))
	if err == nil || strings.Count(err.Error(), "\n") != 3 {
		t.Errorf("faults: %v", err)
	}
}

func sampleMapping(t testing.TB) *Mapping {
	t.Helper()
	b, err := os.ReadFile("../testdata/site/mapping.csv")
	if err != nil {
		t.Fatal(err)
	}
	m, err := ParseMapping("mapping.csv", b)
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// The mapped code of the operated eye comes last, and a kind maps its kinds.
func TestMappingInTheBundle(t *testing.T) {
	m := sampleMapping(t)
	b := imported(t, whole(t, "01-double-bubble.yaml"), func(o *Options) { o.Mapping = m })
	wants(t, codesOf(object{"x": named(t, b, "Condition", "diagnosis")["code"]}), "diagnosis:keratoconus", "65636009", "H18.601")
	wants(t, codesOf(object{"x": named(t, b, "Procedure", "procedure")["code"]}), "dalk-double-bubble", "60656008", "LEU-LK-1")
	b = imported(t, whole(t, "06-conversion.yaml"), func(o *Options) { o.Mapping = m })
	wants(t, codesOf(object{"x": named(t, b, "Condition", "diagnosis")["code"]}), "diagnosis:keratoconus", "65636009", "H18.602")
	wants(t, codesOf(object{"x": named(t, b, "Procedure", "procedure")["code"]}), "pk-conversion", "42101009", "LEU-PK-2")
}

func FuzzParseMapping(f *testing.F) {
	f.Add([]byte(columns + "dalk,,https://h.example/code,A1,,,\n"))
	f.Add([]byte("\ufeff# note\n" + columns + "diagnosis:keratoconus,left,http://hl7.org/fhir/sid/icd-10-cm,H18.602,\"a, b\",2026,\n"))
	f.Add([]byte(columns + "\"\n,"))
	f.Fuzz(func(t *testing.T, b []byte) {
		m, err := ParseMapping("m.csv", b)
		if err != nil {
			for _, line := range strings.Split(err.Error(), "\n") {
				if !strings.HasPrefix(line, "m.csv:") {
					t.Errorf("a fault without its line: %q", line)
				}
			}
			return
		}
		for _, r := range m.rows {
			if terms().licence(r.system) != "" && r.holder == "" {
				t.Errorf("a licensed code without its licence holder: %+v", r)
			}
			if _, err := encode(mustTree(t, r.coding()).(object)); err != nil {
				t.Error(err)
			}
		}
	})
}
