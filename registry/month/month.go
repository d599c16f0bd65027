package month

import (
	"errors"
	"fmt"
	"io"
	"iter"
	"time"

	"graftnote/registry/disclosure"
)

// Mode says how rows are keyed.
type Mode string

// The two modes, named on every package.
const (
	// SafeHarbor: row keys are random, their map stays at home, and no key of the
	// person leaves. 45 CFR 164.514(b)(2) and (c).
	SafeHarbor Mode = "safe-harbor"
	// Pseudonymised: row and person keys are keyed hashes. Such rows stay personal
	// data: Regulation (EU) 2016/679, Article 4(5) and recital 26.
	Pseudonymised Mode = "pseudonymised"
)

// State is where the note of an operation stands.
type State string

// The states of a note.
const (
	Signed    State = "signed"
	Awaiting  State = "awaiting"  // a counter-signature
	Unsigned  State = "unsigned"  // complete, and not signed
	Blocked   State = "blocked"   // findings stand against signing
	Withdrawn State = "withdrawn" // signed once, and taken back
)

// Period is what a package is about: a month, or a whole year when Month is 0.
type Period struct{ Year, Month int }

// String is "2026-11", or "2026" for a year.
func (p Period) String() string {
	if p.Month == 0 {
		return fmt.Sprintf("%04d", p.Year)
	}
	return fmt.Sprintf("%04d-%02d", p.Year, p.Month)
}

// holds reports whether a month lies in the period.
func (p Period) holds(m Period) bool {
	return p.Year == m.Year && (p.Month == 0 || p.Month == m.Month)
}

// after reports whether a month lies behind the period.
func (p Period) after(m Period) bool {
	return m.Year > p.Year || m.Year == p.Year && p.Month != 0 && m.Month > p.Month
}

func (p Period) valid() bool {
	return p.Year >= 1900 && p.Year <= 2200 && p.Month >= 0 && p.Month <= 12
}

// Operation is one operation on one eye, as the month sees it. Take makes one of
// a checked entry; it may be kept at home as JSON and handed in again, which
// saves reading the entries of former months. Case, Person and the visits' IDs
// never leave.
type Operation struct {
	Case     string   `json:"case"`
	Person   string   `json:"person"` // record number
	Month    Period   `json:"month"`  // of surgery
	State    State    `json:"state"`
	Reason   string   `json:"reason,omitempty"` // code of month.yaml: why it was corrected or withdrawn
	Revision int      `json:"revision"`
	Consent  bool     `json:"consent"` // to the registry
	Cells    []string `json:"cells,omitempty"`
	Visits   []Visit  `json:"visits,omitempty"`
}

// Visit is one signed follow-up visit.
type Visit struct {
	ID    string   `json:"id"` // names the visit within its case for life
	Month Period   `json:"month"`
	Cells []string `json:"cells"`
}

// Kinds of rows.
const (
	OperationRow = "operation"
	VisitRow     = "followup"
)

// Sent is a row of an earlier package. Only rows of accepted packages count as
// standing at the registry; a pending one keeps its revision number from being
// used again.
type Sent struct {
	Kind       string `json:"kind"`
	Key        string `json:"key"`
	Operation  string `json:"operation,omitempty"` // key of the operation, for a visit
	Change     string `json:"change"`
	Reason     string `json:"reason,omitempty"`
	Revision   int    `json:"revision"`
	Replaces   int    `json:"replaces,omitempty"` // accepted revision, 0 for none
	Digest     Digest `json:"digest"`             // of the row as sent
	Raw        Digest `json:"raw"`                // of the row before it was coarsened; stays at home
	Dictionary int    `json:"dictionary"`
	Epoch      string `json:"epoch"`
	Case       string `json:"case,omitempty"` // never leaves
	Note       int    `json:"note,omitempty"` // revision of the note that the row was made of
	Accepted   bool   `json:"accepted"`
	// Cells are what went out of an operation's row that a reader may know of a
	// person, by column: "sex=female|eye=right". It stays at home and is needed to
	// tell what all versions say together.
	Cells string `json:"cells,omitempty"`
}

