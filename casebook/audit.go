package casebook

import (
	"crypto/ed25519"
	"errors"
	"runtime"
	"sync"
	"time"

	"golang.org/x/mod/sumdb/tlog"
)

// auditChunk is how many statements are verified at a time.
const auditChunk = 512

// item is one leaf as stored, and what was found out about it alone.
type item struct {
	index                     int64
	caseID, kind, key, signed string
	revision                  int
	statement, signature      []byte
	packed                    []byte // the document that it binds, as stored
	unread                    bool   // the document was left where it is
	checkpoint                string
	file                      caseRow

	st      *Statement
	leaf    tlog.Hash
	content bool
	words   bool // the document has the digest that was signed, or none was
	sig     bool
	cp      Checkpoint
	cpErr   error
	row     caseRow // of a case that this leaf alone makes
	rowErr  error
}

// auditor walks a log from its first statement on and keeps only what the next
// statement needs: the tree's right edge, the keys, the counts.
type auditor struct {
	x      tx // for the rare look back at a chain; its t may be nil
	id     string
	report Report
	keys   register
	edge   edge
	broken bool // the tree could not be followed further
	bad    int64
	firsts int64
	events int64
	older  map[int64][]Checkpoint

	ruled       bool // a statement was met since which keys need a voucher
	keyRevision int
	keyPrevious string
	before      time.Time
}

func newAuditor(x tx, id string) *auditor {
	return &auditor{x: x, id: id, keys: register{}, edge: edge{hashes: map[int64]tlog.Hash{}}, older: map[int64][]Checkpoint{}, bad: -1,
		report: Report{Casebook: id}}
}

// expect notes an older checkpoint to be met on the way.
func (a *auditor) expect(signed string) {
	cp, err := ParseCheckpoint(signed)
	switch {
	case err != nil:
		a.report.fault(Fault{BadCheckpoint, -1, "", "an older checkpoint is malformed"})
	case cp.Casebook != a.id:
		a.report.fault(Fault{OtherCasebook, -1, "", "an older checkpoint belongs to another casebook"})
	default:
		a.older[cp.Size] = append(a.older[cp.Size], cp)
	}
}

// examine starts to verify the statements of a piece of the log, each alone and
// side by side; wait ends it. Meanwhile the next piece can be read.
func (a *auditor) examine(items []*item) (wait func()) {
	known := a.keysWith(items)
	var wg sync.WaitGroup
	workers := runtime.GOMAXPROCS(0)
	for w := range workers {
		wg.Go(func() {
			for i := w; i < len(items); i += workers {
				items[i].examine(known)
			}
		})
	}
	return wg.Wait
}

// judge goes through an examined piece of the log in order.
func (a *auditor) judge(from, to int64, items []*item, hashes map[int64]tlog.Hash) error {
	next := 0
	for at := from; at < to; at++ {
		if next < len(items) && items[next].index == at {
			i := items[next]
			next++
			if err := a.statement(i); err != nil {
				return err
			}
			a.tree(at, i, hashes)
			continue
		}
		a.report.fault(Fault{Deleted, at, "", "the log once held a statement here"})
		a.tree(at, nil, hashes)
	}
	return nil
}

// keysWith are the keys known so far and those that this piece adds, for the
// verification side by side; whether a key was in force is judged in order.
func (a *auditor) keysWith(items []*item) register {
	known := register{}
	for id, k := range a.keys {
		known[id] = k
	}
	for _, i := range items {
		if i.caseID != "" {
			continue
		}
		if s, err := ParseStatement(i.statement); err == nil && s.Kind == KeyAdded {
			var k PublicKey
			k.apply(s)
			_ = known.add(k)
		}
	}
	return known
}

// examine finds out all that depends on this leaf alone.
func (i *item) examine(keys register) {
	i.leaf = LeafHash(i.statement, i.signature)
	if i.checkpoint != "" {
		i.cp, i.cpErr = openCheckpoint(i.checkpoint, keys)
	}
	st, err := readStatement(i.statement)
	if err != nil {
		return
	}
	i.st = st
	if st.Case != "" && st.Revision == 1 && !st.ofFollowUps() {
		i.row, i.rowErr = caseRow{}.after(st)
	}
	i.content = st.content()
	if i.words = st.DocumentSHA256 == "" || i.unread; !i.words {
		_, i.words = unpack(i.packed, st.DocumentSHA256)
	}
	if k, ok := keys[st.Signer.Key]; ok {
		i.sig = ed25519.Verify(k.key, i.statement, i.signature)
	}
}

