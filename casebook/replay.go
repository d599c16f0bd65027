package casebook

// Replay makes the history of a case from the proofs of all its revisions, the
// oldest first, for a reader who has no casebook. It says where the case stands
// after the last one. It demands that the proofs are one unbroken chain, and
// verifies no signature: that is VerifyProof's. The error is a Fault.
func Replay(proofs []Proof) (History, error) {
	var h History
	var row caseRow
	for i, p := range proofs {
		s, err := ParseStatement(p.Statement)
		if err != nil {
			return History{}, Fault{BadStatement, p.Index, "", "the statement cannot be read"}
		}
		r := Revision{Statement: s, Raw: p.Statement, Signature: p.Signature, Leaf: LeafHash(p.Statement, p.Signature), Checkpoint: p.Checkpoint, Document: p.Document}
		switch {
		case s.Case == "":
			return History{}, Fault{BrokenChain, p.Index, "", "a statement about a key stands among those of a case"}
		case s.ofFollowUps():
			return History{}, Fault{BrokenChain, p.Index, s.Case, "a follow-up stands among the revisions of the note"}
		case i > 0 && s.Case != h.Case:
			return History{}, Fault{BrokenChain, p.Index, h.Case, "the statement belongs to another case"}
		case s.Revision != i+1:
			return History{}, Fault{BrokenChain, p.Index, s.Case, "a revision is missing or stands in another order"}
		case i > 0 && s.Previous != h.Revisions[i-1].Leaf.String():
			return History{}, Fault{BrokenChain, p.Index, s.Case, "the revision does not continue the one before"}
		case i > 0 && (s.Casebook != h.Revisions[i-1].Statement.Casebook || s.Sequence <= h.Revisions[i-1].Statement.Sequence):
			return History{}, Fault{BrokenChain, p.Index, s.Case, "the revision stands elsewhere in the log"}
		}
		if row, err = row.after(s); err != nil {
			return History{}, Fault{BadStatement, p.Index, s.Case, "the entry cannot be read"}
		}
		h.Case, h.State = s.Case, row.State
		h.Revisions = append(h.Revisions, r)
	}
	if len(h.Revisions) == 0 {
		return History{}, Fault{BrokenChain, -1, "", "there is no revision"}
	}
	// An act that carries no entry is about the one in force.
	inForce := ""
	for _, r := range h.Revisions {
		if s := r.Statement; s.CarriesEntry() {
			inForce = s.EntrySHA256
		} else if s.EntrySHA256 != inForce {
			return History{}, Fault{BrokenChain, s.Sequence, h.Case, "the act is about another entry"}
		}
	}
	return h, nil
}
