package casebook

import (
	"bufio"
	"context"
	"flag"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"strings"
	"testing"
	"time"
)

// The CI asks for the long run of 500.
var killSignoffs = flag.Int("kill.signoffs", 60, "sign-offs during which the signing process is killed at random")

// childVariable holds the casebook's place for the process that is killed.
const (
	childVariable = "GRAFTNOTE_TEST_CHILD"
	childPrefix   = "GRAFTNOTE_TEST_CHILD_PREFIX"
)

// childMain signs case after case and says each one that was acknowledged.
func childMain() int {
	c, err := Open(context.Background(), os.Getenv(childVariable), Options{})
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		return 1
	}
	k, err := NewKey(noise(7), "Imara Voss", "consultant")
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		return 1
	}
	for n := range 100000 {
		id := fmt.Sprintf("%s-%d", os.Getenv(childPrefix), n)
		e, err := entryFor(id)
		if err == nil {
			_, err = signOff(context.Background(), c, request(e, act(k, n)))
		}
		if err != nil {
			fmt.Fprintln(os.Stderr, err)
			return 1
		}
		fmt.Println(id)
	}
	return 0
}

// kill -9 at random moments: every acknowledged note is there and verifies, no
// half note, one log. A note whose commit was done but not yet said may be there
// too: at most one for each kill.
func TestKilledWhileSigning(t *testing.T) {
	onEachPlace(t, func(t *testing.T, dsn string) {
		c, _ := opened(t, dsn)
		if err := c.Close(); err != nil {
			t.Fatal(err)
		}
		r := rand.New(rand.NewPCG(11, 12))
		acknowledged := map[string]bool{}
		kills := 0
		for len(acknowledged) < *killSignoffs {
			kills++
			for _, id := range signUntilKilled(t, dsn, fmt.Sprintf("killed-%d", kills), 1+r.IntN(12), time.Duration(r.IntN(2000))*time.Microsecond) {
				acknowledged[id] = true
			}
		}
		c = open(t, dsn)
		rep := clean(t, c)
		if n := int64(len(acknowledged)); rep.Cases < n || rep.Cases > n+int64(kills) {
			t.Errorf("%d cases, %d acknowledged, %d kills", rep.Cases, n, kills)
		}
		for id := range acknowledged {
			p, err := c.Proof(t.Context(), id, 1)
			if err == nil {
				_, err = VerifyProof(p, Trust{})
			}
			if err != nil {
				t.Errorf("%s: %v", id, err)
			}
		}
		t.Logf("%d acknowledged, %d stored, %d kills", len(acknowledged), rep.Cases, kills)
	})
}

// signUntilKilled lets a process sign, kills it a moment after so many
// acknowledgements, and gives the acknowledged cases.
func signUntilKilled(t *testing.T, dsn, prefix string, after int, moment time.Duration) []string {
	t.Helper()
	cmd := exec.Command(os.Args[0])
	cmd.Env = append(os.Environ(), childVariable+"="+dsn, childPrefix+"="+prefix)
	var errors strings.Builder
	cmd.Stderr = &errors
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	var said []string
	in := bufio.NewReader(out)
	for {
		line, err := in.ReadString('\n')
		if err != nil { // a line without its end was not said
			break
		}
		said = append(said, strings.TrimSpace(line))
		if len(said) == after {
			time.AfterFunc(moment, func() { _ = cmd.Process.Kill() })
		}
	}
	_ = cmd.Wait()
	if errors.Len() > 0 {
		t.Fatalf("the signing process failed: %s", errors.String())
	}
	return said
}
