package casebook

import (
	"bytes"
	"errors"
	"io"
	"net"
	"net/url"
	"os"
	"strings"
	"sync"
	"testing"
)

// wire stands between the casebook and a PostgreSQL server and can break at a
// commit.
type wire struct {
	listener net.Listener
	server   string

	mu   sync.Mutex
	mode string // "", "before", "after", "dead"
}

func newWire(t *testing.T, dsn string) (*wire, string) {
	t.Helper()
	u, err := url.Parse(dsn)
	if err != nil {
		t.Fatal(err)
	}
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	w := &wire{listener: l, server: u.Host}
	t.Cleanup(func() { _ = l.Close() })
	go func() {
		for {
			c, err := l.Accept()
			if err != nil {
				return
			}
			go w.carry(c)
		}
	}()
	u.Host = l.Addr().String()
	return w, u.String()
}

func (w *wire) set(mode string) {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.mode = mode
}

// carry passes bytes on and breaks the connection at the message that commits:
// before the server has it, or after the server has answered.
func (w *wire) carry(client net.Conn) {
	defer client.Close()
	w.mu.Lock()
	dead := w.mode == "gone"
	w.mu.Unlock()
	server, err := net.Dial("tcp", w.server)
	if err != nil || dead {
		return
	}
	defer server.Close()
	var swallow sync.Once
	swallowed := make(chan struct{})
	go func() {
		defer client.Close()
		b := make([]byte, 1<<16)
		for {
			n, err := server.Read(b)
			if err != nil {
				return
			}
			select {
			case <-swallowed: // the answer to the commit is lost
				return
			default:
			}
			if _, err := client.Write(b[:n]); err != nil {
				return
			}
		}
	}()
	b := make([]byte, 1<<16)
	for {
		n, err := client.Read(b)
		if err != nil {
			return
		}
		w.mu.Lock()
		mode := w.mode
		if mode != "" && bytes.Contains(bytes.ToLower(b[:n]), []byte("commit\x00")) {
			switch mode {
			case "before", "after":
				w.mode = ""
			case "dead":
				w.mode = "gone"
			}
			w.mu.Unlock()
			if mode == "before" {
				return
			}
			swallow.Do(func() { close(swallowed) })
			_, _ = server.Write(b[:n])
			_, _ = io.Copy(io.Discard, client) // until the casebook gives up or we are closed
			return
		}
		w.mu.Unlock()
		if _, err := server.Write(b[:n]); err != nil {
			return
		}
	}
}

// The connection breaks in the middle of a commit. Lost before the server had it:
// an error, nothing stored. Lost after: the casebook looks and acknowledges. Not
// to be reached any more: it says that it does not know.
func TestConnectionLostAtCommit(t *testing.T) {
	server := os.Getenv("GRAFTNOTE_TEST_POSTGRES")
	for _, x := range []struct {
		mode string
		want error
		note bool
	}{{"before", ErrUnreachable, false}, {"after", nil, true}, {"dead", ErrOutcomeUnknown, true}} {
		if server == "" {
			continue // a file has no connection to lose
		}
		t.Run(x.mode, func(t *testing.T) {
			dsn := freshSchema(t, server)
			_, k := opened(t, dsn)
			w, through := newWire(t, dsn)
			c, err := Open(t.Context(), through, Options{})
			if err != nil {
				t.Fatal(err)
			}
			defer c.Close()
			w.set(x.mode)
			_, err = signOff(t.Context(), c, request(checkedEntry(t, "lost-1"), act(k, 1)))
			if !errors.Is(err, x.want) || (err == nil) != (x.want == nil) {
				t.Errorf("%v, want %v", err, x.want)
			}
			if err != nil && strings.Contains(err.Error(), "127.0.0.1") {
				t.Errorf("the error tells the address: %v", err)
			}
			w.set("")
			direct := open(t, dsn)
			if _, err := direct.Get(t.Context(), "lost-1"); (err == nil) != x.note {
				t.Errorf("stored: %v, want %v", err == nil, x.note)
			}
			sign(t, c, k, "lost-2", 2) // the same casebook goes on
			clean(t, direct)
		})
	}
}
