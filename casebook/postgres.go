package casebook

import (
	"context"
	"database/sql"
	"database/sql/driver"
	"errors"
	"io"
	"net"
	"strconv"
	"strings"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"
	"github.com/jackc/pgx/v5/stdlib"
)

// postgresLock is the advisory lock that every writing transaction holds: two
// sign-offs stand one after the other, and the log never forks. The number is
// arbitrary and fixed for good.
const postgresLock = "SELECT pg_advisory_xact_lock(7251403196382212)"

// uniqueViolation is the code of a key that exists already.
const uniqueViolation = "23505"

// postgresStray is sqliteStray for the server.
const postgresStray = `position(convert_to('"case":"' || replace(case_id, ?, '') || '"', 'UTF8') in statement) = 0
OR (position(? in case_id) > 0 AND position(convert_to('"kind":"follow-up', 'UTF8') in statement) = 0)`

const postgresNewer = `position(convert_to('"format":"` + formatEntryOnly + `"', 'UTF8') in statement) = 0`

type postgresStore struct{ *sqlStore }

// openPostgres opens the casebook of a department. The server's own default,
// synchronous_commit=on, is asked for by name: an acknowledged note is on disk.
func openPostgres(ctx context.Context, dsn string, o Options) (store, error) {
	config, err := pgx.ParseConfig(driverAddress(dsn))
	if err != nil {
		return nil, ErrAddress // the driver's text quotes the address
	}
	config.RuntimeParams["synchronous_commit"] = "on"
	config.RuntimeParams["application_name"] = "graftnote"
	db := stdlib.OpenDB(*config)
	db.SetMaxOpenConns(8)
	db.SetMaxIdleConns(8)
	s := &sqlStore{writer: db, reader: db, kind: "postgres", first: postgresLock, rebind: dollars, fault: postgresFault, stray: postgresStray, newer: postgresNewer,
		readOptions: &sql.TxOptions{Isolation: sql.LevelRepeatableRead, ReadOnly: true},
		// The lock comes first; what is read after it must be what the signer before
		// has committed, whatever the server's default is.
		writeOptions: &sql.TxOptions{Isolation: sql.LevelReadCommitted}}
	if o.ReadOnly {
		s.writer = nil
		return &postgresStore{s}, nil
	}
	if err := s.write(ctx, func(x tx) error {
		if o.id == "" {
			var there bool
			if _, err := x.one("SELECT to_regclass('about') IS NOT NULL", nil, &there); err != nil {
				return err
			}
			if !there {
				return ErrEmpty
			}
		}
		return migrate(x, s.kind, o.id)
	}); err != nil {
		_ = db.Close()
		return nil, err
	}
	return &postgresStore{s}, nil
}

// dollars turns question marks into the numbered marks of PostgreSQL.
func dollars(q string) string {
	var b strings.Builder
	n := 0
	for _, r := range q {
		if r == '?' {
			n++
			b.WriteString("$" + strconv.Itoa(n))
			continue
		}
		b.WriteRune(r)
	}
	return b.String()
}

// postgresFault says in our words what the server or the connection reports; the
// server's own text may quote values. Codes: PostgreSQL manual, appendix A.
func postgresFault(err error) error {
	var e *pgconn.PgError
	var connect *pgconn.ConnectError
	var network net.Error
	switch {
	case err == nil:
		return nil
	case errors.As(err, &e):
		switch {
		case e.Code == "53100":
			return ErrFull
		case e.Code == "25006", e.Code == "42501":
			return ErrReadOnly
		case e.Code == "42P01":
			return ErrEmpty
		// Two who write at once: that says nothing against what is stored.
		case e.Code == "55P03", e.Code == "40001", e.Code == "40P01", e.Code == "57014", e.Code == uniqueViolation:
			return ErrBusy
		case strings.HasPrefix(e.Code, "58"):
			return ErrDisk
		case strings.HasPrefix(e.Code, "57"), strings.HasPrefix(e.Code, "53"), strings.HasPrefix(e.Code, "08"), strings.HasPrefix(e.Code, "28"), strings.HasPrefix(e.Code, "3D"):
			return ErrUnreachable
		}
		return ErrDamaged
	case errors.As(err, &connect), errors.As(err, &network), errors.Is(err, io.EOF), errors.Is(err, io.ErrUnexpectedEOF),
		errors.Is(err, driver.ErrBadConn), errors.Is(err, net.ErrClosed), errors.Is(err, sql.ErrConnDone), errors.Is(err, pgconn.ErrConnClosed), pgconn.SafeToRetry(err):
		return ErrUnreachable
	}
	return err
}

// The server guards itself; see the backup's checkpoint for rolling back.
func (s *postgresStore) guard(string)    {}
func (s *postgresStore) guarded() string { return "" }

func (s *postgresStore) close() error {
	if s.reader.Close() != nil {
		return ErrUnreachable
	}
	return nil
}
