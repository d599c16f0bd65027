//go:build !windows

package main

import (
	"context"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"
)

// Whatever file is asked for, a pipe that nobody fills, a device that never ends and
// a folder are refused at once, with a message that says what they are.
func TestOnlyFilesAreRead(t *testing.T) {
	dir := t.TempDir()
	at := func(name string) string { return filepath.Join(dir, name) }
	put := func(name, text string) {
		t.Helper()
		if err := os.MkdirAll(filepath.Dir(at(name)), 0o700); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(at(name), []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	for _, name := range []string{"pipe", "pipe.pub", "words/phrases.txt", "pkg/manifest.json"} {
		if err := os.MkdirAll(filepath.Dir(at(name)), 0o700); err != nil {
			t.Fatal(err)
		}
		if err := syscall.Mkfifo(at(name), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	put("pass", testPassphrase+"\n")
	sealed, public, err := sealedTestKey("Imara Voss", "consultant")
	if err != nil {
		t.Fatal(err)
	}
	put("voss.key", sealed)
	put("voss.key.pub", publicText(public))
	entry, err := filepath.Abs("../../testdata/entries/01-double-bubble.yaml")
	if err != nil {
		t.Fatal(err)
	}
	if b, err := child(t, dir, nil, "keys", "add", "voss.key", "--passphrase-file", "pass").CombinedOutput(); err != nil {
		t.Fatalf("%v %s", err, b)
	}
	for name, line := range map[string]string{"mapping": "mapping: ../pipe", "row-key": "row-key: /dev/zero", "phrases": "phrases: ../words"} {
		put("site-"+name+"/site.yaml", "name: Lindow\nzone: Europe/London\nlanguage: en-GB\n"+line+"\n")
	}
	for _, x := range []struct{ line, says string }{
		{"check pipe", "a pipe"},
		{"check /dev/zero", "a device"},
		{"check --site pipe " + entry, "a pipe"},
		{"check --technique /dev/zero " + entry, "a device"},
		{"write --out out --site site-mapping " + entry, "a pipe"},
		{"write --out out --site site-row-key " + entry, "a device"},
		{"write --out out --site site-phrases " + entry, "a pipe"},
		{"verify pipe", "a pipe"},
		{"verify pkg", "no manifest.json"},
		{"verify --against /dev/zero " + entry, "a device"},
		{"verify --trust pipe.pub " + entry, "a pipe"},
		{"series /dev/zero", "a device"},
		{"series pipe", "a pipe"},
		{"receipt p-1 pipe", "a pipe"},
		{"month 2026-09 --out m --profile pipe", "a pipe"},
		{"casebook check --against pipe", "a pipe"},
		{"casebook restore pipe --to other.db --passphrase-file pass", "a pipe"},
		{"casebook restore pass --to other.db --identity-file pipe", "a pipe"},
		{"sign " + entry + " --as voss.key --answers pipe --passphrase-file pass", "a pipe"},
		{"sign " + entry + " --as pipe --show", "a pipe"},
		{"keys add voss.key --passphrase-file pipe", "a pipe"},
		{"keys add voss.key --passphrase-file /dev/zero", "a device"},
		{"withdraw a1k7-double-bubble --why-file pipe --as voss.key --yes-shown x", "a pipe"},
		{"series pkg/..", ""},
	} {
		t.Run(x.line, func(t *testing.T) {
			ctx, cancel := context.WithTimeout(t.Context(), 20*time.Second)
			defer cancel()
			c := child(t, dir, nil, strings.Fields(x.line)...)
			done := make(chan struct{})
			var out []byte
			go func() { out, _ = c.CombinedOutput(); close(done) }()
			select {
			case <-done:
			case <-ctx.Done():
				_ = c.Process.Kill()
				<-done
				t.Fatal("it waits for the pipe")
			}
			if !strings.Contains(string(out), x.says) || c.ProcessState.ExitCode() < statusUsage {
				t.Errorf("status %d: %s", c.ProcessState.ExitCode(), out)
			}
		})
	}
}

// A pipe is read where it is standard input.
func TestPipeAsStandardInput(t *testing.T) {
	text, err := os.ReadFile("../../testdata/entries/01-double-bubble.yaml")
	if err != nil {
		t.Fatal(err)
	}
	c := child(t, t.TempDir(), nil, "check", "-")
	c.Stdin = strings.NewReader(string(text))
	if out, err := c.CombinedOutput(); err != nil {
		t.Errorf("%v %s", err, out)
	}
}
