package casebook

import (
	"context"
	"database/sql"
	"errors"
	"io/fs"
	"net/url"
	"os"
	"path/filepath"
	"strings"

	"modernc.org/sqlite"
)

// The primary result codes of SQLite (https://www.sqlite.org/rescode.html).
const (
	sqliteBusy     = 5
	sqliteLocked   = 6
	sqliteReadOnly = 8
	sqliteIOErr    = 10
	sqliteCorrupt  = 11
	sqliteFull     = 13
	sqliteCantOpen = 14
	sqliteKnown    = 19 // SQLITE_CONSTRAINT
	sqliteNotADB   = 26
)

// sqliteStray looks for the case as a signed statement writes it; no text inside
// one can hold these bytes, since its quotation marks are escaped.
const sqliteStray = `instr(statement, CAST('"case":"' || replace(case_id, ?, '') || '"' AS BLOB)) = 0
OR (instr(case_id, ?) > 0 AND instr(statement, CAST('"kind":"follow-up' AS BLOB)) = 0)`

const sqliteNewer = `instr(statement, CAST('"format":"` + formatEntryOnly + `"' AS BLOB)) = 0`

type sqliteStore struct {
	*sqlStore
	tip *tip
}

// openSQLite opens the embedded casebook: one file, write-ahead log, every commit
// on the disk before it is acknowledged (synchronous=FULL), one writer.
func openSQLite(ctx context.Context, path string, o Options) (store, error) {
	abs, err := filepath.Abs(path)
	if err != nil {
		return nil, ErrAddress
	}
	path = abs
	network := o.Network
	if network == nil {
		network = networkFolder
	}
	if network(filepath.Dir(path)) {
		return nil, ErrNetwork
	}
	if err := prepareFile(path, o); err != nil {
		return nil, err
	}
	s := newSQLite()
	if !o.ReadOnly {
		s.writer, err = sql.Open("sqlite", sqliteDSN(path, "rw", "_pragma=journal_mode(WAL)&_pragma=synchronous(FULL)&_txlock=immediate"))
		if err != nil {
			return nil, ErrAddress
		}
		s.writer.SetMaxOpenConns(1)
	}
	mode := "ro"
	if o.ReadOnly && !writableFolder(path) {
		mode = "ro&immutable=1"
	}
	if s.reader, err = sql.Open("sqlite", sqliteDSN(path, mode, "_pragma=query_only(1)")); err != nil {
		return nil, ErrAddress
	}
	s.reader.SetMaxOpenConns(4)
	s.readFault = func(err error) error { return sqliteReadFault(err, path) }
	out := &sqliteStore{s, nil}
	if !o.ReadOnly {
		if err := s.write(ctx, func(x tx) error { return migrate(x, s.kind, o.id) }); err != nil {
			_ = s.close()
			return nil, err
		}
		if s.hot, err = prepareHot(ctx, s.writer); err != nil {
			_ = s.close()
			return nil, s.fault(err)
		}
	}
	out.tip = openTip(path+".tip", o.ReadOnly)
	return out, nil
}

func newSQLite() *sqlStore {
	return &sqlStore{kind: "sqlite", sound: "PRAGMA integrity_check(1)", stray: sqliteStray, newer: sqliteNewer, rebind: func(q string) string { return q }, fault: sqliteFault}
}

// openMemory opens an empty casebook in memory, for trying a backup: on one
// connection, with which it goes.
func openMemory(ctx context.Context, _ string, o Options) (store, error) {
	db, err := sql.Open("sqlite", "file::memory:?_txlock=immediate&"+noSpill)
	if err != nil {
		return nil, ErrAddress
	}
	db.SetMaxOpenConns(1)
	s := newSQLite()
	s.writer, s.reader = db, db
	err = s.write(ctx, func(x tx) error { return migrate(x, s.kind, o.id) })
	if err == nil {
		s.hot, err = prepareHot(ctx, db)
	}
	if err != nil {
		_ = s.close()
		return nil, s.fault(err)
	}
	return &sqliteStore{s, &tip{}}, nil
}

// noSpill keeps what the database sorts out of files: it is patient data.
const noSpill = "_pragma=temp_store(2)"

