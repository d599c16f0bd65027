package main

import (
	"bytes"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"graftnote/casebook"
)

// No passphrase, private key or patient identifier in what the commands say on
// standard error, in their forms of JSON, in file names, or in any file but those
// that the user asked for (OWASP Logging Cheat Sheet: data to exclude; CWE-377 for
// temporary files; both from memory, unverified).
func TestSecretsStayIn(t *testing.T) {
	d := newDesk(t)
	d.env.console = nil
	temp := t.TempDir()
	t.Setenv("TMPDIR", temp)
	d.write("case.yaml", sampleText(t, "Ines Calloway", canary+" One", "FIC-0101", canary+"-id"))
	d.write("fixed.yaml", sampleText(t, "Ines Calloway", canary+" One", "FIC-0101", canary+"-id", "372 µm", "375 µm"))
	d.write("why.txt", canary+" why")
	d.write("locked", "zqlocked "+canary)
	sealed, err := os.ReadFile(d.at("voss.key"))
	if err != nil {
		t.Fatal(err)
	}
	if k, err := casebook.OpenKey(bytes.NewReader(sealed), []byte(testPassphrase)); err != nil || strings.Contains(k.Public().Key, canary) {
		t.Fatal(err)
	}
	as := []string{"--as", d.at("voss.key"), "--passphrase-file", d.at("pass")}
	const id = "a1k7-double-bubble"
	public := map[string]bool{"json": true}
	step := func(kind string, want int, args ...string) string {
		t.Helper()
		code, stdout, stderr := d.run("", args...)
		if code != want {
			t.Fatalf("%v: %d %s", args, code, stderr)
		}
		for _, secret := range []string{canary, testPassphrase, "zqlocked"} {
			if strings.Contains(strings.ToLower(stderr), secret) || public[kind] && strings.Contains(strings.ToLower(stdout), secret) {
				t.Errorf("%v says %q: %s", args, secret, stderr)
			}
		}
		if strings.Contains(stdout, testPassphrase) {
			t.Errorf("%v shows the passphrase", args)
		}
		return stdout
	}
	form := func(name string, args ...string) string {
		t.Helper()
		step("", 0, append(append(args, "--show", "--to", d.at(name)), as...)...)
		text, err := os.ReadFile(d.at(name))
		if err != nil {
			t.Fatal(err)
		}
		d.write(name, strings.ReplaceAll(string(text), "sign: no", "sign: yes"))
		return d.at(name)
	}
	do := func(want int, args ...string) { t.Helper(); step("", want, append(args, as...)...) }
	do(0, "sign", d.at("case.yaml"), "--answers", form("1", "sign", d.at("case.yaml")))
	do(0, "sign", d.at("case.yaml"), "--answers", d.at("1")) // signed by it before
	do(0, "correct", id, d.at("fixed.yaml"), "--why-file", d.at("why.txt"), "--answers", form("2", "correct", id, d.at("fixed.yaml")))
	do(statusBlocked, "correct", id, d.at("case.yaml"), "--why-file", d.at("why.txt"), "--answers", d.at("2"))
	do(0, "addendum", id, "--text-file", d.at("why.txt"), "--answers", form("3", "addendum", id))
	do(statusIO, "addendum", canary+"-id", "--text-file", d.at("why.txt"), "--answers", d.at("3"))
	do(statusUsage, "addendum", id, "--text-file", d.at("why.txt"), "--answers", d.at("why.txt"))
	step("", statusIO, "keys", "revoke", "graftnote-0+0", "--why-file", d.at("why.txt"), "--as", d.at("voss.key"), "--passphrase-file", d.at("locked"))
	step("json", 0, "casebook", "list", "--format", "json")
	step("json", 0, "casebook", "show", id, "--format", "json")
	step("json", 0, "casebook", "status", "--format", "json")
	step("json", 0, "casebook", "check", "--format", "json")
	step("json", 0, "casebook", "list")
	step("json", 0, "casebook", "checkpoint")
	step("json", 0, "keys", "list")
	step("json", 0, "casebook", "backup", "--to", d.at("x.backup"), "--passphrase-file", d.at("locked"))
	if code, _, stderr := runIn(d.env, "", "casebook", "restore", d.at("x.backup"), "--to", d.at("new.db"), "--passphrase-file", d.at("locked")); code != 0 {
		t.Fatal(stderr)
	}
	do(0, "withdraw", id, "--why-file", d.at("why.txt"), "--answers", form("4", "withdraw", id))
	d.leftovers(temp)
}

