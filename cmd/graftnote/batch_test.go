package main

import (
	"bufio"
	"bytes"
	"context"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"graftnote/casebook"
)

// batchOf lays a folder with entries of so many operations, a key in a casebook and
// a filled-in form for all of them.
func batchOf(t *testing.T, n int) (dir string, sign []string) {
	t.Helper()
	dir = t.TempDir()
	put := func(name, text string) {
		t.Helper()
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	sealed, public, err := sealedTestKey("Imara Voss", "consultant")
	if err != nil {
		t.Fatal(err)
	}
	put("voss.key", sealed)
	put("voss.key"+publicEnd, publicText(public))
	put("pass", testPassphrase+"\n")
	text, err := os.ReadFile("../../testdata/entries/01-double-bubble.yaml")
	if err != nil {
		t.Fatal(err)
	}
	if err := os.Mkdir(filepath.Join(dir, "list"), 0o700); err != nil {
		t.Fatal(err)
	}
	for i := range n {
		put(fmt.Sprintf("list/%03d.yaml", i), strings.NewReplacer("a1k7-double-bubble", fmt.Sprintf("batch-%03d", i), "FIC-0101", fmt.Sprintf("FIC-8%03d", i), "T-FIC-9001", fmt.Sprintf("T-FIC-7%03d", i)).Replace(string(text)))
	}
	do := func(args ...string) {
		t.Helper()
		if b, err := child(t, dir, nil, args...).CombinedOutput(); err != nil {
			t.Fatalf("%v: %v\n%s", args, err, b)
		}
	}
	do("keys", "add", "voss.key", "--passphrase-file", "pass")
	do("sign", "--show", "list", "--as", "voss.key", "--to", "form.yaml")
	form, err := os.ReadFile(filepath.Join(dir, "form.yaml"))
	if err != nil {
		t.Fatal(err)
	}
	put("form.yaml", strings.NewReplacer("sign: no", "sign: yes", "different: no", "different: yes").Replace(string(form)))
	return dir, []string{"sign", "list", "--as", "voss.key", "--answers", "form.yaml", "--passphrase-file", "pass"}
}

// storedCases are the signed cases of the batch.
func storedCases(t *testing.T, dir string) map[string]bool {
	t.Helper()
	book, err := casebook.Open(context.Background(), filepath.Join(dir, "casebook.db"), casebook.Options{ReadOnly: true})
	if err != nil {
		t.Fatal(err)
	}
	defer book.Close()
	list, err := book.List(context.Background(), casebook.Filter{})
	if err != nil {
		t.Fatal(err)
	}
	out := map[string]bool{}
	for _, s := range list {
		out[s.Case] = true
	}
	return out
}

// A batch that is stopped in the middle: each signature was printed as soon as it was
// on the disk, so what is printed is what is stored; after kill -9 the last one may be
// stored and not printed. The same form then goes on, until all are signed once.
func TestBatchInterrupted(t *testing.T) {
	const n = 14
	for name, signal := range map[string]os.Signal{"SIGINT": syscall.SIGINT, "SIGTERM": syscall.SIGTERM, "SIGKILL": syscall.SIGKILL} {
		if filepath.Separator == '\\' && signal != syscall.SIGKILL {
			continue // no other process can be asked to end there
		}
		t.Run(name, func(t *testing.T) {
			dir, sign := batchOf(t, n)
			rounds, midway := 0, 0
			for ; len(storedCases(t, dir)) < n && rounds < 2*n; rounds++ {
				had := storedCases(t, dir)
				c := child(t, dir, nil, sign...)
				var errs bytes.Buffer
				c.Stderr = &errs
				out, err := c.StdoutPipe()
				if err != nil {
					t.Fatal(err)
				}
				if err := c.Start(); err != nil {
					t.Fatal(err)
				}
				said, before := map[string]bool{}, 0
				in := bufio.NewReader(out)
				for {
					line, err := in.ReadString('\n')
					if err == io.EOF {
						break
					}
					var id string
					if _, err := fmt.Sscanf(line, "signed: case %s", &id); err == nil {
						said[strings.TrimSuffix(id, ",")] = true
						if len(said) == 4 {
							_ = c.Process.Signal(signal)
						}
					}
					if strings.Contains(line, "was signed by this form before") {
						before++
					}
				}
				_ = c.Wait()
				stored := storedCases(t, dir)
				if len(stored) < n {
					midway++
				}
				if before != len(had) {
					t.Errorf("%d were signed before, %d are said to be\n%s", len(had), before, errs.String())
				}
				for id := range said {
					if !stored[id] || had[id] {
						t.Errorf("%s was printed; stored %v, before %v", id, stored[id], had[id])
					}
				}
				if fresh := len(stored) - len(had); fresh != len(said) && (signal != syscall.SIGKILL || fresh != len(said)+1) {
					t.Errorf("%d stored, %d printed\n%s", fresh, len(said), errs.String())
				}
				if len(stored) < n && signal != syscall.SIGKILL && (c.ProcessState.ExitCode() != statusIO || !strings.Contains(errs.String(), "stopped; nothing more was signed")) {
					t.Errorf("status %d: %s", c.ProcessState.ExitCode(), errs.String())
				}
			}
			if midway == 0 {
				t.Error("no run was stopped in the middle")
			}
			b, err := child(t, dir, nil, sign...).CombinedOutput()
			if err != nil || !strings.Contains(string(b), fmt.Sprintf("Signed: 0 notes; %d before.", n)) {
				t.Errorf("the form once more: %v\n%s", err, b)
			}
			if b, err := child(t, dir, nil, "casebook", "check").CombinedOutput(); err != nil {
				t.Errorf("%v\n%s", err, b)
			}
			t.Logf("%d runs, %d stopped in the middle", rounds, midway)
		})
	}
}

// A form goes on only with the very entry that its key has signed: an entry that was
// changed since, and another signer, are refused as before.
func TestFormOfAnotherEntry(t *testing.T) {
	dir, sign := batchOf(t, 2)
	if b, err := child(t, dir, nil, sign...).CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, b)
	}
	path := filepath.Join(dir, "list", "000.yaml")
	text, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, bytes.Replace(text, []byte("360 µm"), []byte("355 µm"), 1), 0o600); err != nil {
		t.Fatal(err)
	}
	b, err := child(t, dir, nil, sign...).CombinedOutput()
	if err == nil || !strings.Contains(string(b), "it is not what was shown; nothing was signed") {
		t.Errorf("%v\n%s", err, b)
	}
}
