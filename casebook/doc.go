// Package casebook keeps signed notes so that each can be proved unchanged years
// later.
//
// Every act on a case (signing, counter-signing, correcting, adding, withdrawing)
// and every act on a key is a Statement: canonical JSON (RFC 8785) under an
// Ed25519 signature (RFC 8032). Statements are the leaves of one append-only
// Merkle tree (RFC 6962, by golang.org/x/mod/sumdb/tlog). After each statement a
// checkpoint of the tree is signed too; whoever holds one can later tell that
// nothing before it was changed, moved or removed.
//
// A case is the chain of its statements. Nothing is overwritten: a correction is
// a new statement beside the old one.
//
// The package holds no clock, no randomness, no terminal and no environment; the
// caller hands them in. Error texts carry no entered value.
package casebook
