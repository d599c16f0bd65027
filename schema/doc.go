// Package schema knows what an operation entry is: its fields, their units and
// limits, the code lists, the rules, and how to read a file into typed answers
// with a position for each. It is the only maker of a Checked entry, and the
// exporters accept nothing else.
//
// It must not know about pages, FHIR, registries, terminals or the clock: now
// and the font coverage are handed in.
//
// The rows in data/ are the single source. Run "go generate ./..." after
// changing fields.yaml: it rewrites the Go types, the JSON Schema and the docs.
package schema

//go:generate go run ./gen
