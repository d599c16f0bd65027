package casebook

import (
	"context"
	"database/sql"
	"embed"
	"errors"
	"fmt"
	"regexp"
	"strings"
)

var comments = regexp.MustCompile(`(?m)^--.*\n`)

//go:embed data/*.sql
var schemas embed.FS

// schemaVersion is the newest layout of the tables; data/ holds one file per step.
const schemaVersion = 4

// store is what the casebook needs of a database. Both implementations run one
// test suite.
type store interface {
	// write runs f alone: no other process writes until it is committed.
	write(ctx context.Context, f func(tx) error) error
	// read runs f over one unchanging view.
	read(ctx context.Context, f func(tx) error) error
	// guard tells the store the newest acknowledged checkpoint.
	guard(checkpoint string)
	// guarded is what guard was told last, by any process; "" when unknown.
	guarded() string
	close() error
}

// tx is one transaction. Queries are written with question marks.
type tx struct {
	ctx context.Context
	t   *sql.Tx
	s   *sqlStore
	hot map[string]*sql.Stmt // statements compiled for the writing connection
	own map[string]*sql.Stmt // those of them that this transaction has used
}

// sqlStore is what both implementations share.
type sqlStore struct {
	writer, reader *sql.DB
	kind           string              // names the files in data/
	first          string              // statement that begins a writing transaction
	rebind         func(string) string // question marks to the database's own marks
	fault          func(error) error   // the driver's error to ours
	readFault      func(error) error   // the same while reading; nil: fault
	stray          string              // finds statements under another case's columns; takes the ending of follow-up chains twice
	newer          string              // finds statements of a form after the first
	sound          string              // query that answers ok for an undamaged file, "" when there is none
	hot            map[string]*sql.Stmt
	readOptions    *sql.TxOptions
	writeOptions   *sql.TxOptions
}

func (x tx) exec(query string, args ...any) error {
	if st := x.compiled(query); st != nil {
		_, err := st.ExecContext(x.ctx, args...)
		return err
	}
	_, err := x.t.ExecContext(x.ctx, x.s.rebind(query), args...)
	return err
}

func (x tx) query(query string, args ...any) (*sql.Rows, error) {
	if st := x.compiled(query); st != nil {
		return st.QueryContext(x.ctx, args...)
	}
	return x.t.QueryContext(x.ctx, x.s.rebind(query), args...)
}

// compiled is a statement compiled once, or nil. A transaction keeps every handle
// on one until its end, so each is taken once: a restore runs them a million
// times.
func (x tx) compiled(query string) *sql.Stmt {
	st, ok := x.own[query]
	if ok {
		return st
	}
	if st, ok = x.hot[query]; !ok {
		return nil
	}
	st = x.t.StmtContext(x.ctx, st)
	x.own[query] = st
	return st
}

// one reads one row; found is false when there is none.
func (x tx) one(query string, args []any, into ...any) (found bool, err error) {
	rows, err := x.query(query, args...)
	if err != nil {
		return false, err
	}
	defer rows.Close()
	if !rows.Next() {
		return false, rows.Err()
	}
	if err := rows.Scan(into...); err != nil {
		return false, err
	}
	return true, rows.Close()
}

// each reads all rows.
func (x tx) each(query string, args []any, f func(*sql.Rows) error) error {
	rows, err := x.query(query, args...)
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		if err := f(rows); err != nil {
			return err
		}
	}
	return rows.Err()
}

func (s *sqlStore) begin(ctx context.Context, db *sql.DB, o *sql.TxOptions) (tx, error) {
	t, err := db.BeginTx(ctx, o)
	return tx{ctx: ctx, t: t, s: s}, err
}

func (s *sqlStore) write(ctx context.Context, f func(tx) error) error {
	if s.writer == nil {
		return ErrReadOnly
	}
	x, err := s.begin(ctx, s.writer, s.writeOptions)
	if err != nil {
		return s.fault(err)
	}
	defer func() { _ = x.t.Rollback() }()
	x.hot, x.own = s.hot, map[string]*sql.Stmt{}
	if s.first != "" {
		if err := x.exec(s.first); err != nil {
			return s.fault(err)
		}
	}
	if err := f(x); err != nil {
		return s.fault(err)
	}
	if err := x.t.Commit(); err != nil {
		return commitError{s.fault(err)}
	}
	return nil
}

func (s *sqlStore) read(ctx context.Context, f func(tx) error) error {
	fault := s.fault
	if s.readFault != nil {
		fault = s.readFault
	}
	x, err := s.begin(ctx, s.reader, s.readOptions)
	if err != nil {
		return fault(err)
	}
	defer func() { _ = x.t.Rollback() }()
	return fault(f(x))
}

// commitError marks that the commit itself failed: what was written may be there.
type commitError struct{ error }

func (e commitError) Unwrap() error { return e.error }

func (s *sqlStore) close() error {
	for _, st := range s.hot {
		_ = st.Close()
	}
	var errs []error
	for _, db := range []*sql.DB{s.reader, s.writer} {
		if db != nil {
			errs = append(errs, db.Close())
		}
	}
	if errors.Join(errs...) != nil {
		return ErrDisk
	}
	return nil
}

// migrate brings the tables to this version's layout, and gives a new casebook
// its identifier.
func migrate(x tx, kind, id string) error {
	if err := x.exec("CREATE TABLE IF NOT EXISTS schema_version (version INTEGER NOT NULL)"); err != nil {
		return err
	}
	var have int
	if _, err := x.one("SELECT COALESCE(MAX(version), 0) FROM schema_version", nil, &have); err != nil {
		return err
	}
	if have > schemaVersion {
		return ErrNewer
	}
	for v := have + 1; v <= schemaVersion; v++ {
		text, err := schemas.ReadFile(fmt.Sprintf("data/%s-%d.sql", kind, v))
		if err != nil {
			return err
		}
		for _, statement := range splitSQL(string(text)) {
			if _, err := x.t.ExecContext(x.ctx, statement); err != nil {
				return err
			}
		}
		if err := x.exec("INSERT INTO schema_version (version) VALUES (?)", v); err != nil {
			return err
		}
	}
	if have == 0 {
		// Older casebooks keep their digests of written files; nothing reads them.
		if err := x.exec("DROP TABLE product"); err != nil {
			return err
		}
		return x.exec("INSERT INTO about (name, value) VALUES ('casebook', ?)", id)
	}
	return nil
}

// splitSQL cuts a schema file at the semicolons that end a line. A line of comment
// is left out: a step may be for one kind of database only.
func splitSQL(text string) []string {
	var out []string
	text = comments.ReplaceAllString(text, "")
	for _, s := range strings.Split(text, ";\n") {
		if s = strings.TrimSpace(s); s != "" {
			out = append(out, s)
		}
	}
	return out
}
