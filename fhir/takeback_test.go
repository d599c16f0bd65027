package fhir

import (
	"fmt"
	"maps"
	"math/rand/v2"
	"net/url"
	"os"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"graftnote/note"
	"graftnote/schema"
)

// shelf is a server that keeps what it is sent: a fold of creates and updates by
// what each names the resource by (R4, conditional create and update).
type shelf map[string]object

// take imports a transaction as a whole, or refuses it when an update matches two.
func (s shelf) take(t testing.TB, bundle object) error {
	t.Helper()
	next := maps.Clone(s)
	for _, e := range entries(bundle) {
		r := e["resource"].(object)
		kind := r["resourceType"].(string)
		req := e["request"].(object)
		query, update := dig(req, "ifNoneExist"), false
		if query == nil {
			_, q, _ := strings.Cut(req["url"].(string), "?")
			query, update = q, true
		}
		by, values, _ := strings.Cut(query.(string), "=")
		var found []string
		for key, have := range s {
			for v := range strings.SplitSeq(values, ",") {
				v, _ = url.QueryUnescape(v)
				if strings.HasPrefix(key, kind+"|") && carries(have, by, v) && !slices.Contains(found, key) {
					found = append(found, key)
				}
			}
		}
		own, _, _ := strings.Cut(values, ",")
		own, _ = url.QueryUnescape(own)
		key := kind + "|" + own
		switch {
		case len(found) > 1:
			return fmt.Errorf("412: %s matches %v", query, found)
		case len(found) == 1 && update:
			next[found[0]] = r
		case len(found) == 0:
			if _, twice := next[key]; twice {
				t.Errorf("%s stands twice in one transaction", key)
			}
			next[key] = r
		}
	}
	clear(s)
	maps.Copy(s, next)
	return nil
}

func carries(r object, by, value string) bool {
	list, _ := r["identifier"].([]any)
	if one, ok := r["identifier"].(object); ok {
		list = []any{one}
	}
	end := "value"
	if by == "_tag" {
		list, _ = dig(r, "meta", "tag").([]any)
		end = "code"
	}
	return slices.ContainsFunc(list, func(x any) bool {
		return fmt.Sprint(dig(x, "system"), "|", dig(x, end)) == value
	})
}

// live is what a reader of the server takes for true.
func (s shelf) live() map[string]object {
	out := map[string]object{}
	for key, r := range s {
		gone := r["status"] == "entered-in-error" || r["status"] == "superseded" || r["active"] == false || r["resourceType"] == "Provenance" ||
			dig(r, "verificationStatus", "coding", 0, "code") == "entered-in-error" || r["resourceType"] == "BiologicallyDerivedProduct" && r["identifier"] == nil
		if !gone {
			out[key] = r
		}
	}
	return out
}

// story signs one version of a case after another.
type story struct {
	t       testing.TB
	phrases *note.Phrases
	signed  []schema.Checked
	earlier []Earlier
	words   []note.Revision
	signs   []note.Signature
	acts    []Act
}

var firstSigned = time.Date(2026, 9, 8, 11, 3, 0, 0, time.FixedZone("", 3600))

func newStory(t testing.TB) *story {
	p, err := note.LoadPhrases(nil)
	if err != nil {
		t.Fatal(err)
	}
	return &story{t: t, phrases: p}
}

// act is the transaction after one more act on the note.
func (s *story) act(kind, why string, c schema.Checked) object {
	s.t.Helper()
	d, err := note.Build(c, s.phrases, note.Options{ToSign: true})
	if err != nil {
		s.t.Fatal(err)
	}
	n := len(s.acts) + 1
	at := firstSigned.Add(time.Duration(n) * time.Hour)
	s.signs = append(s.signs, note.Signature{Name: "Imara Voss", Role: "consultant", Meaning: kind, At: at, Zone: "Europe/London", Key: "a"})
	s.words = append(s.words, note.Revision{Number: n, Kind: kind, Who: "Imara Voss (consultant)", At: at, Zone: "Europe/London", Why: why})
	s.acts = append(s.acts, Act{kind, fmt.Append(nil, n), make([]byte, 64)})
	withdrawn := kind == "withdrawn"
	d = d.Sign(note.Signoff{Withdrawn: withdrawn, Signatures: s.signs, Revisions: s.words})
	so := &Signoff{Revision: n, Acts: s.acts, Earlier: slices.Clone(s.earlier), Amended: n > 1 && !withdrawn, Withdrawn: withdrawn}
	b, err := Transaction(c, d, Options{PDF: fmt.Appendf(nil, "%s%d", pdf, n), Tool: "graftnote 1.0.0", Signed: at, Signoff: so})
	if err != nil {
		s.t.Fatal(err)
	}
	s.earlier = append(s.earlier, Earlier{Entry: c, PDF: fmt.Appendf(nil, "%s%d", pdf, n), At: at, Amended: n > 1})
	return tree(s.t, b)
}

