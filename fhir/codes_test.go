package fhir

import (
	"regexp"
	"slices"
	"strings"
	"testing"

	"graftnote/schema"
)

// LOINC check digit: Luhn's scheme, mod 10, from the right every second digit
// doubled (LOINC Users' Guide, check digit; Luhn, US patent 2950048).
func luhn(code string) bool {
	digits, check, ok := strings.Cut(code, "-")
	if !ok || len(check) != 1 {
		return false
	}
	sum := 0
	for i := range digits {
		d := int(digits[len(digits)-1-i] - '0')
		if i%2 == 0 {
			if d *= 2; d > 9 {
				d -= 9
			}
		}
		sum += d
	}
	return (10-sum%10)%10 == int(check[0]-'0')
}

// SNOMED CT check digit: Verhoeff's dihedral scheme (Verhoeff, Error detecting
// decimal codes, 1969; used by SNOMED CT identifiers, RF2 specification).
func verhoeff(code string) bool {
	mul := [10]string{"0123456789", "1234067895", "2340178956", "3401289567", "4012395678", "5987604321", "6598710432", "7659821043", "8765932104", "9876543210"}
	perm := [8]string{"0123456789", "1576283094", "5803796142", "8916043527", "9453126870", "4286573901", "2793806415", "7046913258"}
	c := byte('0')
	for i := range code {
		d := code[len(code)-1-i]
		c = mul[c-'0'][perm[i%8][d-'0']-'0']
	}
	return c == '0'
}

func TestCheckDigits(t *testing.T) {
	// The schemes themselves, on the examples of their own publications:
	// LOINC 2951-2 (sodium) is the guide's example, 236 gives the Verhoeff digit 3.
	if !luhn("2951-2") || luhn("2951-3") || !verhoeff("2363") || verhoeff("2364") {
		t.Fatal("the check in this test is wrong")
	}
	for key, c := range terms().codes {
		switch {
		case strings.HasPrefix(key, "loinc:") && !luhn(c.code):
			t.Errorf("%s: check digit", key)
		case strings.HasPrefix(key, "sct:") && !verhoeff(c.code):
			t.Errorf("%s: check digit", key)
		}
	}
}

// The Global Patient Set names each concept by its fully specified name, which
// ends in a semantic tag (GPS release 20200930).
func TestSnomedDisplaysAreFullySpecified(t *testing.T) {
	tag := regexp.MustCompile(` \((procedure|disorder|situation|body structure|physical object|substance|occupation|observable entity)\)$`)
	n := 0
	for key, c := range terms().codes {
		if strings.HasPrefix(key, "sct:") {
			n++
			if !tag.MatchString(c.display) {
				t.Errorf("%s: %q has no semantic tag", key, c.display)
			}
		}
	}
	if n < 20 {
		t.Errorf("only %d SNOMED CT codes were looked at", n)
	}
}

// SNOMED CT retired "left/right eye structure"; CPT may not be shipped (its owner's
// licence terms).
func TestNoForbiddenCodesInShippedData(t *testing.T) {
	for _, c := range terms().codes {
		if c.code == "8966001" || c.code == "18944008" || terms().licence(c.system) != "" && c.system != "http://snomed.info/sct" {
			t.Errorf("%s %s is shipped", c.system, c.code)
		}
	}
}

// Every field of the entry's dictionary has its row, and no row is left over.
func TestEveryFieldHasADestination(t *testing.T) {
	kinds := []string{"observation", "fellow", "component", "value", "beside", "method", "effective", "element", "narrative", "withheld"}
	left := map[string]bool{}
	for p := range terms().fields {
		left[p] = true
	}
	for _, g := range schema.Content().Groups {
		for _, r := range g.Fields {
			f := terms().fields[r.Path()]
			if f == nil {
				t.Errorf("%s has no row in fields.tsv", r.Path())
				continue
			}
			delete(left, r.Path())
			if !slices.Contains(kinds, f.as) || f.where == "" {
				t.Errorf("%s: as %q, where %q", r.Path(), f.as, f.where)
			}
			if _, measured := r.Dimension(); measured && !slices.Contains(kinds[:5], f.as) && g.Key != "plan" && r.Path() != "patient.stated-age" {
				t.Errorf("%s is measured and goes nowhere", r.Path())
			}
		}
	}
	for p := range left {
		t.Errorf("fields.tsv has %s, the dictionary has not", p)
	}
}

// A LOINC code that names one eye is never used without the code of the other.
func TestEyeCodesComeInPairs(t *testing.T) {
	n := 0
	for p, f := range terms().fields {
		if len(f.eyes) == 0 {
			continue
		}
		n++
		right, left := terms().codes[f.eyes["right"]], terms().codes[f.eyes["left"]]
		if strings.Replace(right.display, "Right", "Left", 1) != left.display {
			t.Errorf("%s: %q and %q are no pair", p, right.display, left.display)
		}
	}
	if n == 0 {
		t.Error("no pair was looked at")
	}
}

// HL7 Operative Note (C-CDA on FHIR, profile Operative-Note): these eight are
// 1..1; ours adds indication and implants.
func TestRequiredSections(t *testing.T) {
	var got []string
	for _, s := range terms().Sections {
		if s.Required {
			got = append(got, strings.TrimPrefix(s.Code, "loinc:"))
		}
	}
	slices.Sort(got)
	wants(t, got, "10218-6", "10219-4", "29554-3", "55109-3", "59768-2", "59770-8", "59771-6", "59773-2", "59774-0", "59776-5")
}

// R4 CodeSystem: complete, every concept once, count right, each with its words.
func TestCodeSystem(t *testing.T) {
	b, err := CodeSystem()
	if err != nil {
		t.Fatal(err)
	}
	cs := tree(t, b)
	if cs["content"] != "complete" || cs["caseSensitive"] != true || cs["version"] == "" || cs["url"] != terms().own.URL {
		t.Errorf("head of the code system: %v %v %v", cs["content"], cs["caseSensitive"], cs["url"])
	}
	seen := map[string]bool{}
	walk(cs["concept"], func(k string, v any) {
		code, ok := v.(string)
		if k != "code" || !ok {
			return
		}
		// FHIR R4, primitive type code: no blanks at the ends or doubled.
		if seen[code] || !fhirCode.MatchString(code) {
			t.Errorf("%q twice or no code", code)
		}
		seen[code] = true
	})
	if n, _ := cs["count"].(interface{ Int64() (int64, error) }).Int64(); int(n) != len(seen) {
		t.Errorf("count %d, concepts %d", n, len(seen))
	}
	for _, c := range []string{"dalk", "dalk-double-bubble", "pk-conversion", "event:microperforation", "trephination.host-diameter"} {
		if !seen[c] {
			t.Errorf("no concept %s", c)
		}
	}
	if !strings.Contains(string(b), "Source: ") {
		t.Error("no source in a definition")
	}
}
