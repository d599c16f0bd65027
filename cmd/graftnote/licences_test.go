package main

import (
	"os"
	"os/exec"
	"regexp"
	"strings"
	"testing"
)

// The notices name every module that is linked here, in the version of go.mod, each
// with a text, and the owners of codes and fonts. 'go generate ./...' makes them anew.
func TestNoticesAreCurrent(t *testing.T) {
	listed := map[string]bool{}
	for _, m := range regexp.MustCompile(`(?m)^\* (\S+ v\S+)$`).FindAllStringSubmatch(thirdParty, -1) {
		listed[m[1]] = true
	}
	out, err := exec.Command("go", "list", "-deps", "-f", "{{with .Module}}{{if not .Main}}{{.Path}} {{.Version}}{{end}}{{end}}", ".").Output()
	if err != nil {
		t.Fatal(err)
	}
	linked := map[string]bool{}
	for l := range strings.Lines(string(out)) {
		linked[strings.TrimSuffix(l, "\n")] = true
	}
	if len(linked) < 30 {
		t.Fatalf("only %d modules", len(linked))
	}
	for m := range linked {
		if !listed[m] || !strings.Contains(thirdParty, "\n"+m+": ") {
			t.Errorf("%s is linked and not listed with its licence", m)
		}
	}
	mod, err := os.ReadFile("../../go.mod")
	if err != nil {
		t.Fatal(err)
	}
	for m := range listed {
		if !strings.Contains(string(mod), "\t"+m+"\n") && !strings.Contains(string(mod), "\t"+m+" // indirect\n") {
			t.Errorf("%s is listed and not in go.mod in this version", m)
		}
	}
	for _, owner := range []string{"https://loinc.org/license", "SNOMED International", "https://ucum.org/license", "HL7 FHIR", "SIL OPEN FONT LICENSE", "The FreeType Project LICENSE", "The Go standard library and runtime: LICENSE"} {
		if !strings.Contains(thirdParty, owner) {
			t.Errorf("nothing says %q", owner)
		}
	}
}
