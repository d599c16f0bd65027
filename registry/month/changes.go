package month

import (
	"slices"
	"strconv"
	"strings"
)

// Codes of month.yaml that the program itself gives.
const (
	changeNew       = "new"
	changeCorrected = "corrected"
	changeWithdrawn = "withdrawn"
	changeUnchanged = "unchanged"

	reasonFirst      = "first"
	reasonNone       = "none"
	reasonCorrected  = "entry-corrected"
	reasonRestored   = "restored"
	reasonDetail     = "detail-changed"
	reasonDictionary = "dictionary"
	reasonNote       = "note-withdrawn"
	reasonConsent    = "consent-withdrawn"
	reasonDisclosure = "disclosure"
	reasonKey        = "key-changed"
	reasonVisit      = "visit-withdrawn"
	reasonGone       = "not-in-casebook"

	consentRefused = "consent-refused"
	suppressed     = "suppressed"
)

func itoa(n int) string { return strconv.Itoa(n) }

// known is what the registry has of one row.
type known struct {
	last     int   // highest revision given out, answered or not
	accepted *Sent // highest accepted revision, nil for none
}

// standing reports whether the row stands at the registry.
func (k known) standing() bool { return k.accepted != nil && k.accepted.Change != changeWithdrawn }

func (k known) replaces() int {
	if k.accepted == nil {
		return 0
	}
	return k.accepted.Revision
}

type rowName struct{ kind, key string }

// ledger folds all rows ever sent.
func ledger(sent []Sent) map[rowName]known {
	out := make(map[rowName]known, len(sent))
	for i := range sent {
		r := &sent[i]
		name := rowName{r.Kind, r.Key}
		k := out[name]
		k.last = max(k.last, r.Revision)
		if r.Accepted && (k.accepted == nil || r.Revision > k.accepted.Revision) {
			k.accepted = r
		}
		out[name] = k
	}
	return out
}

// line is one row of a table of the package.
type line struct {
	kind, key, operation string // operation: key of the operation, for a visit
	change, reason       string
	source               int32 // place in the store, -1 for a row without cells
	at                   int32 // place in the table
	revision, replaces   int32
	digest               Digest
	repeat               bool // the registry has this revision; it is repeated for a foreign key
}

// differ works out what the package must carry.
type differ struct {
	*store
	*protected
	keys       keyring
	ledger     map[rowName]known
	digest     digester
	dictionary int
	operations map[string]int32 // key of each operation that stands to its place in the store
	out        []line           // operations carried
	outVisits  []line
	sentInTime int
}

// line works out what happens to a row that should stand.
func (d *differ) line(kind, key, operation string, source int, why string) (l line, changed bool) {
	k := d.ledger[rowName{kind, key}]
	l = line{kind: kind, key: key, operation: operation, change: changeNew, source: int32(source), revision: int32(k.last + 1),
		replaces: int32(k.replaces()), digest: d.rowDigest(kind, source)}
	switch {
	case k.accepted == nil:
		l.reason = reasonFirst
	case !k.standing():
		l.reason = reasonRestored
	case k.accepted.Digest == l.digest:
		l.change, l.reason, l.revision, l.repeat = changeUnchanged, reasonNone, int32(k.accepted.Revision), true
		return l, false
	default:
		l.change = changeCorrected
		switch {
		case k.accepted.Dictionary != d.dictionary:
			l.reason = reasonDictionary
		case k.accepted.Raw == d.raw(kind, source):
			l.reason = reasonDetail
		case why != "":
			l.reason = why
		default:
			l.reason = reasonCorrected
		}
	}
	return l, true
}

// raw is the digest of a row before it was coarsened.
func (d *differ) raw(kind string, source int) Digest {
	switch {
	case source < 0:
		return Digest{}
	case kind == VisitRow:
		return d.visits[source].raw
	}
	return d.store.operations[source].raw
}

// sent is what is kept at home of a line.
func (d *differ) sent(l *line) Sent {
	out := Sent{Kind: l.kind, Key: l.key, Operation: l.operation, Change: l.change, Reason: l.reason, Revision: int(l.revision), Replaces: int(l.replaces),
		Digest: l.digest, Raw: d.raw(l.kind, int(l.source)), Dictionary: d.dictionary, Epoch: d.keys.epoch()}
	if l.source < 0 {
		if k := d.ledger[rowName{l.kind, l.key}]; k.accepted != nil {
			out.Case, out.Note = k.accepted.Case, k.accepted.Note
		}
		return out
	}
	at := l.source
	if l.kind == VisitRow {
		at = d.visits[l.source].operation
	}
	o := &d.store.operations[at]
	out.Case, out.Note = o.caseID, o.revision
	if l.kind == OperationRow {
		out.Cells = d.quasi[l.source]
	}
	return out
}

