package casebook

import "golang.org/x/mod/sumdb/tlog"

// Growth shows that a later checkpoint continues an earlier one: nothing before
// was changed, moved or removed (RFC 6962 section 2.1.2).
type Growth struct {
	Old    string      `json:"old"`
	New    string      `json:"new"`
	Hashes []tlog.Hash `json:"hashes"`
	Keys   []PublicKey `json:"keys"`
}

// VerifyGrowth checks both checkpoints' signatures and that the newer tree starts
// with the older one. With trusted keys both must be signed under those. The
// error is a Fault.
func VerifyGrowth(g Growth, trust Trust) error {
	known := g.Keys
	if len(trust.Keys) > 0 {
		known = trust.Keys
	}
	keys, err := newRegister(known)
	if err != nil {
		return Fault{UnknownKey, -1, "", "a key is malformed"}
	}
	old, err := openCheckpoint(g.Old, keys)
	if err != nil {
		return err
	}
	now, err := openCheckpoint(g.New, keys)
	if err != nil {
		return err
	}
	return grown(old, now, g.Hashes)
}

// grown compares two checkpoints by the hashes of a consistency proof.
func grown(old, now Checkpoint, hashes []tlog.Hash) error {
	switch {
	case old.Casebook != now.Casebook:
		return Fault{OtherCasebook, -1, "", "the checkpoints belong to two casebooks"}
	case old.Size > now.Size:
		return Fault{RolledBack, now.Size, "", "the casebook once held more statements than now"}
	case old.Size == now.Size:
		if old.Root != now.Root {
			return Fault{Forked, -1, "", "two checkpoints of the same size differ"}
		}
		return nil
	}
	if tlog.CheckTree(hashes, now.Size, now.Root, old.Size, old.Root) != nil {
		return Fault{Forked, -1, "", "the later checkpoint does not continue the earlier one"}
	}
	return nil
}