// leftovers looks into every file of the desk and of the temporary folder.
func (d *desk) leftovers(temp string) {
	d.t.Helper()
	asked := map[string]bool{"case.yaml": true, "fixed.yaml": true, "why.txt": true, "locked": true, "pass": true,
		"casebook.db": true, "casebook.db-wal": true, "new.db": true, "new.db-wal": true} // the notes are there, as text
	n := 0
	for _, root := range []string{d.dir, temp} {
		err := filepath.WalkDir(root, func(path string, e fs.DirEntry, err error) error {
			if err != nil || e.IsDir() {
				return err
			}
			n++
			if root == temp {
				d.t.Errorf("a temporary file stays: %s", e.Name())
			}
			if strings.Contains(path[len(root):], canary) {
				d.t.Errorf("a file name holds a value: %s", path)
			}
			info, err := e.Info()
			if err != nil {
				return err
			}
			if openToOthers(info.Mode()) && !strings.HasSuffix(path, publicEnd) {
				d.t.Errorf("%s has mode %v", e.Name(), info.Mode())
			}
			text, err := os.ReadFile(path)
			if err == nil && !asked[e.Name()] && (bytes.Contains(text, []byte(canary)) || bytes.Contains(text, []byte(testPassphrase)) || bytes.Contains(text, []byte("zqlocked"))) {
				d.t.Errorf("%s holds a value or a secret", e.Name())
			}
			return err
		})
		if err != nil {
			d.t.Fatal(err)
		}
	}
	if n < 10 {
		d.t.Errorf("only %d files were looked into", n)
	}
}

// A casebook that may only be read is read, and nothing is signed into it. The
// program runs as a user who has no right to write: the superuser always has.
func TestReadOnlyCasebook(t *testing.T) {
	d := newDesk(t)
	d.env.console = nil
	d.write("case.yaml", sampleText(t))
	if code, _, stderr := d.run("", "sign", d.at("case.yaml"), "--as", d.at("voss.key"), "--show", "--to", d.at("form")); code != 0 {
		t.Fatal(stderr)
	}
	text, err := os.ReadFile(d.at("form"))
	if err != nil {
		t.Fatal(err)
	}
	d.write("form", strings.ReplaceAll(string(text), "sign: no", "sign: yes"))
	sign := []string{"sign", d.at("case.yaml"), "--as", d.at("voss.key"), "--answers", d.at("form"), "--passphrase-file", d.at("pass"), "--casebook", d.at("casebook.db")}
	code, stdout, stderr := asNobody(t, d.dir, sign)
	if code != statusIO || !strings.Contains(stderr, "the casebook is read-only") || strings.Contains(stdout, "Signed") {
		t.Errorf("%d %s %s", code, stdout, stderr)
	}
	if code, stdout, stderr := asNobody(t, d.dir, []string{"keys", "list", "--casebook", d.at("casebook.db")}); code != 0 || !strings.Contains(stdout, "1 key") {
		t.Errorf("%d %s %s", code, stdout, stderr)
	}
	if code, stdout, stderr := d.run("", "casebook", "list"); code != 0 || !strings.Contains(stdout, "0 cases") {
		t.Errorf("%d %s %s", code, stdout, stderr)
	}
}

// programAsChild runs the program instead of the tests, in a child of this test
// binary.
const programAsChild = "GRAFTNOTE_TEST_CHILD"

func finished(c *exec.Cmd) (code int, stdout, stderr string) {
	var out, errs bytes.Buffer
	c.Stdout, c.Stderr = &out, &errs
	_ = c.Run() // the status says it
	return c.ProcessState.ExitCode(), out.String(), errs.String()
}
