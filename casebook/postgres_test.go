//go:build postgres

package casebook

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"net/url"
	"os"
	"sync"
	"testing"

	"github.com/jackc/pgx/v5/pgconn"
)

// The CI builds with this tag to be sure that the shared suite met a server.
func TestPostgresIsUnderTest(t *testing.T) {
	for _, p := range places() {
		if p.name != "postgres" {
			continue
		}
		c, k := opened(t, p.dsn(t))
		sign(t, c, k, "server-1", 1)
		clean(t, c)
		return
	}
	t.Fatal("GRAFTNOTE_TEST_POSTGRES names no server")
}

// Whatever isolation a database gives by default, two who sign at once stand one
// after the other, and neither is told that the casebook is damaged.
// Source: PostgreSQL manual, 13.2 Transaction Isolation.
func TestTwoWritersUnderEachIsolation(t *testing.T) {
	server := os.Getenv("GRAFTNOTE_TEST_POSTGRES")
	for n, level := range []string{"read committed", "repeatable read", "serializable"} {
		t.Run(level, func(t *testing.T) {
			dsn := freshDatabase(t, server, fmt.Sprintf("isolation_%d_%d", os.Getpid(), n), level)
			_, k := opened(t, dsn)
			const each = 25
			var wg sync.WaitGroup
			for w := range 2 {
				mine, err := Open(t.Context(), dsn, Options{})
				if err != nil {
					t.Fatal(err)
				}
				wg.Go(func() {
					defer mine.Close()
					for i := range each {
						e, err := entryFor(fmt.Sprintf("writer-%d-%d", w, i))
						if err == nil {
							_, err = signOff(context.Background(), mine, request(e, act(k, 1)))
						}
						if err != nil {
							t.Errorf("writer %d, note %d: %v", w, i, err)
						}
					}
				})
			}
			wg.Wait()
			if r := clean(t, open(t, dsn)); r.Cases != 2*each {
				t.Errorf("%d cases", r.Cases)
			}
		})
	}
}

// freshDatabase makes a database of its own, with a default isolation.
func freshDatabase(t *testing.T, server, name, level string) string {
	t.Helper()
	u, err := url.Parse(server)
	if err != nil {
		t.Fatal(err)
	}
	run := func(q string) error {
		db, err := sql.Open("pgx", server)
		if err != nil {
			return err
		}
		defer db.Close()
		_, err = db.Exec(q)
		return err
	}
	if err := run("CREATE DATABASE " + name); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := run("DROP DATABASE " + name + " WITH (FORCE)"); err != nil {
			t.Error(err)
		}
	})
	if err := run("ALTER DATABASE " + name + " SET default_transaction_isolation = '" + level + "'"); err != nil {
		t.Fatal(err)
	}
	u.Path = "/" + name
	return u.String()
}

// What only says that another one was first is never called damage: that would
// send somebody to restore a backup over newer notes.
// Source: PostgreSQL manual, appendix A.
func TestAnotherWriterIsNoDamage(t *testing.T) {
	for _, code := range []string{"23505", "40001", "40P01", "55P03"} {
		if err := postgresFault(&pgconn.PgError{Code: code}); !errors.Is(err, ErrBusy) {
			t.Errorf("%s: %v", code, err)
		}
	}
	if err := postgresFault(&pgconn.PgError{Code: "XX001"}); !errors.Is(err, ErrDamaged) { // data_corrupted
		t.Errorf("%v", err)
	}
}
