package casebook

import (
	"bytes"
	"encoding/json"
)

// Action is what a row of a package does at the registry.
type Action string

// The actions. A row that was withdrawn and stands again is new.
const (
	RowNew       Action = "new"
	RowCorrected Action = "corrected"
	RowWithdrawn Action = "withdrawn"
)

// SentRow is one row of a package, as it is remembered at home. Case never leaves.
type SentRow struct {
	Kind       string `json:"kind"` // of row; with Key it names the row for life
	Key        string `json:"key"`
	Operation  string `json:"operation,omitempty"` // key of the operation's row, for a follow-up
	Revision   int    `json:"revision"`
	Digest     string `json:"digest"`        // SHA-256 of the row as sent, hex
	Raw        string `json:"raw,omitempty"` // the same before it was coarsened
	Action     Action `json:"action"`
	Replaces   int    `json:"replaces,omitempty"` // accepted revision, 0 for none
	Reason     string `json:"reason,omitempty"`   // code
	Dictionary int    `json:"dictionary,omitempty"`
	Epoch      string `json:"epoch,omitempty"` // of the key behind the row's key
	Case       string `json:"case"`
	Note       int    `json:"note,omitempty"`  // revision of the note that an operation's row was made of
	Cells      string `json:"cells,omitempty"` // what went out that a reader may know of a person
}

// Submission is a package that was sent. Times are RFC 3339; digests hex.
type Submission struct {
	Package    string         `json:"package"`
	Month      string         `json:"month"` // 2026-11, or 2026 for a year
	Mode       string         `json:"mode"`
	Receiver   string         `json:"receiver,omitempty"` // profile of the registry
	Manifest   string         `json:"manifest"`           // SHA-256
	Checkpoint string         `json:"checkpoint"`
	Steps      map[string]int `json:"steps,omitempty"` // coarsening, by column
	At         string         `json:"at"`
	By         string         `json:"by,omitempty"` // a role or a code
	Rows       []SentRow      `json:"-"`
}

// AnswerState is the registry's answer to a package.
type AnswerState string

// The answers. Nothing counts as sent before a final one is read back.
const (
	AnswerOpen         AnswerState = "" // none yet
	AnswerRefused      AnswerState = "refused"
	AnswerPending      AnswerState = "pending"
	AnswerAccepted     AnswerState = "accepted"
	AnswerWithFindings AnswerState = "accepted-with-findings"
)

// Final reports that the registry will say no more.
func (a AnswerState) Final() bool {
	return a == AnswerRefused || a == AnswerAccepted || a == AnswerWithFindings
}

// RowResult is what the registry says of one row. A row that it does not name is
// accepted with its package.
type RowResult struct {
	Kind    string `json:"kind"`
	Key     string `json:"key"`
	Refused bool   `json:"refused,omitempty"`
	Finding string `json:"finding,omitempty"` // the registry's code or words
}

// RegistryAnswer is a receipt read back.
type RegistryAnswer struct {
	Package string      `json:"package"`
	Answer  AnswerState `json:"answer"`
	File    string      `json:"file"` // SHA-256 of the receipt's file
	At      string      `json:"at"`
	By      string      `json:"by,omitempty"`
	Rows    []RowResult `json:"-"`
}

// RowKey ties the random key of a row to what it stands for. It never leaves.
type RowKey struct {
	Kind string `json:"kind"`
	Name string `json:"name"` // case, or case and visit
	Key  string `json:"key"`
}

// The records of the ledger, in the order of their writing; lists follow their
// head in pieces.
const (
	recordSubmission = "submission"
	recordRows       = "rows"
	recordAnswer     = "answer"
	recordResults    = "results"
	recordKeys       = "keys"
	recordPiece      = 1000 // items
)

type (
	submissionHead struct {
		Submission
		Count int    `json:"count"`
		Sum   string `json:"sum"` // SHA-256 of the rows
	}
	answerHead struct {
		RegistryAnswer
		Count int    `json:"count"`
		Sum   string `json:"sum"`
	}
	rowName struct{ kind, key string }
	// fateName tells registries apart: each has its own history of a row.
	fateName struct{ receiver, kind, key string }
	rowFate  struct {
		last     int // highest revision given out
		accepted SentRow
		pkg      string // that brought the accepted revision
	}
)

func (f *rowFate) standing() bool {
	return f.accepted.Revision > 0 && f.accepted.Action != RowWithdrawn
}

// sentPackage is a package with what became of it.
type sentPackage struct {
	head    submissionHead
	rows    []SentRow
	answer  answerHead
	results []RowResult
	refused map[rowName]bool
}

// ledger folds the records. What does not fit is refused, when it is recorded
// and when a check reads it again.
type ledger struct {
	packages map[string]*sentPackage
	order    []string
	rows     map[fateName]*rowFate
	keys     map[rowName]string // kind and name to key
	names    map[string]bool    // keys that were drawn
	open     *sentPackage       // whose rows or results are still to come
	missing  int
}

