// Package registry makes the de-identified registry row: one row for each
// operated eye, as RFC 4180 CSV with its Table Schema and its dictionary page.
//
// A row is built from an allow-list, never by striking out. A column exists only
// because a row of the dictionary names it (fields.yaml, derived.yaml) or
// columns.yaml computes it, and no free text, full date, clock time or
// identifying number can be named there: the package refuses to start. Rows are
// pseudonymised, not anonymous; whether one may be released is the
// controller's decision.
//
// It must not know about pages, FHIR, files or the clock.
package registry

//go:generate go run ./gen