func sqliteDSN(path, mode, more string) string {
	slashed := filepath.ToSlash(path)
	if !strings.HasPrefix(slashed, "/") {
		slashed = "/" + slashed // C:/x is /C:/x in a URI
	}
	u := url.URL{Scheme: "file", Path: slashed}
	return u.String() + "?mode=" + mode + "&_pragma=busy_timeout(20000)&" + noSpill + "&" + more
}

// prepareFile makes the file on first use, readable by its owner only. SQLite
// gives its write-ahead files the same mode.
func prepareFile(path string, o Options) error {
	info, err := os.Stat(path)
	switch {
	case err == nil && !info.Mode().IsRegular():
		return ErrAddress
	case err == nil && o.ReadOnly:
		return nil
	case err == nil:
		f, err := os.OpenFile(path, os.O_RDWR, 0)
		if err != nil {
			return fileFault(err)
		}
		return f.Close()
	case !errors.Is(err, fs.ErrNotExist):
		return fileFault(err)
	case o.ReadOnly || o.id == "":
		return ErrEmpty
	}
	dir := filepath.Dir(path)
	if _, err := os.Stat(dir); errors.Is(err, fs.ErrNotExist) {
		if err := os.MkdirAll(dir, 0o700); err != nil {
			return fileFault(err)
		}
		// A casebook is patient data: a folder that we made keeps itself out of
		// version control.
		if err := os.WriteFile(filepath.Join(dir, ".gitignore"), []byte("*\n"), 0o600); err != nil {
			return fileFault(err)
		}
	}
	f, err := os.OpenFile(path, os.O_RDWR|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		if errors.Is(err, fs.ErrExist) { // another process was first
			return nil
		}
		return fileFault(err)
	}
	return f.Close()
}

// writableFolder reports whether SQLite can keep its shared memory beside the
// file. Where it can't, a file without pending write-ahead log is read as it is.
func writableFolder(path string) bool {
	if info, err := os.Stat(path + "-wal"); err == nil && info.Size() > 0 {
		return true
	}
	info, err := os.Stat(filepath.Dir(path))
	return err == nil && info.Mode().Perm()&0o200 != 0
}

func fileFault(err error) error {
	switch {
	case errors.Is(err, fs.ErrPermission), isReadOnlyFS(err):
		return ErrReadOnly
	case isFull(err):
		return ErrFull
	}
	return ErrDisk
}

// sqliteFault says in our words what the driver reports; its own text may quote
// values.
func sqliteFault(err error) error {
	var e *sqlite.Error
	if err == nil || !errors.As(err, &e) {
		return err
	}
	switch e.Code() & 0xff {
	case sqliteBusy, sqliteLocked:
		return ErrBusy
	case sqliteReadOnly, sqliteCantOpen:
		return ErrReadOnly
	case sqliteFull:
		return ErrFull
	case sqliteCorrupt, sqliteNotADB:
		return ErrDamaged
	case sqliteIOErr:
		return ErrDisk
	}
	return ErrDamaged
}

// Extended codes of the shared memory that a reader needs beside the file.
const (
	sqliteShmSize = sqliteIOErr | 19<<8
	sqliteShmMap  = sqliteIOErr | 21<<8
)

// sqliteReadFault says what keeps from reading: nothing was to be stored, and the
// disk need not have failed.
func sqliteReadFault(err error, path string) error {
	var e *sqlite.Error
	if !errors.As(err, &e) {
		return err
	}
	switch code := e.Code(); {
	case code == sqliteShmSize, code == sqliteShmMap, code&0xff == sqliteFull:
		return ErrNoRoom
	case code&0xff == sqliteReadOnly, code&0xff == sqliteCantOpen:
		if info, err := os.Stat(path + "-wal"); err == nil && info.Size() > 0 {
			return ErrPending
		}
	}
	return sqliteFault(err)
}

func (s *sqliteStore) guard(checkpoint string) { s.tip.write(checkpoint) }
func (s *sqliteStore) guarded() string         { return s.tip.read() }

func (s *sqliteStore) close() error {
	s.tip.close()
	return s.sqlStore.close()
}

// prepareHot compiles the statements of a sign-off once.
func prepareHot(ctx context.Context, db *sql.DB) (map[string]*sql.Stmt, error) {
	hot := map[string]*sql.Stmt{}
	for _, q := range hotQueries {
		st, err := db.PrepareContext(ctx, q)
		if err != nil {
			return nil, err
		}
		hot[q] = st
	}
	return hot, nil
}
