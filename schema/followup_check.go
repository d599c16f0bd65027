package schema

import (
	"errors"
	"maps"
	"strings"
)

// CheckedFollowup is a follow-up document with everything that was found about
// it against the signed operation. Only this package makes one: what is signed
// and sent is never unchecked.
type CheckedFollowup struct {
	head      Followup
	entry     *Entry
	own       int
	index     string
	findings  []Finding
	file      string
	canonical []byte
	made      bool
}

// ErrNotFollowup says that the bytes are not the canonical form of a follow-up,
// or that the operation it was checked against is not a checked one.
var ErrNotFollowup = errors.New("schema: not the canonical form of a follow-up")

// Valid reports that the value came from CheckFollowup or SealedFollowup.
func (c CheckedFollowup) Valid() bool { return c.made }

// Case is the case identifier of the operation.
func (c CheckedFollowup) Case() string { return c.head.Case.Value() }

// EnteredBy is the printed name and the role of whoever entered the document.
func (c CheckedFollowup) EnteredBy() (name string, role Code) {
	return c.head.Name.Value(), c.head.Role.Value()
}

// RefusesRegistry reports that the patient took the consent to the registry back.
func (c CheckedFollowup) RefusesRegistry() bool { return c.head.Consent.Is("no") }

// Visits is the number of visits of this document.
func (c CheckedFollowup) Visits() int { return c.own }

// Entry is the operation's entry with the visits of this document first, then
// those that the entry itself and earlier follow-ups held. It must not be
// changed. Computed values of a visit (months since surgery) are those of a View
// of this entry at the visit's number.
func (c CheckedFollowup) Entry() *Entry { return c.entry }

// IndexDigest is the digest of the operation's entry that it was checked against.
func (c CheckedFollowup) IndexDigest() string { return c.index }

// Findings are all findings in reading order.
func (c CheckedFollowup) Findings() []Finding { return c.findings }

// File is the file as the user named it.
func (c CheckedFollowup) File() string { return c.file }

// Complete reports that nothing blocks.
func (c CheckedFollowup) Complete() bool { return c.made && len(c.Gaps()) == 0 }

// Gaps are the findings that block.
func (c CheckedFollowup) Gaps() []Finding { return Checked{findings: c.findings}.Gaps() }

// Canonical is the document as RFC 8785 canonical JSON; reading it gives the same
// document again.
func (c CheckedFollowup) Canonical() []byte { return c.canonical }

// Digest is the SHA-256 of the canonical document, in hex.
func (c CheckedFollowup) Digest() string { return Checked{canonical: c.canonical}.Digest() }

// CheckFollowup checks a document against the signed operation that it names and
// the follow-ups recorded before (without the one that it replaces), and seals
// it. The document itself is not changed.
func CheckFollowup(f *Followup, index Checked, earlier []CheckedFollowup, o Options) (CheckedFollowup, error) {
	if !index.Valid() {
		return CheckedFollowup{}, ErrNotFollowup
	}
	before := visitsBefore(index, earlier)
	entry := f.merge(index.Entry(), before)
	c := &followupChecker{f: f, index: index, own: len(f.entry.Visits), o: o, collector: newCollector()}
	if f.Case.Recorded() && (f.Case.Value() == index.ID() || !f.NamesPatient() && !f.names(index.Entry())) {
		c.caseID = f.Case.Value()
	}
	for _, found := range f.findings {
		found.Case = c.caseID
		c.push(found)
	}
	c.required()
	c.agree()
	c.visits(entry, f.without(index.Entry(), before))
	findings := withoutEchoes(c.findings)
	Sort(findings)
	canonical, err := f.canonicalise()
	if err != nil {
		return CheckedFollowup{}, err
	}
	return CheckedFollowup{head: *f, entry: entry, own: c.own, index: index.Digest(), findings: findings, file: f.At.File, canonical: canonical, made: true}, nil
}

// SealedFollowup opens the canonical bytes of a document that was checked and
// signed before, beside the entry in force of its operation. It is not judged
// again.
func SealedFollowup(canonical []byte, index Checked, o Options) (CheckedFollowup, error) {
	c, err := StoredFollowup(canonical, index, o)
	if err != nil {
		return CheckedFollowup{}, err
	}
	again, err := c.head.canonicalise()
	if err != nil {
		return CheckedFollowup{}, err
	}
	if string(again) != string(canonical) {
		return CheckedFollowup{}, ErrNotFollowup
	}
	return c, nil
}

// StoredFollowup is to SealedFollowup what Stored is to Sealed.
func StoredFollowup(canonical []byte, index Checked, o Options) (CheckedFollowup, error) {
	d, err := sealedDocument("follow-up.json", canonical)
	if err != nil || !index.Valid() {
		return CheckedFollowup{}, ErrNotFollowup
	}
	r := reader{collector: newCollector(), doc: d, o: o}
	f := r.followup()
	if len(f.findings) > 0 {
		return CheckedFollowup{}, ErrNotFollowup
	}
	return CheckedFollowup{head: *f, entry: f.merge(index.Entry(), visitsBefore(index, nil)), own: len(f.entry.Visits), index: index.Digest(), file: f.At.File, canonical: canonical, made: true}, nil
}

// visitsBefore are the visits that the operation's entry and earlier follow-ups
// hold.
func visitsBefore(index Checked, earlier []CheckedFollowup) []Visit {
	out := append([]Visit(nil), index.Entry().Visits...)
	for _, e := range earlier {
		out = append(out, e.entry.Visits[:e.own]...)
	}
	return out
}

// merge gives the operation's entry with the document's visits first. The places
// are the document's: a finding never points into the signed entry.
func (f *Followup) merge(index *Entry, before []Visit) *Entry {
	e := f.without(index, before)
	e.Visits = append(append([]Visit(nil), f.entry.Visits...), before...)
	return e
}

// without is the same entry as it stood before the document.
func (f *Followup) without(index *Entry, before []Visit) *Entry {
	e := *index
	e.Visits = before
	e.places = f.entry.places
	e.lists = maps.Clone(index.lists)
	e.lists["visits"] = f.entry.lists["visits"]
	return &e
}

// canonicalise writes the document as JSON whose values are texts. What the
// operation's entry says is not in it.
func (f *Followup) canonicalise() ([]byte, error) {
	top := map[string]any{"graftnote": formatVersion}
	for _, g := range Content().FollowupForm() {
		if g.Many != "" {
			canonicalList(f.entry, g, top)
		}
		for item := range max(1, f.entry.Count(g.Key)) {
			if g.Many != "" && item >= f.entry.Count(g.Key) {
				break
			}
			for _, r := range g.Fields {
				v := canonicalValue(f.slot(g, r, item))
				if v == nil || r.Path() == "graftnote" {
					continue
				}
				canonicalInto(top, g, item)[r.Key] = v
			}
		}
	}
	return canonicalJSON(top)
}

// newPath gives a path of the visits their number in the document; ok is false
// for a visit that the document does not hold.
func newPath(path string, own int) (ok bool) {
	if !strings.HasPrefix(path, "visits[") {
		return false
	}
	_, item := splitItem(path)
	return item < own
}
