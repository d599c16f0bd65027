package casebook

import (
	"bytes"
	"database/sql"
	"encoding/json"
	"slices"
	"strings"
)

// State is where a case stands.
type State string

// The states of a case.
const (
	StateSigned    State = "signed"
	StateAwaiting  State = "awaiting counter-signature"
	StateAmended   State = "amended" // corrected or added to
	StateWithdrawn State = "withdrawn"
)

// caseRow is what lists are made of: taken from the signed statements, and
// rebuilt and compared by Check.
type caseRow struct {
	Case       string
	Revision   int
	LastIndex  int64
	EntryIndex int64
	EntryHash  string
	State      State
	Amended    bool
	Date       string
	Eye        string
	Separation string
	Events     string // joined by commas
	Signer     string
	Key        string
	Signed     string
}

const caseColumns = "case_id, revision, last_idx, entry_idx, entry_sha256, state, amended, date, eye, separation, events, signer, key_id, signed"

func (r *caseRow) scan(rows *sql.Rows) error {
	var amended int64
	err := rows.Scan(&r.Case, &r.Revision, &r.LastIndex, &r.EntryIndex, &r.EntryHash, &r.State, &amended, &r.Date, &r.Eye, &r.Separation, &r.Events, &r.Signer, &r.Key, &r.Signed)
	r.Amended = amended != 0
	return err
}

func loadCase(x tx, id string, into *caseRow) (found bool, err error) {
	err = x.each(queryCase, []any{id}, func(rows *sql.Rows) error {
		found = true
		return into.scan(rows)
	})
	return found, err
}

// after is the row of a case once the statement stands. The events are given
// apart when they may have changed.
func (r caseRow) after(s *Statement) (row caseRow, err error) {
	r.Case, r.Revision, r.LastIndex = s.Case, s.Revision, s.Sequence
	if s.CarriesEntry() {
		if err := r.index(s.Entry); err != nil {
			return r, err
		}
		r.EntryIndex, r.EntryHash = s.Sequence, s.EntrySHA256
		r.Signer, r.Key, r.Signed = s.Signer.Name, s.Signer.Key, s.Signed
	}
	alone := content().Roles[s.Signer.Role].Alone
	switch s.Kind {
	case Withdrawn:
		r.State = StateWithdrawn
		return r, nil
	case Corrected, Addendum:
		r.Amended = true
	}
	awaits := r.State == StateAwaiting
	switch {
	case s.Kind == CounterSigned:
		awaits = false
	case !alone:
		awaits = true
	case s.CarriesEntry():
		awaits = false // who may sign alone answers for the whole entry
	}
	switch {
	case awaits:
		r.State = StateAwaiting
	case r.Amended:
		r.State = StateAmended
	default:
		r.State = StateSigned
	}
	return r, nil
}

// index takes the searched fields from the entry; it reads no more of it.
func (r *caseRow) index(entry []byte) error {
	in := content().Index
	r.Date, r.Eye, r.Separation = first(entry, in["date"]), first(entry, in["eye"]), first(entry, in["separation"])
	events := pick(entry, in["event"])
	slices.Sort(events)
	r.Events = strings.Join(slices.Compact(events), ",")
	return nil
}

// pick gives the texts at a path of a canonical entry: one for a single group,
// one per item for a list group.
func pick(entry []byte, path string) []string {
	group, key, _ := strings.Cut(path, ".")
	raw := member(entry, group)
	if len(raw) == 0 || raw[0] == '"' { // absent, or the word none
		return nil
	}
	if raw[0] != '[' {
		raw = slices.Concat([]byte("["), raw, []byte("]"))
	}
	var items []map[string]any
	if json.Unmarshal(raw, &items) != nil {
		return nil
	}
	var out []string
	for _, item := range items {
		if v, ok := item[key]; ok {
			out = append(out, textOf(v))
		}
	}
	return out
}

// member is the raw value of a key of an object without white space. A list of
// 100,000 notes is rebuilt at each check, so the rest is skipped, not read.
func member(object []byte, key string) []byte {
	want := `"` + key + `":`
	depth, quoted := 0, false
	for i := 0; i < len(object); i++ {
		c := object[i]
		switch {
		case quoted && c == '\\':
			i++
		case c == '"' && !quoted && depth == 1 && (object[i-1] == '{' || object[i-1] == ',') && bytes.HasPrefix(object[i:], []byte(want)):
			start := i + len(want)
			return object[start : start+valueLength(object[start:])]
		case c == '"':
			quoted = !quoted
		case quoted:
		case c == '{' || c == '[':
			depth++
		case c == '}' || c == ']':
			depth--
		}
	}
	return nil
}

// valueLength is how far the first value reaches.
func valueLength(b []byte) int {
	depth, quoted := 0, false
	for i := 0; i < len(b); i++ {
		c := b[i]
		switch {
		case quoted && c == '\\':
			i++
		case c == '"':
			quoted = !quoted
		case quoted:
		case c == '{' || c == '[':
			depth++
		case depth == 0 && (c == ',' || c == '}' || c == ']'):
			return i
		case c == '}' || c == ']':
			depth--
		}
	}
	return len(b)
}

func first(entry []byte, path string) string {
	if all := pick(entry, path); len(all) > 0 {
		return all[0]
	}
	return ""
}

func (r caseRow) events() []string {
	if r.Events == "" {
		return nil
	}
	return strings.Split(r.Events, ",")
}

// record brings the lists up to a new statement.
func record(x tx, s *Statement, before caseRow) (caseRow, error) {
	if s.Case == "" {
		return caseRow{}, recordKey(x, s)
	}
	if s.ofFollowUps() { // searched in the log itself
		return caseRow{}, nil
	}
	r, err := before.after(s)
	if err != nil {
		return r, err
	}
	amended := 0
	if r.Amended {
		amended = 1
	}
	if err := x.exec(upsertCase, r.Case, r.Revision, r.LastIndex, r.EntryIndex, r.EntryHash, string(r.State), amended,
		r.Date, r.Eye, r.Separation, r.Events, r.Signer, r.Key, r.Signed); err != nil {
		return r, err
	}
	if r.Events == before.Events && r.Date == before.Date {
		return r, nil
	}
	if before.Case != "" {
		if err := x.exec(deleteEvents, r.Case); err != nil {
			return r, err
		}
	}
	for _, kind := range r.events() {
		if err := x.exec(insertEvent, kind, r.Date, r.Case); err != nil {
			return r, err
		}
	}
	return r, nil
}
