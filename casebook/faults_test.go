package casebook

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"
)

// A full disk: SQLite's own limit on the file's pages answers as the disk would
// (SQLITE_FULL). Nothing half is stored, and signing goes on when there is room.
func TestFullDisk(t *testing.T) {
	c, k := opened(t, filepath.Join(t.TempDir(), "casebook.db"))
	limit := func(pages string) {
		if _, err := c.s.(*sqliteStore).writer.Exec("PRAGMA max_page_count = " + pages); err != nil {
			t.Fatal(err)
		}
	}
	var pages string
	if err := c.s.(*sqliteStore).writer.QueryRow("PRAGMA page_count").Scan(&pages); err != nil {
		t.Fatal(err)
	}
	limit(pages)
	var err error
	stored := 0
	for n := 0; n < 50 && err == nil; n++ {
		if _, err = signOff(t.Context(), c, request(checkedEntry(t, fmt.Sprintf("full-%d", n)), act(k, n))); err == nil {
			stored++
		}
	}
	if !errors.Is(err, ErrFull) {
		t.Fatalf("%v, want %v", err, ErrFull)
	}
	if r := clean(t, c); r.Cases != int64(stored) {
		t.Errorf("%d cases, %d acknowledged", r.Cases, stored)
	}
	limit("1000000")
	sign(t, c, k, "full-after", 60)
	clean(t, c)
}

// A casebook opened for reading refuses to sign and says so.
func TestReadOnly(t *testing.T) {
	onEachPlace(t, func(t *testing.T, dsn string) {
		c, k := opened(t, dsn)
		sign(t, c, k, "read-only-1", 1)
		ro, err := Open(t.Context(), dsn, Options{ReadOnly: true})
		if err != nil {
			t.Fatal(err)
		}
		defer ro.Close()
		if _, err := signOff(t.Context(), ro, request(checkedEntry(t, "read-only-2"), act(k, 2))); !errors.Is(err, ErrReadOnly) {
			t.Errorf("%v", err)
		}
		if h, err := ro.Get(t.Context(), "read-only-1"); err != nil || len(h.Revisions) != 1 {
			t.Errorf("%v", err)
		}
		clean(t, ro)
	})
	for _, err := range []error{&fs.PathError{Op: "open", Err: fs.ErrPermission}} {
		if got := fileFault(err); !errors.Is(got, ErrReadOnly) {
			t.Errorf("%v", got)
		}
	}
}

// A network share is refused before anything is written there.
func TestNetworkShareIsRefused(t *testing.T) {
	path := filepath.Join(t.TempDir(), "share", "casebook.db")
	_, err := Open(t.Context(), path, Options{Rand: noise(1), Network: func(string) bool { return true }})
	if !errors.Is(err, ErrNetwork) {
		t.Errorf("%v", err)
	}
	if _, err := os.Stat(filepath.Dir(path)); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("something was made: %v", err)
	}
}

// Files are for their owner only, and a folder that was made keeps itself out of
// version control.
func TestFilesAreForTheirOwner(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "casebook")
	c, k := opened(t, filepath.Join(dir, "casebook.db"))
	sign(t, c, k, "mode-1", 1)
	files, err := os.ReadDir(dir)
	if err != nil || len(files) < 4 {
		t.Fatalf("%v, %v", files, err)
	}
	for _, f := range files {
		info, err := f.Info()
		if err != nil || info.Mode().Perm() != 0o600 {
			t.Errorf("%s: %v, %v", f.Name(), info.Mode(), err)
		}
	}
	if b, err := os.ReadFile(filepath.Join(dir, ".gitignore")); err != nil || string(b) != "*\n" {
		t.Errorf("ignore file %q, %v", b, err)
	}
}

