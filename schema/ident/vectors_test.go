package ident

import (
	"encoding/json"
	"os"
	"strings"
	"testing"
)

// Every row of the file was worked out by python-stdnum, a general-purpose
// library; its version stands in the file's first line. The continuous build
// writes the file again and compares it with the committed one.
func TestAgainstVectorsFile(t *testing.T) {
	data, err := os.ReadFile("testdata/stdnum_vectors.tsv")
	if err != nil {
		t.Fatal(err)
	}
	lines := strings.Split(strings.TrimSuffix(string(data), "\n"), "\n")
	if len(lines) < 3 || !strings.HasPrefix(lines[0], "# python-stdnum ") || lines[1] != "kind\tinput\tresult" {
		t.Fatal("the header does not name the library or the columns")
	}
	verdict := func(p *Problem) string {
		if p != nil {
			return "invalid"
		}
		return "valid"
	}
	checks := map[string]func(string) string{
		"mod37_2": func(s string) string {
			return string(mustMod37(t, s))
		},
		"gs1_digit": func(s string) string {
			c, err := GS1CheckDigit(s)
			if err != nil {
				return err.Error()
			}
			return string(c)
		},
		"gtin": func(s string) string { return verdict(second(ParseGTIN(s))) },
		"nhs":  func(s string) string { return verdict(second(ParseNHSNumber(s))) },
		"gs1_elements": func(s string) string {
			d, p := ParseDeviceIdentifier(strings.ReplaceAll(s, "<GS>", groupSeparator), year)
			if p != nil {
				return p.Error()
			}
			return strings.Join([]string{d.GTIN, d.Lot, d.Serial, d.Production, d.Expiry}, "|")
		},
	}
	rows := map[string]int{}
	for i, line := range lines[2:] {
		f := strings.Split(line, "\t")
		if len(f) != 3 || checks[f[0]] == nil {
			t.Fatalf("line %d is not a row", i+3)
		}
		rows[f[0]]++
		if got := checks[f[0]](f[1]); got != f[2] {
			t.Errorf("%s %s: %s, the library says %s", f[0], f[1], got, f[2])
		}
	}
	for kind := range checks {
		if rows[kind] != 80 {
			t.Errorf("%d rows of %s, want 80", rows[kind], kind)
		}
	}
}

// No public text may carry any part of what was entered (own privacy rule): the
// entered texts are built from marks that no message contains.
func TestProblemsKeepTheTextPrivate(t *testing.T) {
	const mark = "QZX7"
	texts := []string{
		mark, "A9" + mark + "5O000001", "A9999 15 00" + mark, "A9999 15 000001 " + mark[:2], "G1234 98 " + mark + "21 H",
		"SEC GB" + mark + "01G123498654321 D012345600020261231", "GB" + mark + "01G123498654321 A0123456000202612O1",
		"SEC GB000001G123498654321 A01234560002026" + mark,
		"(01)" + mark, "(01)08904000210037(10)" + mark + " x", "(01)08904000210037(10)" + mark + "(10)y", "01" + mark + "1234567890",
		"(" + mark + ")", "943 476 " + mark,
	}
	refused := 0
	for _, text := range texts {
		for _, p := range []*Problem{
			second(ParseDonationNumber(text)), second(ParseEuropeanCode(text)), second(ParseNHSNumber(text)),
			second(ParseGTIN(text)), second(ParseDeviceIdentifier(text, year)),
		} {
			if p == nil {
				continue
			}
			refused++
			public, err := json.Marshal(p)
			if err != nil {
				t.Fatal(err)
			}
			if all := string(public) + p.Error(); strings.Contains(strings.ToUpper(all), mark) {
				t.Errorf("%q leaks into %s", text, all)
			}
			if p.What == "" || p.Why == "" || p.Fix == "" {
				t.Errorf("%q: a part is missing: %s", text, public)
			}
		}
	}
	if refused < 60 {
		t.Errorf("only %d refusals seen", refused)
	}
	p := second(ParseDonationNumber("A9999 15 O00001"))
	public, err := json.Marshal(p)
	if err != nil || len(p.Readings) != 1 || strings.Contains(string(public), "A9999") {
		t.Errorf("readings reach JSON: %s, %v", public, err)
	}
}
