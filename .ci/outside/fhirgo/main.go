// Command fhirgo parses FHIR R4 JSON files with github.com/google/fhir/go, a
// reader written independently of the model the product uses. It rejects
// missing required elements, unknown elements, wrong types, codes outside
// required value sets and references to the wrong kind of resource.
//
//	go run . FILE...
//	go run . -selftest
package main

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"

	"github.com/google/fhir/go/fhirversion"
	"github.com/google/fhir/go/jsonformat"
)

func main() {
	args := os.Args[1:]
	if len(args) == 0 {
		fmt.Fprintln(os.Stderr, "no file given: nothing was checked")
		os.Exit(2)
	}
	um, err := jsonformat.NewUnmarshaller("UTC", fhirversion.R4)
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(2)
	}
	if args[0] == "-selftest" {
		os.Exit(selftest(um))
	}
	bad := 0
	for _, name := range args {
		data, err := os.ReadFile(name)
		if err == nil {
			_, err = um.Unmarshal(data)
		}
		if err != nil {
			bad++
			fmt.Printf("FAIL %s: %v\n", filepath.Base(name), err)
			continue
		}
		fmt.Printf("ok   %s\n", filepath.Base(name))
	}
	fmt.Printf("%d files, %d refused\n", len(args), bad)
	if bad > 0 {
		os.Exit(1)
	}
}

// selftest: the valid fixture must pass; each single change must be refused.
func selftest(um *jsonformat.Unmarshaller) int {
	valid, err := os.ReadFile(filepath.Join("..", "fhir", "fixtures", "valid.bundle.json"))
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		return 2
	}
	passed, failed := 0, 0
	judge := func(name string, ok bool, detail any) {
		if ok {
			passed++
			return
		}
		failed++
		fmt.Printf("selftest: %s: %v\n", name, detail)
	}
	_, err = um.Unmarshal(valid)
	judge("valid bundle", err == nil, err)
	for _, c := range []struct{ name, old, new string }{
		{"status outside event-status", `"status": "completed"`, `"status": "done"`},
		{"status missing", `"status": "completed",`, ``},
		{"unknown element", `"status": "completed"`, `"status": "completed", "surgeon": "x"`},
		{"date in local form", `"birthDate": "1990-02-03"`, `"birthDate": "03/02/1990"`},
		{"time without zone", `"2026-01-02T09:00:00+00:00"`, `"2026-01-02T09:00:00"`},
		{"quantity as string", `"value": 8.5`, `"value": "8.5"`},
		{"resource type", `"resourceType": "Procedure"`, `"resourceType": "Operation"`},
		{"not JSON", `{`, `[`},
	} {
		broken := bytes.Replace(valid, []byte(c.old), []byte(c.new), 1)
		if bytes.Equal(broken, valid) {
			judge(c.name, false, "the change found no place")
			continue
		}
		_, err := um.Unmarshal(broken)
		judge(c.name, err != nil, "accepted")
	}
	fmt.Printf("fhirgo selftest: %d passed, %d failed\n", passed, failed)
	if failed > 0 {
		return 1
	}
	return 0
}
