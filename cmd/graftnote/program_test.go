package main

import (
	"crypto/ed25519"
	"crypto/sha256"
	"encoding/base64"
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"filippo.io/age"
	"filippo.io/age/armor"
	"github.com/rogpeppe/go-internal/testscript"

	"graftnote/casebook"
)

// program is the real program; a script may set its clock and its random numbers,
// so that what it prints can be compared.
func program() {
	env := machine()
	if text := os.Getenv("GRAFTNOTE_TEST_NOW"); text != "" {
		now, err := time.Parse(time.RFC3339, text)
		if err != nil {
			panic(err)
		}
		env.now = func() time.Time { return now }
	}
	if seed := os.Getenv("GRAFTNOTE_TEST_SEED"); seed != "" {
		env.random = rand.NewChaCha8(sha256.Sum256([]byte(seed)))
	}
	if os.Getenv(slowDisk) != "" {
		env.disk = tardyDisk{}
	}
	os.Exit(run(os.Args[1:], os.Stdin, os.Stdout, os.Stderr, env))
}

// foundersFile is a reader's list of founders with the key of Imara Voss, in a
// folder of its own.
func foundersFile(t testing.TB) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "founders")
	if err := os.WriteFile(path, []byte("# whom I know\n"+testKey("Imara Voss", "consultant").ID+" Imara Voss\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

// testKey is the public half of the key that sealedTestKey makes.
func testKey(name, role string) casebook.PublicKey {
	seed := sha256.Sum256([]byte(name))
	public, err := casebook.NewPublicKey(ed25519.NewKeyFromSeed(seed[:]).Public().(ed25519.PublicKey), name, role)
	if err != nil {
		panic(err)
	}
	return public
}

// testPassphrase opens the keys that 'keyfile' makes.
const testPassphrase = "zqsecret-of-the-tests"

// sealedTestKey is a key file with a light work factor: the format is that of
// casebook.Seal, which takes a second on purpose.
func sealedTestKey(name, role string) (sealed string, public casebook.PublicKey, err error) {
	seed := sha256.Sum256([]byte(name))
	key := ed25519.NewKeyFromSeed(seed[:])
	if public, err = casebook.NewPublicKey(key.Public().(ed25519.PublicKey), name, role); err != nil {
		return "", public, err
	}
	text, err := json.Marshal(map[string]string{"format": "graftnote key 1", "name": name, "role": role, "seed": base64.StdEncoding.EncodeToString(seed[:])})
	if err != nil {
		return "", public, err
	}
	lock, err := age.NewScryptRecipient(testPassphrase)
	if err != nil {
		return "", public, err
	}
	lock.SetWorkFactor(8)
	var out strings.Builder
	outer := armor.NewWriter(&out)
	inner, err := age.Encrypt(outer, lock)
	if err != nil {
		return "", public, err
	}
	if _, err := inner.Write(text); err != nil {
		return "", public, err
	}
	if err := inner.Close(); err != nil {
		return "", public, err
	}
	err = outer.Close()
	return out.String(), public, err
}

// keyfile makes FILE, FILE.pub and the passphrase file 'pass', and sets $ID_ROLE
// to the identifier of the key.
func keyfile(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 3 {
		ts.Fatalf("usage: keyfile NAME ROLE FILE")
	}
	sealed, public, err := sealedTestKey(args[0], args[1])
	ts.Check(err)
	for name, text := range map[string]string{args[2]: sealed, args[2] + publicEnd: publicText(public), "pass": testPassphrase + "\n"} {
		ts.Check(os.WriteFile(ts.MkAbs(name), []byte(text), 0o600))
	}
	ts.Setenv(fmt.Sprintf("ID_%s", strings.ToUpper(strings.ReplaceAll(args[1], "-", "_"))), public.ID)
}

// agekey makes an age identity in FILE and sets $RECIPIENT to its public half.
func agekey(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 1 {
		ts.Fatalf("usage: agekey FILE")
	}
	id, err := age.GenerateX25519Identity()
	ts.Check(err)
	ts.Check(os.WriteFile(ts.MkAbs(args[0]), []byte(id.String()+"\n"), 0o600))
	ts.Setenv("RECIPIENT", id.Recipient().String())
}

// makeIdentity writes an age identity and gives its public half.
func makeIdentity(t testing.TB, path string) string {
	t.Helper()
	id, err := age.GenerateX25519Identity()
	if err == nil {
		err = os.WriteFile(path, []byte(id.String()+"\n"), 0o600)
	}
	if err != nil {
		t.Fatal(err)
	}
	return id.Recipient().String()
}

// truncate takes the last byte of a file away.
func truncate(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 1 {
		ts.Fatalf("usage: truncate FILE")
	}
	text := ts.ReadFile(args[0])
	ts.Check(os.WriteFile(ts.MkAbs(args[0]), []byte(text[:len(text)-1]), 0o600))
}
