package casebook

import (
	"bytes"
	"testing"
)

// What is read back is what was read: a statement, a proof and a checkpoint have
// one form each, so that no two texts verify as the same record (RFC 8785 for
// statements).
func FuzzParseStatement(f *testing.F) {
	_, _, a, _ := twoNotes(f, places()[0].dsn(f))
	f.Add(a.Statement)
	f.Add([]byte(`{"format":"graftnote statement 1"}`))
	f.Add([]byte(`{"a":1e999,"a":[[[[[[[[[[[[[[[[[[`))
	f.Add([]byte("{\"\xff\":null}"))
	f.Fuzz(func(t *testing.T, b []byte) {
		s, err := ParseStatement(b)
		if err != nil {
			return
		}
		again, err := s.Encode()
		if err != nil || !bytes.Equal(again, b) {
			t.Errorf("%q became %q, %v", b, again, err)
		}
		if s.CarriesEntry() {
			var r caseRow
			_, _ = r.after(s)
			Alike(s.Entry, []Earlier{{"x", s.Entry}})
			if c, err := Changes(s.Entry, s.Entry); err == nil && len(c) > 0 {
				t.Errorf("an entry differs from itself: %v", c)
			}
		}
	})
}

func FuzzParseProof(f *testing.F) {
	_, _, a, _ := twoNotes(f, places()[0].dsn(f))
	b, err := a.Encode()
	if err != nil {
		f.Fatal(err)
	}
	f.Add(b)
	f.Add([]byte(`{"keys":[{}]}`))
	f.Fuzz(func(t *testing.T, b []byte) {
		p, err := ParseProof(b)
		if err != nil {
			return
		}
		v, err := VerifyProof(p, Trust{})
		if (err == nil) != v.Holds() {
			t.Errorf("error %v, holds %v", err, v.Holds())
		}
	})
}

func FuzzParseCheckpoint(f *testing.F) {
	_, k, a, _ := twoNotes(f, places()[0].dsn(f))
	f.Add(a.Checkpoint)
	f.Add(checkpointLine + "\n\n\n\n\n\n")
	keys, err := newRegister([]PublicKey{k.Public()})
	if err != nil {
		f.Fatal(err)
	}
	f.Fuzz(func(t *testing.T, s string) {
		c, err := ParseCheckpoint(s)
		if err != nil {
			return
		}
		if len(s) < len(c.text()) || s[:len(c.text())] != c.text() {
			t.Errorf("%q has the text %q", s, c.text())
		}
		if _, err := openCheckpoint(s, keys); err == nil && s != a.Checkpoint {
			was, _ := ParseCheckpoint(a.Checkpoint)
			if was == c {
				t.Errorf("two forms of one checkpoint: %q", s)
			}
		}
	})
}
