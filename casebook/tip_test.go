package casebook

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// The file beside the casebook is written over, so it is never reached through a
// link (CWE-59).
func TestTipFollowsNoLink(t *testing.T) {
	dir := t.TempDir()
	precious, place := filepath.Join(dir, "precious"), filepath.Join(dir, "casebook.db")
	if err := os.WriteFile(precious, []byte("precious"), 0o600); err != nil {
		t.Fatal(err)
	}
	if err := os.Symlink(precious, place+".tip"); err != nil {
		t.Fatal(err)
	}
	c, k := opened(t, place)
	sign(t, c, k, "tip-case-1", 1)
	if b, err := os.ReadFile(precious); err != nil || string(b) != "precious" {
		t.Errorf("%q, %v", b, err)
	}
}

// Without its memory a filled casebook can't tell whether its end was cut off, and
// the check says so. A new one lacks nothing.
func TestForgottenTip(t *testing.T) {
	place := filepath.Join(t.TempDir(), "casebook.db")
	c, k := opened(t, place)
	sign(t, c, k, "tip-case-2", 1)
	if r := clean(t, c); c.Forgot() || len(r.Remarks) != 0 {
		t.Errorf("%v", r.Remarks)
	}
	if err := c.Close(); err != nil {
		t.Fatal(err)
	}
	if err := os.Remove(place + ".tip"); err != nil {
		t.Fatal(err)
	}
	for _, o := range []Options{{ReadOnly: true}, {}} {
		c, err := Open(t.Context(), place, o)
		if err != nil {
			t.Fatal(err)
		}
		if r := clean(t, c); !c.Forgot() || len(r.Remarks) != 1 || !strings.Contains(r.Remarks[0], "no checkpoint is remembered") {
			t.Errorf("%v", r.Remarks)
		}
		_ = c.Close()
	}
}
