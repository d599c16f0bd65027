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
		query, _, _ = strings.Cut(query.(string), "&") // what stands after it is true of all
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
	c := checkedText(t, d.text(t))
	return c, c.Complete()
}

func (d draft) text(t testing.TB) string {
	text := sampleText(t, "02-failed-bubble-manual.yaml")
	for _, group := range slices.Sorted(maps.Keys(d)) {
		items := d[group]
		text = withoutGroup(text, group) + "\n" + group + ":"
		if len(items) == 0 {
			text += " none"
		}
		for _, x := range items {
			text += fmt.Sprintf("\n  - {item: %d, %s}", x.name, x.text)
		}
		text += "\n"
	}
	return text
}

func checkedText(t testing.TB, text string) schema.Checked {
	r := schema.Read(schema.Source{Name: "draft.yaml", Data: []byte(text)}, opened)
	if len(r.Cases) != 1 {
		t.Fatalf("%v\n%s", r.Findings, text)
	}
	c, err := schema.Check(r.Cases[0], opened, schema.NewBatch())
	if err != nil {
		t.Fatal(err)
	}
	return c
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
			nobodyMoved(t, server, now)
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

// nobodyMoved holds that each item stands under the name that it always had.
func nobodyMoved(t *testing.T, server shelf, now draft) {
	t.Helper()
	of := func(kind, role, group string, says func(object) any) {
		for _, item := range now[group] {
			key := fmt.Sprintf("%s|%s|b2m4-failed-bubble.%s-%d", kind, terms().IdentifierBase+role, map[string]string{"case-person": "person", "device": "supply"}[role], item.name)
			if words := fmt.Sprint(says(server[key])); words == "" || !strings.Contains(item.text+",", words+",") {
				t.Fatalf("%s says %q, the entry %q", key, words, item.text)
			}
		}
	}
	of("Practitioner", "case-person", "team", func(r object) any { return dig(r, "name", 0, "text") })
	of("Device", "device", "supplies", func(r object) any { return dig(r, "lotNumber") })
}

// The second of four people is taken out, and another's name was misspelt: nobody
// takes a place that was another's, the corrected name arrives, and who has a
// registration number is found by it and left as the hospital has it.
func TestThePersonTakenOutTakesNobodysPlace(t *testing.T) {
	first := begun()
	first["team"][3].text = "name: Tomas Rayle, role: scrub-nurse"
	first["team"] = append(first["team"], listItem{5, "name: Wren Calder, id: R-77, role: circulating-nurse"})
	second := begun()
	second["team"] = append(slices.Delete(second["team"], 1, 2), first["team"][4])
	server, s := shelf{}, newStory(t)
	for i, d := range []draft{first, second} {
		c, ok := d.entry(t)
		if !ok {
			t.Fatal(c.Gaps())
		}
		if err := server.take(t, s.act([]string{"signed", "corrected"}[i], "the assistant was another's", c)); err != nil {
			t.Fatal(err)
		}
	}
	for name, want := range map[string]string{"1": "Imara Voss true", "2": "Joss Keld false", "3": "Pell Arden true", "4": "Tomas Reyle true"} {
		r := server["Practitioner|"+terms().IdentifierBase+"case-person|b2m4-failed-bubble.person-"+name]
		if got := fmt.Sprint(dig(r, "name", 0, "text"), " ", r["active"] != false); got != want {
			t.Errorf("person %s is %s, want %s", name, got, want)
		}
	}
	if r := server["Practitioner|"+terms().IdentifierBase+"practitioner|R-77"]; dig(r, "name", 0, "text") != "Wren Calder" {
		t.Errorf("R-77 is %v", r)
	}
	for _, r := range all(s.act("addendum", "", s.earlier[1].Entry), "Procedure") {
		for _, p := range dig(object{"p": r["performer"]}, "p").([]any) {
			if dig(p, "actor", "display") == "Joss Keld" && r["status"] != "entered-in-error" {
				t.Error("the assistant is still a performer")
			}
		}
	}
}

// A draft that was imported leaves nothing behind that the signed note, or a later
// draft that updates it, no longer says; the own encounter gives way to the
// hospital's. The same bundle comes when it is made again beside its own.
func TestADraftIsTakenBack(t *testing.T) {
	old, _ := begun().entry(t)
	later := begun()
	later["supplies"], later["team"] = nil, slices.Delete(later["team"], 1, 2)
	text := later.text(t)
	text = strings.Replace(text, "episode: {", "episode: {encounter: ENC-77, ", 1)
	now := checkedText(t, text)
	server := shelf{}
	update := func(held []byte) func(*Options) { return func(o *Options) { o.Update, o.Held = true, held } }
	raw := func(c schema.Checked, edit func(*Options)) []byte {
		o := Options{PDF: pdf, Tool: "graftnote 1.0.0"}
		edit(&o)
		b, err := Transaction(c, words(t, c), o)
		if err != nil {
			t.Fatal(err)
		}
		return b
	}
	before := raw(old, func(*Options) {})
	after := raw(now, update(before))
	if again := raw(now, update(after)); string(again) != string(after) {
		t.Error("made again it is another bundle")
	}
	for _, b := range [][]byte{before, after} {
		if err := server.take(t, tree(t, b)); err != nil {
			t.Fatal(err)
		}
	}
	base := terms().IdentifierBase
	for _, gone := range []string{"Device|" + base + "device|b2m4-failed-bubble.supply-1", "Practitioner|" + base + "case-person|b2m4-failed-bubble.person-2",
		"Encounter|" + base + "case-encounter|b2m4-failed-bubble.operation"} {
		if server[gone] == nil || server.live()[gone] != nil {
			t.Errorf("%s: %v", gone, server[gone])
		}
	}
	if strings.Contains(string(raw(now, update([]byte(strings.ReplaceAll(string(before), "b2m4", "x9x9"))))), "entered-in-error") {
		t.Error("a bundle of another case takes nothing back")
	}
}

// A page with the number of one patient goes into no chart of another, whatever an
// old casebook holds.
func TestNoPageOfAnotherPatient(t *testing.T) {
	s := newStory(t)
	s.act("signed", "", checkedText(t, strings.Replace(begun().text(t), "patient: {id: ", "patient: {id: 9", 1)))
	now, _ := begun().entry(t)
	b := s.act("corrected", "wrong chart", now)
	if n := len(all(b, "DocumentReference")); n != 1 {
		t.Errorf("%d pages", n)
	}
}

// R4 Provenance.reason, Provenance.activity, Provenance.entity.role, Provenance.occurred; the words of
// each later act stand in the note, so that a receiver of the document alone has
// them.
func TestActsAreTold(t *testing.T) {
	c, _ := begun().entry(t)
	s := newStory(t)
	for i, want := range []struct{ kind, code, roles string }{
		{"signed", "LA", "source source"}, {"addendum", "LA", "source revision source"}, {"corrected", "LA", "source revision revision source"}, {"withdrawn", "NU", "source revision revision revision source"},
	} {
		why := fmt.Sprintf("reason of act %d", i+1)
		b := s.act(want.kind, why, c)
		p := all(b, "Provenance")[0]
		wants(t, codesOf(object{"x": p["activity"]}), want.code)
		var roles []string
		for _, e := range p["entity"].([]any) {
			roles = append(roles, dig(e, "role").(string))
		}
		if got := strings.Join(roles, " "); got != want.roles || dig(p, "reason", 1, "text") != why || p["occurredDateTime"] != p["recorded"] {
			t.Errorf("%s: %s, %v, %v", want.kind, got, p["reason"], p["occurredDateTime"])
		}
		told := dig(all(b, "Composition")[0], "section", 0)
		if codes := codesOf(told); i > 0 && (codes[0] != "section:revisions" || !strings.Contains(dig(told, "text", "div").(string), why)) {
			t.Errorf("%s: %v", want.kind, told)
		}
	}
}