// statement judges one statement in its place.
func (a *auditor) statement(i *item) error {
	a.report.Statements++
	st := i.st
	fault := func(kind FaultKind, what string) { a.report.fault(Fault{kind, i.index, i.caseID, what}) }
	if st == nil {
		fault(BadStatement, "the statement was edited: it cannot be read")
		return nil
	}
	a.alone(i, fault)
	a.times(st)
	if st.Case == "" {
		a.keyAct(i)
		return nil
	}
	if st.ofFollowUps() {
		return a.followUp(i)
	}
	return a.chain(i)
}

// alone judges a statement that could be read by itself and by the keys known at
// its place.
func (a *auditor) alone(i *item, fault func(FaultKind, string)) {
	st := i.st
	if st.Casebook != a.id {
		fault(OtherCasebook, "the statement was signed in another casebook")
	}
	if st.Sequence != i.index {
		fault(Reordered, "it was signed as statement "+itoa(st.Sequence))
	}
	if st.chain() != i.caseID || st.Revision != i.revision || string(st.Kind) != i.kind || st.Signer.Key != i.key || st.Signed != i.signed {
		fault(WrongIndex, "the columns beside the statement differ from it")
	}
	signer, known := a.keys[st.Signer.Key]
	if !known && st.Kind == KeyAdded && keyID(st.Subject.Key) == st.Signer.Key {
		known = true // a key registers itself
	}
	switch {
	case !i.content:
		fault(EditedEntry, "the entry does not have the digest that was signed")
	case !known:
		fault(UnknownKey, "no key of this name was registered before")
	case !i.sig:
		fault(BadSignature, "the statement is not the one that was signed")
	case signer != nil && !signer.inForce(i.index):
		fault(RevokedKey, "the key was revoked before")
	case signer != nil && (signer.Name != st.Signer.Name || signer.Role != st.Signer.Role):
		fault(WrongSigner, "name or role are not those of the key")
	case st.Format == formatAnyKey && a.ruled:
		fault(NotAllowed, "an older form of statement stands after a newer one")
	case signer != nil && st.Case != "" && !signer.maySign(st):
		fault(NoVoucher, "nobody had vouched for the key before")
	case signer != nil && !allowed(st, signer):
		fault(NotAllowed, "the signer's role does not allow this act")
	}
	if !i.words {
		fault(EditedWords, "the words of the note are missing or do not have the digest that was signed")
	}
	a.ruled = a.ruled || st.Format != formatAnyKey
}

// allowed is whether the signer's role covers the act.
func allowed(s *Statement, k *registered) bool {
	d := content().Roles[k.Role]
	switch s.Kind {
	case Signed, Corrected, Addendum:
		return d.Notes
	case CounterSigned:
		return d.Counter
	case Withdrawn:
		return d.Notes && d.Alone
	case FollowUp, FollowUpVoid:
		return d.FollowUp
	case KeyAdded:
		return s.Format != formatAnyKey || d.Keys || keyID(s.Subject.Key) == k.ID || sameName(s.Subject.Name, k.Name) // else see admit
	case KeyVouched:
		return true // see admit
	case KeyRevoked:
		return s.Subject.Key == k.ID || d.Keys && k.maySign(s)
	}
	return false
}

func (a *auditor) times(st *Statement) {
	at := st.At()
	if st.Sequence > 0 && at.Before(a.before) {
		a.remark("statement %d: the clock went back", st.Sequence)
	}
	a.before = at
}

