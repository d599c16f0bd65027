// Package ident reads the identifiers of tissue, device and patient, each by
// its published rule: the ISBT 128 donation number, the Single European Code,
// the NHS number, the GTIN and the GS1 device identifier.
//
// It knows layouts and check digits only. It does not know what an entry is,
// where an identifier was typed, whether a missing one matters, or today's
// date; a caller that needs the current year passes it in.
//
// A check character is a typing check. It shows that the characters agree with
// one another. It proves nothing about the existence of a donation, a device or
// a person, and no text of this package says more than that. Nothing is ever
// repaired: a number that does not read is refused, and a likely reading is
// offered only as private text beside the refusal.
package ident
