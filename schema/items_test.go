package schema

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
)

// withTeam is the entry of a gallery base with the team given, one line a person.
func withTeam(t *testing.T, people ...string) *Entry {
	t.Helper()
	text := "case: k7mq-2f9x\n"
	if len(people) > 0 {
		text += "team:\n  - " + strings.Join(people, "\n  - ") + "\n"
	}
	r := Read(Source{Name: "entry.yaml", Data: []byte(text)}, Options{})
	if len(r.Cases) != 1 {
		t.Fatalf("%v", r.Findings)
	}
	for _, f := range r.Cases[0].findings {
		if f.Rule == "item-name" {
			t.Fatal(f)
		}
	}
	return r.Cases[0].Entry
}

const (
	imara = "{name: Imara Voss, role: surgeon}"
	joss  = "{name: Joss Keld, role: first-assistant}"
	pell  = "{name: Pell Arden, role: anaesthetist}"
	nerys = "{name: Nerys Coldwell, role: scrub-nurse}"
)

func ids(e *Entry) []string {
	var out []string
	for i := range e.Team {
		out = append(out, e.Team[i].Name.Text()+" "+e.ItemID("team", i))
	}
	return out
}

// An item keeps its name through every correction: what is taken out moves nobody,
// and what is new never gets the name of what was there.
func TestKeepItems(t *testing.T) {
	for _, c := range []struct {
		name    string
		history [][]string
		want    string
	}{
		{"never corrected", [][]string{{imara, joss, pell}}, "Imara Voss 1, Joss Keld 2, Pell Arden 3"},
		{"the second of three", [][]string{{imara, joss, pell}, {imara, pell}}, "Imara Voss 1, Pell Arden 3"},
		{"put in front", [][]string{{imara, joss}, {pell, imara, joss}}, "Pell Arden 3, Imara Voss 1, Joss Keld 2"},
		{"other order", [][]string{{imara, joss, pell}, {pell, imara, joss}}, "Pell Arden 3, Imara Voss 1, Joss Keld 2"},
		{"a corrected name", [][]string{{imara, joss, pell}, {imara, "{name: Joss Kelde, role: first-assistant}"}}, "Imara Voss 1, Joss Kelde 2"},
		{"the last taken out, then another", [][]string{{imara, joss, pell}, {imara, joss}, {imara, joss, nerys}}, "Imara Voss 1, Joss Keld 2, Nerys Coldwell 4"},
		{"the same put back", [][]string{{imara, joss}, {imara}, {imara, joss}}, "Imara Voss 1, Joss Keld 3"},
		{"by its name, however changed", [][]string{{imara, joss, pell}, {imara, "{item: 3, name: Nerys Coldwell, role: scrub-nurse}"}}, "Imara Voss 1, Nerys Coldwell 3"},
	} {
		var signed []*Entry
		for _, people := range c.history {
			e := withTeam(t, people...)
			e.KeepItems(signed)
			b, err := canonicalise(e)
			if err != nil {
				t.Fatal(err)
			}
			again, err := Sealed(b, Options{})
			if err != nil {
				t.Fatalf("%s: %v\n%s", c.name, err, b)
			}
			signed = append(signed, again.Entry())
		}
		if got := strings.Join(ids(signed[len(signed)-1]), ", "); got != c.want {
			t.Errorf("%s: %s, want %s", c.name, got, c.want)
		}
	}
}

// An entry that was never corrected says no names: its bytes are what they were.
func TestItemsUnsaid(t *testing.T) {
	b, err := canonicalise(withTeam(t, imara, joss))
	if err != nil || strings.Contains(string(b), `"item"`) {
		t.Errorf("%v %s", err, b)
	}
}

// Where some items carry a name, the others get one that is free.
func TestItemsNamedInPart(t *testing.T) {
	e := withTeam(t, imara, "{item: 1, name: Joss Keld, role: first-assistant}")
	e.nameRest()
	if got := strings.Join(ids(e), ", "); got != "Imara Voss 2, Joss Keld 1" {
		t.Error(got)
	}
}

// Over random corrections an item that is not touched keeps its name, no two items
// share one, and no name comes back.
func TestKeepItemsAtRandom(t *testing.T) {
	for seed := range uint64(200) {
		rnd := rand.New(rand.NewPCG(seed, 7))
		next := 0
		fresh := func() string {
			next++
			return fmt.Sprintf("{name: Person %04d, role: first-assistant, did: task %04d}", next*37%1000, next)
		}
		people := []string{fresh(), fresh(), fresh()}
		var signed []*Entry
		used, gone, last := map[string]string{}, map[string]bool{}, map[string]string{}
		for range 6 {
			if len(signed) > 0 {
				switch rnd.IntN(3) {
				case 0:
					if len(people) > 1 {
						i := rnd.IntN(len(people))
						people = slices.Delete(slices.Clone(people), i, i+1)
					}
				case 1:
					people = slices.Insert(slices.Clone(people), rnd.IntN(len(people)+1), fresh())
				case 2:
					people = slices.Clone(people)
					rnd.Shuffle(len(people), func(i, j int) { people[i], people[j] = people[j], people[i] })
				}
			}
			e := withTeam(t, people...)
			e.KeepItems(signed)
			signed = append(signed, e)
			now := map[string]string{}
			for i, p := range people {
				id := e.ItemID("team", i)
				if other, taken := now[id]; taken {
					t.Fatalf("seed %d: %s and %s are both item %s", seed, other, p, id)
				}
				now[id] = p
				if before, known := used[id]; known && before != p {
					t.Fatalf("seed %d: item %s was %s and is %s", seed, id, before, p)
				}
				if was, there := last[p]; there && was != id {
					t.Fatalf("seed %d: %s was item %s and is %s", seed, p, was, id)
				}
				used[id] = p
			}
			last = map[string]string{}
			for id, p := range now {
				if gone[id] {
					t.Fatalf("seed %d: item %s came back", seed, id)
				}
				last[p] = id
			}
			for id := range used {
				if _, here := now[id]; !here {
					gone[id] = true
				}
			}
		}
	}
}
