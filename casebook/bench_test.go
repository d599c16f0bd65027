package casebook

import (
	"crypto/ed25519"
	"database/sql"
	"flag"
	"fmt"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
	"time"

	"golang.org/x/mod/sumdb/tlog"

	"graftnote/schema"
)

// The CI and docs/reliability.md use 100,000.
var benchNotes = flag.Int("bench.notes", 5000, "notes in the casebook that the benchmarks read")

// One durable sign-off at a time, each with its own commit. On SQLite each is
// followed by the same bytes through the bare driver, one insert and one commit:
// what the disk and SQLite alone allow at that moment.
func BenchmarkSignOff(b *testing.B) {
	for _, p := range places() {
		b.Run(p.name, func(b *testing.B) {
			c, k := opened(b, p.dsn(b))
			requests := make([]SignRequest, 0, b.N)
			for n := range b.N {
				requests = append(requests, request(checkedEntry(b, fmt.Sprintf("bench-%06d", n)), act(k, n)))
			}
			bare := func(schema.Checked) {}
			if p.name == "sqlite" {
				bare = bareDriver(b, k)
			}
			var ours, theirs time.Duration
			b.ResetTimer()
			for _, r := range requests {
				start := time.Now()
				if _, err := signOff(b.Context(), c, r); err != nil {
					b.Fatal(err)
				}
				between := time.Now()
				bare(r.Checked)
				ours, theirs = ours+between.Sub(start), theirs+time.Since(between)
			}
			b.ReportMetric(float64(b.N)/ours.Seconds(), "signoffs/s")
			if p.name == "sqlite" {
				b.ReportMetric(float64(b.N)/theirs.Seconds(), "bare/s")
			}
		})
	}
}

func bareDriver(b *testing.B, k *Key) func(schema.Checked) {
	db, err := sql.Open("sqlite", sqliteDSN(filepath.Join(b.TempDir(), "bare.db"), "rwc", "_pragma=journal_mode(WAL)&_pragma=synchronous(FULL)&_txlock=immediate"))
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() { _ = db.Close() })
	db.SetMaxOpenConns(1)
	if _, err := db.Exec("CREATE TABLE leaf (idx INTEGER PRIMARY KEY, statement BLOB NOT NULL, signature BLOB NOT NULL)"); err != nil {
		b.Fatal(err)
	}
	insert, err := db.Prepare("INSERT INTO leaf (statement, signature) VALUES (?, ?)")
	if err != nil {
		b.Fatal(err)
	}
	return func(c schema.Checked) {
		if _, err := insert.Exec(c.Canonical(), k.sign(c.Canonical())); err != nil {
			b.Fatal(err)
		}
	}
}