// draft is the lists of a case in the making: each item has its name and its text.
type draft map[string][]listItem

type listItem struct {
	name int
	text string
}

// begun are the lists as the sample has them.
func begun() draft {
	return draft{
		"team":     {{1, "name: Imara Voss, role: [surgeon, writer, signer], grade: consultant"}, {2, "name: Joss Keld, role: first-assistant"}, {3, "name: Pell Arden, role: anaesthetist"}, {4, "name: Tomas Reyle, role: scrub-nurse"}},
		"events":   {{1, "kind: failed-bubble, step: injection, managed-by: manual, consequence: technique-changed, detail: emphysema"}},
		"supplies": {{1, "what: trephine, lot: T-1"}, {2, "what: viscoelastic, lot: V-2"}},
	}
}

func (d draft) entry(t testing.TB) (schema.Checked, bool) {
	text := sampleText(t, "02-failed-bubble-manual.yaml")
	for group, items := range d {
		text = withoutGroup(text, group) + "\n" + group + ":"
		if len(items) == 0 {
			text += " none"
		}
		for _, x := range items {
			text += fmt.Sprintf("\n  - {item: %d, %s}", x.name, x.text)
		}
		text += "\n"
	}
	r := schema.Read(schema.Source{Name: "draft.yaml", Data: []byte(text)}, opened)
	if len(r.Cases) != 1 {
		t.Fatalf("%v\n%s", r.Findings, text)
	}
	c, err := schema.Check(r.Cases[0], opened, schema.NewBatch())
	if err != nil {
		t.Fatal(err)
	}
	return c, c.Complete()
}

