// Package fhir writes a complete, checked entry as HL7 FHIR R4 (4.0.1): a
// transaction Bundle for import and a document Bundle for exchange.
//
// It knows the checked entry (schema) and the words of the note (note), nothing
// of pages, registries or files. Codes, sections, roles and what each field
// becomes stand in data/; the Go code holds the mechanics of a bundle.
//
// What the bundles promise: only published codes that were seen in a named
// source, and our own CodeSystem where there is none; licensed or local codes
// only from a mapping file that names the licence holder; no identity twice;
// every reference resolves; the same entry gives the same bytes; no patient
// identifier in any urn:uuid.
package fhir