func newLedger() *ledger {
	return &ledger{packages: map[string]*sentPackage{}, rows: map[fateName]*rowFate{}, keys: map[rowName]string{}, names: map[string]bool{}}
}

// take folds one stored record.
func (l *ledger) take(kind string, body []byte) error {
	if l.missing > 0 != (kind == recordRows || kind == recordResults) {
		return ErrPackage
	}
	switch kind {
	case recordSubmission:
		var h submissionHead
		if !strictly(body, &h) {
			return ErrPackage
		}
		return l.submit(h)
	case recordRows:
		var rows []SentRow
		if !strictly(body, &rows) || len(rows) == 0 || len(rows) > l.missing || l.open.answer.Answer != AnswerOpen {
			return ErrPackage
		}
		l.open.rows, l.missing = append(l.open.rows, rows...), l.missing-len(rows)
		return l.submitted()
	case recordAnswer:
		var h answerHead
		if !strictly(body, &h) {
			return ErrPackage
		}
		return l.answer(h)
	case recordResults:
		var rows []RowResult
		if !strictly(body, &rows) || len(rows) == 0 || len(rows) > l.missing || l.open.answer.Answer == AnswerOpen {
			return ErrPackage
		}
		l.open.results, l.missing = append(l.open.results, rows...), l.missing-len(rows)
		return l.answered()
	case recordKeys:
		var keys []RowKey
		if !strictly(body, &keys) || len(keys) == 0 {
			return ErrPackage
		}
		_, err := l.draw(keys)
		return err
	}
	return ErrPackage
}

func strictly(body []byte, into any) bool {
	dec := json.NewDecoder(bytes.NewReader(body))
	dec.DisallowUnknownFields()
	return dec.Decode(into) == nil && dec.InputOffset() == int64(len(body))
}

func (l *ledger) submit(h submissionHead) error {
	if _, known := l.packages[h.Package]; known || !h.sound() || h.Count < 0 {
		return ErrPackage
	}
	p := &sentPackage{head: h}
	l.packages[h.Package], l.open, l.missing = p, p, h.Count
	l.order = append(l.order, h.Package)
	return l.submitted()
}

// submitted judges a package once its rows are complete.
func (l *ledger) submitted() error {
	if l.missing > 0 {
		return nil
	}
	p := l.open
	if sumOf(p.rows) != p.head.Sum {
		return ErrPackage
	}
	for _, r := range p.rows {
		name := fateName{p.head.Receiver, r.Kind, r.Key}
		f := l.rows[name]
		if f == nil {
			f = &rowFate{}
			l.rows[name] = f
		}
		switch {
		case !r.sound() || r.Revision <= f.last:
			return ErrPackage
		case r.Replaces != f.accepted.Revision, (r.Action != RowNew) != f.standing():
			return ErrNotAccepted
		}
		f.last = r.Revision
	}
	return nil
}

func (l *ledger) answer(h answerHead) error {
	p := l.packages[h.Package]
	switch {
	case p == nil:
		return ErrNoPackage
	case p.answer.Answer.Final():
		return ErrAnswered
	case !h.sound() || h.Count < 0:
		return ErrPackage
	}
	p.answer, p.results, l.open, l.missing = h, nil, p, h.Count
	return l.answered()
}

// answered judges an answer once its results are complete, and takes over what
// the registry accepted.
func (l *ledger) answered() error {
	if l.missing > 0 {
		return nil
	}
	p := l.open
	if sumOf(p.results) != p.answer.Sum {
		return ErrPackage
	}
	rows := make(map[rowName]bool, len(p.rows))
	for _, r := range p.rows {
		rows[rowName{r.Kind, r.Key}] = true
	}
	p.refused = map[rowName]bool{}
	for _, r := range p.results {
		name := rowName{r.Kind, r.Key}
		if !rows[name] || !r.sound() || r.Refused && p.answer.Answer != AnswerWithFindings && p.answer.Answer != AnswerRefused {
			return ErrPackage
		}
		if r.Refused {
			p.refused[name] = true
		}
	}
	if p.answer.Answer != AnswerAccepted && p.answer.Answer != AnswerWithFindings {
		return nil
	}
	for _, r := range p.rows {
		if f := l.rows[fateName{p.head.Receiver, r.Kind, r.Key}]; !p.refused[rowName{r.Kind, r.Key}] && r.Revision > f.accepted.Revision {
			f.accepted, f.pkg = r, p.head.Package
		}
	}
	return nil
}

// draw takes over row keys and gives those that are new.
func (l *ledger) draw(keys []RowKey) ([]RowKey, error) {
	var fresh []RowKey
	for _, k := range keys {
		name := rowName{k.Kind, k.Name}
		have, known := l.keys[name]
		switch {
		case !word(k.Kind) || !word(k.Key) || k.Name == "" || len(k.Name) > maxName || !readable(k.Name):
			return nil, ErrText
		case known && have == k.Key:
			continue
		case known || l.names[k.Key]:
			return nil, ErrPackage
		}
		l.keys[name], l.names[k.Key] = k.Key, true
		fresh = append(fresh, k)
	}
	return fresh, nil
}