// rowDigest is the digest of the cells as sent.
func (d *differ) rowDigest(kind string, source int) Digest {
	if kind == VisitRow {
		for _, c := range d.visitCells {
			d.digest.cell(c.text(source))
		}
		return d.digest.sum()
	}
	for i := range d.cells {
		d.digest.cell(d.cell(i, source))
	}
	d.digest.cell(d.span.text(source))
	d.digest.cell(d.keys.person(d.store.operations[source].person))
	return d.digest.sum()
}

// cell is a cell of the operation's row in the form that is sent.
func (d *differ) cell(column, source int) string {
	if c, ok := d.coarse[column]; ok {
		return c.text(source)
	}
	return d.cells[column].text(source)
}

// run fills out and outVisits.
func (d *differ) run() {
	d.operations = make(map[string]int32, len(d.store.operations))
	carried := make(map[string]bool, len(d.store.operations))
	if len(d.ledger) == 0 {
		d.out, d.outVisits = make([]line, 0, len(d.store.operations)), make([]line, 0, len(d.visits))
	}
	for i := range d.store.operations {
		o := &d.store.operations[i]
		if d.dropped[i] {
			d.leaveOut(o.key, o.caseID, suppressed, which(o.thisPeriod, false), "")
			continue
		}
		if o.thisPeriod {
			d.sentInTime++
		}
		d.operations[o.key] = int32(i)
		if l, changed := d.line(OperationRow, o.key, "", i, o.reason); changed {
			d.out = append(d.out, l)
			carried[o.key] = true
		}
	}
	visits := map[string]bool{}
	for i, v := range d.visits {
		if d.dropped[v.operation] {
			continue
		}
		o := &d.store.operations[v.operation]
		if len(d.ledger) > 0 {
			visits[v.key] = true
		}
		if l, changed := d.line(VisitRow, v.key, o.key, i, o.reason); changed {
			d.outVisits = append(d.outVisits, l)
			d.carry(carried, o.key)
		}
	}
	d.withdraw(visits, carried)
	byKey := func(a, b line) int { return strings.Compare(a.key, b.key) }
	slices.SortFunc(d.out, byKey)
	slices.SortFunc(d.outVisits, byKey)
	for _, lines := range [][]line{d.out, d.outVisits} {
		for i := range lines {
			lines[i].at = int32(i)
		}
	}
	slices.SortFunc(d.exceptions, func(a, b Exception) int { return strings.Compare(a.Key, b.Key) })
}

// carry repeats an operation that a visit of the package belongs to, so that the
// foreign key holds within the package.
func (d *differ) carry(carried map[string]bool, key string) {
	if carried[key] {
		return
	}
	carried[key] = true
	if i, ok := d.operations[key]; ok {
		l, _ := d.line(OperationRow, key, "", int(i), "")
		d.out = append(d.out, l)
		return
	}
	d.out = append(d.out, d.gone(OperationRow, key, ""))
}

// gone is a row that no longer stands. One that was withdrawn before is repeated
// under its revision.
func (d *differ) gone(kind, key, operation string) line {
	k := d.ledger[rowName{kind, key}]
	l := line{kind: kind, key: key, operation: operation, change: changeWithdrawn, reason: d.whyGone(kind, key, operation, k), source: -1,
		revision: int32(k.last + 1), replaces: int32(k.replaces())}
	if k.accepted != nil && !k.standing() {
		l.revision, l.repeat = int32(k.accepted.Revision), true
	}
	return l
}

// whyGone is the reason for a withdrawal. A visit goes with its operation.
func (d *differ) whyGone(kind, key, operation string, k known) string {
	of := key
	if kind == VisitRow {
		of = operation
		if _, stands := d.operations[of]; stands {
			return reasonVisit
		}
	}
	reason, out := d.store.out[of]
	switch {
	case out && reason == suppressed:
		return reasonDisclosure
	case out && reason == consentRefused:
		return reasonConsent
	case out && d.outReason[of] != "":
		return d.outReason[of]
	case out:
		return reasonNote
	case k.accepted != nil && k.accepted.Epoch != d.keys.epoch():
		return reasonKey
	}
	return reasonGone
}

// withdraw takes back what stands at the registry and should not.
func (d *differ) withdraw(visits, carried map[string]bool) {
	for name, k := range d.ledger {
		if !k.standing() {
			continue
		}
		switch name.kind {
		case OperationRow:
			if _, stands := d.operations[name.key]; !stands && !carried[name.key] {
				carried[name.key] = true
				d.out = append(d.out, d.gone(OperationRow, name.key, ""))
			}
		case VisitRow:
			if !visits[name.key] {
				d.outVisits = append(d.outVisits, d.gone(VisitRow, name.key, k.accepted.Operation))
				d.carry(carried, k.accepted.Operation)
			}
		}
	}
}

// standingRows counts the rows that stand at the registry before the package.
func (d *differ) standingRows() int {
	n := 0
	for _, k := range d.ledger {
		if k.standing() {
			n++
		}
	}
	return n
}
