package casebook

import (
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
	Amended  []Summary // changed since the last recorded submission
}

// ProductSubmitted is the kind under which RecordProducts notes that a revision
// was sent away; a later revision is then amended since.
const ProductSubmitted = "submitted"

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
		return x.each("SELECT "+caseColumns+" FROM casefile c WHERE revision > (SELECT MAX(p.revision) FROM product p WHERE p.case_id = c.case_id AND p.kind = ?) ORDER BY date DESC, case_id",
			[]any{ProductSubmitted}, list(&s.Amended))
	})
	return s, err
}

// Last are the newest entries signed by a person, the newest first, for Alike.
func (c *Casebook) Last(ctx context.Context, signer string, n int) ([]Earlier, error) {
	var out []Earlier
	err := c.s.read(ctx, func(x tx) error {
		return x.each("SELECT l.case_id, l.statement FROM casefile c JOIN leaf l ON l.idx = c.entry_idx WHERE c.signer = ? ORDER BY c.entry_idx DESC LIMIT ?", []any{signer, n}, func(rows *sql.Rows) error {
			var e Earlier
			var b []byte
			if err := rows.Scan(&e.Case, &b); err != nil {
				return err
			}
			s, err := ParseStatement(b)
			if err != nil {
				return ErrDamaged
			}
			e.Entry = s.Entry
			out = append(out, e)
			return nil
		})
	})
	return out, err
}

// RecordProducts notes the digests (SHA-256, hex) of products made from a
// revision: the page, the bundle, the row. They are a help to find a product's
// revision; the proof that a product is genuine is the signed entry inside it.
func (c *Casebook) RecordProducts(ctx context.Context, caseID string, revision int, products map[string]string) error {
	if err := soundProducts(products); err != nil {
		return err
	}
	kinds := slices.Sorted(maps.Keys(products))
	return c.s.write(ctx, func(x tx) error {
		var have int
		found, err := x.one("SELECT revision FROM casefile WHERE case_id = ?", []any{caseID}, &have)
		if err != nil {
			return err
		}
		if !found || revision < 1 || revision > have {
			return ErrNoCase
		}
		for _, kind := range kinds {
			if err := x.exec("INSERT INTO product (case_id, revision, kind, sha256) VALUES (?, ?, ?, ?) ON CONFLICT DO NOTHING", caseID, revision, kind, products[kind]); err != nil {
				return err
			}
		}
		return nil
	})
}

// soundProducts refuses a kind that is no word and a digest that is none.
func soundProducts(products map[string]string) error {
	for kind, sum := range products {
		if kind == "" || len(kind) > 64 || !readable(kind) || len(sum) != 64 || !isHex(sum) {
			return ErrText
		}
	}
	return nil
}

// FindProduct gives the case and revision of which a product with this digest was
// recorded.
func (c *Casebook) FindProduct(ctx context.Context, sum string) (caseID string, revision int, err error) {
	err = c.s.read(ctx, func(x tx) error {
		found, err := x.one("SELECT case_id, revision FROM product WHERE sha256 = ? ORDER BY case_id, revision LIMIT 1", []any{sum}, &caseID, &revision)
		if err == nil && !found {
			err = ErrNoCase
		}
		return err
	})
	return caseID, revision, err
}