// many fills a casebook in one transaction; each note is signed as any other.
func many(b *testing.B, dsn string, n int) (*Casebook, *Key) {
	b.Helper()
	c, k := opened(b, dsn)
	text := string(checkedEntry(b, "bench-000000").Canonical())
	eyes, separations := []string{"left", "right"}, []string{"complete", "partial", "none"}
	err := c.s.write(b.Context(), func(x tx) error {
		e, err := c.loadEdge(x)
		if err != nil {
			return err
		}
		for i := range n {
			entry := strings.NewReplacer("bench-000000", fmt.Sprintf("bench-%06d", i), `"2026-09-08"`, fmt.Sprintf("%q", theDay.AddDate(0, 0, -i%3650).Format("2006-01-02")),
				`"operated":"right"`, fmt.Sprintf(`"operated":%q`, eyes[i%2]), `"obtained":"complete"`, fmt.Sprintf(`"obtained":%q`, separations[i%3])).Replace(text)
			if i%10 == 0 {
				entry = strings.Replace(entry, `"events":"none"`, `"events":[{"kind":"failed-bubble"}]`, 1)
			}
			s := &Statement{Format: Format, Kind: Signed, Casebook: c.id, Sequence: e.size, Case: fmt.Sprintf("bench-%06d", i), Revision: 1, Entry: []byte(entry), EntrySHA256: digest([]byte(entry)),
				Signer: Signer{k.public.Name, k.public.Role, k.public.ID}, Signed: "2026-09-08T11:00:00+01:00", Zone: "Europe/London", Meaning: Meaning(Signed)}
			words := fmt.Appendf(nil, `{"case":%q,"words":%q}`, s.Case, strings.Repeat(text, 2)) // about the size of a note's words
			s.DocumentSHA256 = digest(words)
			if err := storeDocument(x, words); err != nil {
				return err
			}
			signed, err := s.Encode()
			if err != nil {
				return err
			}
			if e, _, err = c.extend(x, e, s, signed, k.sign(signed), k); err != nil {
				return err
			}
			if _, err = record(x, s, caseRow{}); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		b.Fatal(err)
	}
	return c, k
}

// Every digest, signature, hash, checkpoint and list entry of the casebook.
func BenchmarkCheck(b *testing.B) {
	c, _ := many(b, places()[0].dsn(b), *benchNotes)
	runtime.GC() // what filling the casebook left is not the check's
	var peak uint64
	watch := func(int64, int64) {
		var m runtime.MemStats
		runtime.ReadMemStats(&m)
		peak = max(peak, m.HeapInuse)
	}
	b.ResetTimer()
	for range b.N {
		if r, err := c.Check(b.Context(), watch); err != nil || !r.Clean() {
			b.Fatal(r.Faults, err)
		}
	}
	b.ReportMetric(float64(*benchNotes)*float64(b.N)/b.Elapsed().Seconds(), "notes/s")
	b.ReportMetric(float64(peak)/(1<<20), "peak-MB")
}

// The bare work that a check can't do without: one scan and one signature each.
func BenchmarkBareCheck(b *testing.B) {
	c, k := many(b, places()[0].dsn(b), *benchNotes)
	public, _, err := parseVerifier(k.public.Key)
	if err != nil {
		b.Fatal(err)
	}
	b.ResetTimer()
	for range b.N {
		err := c.s.read(b.Context(), func(x tx) error {
			return x.each("SELECT statement, signature FROM leaf ORDER BY idx", nil, func(rows *sql.Rows) error {
				var s, g []byte
				if err := rows.Scan(&s, &g); err != nil {
					return err
				}
				if !ed25519.Verify(public, s, g) {
					b.Fatal("signature")
				}
				_ = tlog.RecordHash(s)
				return nil
			})
		})
		if err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkProof(b *testing.B) {
	c, _ := many(b, places()[0].dsn(b), *benchNotes)
	b.ResetTimer()
	for n := range b.N {
		p, err := c.Proof(b.Context(), fmt.Sprintf("bench-%06d", n%*benchNotes), 1)
		if err != nil {
			b.Fatal(err)
		}
		if _, err := VerifyProof(p, Trust{}); err != nil {
			b.Fatal(err)
		}
	}
}

// Month end: the whole log verified in one pass, and each case handed out and read.
func BenchmarkEachInForce(b *testing.B) {
	c, _ := many(b, places()[0].dsn(b), *benchNotes)
	b.ResetTimer()
	for range b.N {
		c.seal.of = nil
		n := 0
		err := c.EachInForce(b.Context(), func(i InForce) error {
			n++
			_, _, err := i.Open()
			return err
		})
		if err != nil || n != *benchNotes {
			b.Fatal(n, err)
		}
	}
	b.ReportMetric(float64(*benchNotes)*float64(b.N)/b.Elapsed().Seconds(), "notes/s")
}

// One note, in a process that has read none before: keys, checkpoint, the look for
// statements that were moved, and the case.
func BenchmarkFirstGet(b *testing.B) {
	c, _ := many(b, places()[0].dsn(b), *benchNotes)
	b.ResetTimer()
	for n := range b.N {
		c.seal.of = nil
		if _, err := c.Get(b.Context(), fmt.Sprintf("bench-%06d", n%*benchNotes)); err != nil {
			b.Fatal(err)
		}
	}
}

// What somebody looks for: the last hundred, and three searches.
func BenchmarkList(b *testing.B) {
	c, _ := many(b, places()[0].dsn(b), *benchNotes)
	for name, f := range map[string]Filter{
		"newest": {Limit: 100}, "rare": {Separation: "none", Eye: "right", Limit: 100}, "event": {Event: "failed-bubble", Eye: "left", Limit: 100},
		"day": {From: "2024-01-01", To: "2024-01-07"}, "nothing": {State: StateWithdrawn}, "month-of-one-eye": {Eye: "right", From: "2025-03-01", To: "2025-03-31"},
		"everything": {},
	} {
		b.Run(name, func(b *testing.B) {
			for range b.N {
				if _, err := c.List(b.Context(), f); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