func sampleText(t testing.TB, name string) string {
	b, err := os.ReadFile("../testdata/entries/" + name)
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

// withoutGroup takes a group out of an entry in YAML.
func withoutGroup(text, group string) string {
	var out []string
	inside := false
	for line := range strings.Lines(text) {
		if !strings.HasPrefix(line, " ") {
			inside = strings.HasPrefix(line, group+":")
		}
		if !inside {
			out = append(out, line)
		}
	}
	return strings.Join(out, "")
}

// edited is the case after one change of its lists. next is the name of the next
// new item of each list: no name is used twice.
func (d draft) edited(r *rand.Rand, next map[string]int) draft {
	out := draft{}
	for k, v := range d {
		out[k] = slices.Clone(v)
	}
	group := []string{"team", "events", "supplies"}[r.IntN(3)]
	items := out[group]
	n := r.IntN(1000)
	fresh := map[string]string{
		"team":     fmt.Sprintf("name: Wren Calder %d, role: circulating-nurse", n),
		"events":   fmt.Sprintf("kind: bubble-burst, step: injection, managed-by: manual, consequence: continued, detail: burst %d", n),
		"supplies": fmt.Sprintf("what: suture, lot: S-%d", n),
	}[group]
	keep := 0
	if group == "team" {
		keep = 1 // the surgeon
	}
	switch at := keep + r.IntN(max(1, len(items)-keep)); r.IntN(4) {
	case 0:
		if len(items) > keep {
			out[group] = slices.Delete(items, at, at+1)
		}
	case 1:
		next[group]++
		out[group] = slices.Insert(items, min(at, len(items)), listItem{next[group], fresh})
	case 2:
		r.Shuffle(len(items), func(i, j int) { items[i], items[j] = items[j], items[i] })
	case 3:
		if len(items) > keep && items[at].name > 1 {
			items[at].text = fresh
		}
	}
	return out
}

// said are the resources of the entry that are about the patient, by identity.
func said(live map[string]object) map[string]object {
	out := map[string]object{}
	for key, r := range live {
		switch r["resourceType"] {
		case "Composition", "DocumentReference", "Patient", "Organization", "Location":
		default:
			out[key] = r
		}
	}
	return out
}

// strip leaves out what is not said: states, and where in the bundle a thing stood.
func strip(r object) object {
	out := maps.Clone(r)
	for _, k := range []string{"status", "meta"} {
		delete(out, k)
	}
	if r["resourceType"] == "Procedure" { // its report is the page of the revision
		delete(out, "report")
	}
	return out
}

// However a case was corrected, and whichever of its bundles a server got, it holds
// as true what the newest says and nothing else; what a correction left alone is not
// amended; an older bundle is refused; and nothing stays true of a withdrawn note.
func TestServerHoldsTheNewestEntry(t *testing.T) {
	for seed := range uint64(12) {
		r := rand.New(rand.NewPCG(7, seed))
		server, now, s := shelf{}, begun(), newStory(t)
		next := map[string]int{"team": 4, "events": 1, "supplies": 2}
		var sent, delivered []object
		for n := range 2 + r.IntN(5) {
			c, ok := now.entry(t)
			for tries := 0; n > 0 && tries < 50; tries++ {
				if d := now.edited(r, next); true {
					if c, ok = d.entry(t); ok {
						now = d
						break
					}
				}
			}
			if !ok {
				t.Fatalf("seed %d: not complete: %v", seed, c.Gaps())
			}
			kind := "corrected"
			if n == 0 {
				kind = "signed"
			}
			bundle := s.act(kind, "why", c)
			sent = append(sent, bundle)
			if r.IntN(4) == 0 {
				continue // lost on its way
			}
			delivered = append(delivered, bundle)
			for range 2 {
				if err := server.take(t, bundle); err != nil {
					t.Fatalf("seed %d, revision %d: %v", seed, n+1, err)
				}
			}
			for older := range len(sent) - 1 {
				before := maps.Clone(server)
				if err := server.take(t, sent[older]); err == nil || !reflect.DeepEqual(before, server) {
					t.Fatalf("seed %d: revision %d after %d: %v", seed, older+1, n+1, err)
				}
			}
			alone := shelf{}
			if err := alone.take(t, newStory(t).act("signed", "", c)); err != nil {
				t.Fatal(err)
			}
			got, want := said(server.live()), said(alone.live())
			for key := range got {
				if want[key] == nil {
					t.Fatalf("seed %d, revision %d: %s is still true", seed, n+1, key)
				}
			}
			for key := range want {
				if got[key] == nil || !reflect.DeepEqual(strip(got[key]), strip(want[key])) {
					t.Fatalf("seed %d, revision %d: %s is\n%v, want\n%v", seed, n+1, key, got[key], want[key])
				}
			}
			pages := 0
			for key := range server.live() {
				if strings.HasPrefix(key, "DocumentReference|") {
					pages++
				}
			}
			if pages != 1 {
				t.Fatalf("seed %d, revision %d: %d pages in force", seed, n+1, pages)
			}
			amendedRightly(t, s, want, got)
		}
		c, _ := now.entry(t)
		if err := server.take(t, s.act("withdrawn", "wrong patient", c)); err != nil {
			t.Fatal(err)
		}
		for key, x := range server.live() {
			switch x["resourceType"] {
			case "Patient", "Practitioner", "Organization", "Location":
			default:
				t.Errorf("seed %d: %s of a withdrawn note is still true", seed, key)
			}
		}
		for i, older := range delivered {
			if server.take(t, older) == nil {
				t.Errorf("seed %d: delivery %d comes back after the withdrawal", seed, i)
			}
		}
	}
}

// amendedRightly holds that an Observation is amended when, and only when, a signed
// revision said it otherwise.
func amendedRightly(t *testing.T, s *story, now, got map[string]object) {
	t.Helper()
	changed := map[string]bool{}
	for _, e := range s.earlier {
		x := shelf{}
		if err := x.take(t, newStory(t).act("signed", "", e.Entry)); err != nil {
			t.Fatal(err)
		}
		for key, r := range x {
			changed[key] = changed[key] || now[key] != nil && !reflect.DeepEqual(strip(r), strip(now[key]))
		}
	}
	for key, r := range got {
		if r["resourceType"] == "Observation" && (r["status"] == "amended") != changed[key] {
			t.Fatalf("%s is %v, changed %v", key, r["status"], changed[key])
		}
	}
}
