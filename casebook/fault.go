package casebook

import (
	"errors"
	"fmt"
)

// What can stop an act. Each text is public: it carries no entered value.
var (
	// ErrBlocked: the entry has findings that block sign-off.
	ErrBlocked = errors.New("the entry has points that block sign-off")
	// ErrUnchecked: the entry did not come from the checks.
	ErrUnchecked = errors.New("the entry has not been checked")
	// ErrNotShown: what was shown is not what would be signed.
	ErrNotShown = errors.New("the entry is not the one that was shown; show it again before signing")
	// ErrDocument: the words that were shown are missing or of no kept form.
	ErrDocument = errors.New("the words of the note are missing, too long or not canonical JSON")
	// ErrUnanswered: a look-again finding has no reason, or a reason no finding.
	ErrUnanswered = errors.New("the answers do not match the points to look at again")
	// ErrUnconfirmed: prefilled values and their confirmations differ.
	ErrUnconfirmed = errors.New("the confirmed values are not exactly the prefilled ones")
	// ErrNotTrue: a state that the entry confirms was not affirmed by the signer.
	ErrNotTrue = errors.New("the signer has not affirmed exactly the states that the entry confirms as true")
	// ErrText: a text is missing, not UTF-8, too long or holds hidden characters.
	ErrText = errors.New("a text is missing, too long or holds characters that cannot be shown")
	// ErrTime: the time of signing or its zone is missing.
	ErrTime = errors.New("the time of signing or its zone is missing")
	// ErrAlreadySigned: the case has a signed note; it can be corrected.
	ErrAlreadySigned = errors.New("the case is already signed; correct it or add to it")
	// ErrNoCase: the casebook holds no such case.
	ErrNoCase = errors.New("the casebook holds no such case or revision")
	// ErrOtherCase: a correction bears another case identifier.
	ErrOtherCase = errors.New("the correcting entry bears another case identifier")
	// ErrOtherPatient: a correction names another patient.
	ErrOtherPatient = errors.New("the correcting entry is about another patient")
	// ErrSamePerson: a correction of the name, birth date, national number or sex was
	// not said to be of the same person, or was said without one.
	ErrSamePerson = errors.New("the correction changes who the patient is said to be, and the signer has not said that it is the same person")
	// ErrItem: an item bears a name that is not its own.
	ErrItem = errors.New("an item of a list bears a name that another item of this case has or had")
	// ErrMoved: another act came between showing and signing.
	ErrMoved = errors.New("the case has changed since it was shown; look at it again")
	// ErrUnchanged: a correction that changes nothing.
	ErrUnchanged = errors.New("the correcting entry equals the signed one")
	// ErrWithdrawn: the case is withdrawn; it takes no further act.
	ErrWithdrawn = errors.New("the case is withdrawn")
	// ErrNotAwaiting: no counter-signature is awaited.
	ErrNotAwaiting = errors.New("the case awaits no counter-signature")
	// ErrSameSigner: nobody counter-signs for himself.
	ErrSameSigner = errors.New("the counter-signature must come from another person than the signature")
	// ErrFollowUpKnown: the same follow-up is recorded already.
	ErrFollowUpKnown = errors.New("the same follow-up is recorded already")
	// ErrPackage: a package or its answer does not fit what was sent before.
	ErrPackage = errors.New("the package or the answer does not fit what was sent before")
	// ErrNoPackage: no package of this identifier was recorded as sent.
	ErrNoPackage = errors.New("no package of this identifier was recorded as sent")
	// ErrNotAccepted: a corrected or withdrawn row names a version that the registry
	// has not accepted.
	ErrNotAccepted = errors.New("a row replaces a version that the registry has not accepted")
	// ErrAnswered: the registry's final answer is recorded and differs.
	ErrAnswered = errors.New("the registry's final answer to this package is recorded and differs")
	// ErrRole: the role of the key does not allow this act.
	ErrRole = errors.New("the role of this key does not allow this act")
	// ErrKey: the public key is malformed.
	ErrKey = errors.New("the public key is malformed")
	// ErrKeyKnown: the key is registered already.
	ErrKeyKnown = errors.New("the key is registered already")
	// ErrUnknownKey: the key is not registered in the casebook or not trusted.
	ErrUnknownKey = errors.New("unknown key")
	// ErrRevokedKey: the key was revoked before.
	ErrRevokedKey = errors.New("the key is revoked")
	// ErrUnvouched: a key signs only when somebody in force vouched for it.
	ErrUnvouched = errors.New("nobody has vouched for this key yet, so it signs nothing")
	// ErrVouched: the key has a voucher, or needs none.
	ErrVouched = errors.New("the key needs no voucher: it has one, or is a founder")
	// ErrNameHeld: the printed name is in force and its holder did not say yes.
	ErrNameHeld = errors.New("somebody holds this printed name in the casebook and has not signed that another key may bear it")
	// ErrFounder: another founder is for the only person of a casebook.
	ErrFounder = errors.New("another person holds a key in force, so no key may make itself a founder")
	// ErrPassphrase: the passphrase is empty or does not open the file.
	ErrPassphrase = errors.New("the passphrase is empty or does not open the file")
	// ErrKeyFile: not a key file.
	ErrKeyFile = errors.New("this is not a graftnote key file")
	// ErrEmpty: the casebook holds nothing yet.
	ErrEmpty = errors.New("the casebook holds nothing yet")
	// ErrNotEmpty: a restore needs a place that holds nothing.
	ErrNotEmpty = errors.New("there is a casebook already; restore to an empty place")
	// ErrAddress: the place of the casebook cannot be understood.
	ErrAddress = errors.New("the casebook's place is neither a file nor an address that begins with postgres:// or postgresql://")
	// ErrReadOnly: the casebook cannot be written.
	ErrReadOnly = errors.New("the casebook is read-only: nothing was stored")
	// ErrPending: newest acts stand in the write-ahead log only, and that can't be
	// read where nothing may be written.
	ErrPending = errors.New("the casebook was not closed, and its newest acts can't be read where nothing may be written")
	// ErrNoRoom: even reading needs some room.
	ErrNoRoom = errors.New("the disk is full, and reading the casebook needs a little room beside it")
	// ErrNetwork: the folder lies on a network file system.
	ErrNetwork = errors.New("the casebook's folder is on a network file system, where locks and write-ahead logs are unsafe; use a local disk or a PostgreSQL casebook")
	// ErrDamaged: the database or what it holds is broken.
	ErrDamaged = errors.New("the casebook is damaged; nothing was written; keep the file and restore the last backup")
	// ErrRolledBack: the casebook is older than something it acknowledged.
	ErrRolledBack = errors.New("the casebook is older than a checkpoint it once gave: statements are missing at its end")
	// ErrForked: two histories grew from one.
	ErrForked = errors.New("the casebook does not continue the checkpoint: the history was changed or forked")
	// ErrOtherCasebook: the checkpoint or statement belongs elsewhere.
	ErrOtherCasebook = errors.New("it belongs to another casebook")
	// ErrNewer: made by a later version.
	ErrNewer = errors.New("the casebook was made by a later version of graftnote")
	// ErrFull: no room on the disk.
	ErrFull = errors.New("the disk is full: nothing was stored")
	// ErrDisk: reading or writing failed.
	ErrDisk = errors.New("the disk failed while the casebook was read or written")
	// ErrBusy: another process held the casebook too long.
	ErrBusy = errors.New("another process holds the casebook; nothing was stored; try again")
	// ErrUnreachable: the database server cannot be reached.
	ErrUnreachable = errors.New("the casebook's database server cannot be reached")
	// ErrOutcomeUnknown: the connection broke during the commit and could not be
	// made again to look.
	ErrOutcomeUnknown = errors.New("the connection was lost while storing and it is not known whether the note was stored; look at the case before signing again")
	// ErrBackup: the backup is cut short or altered.
	ErrBackup = errors.New("the backup is incomplete or altered")
)

