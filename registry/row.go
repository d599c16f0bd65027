package registry

import (
	"errors"
	"fmt"

	"graftnote/schema"
)

// Reasons why no row is made. None carries an entered value.
var (
	// ErrUnchecked: the entry did not come from schema.Check.
	ErrUnchecked = errors.New("the entry was not checked, so it gives no registry row")
	// ErrDraft: findings block sign-off. The error is a *DraftError.
	ErrDraft = errors.New("the entry is a draft")
	// ErrNoConsent: consent.registry is not yes.
	ErrNoConsent = errors.New("consent to the graft registry is not recorded as yes, so no row is made")
	// ErrNoKey: the site's key is absent or shorter than 32 bytes.
	ErrNoKey = errors.New("the site's key for pseudonyms is absent or shorter than 32 bytes, so no row is made")
	// ErrColumn: Options.Columns holds a name that is no column, or one twice.
	ErrColumn = errors.New("the choice of columns for the registry row is not valid")
	// ErrCell: a cell does not fit its column; nothing was written.
	ErrCell = errors.New("a cell of the registry row does not fit its column, so nothing is written")
	// ErrRowTwice: two rows carry the same row key; nothing was written.
	ErrRowTwice = errors.New("two rows are about the same operation, so nothing is written")
)

// DraftError says how many findings stand between a draft and its row.
type DraftError struct{ Gaps int }

// Error is the message for the user.
func (e *DraftError) Error() string {
	findings := "findings block"
	if e.Gaps == 1 {
		findings = "finding blocks"
	}
	return fmt.Sprintf("no registry row: the entry is a draft, %d %s sign-off; a row is made only of a complete entry", e.Gaps, findings)
}

// Unwrap makes errors.Is(err, ErrDraft) hold.
func (e *DraftError) Unwrap() error { return ErrDraft }

// Options are the site's settings.
type Options struct {
	Key     []byte   // the site's secret for pseudonyms, at least 32 random bytes
	Columns []string // the site's choice of columns, none for all; the order is fixed
}

// Row is one de-identified row. Only Make gives one.
type Row struct{ cells []string }

// Cell is the text in a column; ok is false for a name that is no column.
func (r Row) Cell(column string) (text string, ok bool) {
	i, ok := load().byName[column]
	if !ok || i >= len(r.cells) {
		return "", false
	}
	return r.cells[i], true
}

// Key is the row key, the only thing by which lists and messages may name a row.
func (r Row) Key() string {
	k, _ := r.Cell("row_key")
	return k
}

// Make gives the row of a complete entry whose patient agreed. The error is
// ErrUnchecked, a *DraftError, ErrNoConsent, ErrNoKey or ErrColumn.
func Make(c schema.Checked, o Options) (Row, error) {
	if !c.Valid() {
		return Row{}, ErrUnchecked
	}
	if _, err := choose(o.Columns); err != nil {
		return Row{}, err
	}
	if len(o.Key) < minKey {
		return Row{}, ErrNoKey
	}
	if !c.Complete() {
		return Row{}, &DraftError{Gaps: len(c.Gaps())}
	}
	if !c.Entry().Consent.Registry.Is("yes") {
		return Row{}, ErrNoConsent
	}
	return rowOf(c.Entry(), o.Key), nil
}

func rowOf(e *schema.Entry, key []byte) Row {
	m := newMaker(load(), ofOperatedEye(e), key)
	r := Row{cells: make([]string, len(m.columns))}
	for i := range m.columns {
		r.cells[i] = m.columns[i].write(m, &m.columns[i])
	}
	return r
}

// ofOperatedEye leaves out measurements that the entry says are of the other eye:
// the signer may confirm such a sheet, and its figures belong in no row of this eye.
func ofOperatedEye(e *schema.Entry) *schema.Entry {
	if sheet := e.Before.Eye; !sheet.Recorded() || sheet.Text() == e.Eye.Operated.Text() {
		return e
	}
	out := *e
	out.Before = schema.Before{}
	return &out
}

// choose gives the places of the chosen columns, in the fixed order.
func choose(names []string) ([]int, error) {
	c := load()
	chosen := map[int]bool{}
	for n, name := range names {
		i, ok := c.byName[name]
		if !ok {
			return nil, fmt.Errorf("%w: entry %d is no registry column", ErrColumn, n+1)
		}
		if chosen[i] {
			return nil, fmt.Errorf("%w: %s stands twice", ErrColumn, name)
		}
		chosen[i] = true
	}
	out := make([]int, 0, len(c.columns))
	for i := range c.columns {
		if len(names) == 0 || chosen[i] {
			out = append(out, i)
		}
	}
	return out, nil
}
