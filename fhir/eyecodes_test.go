package fhir

import (
	"os"
	"regexp"
	"strings"
	"testing"
)

const cm = "http://hl7.org/fhir/sid/icd-10-cm"

// eyeOf reads the eye out of the words of a code, independently of the script
// that made the table: "normal vision left eye" says that the left eye is well.
func eyeOf(words string) string {
	words = strings.ToLower(words)
	words = regexp.MustCompile(`normal vision (right|left) eye`).ReplaceAllString(words, "")
	right, left := strings.Contains(words, "right"), strings.Contains(words, "left")
	switch {
	case strings.Contains(words, "bilateral"), strings.Contains(words, "both"), right && left:
		return "both"
	case right:
		return "right"
	}
	return "left"
}

// Every code of the published list whose words name an eye, against each side.
// Source: ICD-10-CM, April 2026, through the package simple-icd-10-cm 1.5.0.
func TestCodeOfTheOtherEyeNeverGoesOut(t *testing.T) {
	b, err := os.ReadFile("testdata/icd10cm-eyes.tsv")
	if err != nil {
		t.Fatal(err)
	}
	n := 0
	for _, line := range strings.Split(string(b), "\n") {
		code, words, ok := strings.Cut(line, "\t")
		if !ok {
			continue
		}
		n++
		eye := eyeOf(words)
		for _, side := range []string{"right", "left", ""} {
			for _, written := range []string{code, strings.ReplaceAll(code, ".", "")} {
				refused := mapped{side: side, system: cm, code: written}.eyeFault(terms()) != nil
				if refused != (side != eye) {
					t.Errorf("%s %q in a row of side %q: refused %v", written, words, side, refused)
				}
			}
		}
	}
	if n < 2600 {
		t.Errorf("only %d codes were tried", n)
	}
}

// The groups with the eye in the second digit after the point, codes that name
// no eye, and codes that the list does not hold.
func TestEyeOfCodes(t *testing.T) {
	c := terms().EyeCodes[0]
	for code, want := range map[string]string{
		"H17.12": "left", "h17.12": "left", "H1712": "left", "H18.11": "right", "H17.03": "both", "H18.10": eyeUnspecified,
		"H18.602": "left", "H17.89": eyeNone, "H18.20": eyeNone, "H18.6": eyeNone, "H18": eyeNone, "T86.8402": "left",
		"H40.1123": "left", "S05.01XA": "right", "H18.8": eyeNone, "H17.2": eyeUnlisted, "H18.85": eyeUnlisted, "I10": eyeNone,
	} {
		if got := c.eye(code); got != want {
			t.Errorf("%s: %s, want %s", code, got, want)
		}
	}
}
