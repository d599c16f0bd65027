package casebook

import (
	"cmp"
	"slices"

	"golang.org/x/mod/sumdb/tlog"
)

// chain judges a statement as a link of its case, and at the case's newest
// statement the case as a whole.
func (a *auditor) chain(i *item) error {
	st := i.st
	if st.Revision == 1 {
		a.firsts++
	} else if ok, err := a.continues(st); err != nil {
		return err
	} else if !ok {
		a.report.fault(Fault{BrokenChain, i.index, i.caseID, "it does not continue the preceding revision of the case"})
	}
	if i.file.LastIndex < i.index {
		a.report.fault(Fault{WrongIndex, i.index, i.caseID, "the list does not know this revision"})
		return nil
	}
	if i.file.LastIndex != i.index {
		return nil
	}
	row, err := i.row, i.rowErr
	if st.Revision > 1 {
		row, err = a.replay(i)
	}
	a.events += int64(len(row.events()))
	if err != nil || row != i.file {
		a.report.fault(Fault{WrongIndex, i.index, i.caseID, "the list says otherwise than the signed statements"})
	}
	return nil
}

// continues looks at the preceding revision's leaf.
func (a *auditor) continues(st *Statement) (bool, error) {
	var at int64
	found, err := a.x.one("SELECT idx FROM leaf WHERE case_id = ? AND revision = ?", []any{st.chain(), st.Revision - 1}, &at)
	if err != nil || !found || at >= st.Sequence {
		return false, err
	}
	var b []byte
	if found, err = a.x.one(queryHash, []any{tlog.StoredHashIndex(0, at)}, &b); err != nil || !found || len(b) != tlog.HashSize {
		return false, err
	}
	return tlog.Hash(b).String() == st.Previous, nil
}

// replay goes through all statements of a case and judges each by those before.
func (a *auditor) replay(i *item) (caseRow, error) {
	list, err := loadChain(a.x, i.caseID)
	if err != nil {
		return caseRow{}, err
	}
	var row caseRow
	var entry []byte
	for _, r := range list {
		s := r.Statement
		fault := func(kind FaultKind, what string) { a.report.fault(Fault{kind, s.Sequence, s.Case, what}) }
		if row.State == StateWithdrawn {
			fault(NotAllowed, "the case was withdrawn before")
		}
		if s.Kind == CounterSigned && row.State != StateAwaiting {
			fault(NotAllowed, "no counter-signature was awaited")
		}
		if !s.CarriesEntry() && s.EntrySHA256 != row.EntryHash {
			fault(EditedEntry, "the statement was signed on another entry of the case")
		}
		if s.Kind == Corrected {
			if changes, err := Changes(entry, s.Entry); err != nil || !sameChanges(changes, s.Changes) {
				fault(EditedEntry, "the signed changes are not those between the two entries")
			}
		}
		if s.CarriesEntry() {
			entry = s.Entry
		}
		if row, err = row.after(s); err != nil {
			return row, err
		}
	}
	return row, nil
}

// sameChanges compares without the order: a later dictionary may order the
// fields otherwise.
func sameChanges(a, b []Change) bool {
	byPath := func(x, y Change) int { return cmp.Compare(x.Path, y.Path) }
	return slices.Equal(slices.SortedFunc(slices.Values(a), byPath), slices.SortedFunc(slices.Values(b), byPath))
}