// FaultKind names what a proof or a whole casebook fails by.
type FaultKind string

// The kinds of fault. The word is fit for print.
const (
	EditedEntry    FaultKind = "edited entry"             // the entry is not the one signed
	EditedWords    FaultKind = "edited words"             // the words are not those signed
	BadSignature   FaultKind = "signature does not match" // the statement is not the one signed
	BadStatement   FaultKind = "malformed statement"
	UnknownKey     FaultKind = "unknown key"
	RevokedKey     FaultKind = "revoked key"
	NoVoucher      FaultKind = "nobody vouched"
	WrongSigner    FaultKind = "signer differs from the key register"
	NotAllowed     FaultKind = "act not allowed"
	Deleted        FaultKind = "deleted statement"
	Reordered      FaultKind = "reordered statement"
	BrokenChain    FaultKind = "broken chain of revisions"
	WrongHash      FaultKind = "stored hash does not match"
	NotInLog       FaultKind = "not in the log"
	BadCheckpoint  FaultKind = "checkpoint does not match"
	RolledBack     FaultKind = "rolled-back casebook"
	Forked         FaultKind = "forked log"
	OtherCasebook  FaultKind = "other casebook"
	WrongIndex     FaultKind = "list entry does not match the signed note"
	WrongLedger    FaultKind = "record of submissions does not match"
	DamagedStorage FaultKind = "damaged storage"
)

// Fault is one thing that does not hold. It carries no entered value; the case
// identifier is random by design.
type Fault struct {
	Kind  FaultKind
	Index int64  // the statement's place in the log, -1 when none
	Case  string // "" when no case is concerned
	What  string // one sentence
}

// Error is the fault in one line.
func (f Fault) Error() string {
	where := ""
	if f.Index >= 0 {
		where = fmt.Sprintf("statement %d: ", f.Index)
	}
	if f.Case != "" {
		where += "case " + f.Case + ": "
	}
	return fmt.Sprintf("%s%s: %s", where, f.Kind, f.What)
}
