package main

import (
	"bytes"
	"crypto/sha256"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// slowDisk gives a child of the tests a disk on which each rename takes some time,
// so that a kill hits the middle.
const slowDisk = "GRAFTNOTE_TEST_SLOW_DISK"

type tardyDisk struct{ systemDisk }

func (tardyDisk) rename(from, to string) error {
	time.Sleep(15 * time.Millisecond)
	return os.Rename(from, to)
}

func child(t *testing.T, dir string, more []string, args ...string) *exec.Cmd {
	t.Helper()
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	c := exec.Command(self, args...)
	c.Dir = dir
	c.Env = append(append(os.Environ(), programAsChild+"=1", "GRAFTNOTE_TEST_NOW=2026-11-25T12:00:00Z"), more...)
	return c
}

// killedAfter runs a child and kills it (SIGKILL) after some time, unless it has
// ended.
func killedAfter(t *testing.T, c *exec.Cmd, d time.Duration) (killed bool) {
	t.Helper()
	if err := c.Start(); err != nil {
		t.Fatal(err)
	}
	timer := time.AfterFunc(d, func() { _ = c.Process.Kill() })
	defer timer.Stop()
	return c.Wait() != nil && !c.ProcessState.Exited()
}

// killedAtSight runs a child and kills it some time after a list of what is left to
// do has come into the folder: in the middle, however slow the machine is.
func killedAtSight(t *testing.T, c *exec.Cmd, dir string, d time.Duration) (killed bool) {
	t.Helper()
	if err := c.Start(); err != nil {
		t.Fatal(err)
	}
	done := make(chan struct{})
	go func() {
		for {
			if seen, _ := filepath.Glob(filepath.Join(dir, "*"+unfinishedEnd)); len(seen) > 0 {
				time.Sleep(d)
				_ = c.Process.Kill()
				return
			}
			select {
			case <-done:
				return
			case <-time.After(time.Millisecond):
			}
		}
	}()
	err := c.Wait()
	close(done)
	return err != nil && !c.ProcessState.Exited()
}

// set is what a folder holds, without hidden files and the lists of what is left
// to do, and what it holds of those.
func set(t *testing.T, dir string) (files string, hidden, lists int) {
	t.Helper()
	list, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	var b strings.Builder
	for _, e := range list {
		switch {
		case strings.HasPrefix(e.Name(), "."):
			hidden++
		case strings.HasSuffix(e.Name(), unfinishedEnd):
			lists++
		case e.Name() == rowSchemaName || e.Name() == codeSystemName: // of no case
		default:
			data, err := os.ReadFile(filepath.Join(dir, e.Name()))
			if err != nil {
				t.Fatal(err)
			}
			fmt.Fprintf(&b, "%s %x\n", e.Name(), sha256.Sum256(data))
		}
	}
	return b.String(), hidden, lists
}

// kill -9 while products replace those of an earlier revision: the files of the case
// are all old or all new, or a list marks them; after the next run they are all of
// one revision, and no unfinished file is left.
// Source: common practice for a folder that another program collects from, no source.
func TestKilledWhileWriting(t *testing.T) {
	dir := t.TempDir()
	text, err := os.ReadFile("../../testdata/entries/01-double-bubble.yaml")
	if err != nil {
		t.Fatal(err)
	}
	site, err := filepath.Abs("../../testdata/site")
	if err != nil {
		t.Fatal(err)
	}
	// The second has no consent, so that its row must go as well.
	second := strings.Replace(strings.Replace(string(text), "360 µm", "355 µm", 1), "registry: yes}", "registry: no}", 1)
	want := map[string]string{}
	for name, entry := range map[string]string{"old": string(text), "new": second} {
		if err := os.WriteFile(filepath.Join(dir, name+".yaml"), []byte(entry), 0o600); err != nil {
			t.Fatal(err)
		}
		if b, err := child(t, dir, nil, "write", name+".yaml", "--out", "of-"+name, "--site", site).CombinedOutput(); err != nil {
			t.Fatalf("%v %s", err, b)
		}
		files, _, _ := set(t, filepath.Join(dir, "of-"+name))
		want[files] = name
	}
	if len(want) != 2 {
		t.Fatal("the two revisions do not differ")
	}
	out := filepath.Join(dir, "out")
	if b, err := child(t, dir, nil, "write", "old.yaml", "--out", out, "--site", site).CombinedOutput(); err != nil {
		t.Fatalf("%v %s", err, b)
	}
	start := time.Now()
	if b, err := child(t, dir, []string{slowDisk + "=1"}, "write", "new.yaml", "--out", out, "--site", site).CombinedOutput(); err != nil {
		t.Fatalf("%v %s", err, b)
	}
	whole := time.Since(start)
	r := rand.New(rand.NewPCG(21, 22))
	kills, marked := 0, 0
	for n := 0; n < 20 || marked == 0 && n < 60; n++ {
		name := []string{"old", "new"}[n%2]
		c := child(t, dir, []string{slowDisk + "=1"}, "write", name+".yaml", "--out", out, "--site", site)
		killed := false
		if n%4 < 2 {
			killed = killedAfter(t, c, whole/2+time.Duration(r.Int64N(int64(whole/2))))
		} else {
			killed = killedAtSight(t, c, out, time.Duration(r.Int64N(int64(40*time.Millisecond))))
		}
		if !killed {
			continue
		}
		kills++
		files, _, lists := set(t, out)
		if want[files] == "" && lists == 0 {
			t.Errorf("kill %d: files of both revisions and no list:\n%s", n, files)
		}
		marked += lists
		if lists > 0 {
			b, _ := child(t, dir, nil, "verify", filepath.Join(out, "a1k7-double-bubble.note.pdf")).CombinedOutput()
			if !strings.Contains(strings.Join(strings.Fields(string(b)), " "), "may not belong together") {
				t.Errorf("verify does not tell:\n%s", b)
			}
		}
		next, err := openFolder(systemDisk{}, out, time.Now())
		if err != nil {
			t.Fatal(err)
		}
		next.close()
		if files, hidden, lists := set(t, out); want[files] == "" || hidden+lists > 0 {
			t.Errorf("kill %d: the next run left %d hidden files, %d lists and\n%s", n, hidden, lists, files)
		}
	}
	if kills == 0 || marked == 0 {
		t.Errorf("%d kills, %d of them in the middle: nothing was tried", kills, marked)
	}
	t.Logf("%d kills, %d in the middle of the renames", kills, marked)
}

// kill -9 while a backup is made or tried: nothing that can be read is on its
// medium, no backup has got its name, and the next backup clears the rest away.
func TestKilledWhileBackingUp(t *testing.T) {
	b := newBook(t)
	text, err := os.ReadFile("../../testdata/entries/01-double-bubble.yaml")
	if err != nil {
		t.Fatal(err)
	}
	for n := range 40 {
		b.sign(strings.Replace(string(text), "a1k7-double-bubble", fmt.Sprintf("backed-up-%d", n), 1), "Imara Voss")
	}
	dir := t.TempDir()
	usb := filepath.Join(dir, "usb")
	if err := os.Mkdir(usb, 0o700); err != nil {
		t.Fatal(err)
	}
	identity := filepath.Join(dir, "id")
	recipient := makeIdentity(t, identity)
	args := func(name string) []string {
		return []string{"casebook", "backup", "--to", filepath.Join(usb, name), "--casebook", b.path, "--recipient", recipient, "--identity-file", identity}
	}
	start := time.Now()
	if out, err := child(t, dir, nil, args("first")...).CombinedOutput(); err != nil {
		t.Fatalf("%v %s", err, out)
	}
	whole := time.Since(start)
	kills, left := 0, 0 // files seen after all kills together
	for n := range 15 {
		if !killedAfter(t, child(t, dir, nil, args("second")...), whole*time.Duration(n+2)/17) {
			_ = os.Remove(filepath.Join(usb, "second"))
			continue
		}
		kills++
		list, err := os.ReadDir(usb)
		if err != nil {
			t.Fatal(err)
		}
		for _, e := range list {
			data, err := os.ReadFile(filepath.Join(usb, e.Name()))
			if err != nil { // such as a folder
				t.Errorf("kill %d left %s: %v", n, e.Name(), err)
			}
			if bytes.Contains(data, []byte("SQLite format")) || bytes.Contains(data, []byte("Calloway")) || bytes.Contains(data, []byte("backed-up")) {
				t.Errorf("kill %d left readable data in %s", n, e.Name())
			}
		}
		left += len(list) - 1
		_ = os.Remove(filepath.Join(usb, "second")) // a kill after it was whole
	}
	if kills == 0 || left == 0 {
		t.Errorf("%d kills left %d files: nothing was tried", kills, left)
	}
	if out, err := child(t, dir, nil, args("third")...).CombinedOutput(); err != nil {
		t.Fatalf("%v %s", err, out)
	}
	list, err := os.ReadDir(usb)
	if err != nil || len(list) != 2 || list[0].Name() != "first" || list[1].Name() != "third" {
		t.Errorf("the next backup left %v, %v", list, err)
	}
	t.Logf("%d kills, after which %d unfinished files lay there, all encrypted or empty", kills, left)
}