// keyAct follows the register of keys.
func (a *auditor) keyAct(i *item) {
	st := i.st
	fault := func(kind FaultKind, what string) { a.report.fault(Fault{kind, i.index, "", what}) }
	if st.Revision != a.keyRevision+1 || st.Previous != a.keyPrevious {
		fault(BrokenChain, "the key register does not continue its preceding statement")
	}
	a.keyRevision, a.keyPrevious = st.Revision, i.leaf.String()
	if st.Revision == 1 {
		a.firsts++
	}
	if st.Format != formatAnyKey && st.Kind != KeyRevoked {
		if err := admit(a.keys.list(), st); err != nil {
			fault(NotAllowed, err.Error())
			return
		}
	}
	switch st.Kind {
	case KeyAdded:
		var k PublicKey
		k.apply(st)
		if _, twice := a.keys[k.ID]; twice {
			fault(NotAllowed, "the key was registered before")
			return
		}
		if a.keys.add(k) != nil {
			fault(UnknownKey, "the registered key is malformed")
			return
		}
		if k.Founder && len(a.keys) > 1 {
			a.remark("statement %d: key %s registered itself as another founder, nobody vouched for it", i.index, k.ID)
		}
	case KeyVouched:
		a.keys[st.Subject.Key].apply(st) // admit has found it
	case KeyRevoked:
		k, ok := a.keys[st.Subject.Key]
		if !ok || k.Revoked != 0 {
			fault(UnknownKey, "the revoked key was not in force")
			return
		}
		k.apply(st)
		if k.Since != "" {
			a.remark("statement %d: key %s is not to be trusted from %s on", i.index, k.ID, k.Since)
		}
	}
	a.report.Keys = len(a.keys)
}

// tree adds the leaf to the tree and compares the stored hashes and the
// checkpoint. A leaf that is missing or wrong is stood in for by its stored hash,
// so that what follows can still be judged.
func (a *auditor) tree(at int64, i *item, hashes map[int64]tlog.Hash) {
	if a.broken {
		return
	}
	place := tlog.StoredHashIndex(0, at)
	leaf, stored := hashes[place]
	id := ""
	if i != nil {
		id = i.caseID
		if !stored {
			leaf = i.leaf
		} else if leaf != i.leaf {
			a.report.fault(Fault{WrongHash, at, id, "this is not the statement that was put into the log here"})
		}
	} else if !stored {
		a.broken = true
		a.report.fault(Fault{WrongHash, at, "", "statement and hash are missing: the tree cannot be followed further"})
		return
	}
	wrong := !stored
	next, err := a.edge.grow(tx{}, leaf, func(at int64, h tlog.Hash) error {
		if have, ok := hashes[at]; !ok || have != h {
			wrong = true
		}
		return nil
	})
	if err != nil {
		a.broken = true
		a.report.fault(Fault{WrongHash, at, id, "the tree cannot be followed further"})
		return
	}
	if wrong {
		a.report.fault(Fault{WrongHash, at, id, "the stored hashes are not those of the tree"})
	}
	a.edge = next
	a.checkpoint(at, i)
}

func (a *auditor) checkpoint(at int64, i *item) {
	for _, old := range a.older[a.edge.size] {
		if old.Root != a.edge.root {
			a.report.fault(Fault{Forked, at, "", "the log does not continue the older checkpoint of " + itoa(old.Size) + " statements"})
		}
	}
	if i == nil {
		return
	}
	var f Fault
	switch {
	case i.checkpoint == "":
		a.report.fault(Fault{BadCheckpoint, at, i.caseID, "the checkpoint after this statement is missing"})
	case errors.As(i.cpErr, &f):
		a.report.fault(Fault{f.Kind, at, i.caseID, f.What})
	case i.cp.Casebook != a.id || i.cp.Size != a.edge.size:
		a.report.fault(Fault{BadCheckpoint, at, i.caseID, "the checkpoint after this statement is another one's"})
	case i.cp.Root != a.edge.root:
		if a.bad < 0 { // from here on every root differs
			a.bad = at
			a.report.fault(Fault{BadCheckpoint, at, i.caseID, "the log was rewritten at or before this statement"})
		} else {
			a.report.More++
		}
	case i.st != nil && i.cp.Key != i.st.Signer.Key:
		a.report.fault(Fault{WrongSigner, at, i.caseID, "statement and checkpoint are signed under two keys"})
	}
	a.report.Checkpoint = i.checkpoint
}

// finish judges what only the whole log shows.
func (a *auditor) finish(total, cases int64) {
	for size := range a.older {
		if size > total {
			a.report.fault(Fault{RolledBack, total, "", "a checkpoint is known of " + itoa(size) + " statements; the casebook holds " + itoa(total)})
		}
	}
	a.waiting()
	a.report.Cases = a.firsts
	if a.keyRevision > 0 {
		a.report.Cases--
	}
	if cases != a.report.Cases {
		a.report.fault(Fault{WrongIndex, -1, "", "the list holds " + itoa(cases) + " cases, the log " + itoa(a.report.Cases)})
	}
}
