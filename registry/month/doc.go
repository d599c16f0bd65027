// Package month makes the month-end submission to a registry: one package of
// plain files that identifies no patient and says exactly what is in it and what
// is not.
//
// The rows that should stand at the registry after the package are worked out
// first, from every operation of the casebook, and protected as one set
// (registry/disclosure), because packages add up. The package then carries the
// difference to what the registry has accepted: new, corrected and withdrawn
// rows, each with its key, its revision, the reason and the revision it replaces.
// A registry that loads the packages, in order or twice, ends in the same state.
//
// The package has no clock, no randomness and no file of its own: they are handed
// in. Nothing is put on the disk here; Package.Write asks the caller for each file.
//
// It must not know about the casebook, pages or FHIR.
package month