// Input is what the casebook knows at the end of the month.
type Input struct {
	Period Period
	// Operations are all operations of the casebook, each once at its newest
	// revision. Those after the period are left out. The order does not matter.
	Operations iter.Seq2[Operation, error]
	// Sent are the rows of all earlier packages, in any order.
	Sent []Sent
	// Steps are the coarsening steps of the package before, by column; nil for the
	// first one. See Options.Refine.
	Steps map[string]int
	// TheatreCount is how many operations the theatre counted; below zero when
	// nobody entered it.
	TheatreCount int
	Checkpoint   string // of the casebook
	By           string // who makes the package: a role or a code, no patient
	At           time.Time
}

// Options are the site's settings.
type Options struct {
	Mode Mode
	// K is the least number of people in a class; 0 is disclosure.DefaultK.
	K int
	// L is the least number of values of each sensitive column; 0 measures only.
	L int
	// MaxSuppressed is the largest share of rows that may be held back for
	// disclosure; 0 is disclosure.DefaultSuppressed.
	MaxSuppressed float64
	// HoldBack holds back whatever rows cannot be protected, all of them if need be,
	// instead of an error.
	HoldBack bool
	// Refine searches for finer steps although those of the package before still
	// protect. It may resend many rows.
	Refine bool
	// MinCell is the least count that a report of this package shows: 5, 8 or 11;
	// 0 is 11.
	MinCell int
	// Key is the site's key for the mode Pseudonymised, 32 bytes at least.
	Key []byte
	// Rand draws row keys, and Keys holds those drawn before, for the mode
	// SafeHarbor. Keys is added to; whoever holds it can link rows to patients.
	Rand io.Reader
	Keys *KeyMap
	// Profile is the form that a receiving registry asks for; nil for our own.
	Profile *Profile
}

// Faults of the input and the settings. None carries an entered value.
var (
	ErrMode    = errors.New("month: the mode is safe-harbor or pseudonymised")
	ErrKey     = errors.New("month: pseudonymised rows need a key of at least 32 bytes")
	ErrRandom  = errors.New("month: random row keys need a source of randomness and the map of the keys drawn before")
	ErrPeriod  = errors.New("month: the period is no month and no year")
	ErrMinCell = errors.New("month: the least count shown is 5, 8 or 11")
	ErrInput   = errors.New("month: the operations handed in are not sound")
	ErrTheatre = errors.New("month: the theatre's count is too large to be one")
	ErrRefused = disclosure.ErrRefused
	ErrPackage = errors.New("month: the files are no package")
)

// Package is a submission. Only Build makes one.
type Package struct {
	// Manifest is what manifest.json will say; the digests of the files are set by
	// Write.
	Manifest Manifest
	// Exceptions are the operations left out.
	Exceptions []Exception
	// Gaps are the cells that the profile requires and that have no value.
	Gaps []Gap
	// Disclosure is the report of the protection; nil when there was no row.
	Disclosure *disclosure.Release
	// Steps are the coarsening steps used, to be handed to the next Build.
	Steps map[string]int
	// Warnings are plain sentences for the person at the desk.
	Warnings []string

	finer  *disclosure.Release // when less coarse rows would do, and --refine was not asked for
	tables []*table
	cover  string
	differ *differ
}

// Changes gives the rows that the package changes, to be kept at home as Sent
// rows until the registry answers. They are in the order of the files.
func (p *Package) Changes(yield func(Sent) bool) {
	for _, lines := range [][]line{p.differ.out, p.differ.outVisits} {
		for i := range lines {
			if !lines[i].repeat && !yield(p.differ.sent(&lines[i])) {
				return
			}
		}
	}
}
