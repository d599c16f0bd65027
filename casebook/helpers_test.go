package casebook

import (
	"context"
	"database/sql"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"graftnote/schema"
)

// scrypt at its usual work factor takes a second a time; the format is the same.
func TestMain(m *testing.M) {
	if os.Getenv(childVariable) != "" {
		os.Exit(childMain())
	}
	workFactor = 10
	os.Exit(m.Run())
}

// place is a store under test: the shared suite runs over each.
type place struct {
	name string
	dsn  func(t testing.TB) string
}

// places are the file, and a PostgreSQL server when the environment names one.
// The CI names one and asserts with build tag 'postgres' that it was used.
func places() []place {
	all := []place{{"sqlite", func(t testing.TB) string { return filepath.Join(t.TempDir(), "casebook.db") }}}
	if server := os.Getenv("GRAFTNOTE_TEST_POSTGRES"); server != "" {
		all = append(all, place{"postgres", func(t testing.TB) string { return freshSchema(t, server) }})
	}
	return all
}

var schemaCount atomic.Int64

// freshSchema makes an empty PostgreSQL schema of its own for one test.
func freshSchema(t testing.TB, server string) string {
	t.Helper()
	db, err := sql.Open("pgx", server)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	name := fmt.Sprintf("test_%d_%d", os.Getpid(), schemaCount.Add(1))
	if _, err := db.Exec("CREATE SCHEMA " + name); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		db, err := sql.Open("pgx", server)
		if err == nil {
			_, err = db.Exec("DROP SCHEMA " + name + " CASCADE")
			db.Close()
		}
		if err != nil {
			t.Error(err)
		}
	})
	sep := "?"
	if strings.Contains(server, "?") {
		sep = "&"
	}
	return server + sep + "search_path=" + name
}

// onEachPlace runs a test over every store.
func onEachPlace(t *testing.T, f func(t *testing.T, dsn string)) {
	t.Helper()
	for _, p := range places() {
		t.Run(p.name, func(t *testing.T) { f(t, p.dsn(t)) })
	}
}

// noise is a repeatable source of randomness.
func noise(seed uint64) io.Reader {
	var s [32]byte
	binary.LittleEndian.PutUint64(s[:], seed)
	return rand.NewChaCha8(s)
}

var theDay = time.Date(2026, 9, 8, 11, 0, 0, 0, time.FixedZone("", 3600))

func newKey(t testing.TB, seed uint64, name, role string) *Key {
	t.Helper()
	k, err := NewKey(noise(seed), name, role)
	if err != nil {
		t.Fatal(err)
	}
	return k
}

func act(k *Key, minute int) Act {
	return Act{Key: k, Now: theDay.Add(time.Duration(minute) * time.Minute), Zone: "Europe/London", Tool: "graftnote test"}
}

var sampleText = func() string {
	b, err := os.ReadFile("../testdata/entries/01-double-bubble.yaml")
	if err != nil {
		panic(err)
	}
	return string(b)
}()

// checkedEntry is the first sample under another case identifier; more are
// replacements of old by new.
func checkedEntry(t testing.TB, id string, more ...string) schema.Checked {
	t.Helper()
	c, err := entryFor(id, more...)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func entryFor(id string, more ...string) (schema.Checked, error) {
	text := strings.NewReplacer(append([]string{"a1k7-double-bubble", id}, more...)...).Replace(sampleText)
	o := schema.Options{Now: theDay}
	r := schema.Read(schema.Source{Name: "entry.yaml", Data: []byte(text)}, o)
	if len(r.Cases) != 1 {
		return schema.Checked{}, fmt.Errorf("%d cases, %v", len(r.Cases), r.Findings)
	}
	c, err := schema.Check(r.Cases[0], o, nil)
	if err == nil && !c.Complete() {
		err = fmt.Errorf("blocked: %v", c.Gaps())
	}
	return c, err
}

// request is a sign-off with every point answered and every value confirmed.
func request(c schema.Checked, a Act) SignRequest {
	r := SignRequest{Act: a, Checked: c, Shown: c.Digest(), Document: shownAs(c), Confirmed: Prefilled(c), True: ToAffirm(c)}
	for _, f := range ToAnswer(c) {
		r.Answers = append(r.Answers, Answer{f.Rule, f.Path, "seen and true"})
	}
	return r
}

// shownAs stands in for the words that a signer is shown.
func shownAs(c schema.Checked) []byte {
	return fmt.Appendf(nil, `{"format":"words for a test","id":%q,"of":%q}`, c.ID(), c.Digest())
}

// signOff signs, and says of every case that looks like this one that it is another.
func signOff(ctx context.Context, c *Casebook, r SignRequest) (Receipt, error) {
	for {
		got, err := c.SignOff(ctx, r)
		var like AlikeError
		if !errors.As(err, &like) {
			return got, err
		}
		r.Different = append(r.Different, like.Cases...)
	}
}

func open(t testing.TB, dsn string) *Casebook {
	t.Helper()
	c, err := Open(context.Background(), dsn, Options{Rand: noise(1)})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = c.Close() })
	return c
}

// opened is a casebook with one registered consultant.
func opened(t testing.TB, dsn string) (*Casebook, *Key) {
	t.Helper()
	c, k := open(t, dsn), newKey(t, 7, "Imara Voss", "consultant")
	must(t)(c.AddKey(context.Background(), KeyRequest{Act: act(k, 0), New: k.Public()}))
	return c, k
}

func must(t testing.TB) func(Receipt, error) Receipt {
	return func(r Receipt, err error) Receipt {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		return r
	}
}

func sign(t testing.TB, c *Casebook, k *Key, id string, minute int) Receipt {
	t.Helper()
	return must(t)(signOff(context.Background(), c, request(checkedEntry(t, id), act(k, minute))))
}

func clean(t testing.TB, c *Casebook, older ...string) Report {
	t.Helper()
	r, err := c.Check(context.Background(), nil, older...)
	if err != nil || !r.Clean() {
		t.Fatalf("check: %v, %v", err, r.Faults)
	}
	return r
}
