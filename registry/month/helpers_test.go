package month

import (
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"testing/fstest"
	"time"

	"graftnote/schema"

	"graftnote/registry"
)

// now is after the last of the sample entries.
var now = time.Date(2026, 12, 1, 9, 0, 0, 0, time.UTC)

// testKey is no secret: the bytes 0 to 31.
var testKey = func() []byte {
	k := make([]byte, 32)
	for i := range k {
		k[i] = byte(i)
	}
	return k
}()

// checkedSamples are the complete sample entries.
func checkedSamples(t testing.TB) []schema.Checked {
	t.Helper()
	files, err := filepath.Glob("../../testdata/entries/*.yaml")
	if err != nil || len(files) == 0 {
		t.Fatalf("no samples: %v", err)
	}
	var out []schema.Checked
	for _, f := range files {
		if strings.HasPrefix(filepath.Base(f), "18-") {
			continue // incidents are rare: with two in these few samples none would be
		}
		data, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		o := schema.Options{Now: now}
		for _, cs := range schema.Read(schema.Source{Name: "entry.yaml", Data: data}, o).Cases {
			c, err := schema.Check(cs, o, nil)
			if err != nil {
				t.Fatal(err)
			}
			if c.Complete() && c.Entry().Consent.Registry.Is("yes") {
				out = append(out, c)
			}
		}
	}
	if len(out) < 10 {
		t.Fatalf("only %d complete samples", len(out))
	}
	return out
}

var taken []Operation

// crowd makes n operations of n people out of the samples: the same operations
// on people who are called 0, 1, 2 and so on.
func crowd(t testing.TB, n int) []Operation {
	t.Helper()
	if taken == nil {
		for _, c := range checkedSamples(t) {
			o, err := Take(c, Signing{State: Signed, Revision: 1})
			if err != nil {
				t.Fatal(err)
			}
			taken = append(taken, o)
		}
	}
	var out []Operation
	for i := range n {
		o := taken[i%len(taken)]
		o.Case, o.Person = fmt.Sprintf("case-%04d", i), fmt.Sprintf("FIC-%04d", i)
		o.Month = Period{2026, 11}
		o.Cells = slices.Clone(o.Cells)
		o.Cells[columnPlace("operation_year")] = "2026"
		o.Visits = slices.Clone(o.Visits)
		for v := range o.Visits {
			o.Visits[v].Month = Period{2026, 11}
		}
		out = append(out, o)
	}
	return out
}

func input(list []Operation) Input {
	return Input{Period: Period{2026, 11}, Operations: Operations(list...), TheatreCount: len(list), Checkpoint: "tree 12", By: "coordinator", At: now}
}

func keyed() Options { return Options{Mode: Pseudonymised, Key: testKey, K: 2} }

func random(seed uint64, keys *KeyMap) Options {
	return Options{Mode: SafeHarbor, Rand: rand.NewChaCha8([32]byte{byte(seed)}), Keys: keys, K: 2}
}

func build(t testing.TB, in Input, o Options) *Package {
	t.Helper()
	p, err := Build(in, o)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// folder is a package as a folder.
func folder(t testing.TB, p *Package) fstest.MapFS {
	t.Helper()
	files, err := p.Files()
	if err != nil {
		t.Fatal(err)
	}
	out := fstest.MapFS{}
	for _, f := range files {
		out[f.Name] = &fstest.MapFile{Data: f.Data}
	}
	return out
}

// accept marks the changes of a package as accepted by the registry.
func accept(sent []Sent, p *Package) []Sent {
	for c := range p.Changes {
		c.Accepted = true
		sent = append(sent, c)
	}
	return sent
}

// columnPlace is the place of a column of the operation's row.
func columnPlace(name string) int {
	return slices.IndexFunc(registry.Columns(), func(c registry.Column) bool { return c.Name == name })
}