// A write-ahead log cut or spoiled at any place: SQLite keeps what is whole
// before it and says nothing; the casebook knows by its tip that acknowledged
// notes are missing, and what is left is sound.
func TestTornWriteAheadLog(t *testing.T) {
	dir := t.TempDir()
	c, k := opened(t, filepath.Join(dir, "live.db"))
	for n := range 6 {
		sign(t, c, k, fmt.Sprintf("torn-wal-%d", n), n)
	}
	var parts [][]byte
	for _, end := range []string{"", "-wal", ".tip"} { // as a crash would leave them
		b, err := os.ReadFile(filepath.Join(dir, "live.db"+end))
		if err != nil {
			t.Fatal(err)
		}
		parts = append(parts, b)
	}
	r := rand.New(rand.NewPCG(9, 10))
	refused := 0
	for n := range 60 {
		wal := append([]byte{}, parts[1]...)
		at := r.IntN(len(wal))
		if n%2 == 0 {
			wal = wal[:at]
		} else {
			wal[at] ^= 0x10
		}
		path := filepath.Join(dir, fmt.Sprintf("torn-%d.db", n))
		for i, b := range [][]byte{parts[0], wal, parts[2]} {
			if err := os.WriteFile(path+[]string{"", "-wal", ".tip"}[i], b, 0o600); err != nil {
				t.Fatal(err)
			}
		}
		torn, err := Open(t.Context(), path, Options{})
		if err != nil {
			if !errors.Is(err, ErrRolledBack) && !errors.Is(err, ErrDamaged) && !errors.Is(err, ErrEmpty) && !errors.Is(err, ErrDisk) {
				t.Errorf("cut %d: %v", n, err)
			}
			refused++
			continue
		}
		if rep := clean(t, torn); rep.Cases != 6 {
			t.Errorf("opened with %d of 6 notes", rep.Cases)
		}
		_ = torn.Close()
	}
	if refused == 0 {
		t.Error("no cut was noticed")
	}
}

// An older copy put in the place of the newest: last week's backup of the file.
func TestOlderCopyIsNoticed(t *testing.T) {
	path := filepath.Join(t.TempDir(), "casebook.db")
	c, k := opened(t, path)
	sign(t, c, k, "older-1", 1)
	if err := c.Close(); err != nil {
		t.Fatal(err)
	}
	old, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	c = open(t, path)
	sign(t, c, k, "older-2", 2)
	if err := c.Close(); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, old, 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := Open(t.Context(), path, Options{}); !errors.Is(err, ErrRolledBack) {
		t.Errorf("%v", err)
	}
	r := look(t, path)
	if len(r.Faults) != 1 || r.Faults[0].Kind != RolledBack {
		t.Errorf("faults %v", r.Faults)
	}
}

// Eight sign at once, each through a casebook of its own: every note is there,
// the log is one, and of eight who sign the same case one does.
func TestEightSignAtOnce(t *testing.T) {
	onEachPlace(t, func(t *testing.T, dsn string) {
		_, k := opened(t, dsn)
		const people, each = 8, 6
		var wg sync.WaitGroup
		var mu sync.Mutex
		shared := 0
		for p := range people {
			mine, err := Open(t.Context(), dsn, Options{})
			if err != nil {
				t.Fatal(err)
			}
			entries := []SignRequest{request(checkedEntry(t, "shared-1"), act(k, 1))}
			for n := range each {
				entries = append(entries, request(checkedEntry(t, fmt.Sprintf("at-once-%d-%d", p, n)), act(k, 1)))
			}
			wg.Go(func() {
				defer mine.Close()
				for n, r := range entries {
					_, err := signOff(context.Background(), mine, r)
					mu.Lock()
					switch {
					case n == 0 && err == nil:
						shared++
					case n == 0 && errors.Is(err, ErrAlreadySigned):
					case err != nil:
						t.Errorf("person %d: %v", p, err)
					}
					mu.Unlock()
				}
			})
		}
		wg.Wait()
		c := open(t, dsn)
		if r := clean(t, c); r.Cases != people*each+1 || shared != 1 {
			t.Errorf("%d cases, shared case signed %d times", r.Cases, shared)
		}
	})
}

// A clock set back is recorded in what is signed, and the order stays that of the
// log.
func TestClockSetBack(t *testing.T) {
	onEachPlace(t, func(t *testing.T, dsn string) {
		c, k := opened(t, dsn)
		if r := sign(t, c, k, "clock-1", 60*24*365); r.ClockBack {
			t.Error("a clock that runs on is called back")
		}
		r := sign(t, c, k, "clock-2", 2)
		if !r.ClockBack || r.Index != 2 || !r.Before.Equal(theDay.Add(365*24*time.Hour)) {
			t.Errorf("%+v", r)
		}
		h, err := c.Get(t.Context(), "clock-2")
		if err != nil || h.Current().Statement.ClockBefore != "2027-09-08T11:00:00+01:00" {
			t.Errorf("%v, %v", h, err)
		}
		if rep := clean(t, c); len(rep.Remarks) != 1 || !strings.Contains(rep.Remarks[0], "clock") {
			t.Errorf("remarks %v", rep.Remarks)
		}
	})
}
