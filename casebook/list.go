package casebook

import (
	"cmp"
	"context"
	"database/sql"
	"maps"
	"slices"
	"strings"
)

// Filter chooses cases; an empty field chooses all.
type Filter struct {
	From, To   string // date of surgery, ISO, both ends included
	Eye        string // code
	Separation string // code
	Event      string // code of a recorded event
	State      State
	Signer     string // printed name
	Limit      int    // at most so many; 0: all
	Offset     int
}

// Summary is one line of a list.
type Summary struct {
	Case       string
	Date       string
	Eye        string
	Separation string
	Events     []string
	State      State
	Revision   int
	Amended    bool
	Signer     string
	Signed     string // RFC 3339
	Index      int64  // of the newest statement
}

func (r caseRow) summary() Summary {
	return Summary{r.Case, r.Date, r.Eye, r.Separation, r.events(), r.State, r.Revision, r.Amended, r.Signer, r.Signed, r.LastIndex}
}

// List gives the chosen cases, the newest operation first.
func (c *Casebook) List(ctx context.Context, f Filter) ([]Summary, error) {
	query, args := f.query()
	var out []Summary
	err := c.s.read(ctx, func(x tx) error {
		return x.each(query, args, func(rows *sql.Rows) error {
			var r caseRow
			err := r.scan(rows)
			out = append(out, r.summary())
			return err
		})
	})
	return out, err
}

func (f Filter) query() (string, []any) {
	from := "casefile c"
	date := "c.date"
	var where []string
	var args []any
	and := func(test string, arg any) { where, args = append(where, test), append(args, arg) }
	if f.Event != "" {
		from, date = "case_event e JOIN casefile c ON c.case_id = e.case_id", "e.date"
		and("e.kind = ?", f.Event)
	}
	for _, x := range []struct{ test, value string }{
		{date + " >= ?", f.From}, {date + " <= ?", f.To}, {"c.eye = ?", f.Eye}, {"c.separation = ?", f.Separation},
		{"c.state = ?", string(f.State)}, {"c.signer = ?", f.Signer},
	} {
		if x.value != "" {
			and(x.test, x.value)
		}
	}
	columns := "c." + strings.ReplaceAll(caseColumns, ", ", ", c.")
	query := "SELECT " + columns + " FROM " + from
	if len(where) > 0 {
		query += " WHERE " + strings.Join(where, " AND ")
	}
	query += " ORDER BY " + date + " DESC, c.case_id"
	if f.Limit > 0 {
		query += " LIMIT ? OFFSET ?"
		args = append(args, f.Limit, f.Offset)
	}
	return query, args
}

// Count is the number of cases in each state.
type Count map[State]int

// Status says what waits.
type Status struct {
	Cases    int
	ByState  Count
	Awaiting []Summary // a counter-signature
	Amended  []Summary // changed since a registry accepted a row of it
}

// Status tells what awaits a counter-signature and what was amended after it was
// sent.
func (c *Casebook) Status(ctx context.Context) (Status, error) {
	s := Status{ByState: Count{}}
	err := c.s.read(ctx, func(x tx) error {
		err := x.each("SELECT state, COUNT(*) FROM casefile GROUP BY state", nil, func(rows *sql.Rows) error {
			var state State
			var n int
			err := rows.Scan(&state, &n)
			s.ByState[state] = n
			s.Cases += n
			return err
		})
		if err != nil {
			return err
		}
		list := func(into *[]Summary) func(*sql.Rows) error {
			return func(rows *sql.Rows) error {
				var r caseRow
				err := r.scan(rows)
				*into = append(*into, r.summary())
				return err
			}
		}
		if err := x.each("SELECT "+caseColumns+" FROM casefile WHERE state = ? ORDER BY date DESC, case_id", []any{string(StateAwaiting)}, list(&s.Awaiting)); err != nil {
			return err
		}
		accepted, err := acceptedRevisions(x)
		if err != nil {
			return err
		}
		for _, id := range slices.Sorted(maps.Keys(accepted)) {
			var r caseRow
			if found, err := loadCase(x, id, &r); err != nil {
				return err
			} else if found && r.Revision > accepted[id] {
				s.Amended = append(s.Amended, r.summary())
			}
		}
		slices.SortStableFunc(s.Amended, func(a, b Summary) int { return cmp.Compare(b.Date, a.Date) })
		return nil
	})
	return s, err
}

// acceptedRevisions gives for each case the newest revision of which a registry
// accepted a row.
func acceptedRevisions(x tx) (map[string]int, error) {
	l, _, _, err := loadLedger(x, nil)
	if err != nil {
		return nil, err
	}
	out := map[string]int{}
	for _, r := range l.sent() {
		if r.Accepted && r.Note > 0 && r.Digest != "" {
			out[r.Case] = max(out[r.Case], r.Note)
		}
	}
	return out, nil
}
