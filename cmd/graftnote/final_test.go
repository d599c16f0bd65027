package main

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"graftnote/casebook"
	"graftnote/note"
	"graftnote/pdf"
	"graftnote/schema"
)

// keepFinal keeps the products of a note in every state for the outside checks.
var keepFinal = flag.String("keep-final", "", "`folder`, not yet there, for the final products of a note in every state")

// testBook is a casebook that tests sign in through its Go API.
type testBook struct {
	t    testing.TB
	path string
	book *casebook.Casebook
	min  int
	keys map[string]*casebook.Key
}

// noise is a repeatable source of bytes; each seed gives others.
type noise struct{ n, sum byte }

func (r *noise) Read(b []byte) (int, error) {
	for i := range b {
		r.n, r.sum = r.n*5+13, r.sum*3+r.n
		b[i] = r.sum
	}
	return len(b), nil
}

func newBook(t testing.TB) *testBook {
	t.Helper()
	b := &testBook{t: t, path: filepath.Join(t.TempDir(), "casebook.db"), keys: map[string]*casebook.Key{}}
	var err error
	if b.book, err = casebook.Open(t.Context(), b.path, casebook.Options{Rand: &noise{n: 1}}); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { b.book.Close() })
	b.addKey("Imara Voss", "consultant", 7)
	return b
}

func (b *testBook) addKey(name, role string, seed byte) *casebook.Key {
	b.t.Helper()
	k, err := casebook.NewKey(&noise{n: seed}, name, role)
	if err != nil {
		b.t.Fatal(err)
	}
	by := k
	if v := b.keys["Imara Voss"]; v != nil {
		by = v
	}
	if _, err := b.book.AddKey(context.Background(), casebook.KeyRequest{Act: b.act(by), New: k.Public()}); err != nil {
		b.t.Fatal(err)
	}
	b.keys[name] = k
	return k
}

func (b *testBook) act(k *casebook.Key) casebook.Act {
	b.min++
	return casebook.Act{Key: k, Now: time.Date(2026, 9, 8, 11, b.min, 0, 0, time.FixedZone("", 3600)), Zone: "Europe/London", Tool: "graftnote test"}
}

func checked(t testing.TB, text string) schema.Checked {
	t.Helper()
	o := schema.Options{Now: testNow, Covers: pdf.Covers}
	site, err := os.ReadFile("../../testdata/site/site.yaml")
	if err != nil {
		t.Fatal(err)
	}
	if o.Site, err = schema.ParseSite(schema.Source{Name: "site.yaml", Data: site}); err != nil {
		t.Fatal(err)
	}
	technique, err := os.ReadFile("../../testdata/technique.yaml")
	if err != nil {
		t.Fatal(err)
	}
	if strings.Contains(text, "short-form") {
		o.Technique = schema.ReadTechnique(schema.Source{Name: "technique.yaml", Data: technique}, o)
	}
	r := schema.Read(schema.Source{Name: "entry.yaml", Data: []byte(text)}, o)
	c, err := schema.Check(r.Cases[0], o, nil)
	if err != nil || !c.Complete() {
		t.Fatalf("%v, %d gaps", err, len(c.Gaps()))
	}
	return c
}

func (b *testBook) request(text, signer string) casebook.SignRequest {
	return b.requestOf(checked(b.t, text), signer)
}

func (b *testBook) requestOf(c schema.Checked, signer string) casebook.SignRequest {
	r := casebook.SignRequest{Act: b.act(b.keys[signer]), Checked: c, Shown: c.Digest(), Confirmed: casebook.Prefilled(c), True: casebook.ToAffirm(c)}
	for _, f := range casebook.ToAnswer(c) {
		r.Answers = append(r.Answers, casebook.Answer{Rule: f.Rule, Path: f.Path, Reason: "read again on the sheet, it is so"})
	}
	p, err := note.LoadPhrases(nil)
	if err != nil {
		b.t.Fatal(err)
	}
	d, err := toSign(c, p, "")
	if err != nil {
		b.t.Fatal(err)
	}
	if r.Document, err = wordsOf(c, d, r.Answers); err != nil {
		b.t.Fatal(err)
	}
	return r
}

// sign signs an entry and gives its case identifier.
func (b *testBook) sign(text, signer string) string {
	b.t.Helper()
	return b.signChecked(checked(b.t, text), signer)
}

func (b *testBook) signChecked(c schema.Checked, signer string) string {
	b.t.Helper()
	request := b.requestOf(c, signer)
	r, err := b.book.SignOff(context.Background(), request)
	var like casebook.AlikeError
	for errors.As(err, &like) {
		request.Different = append(request.Different, like.Cases...)
		r, err = b.book.SignOff(context.Background(), request)
	}
	if err != nil {
		b.t.Fatal(err)
	}
	return r.Case
}

func (b *testBook) correct(text, signer, why string, base int) {
	b.t.Helper()
	if _, err := b.book.Correct(context.Background(), casebook.CorrectRequest{SignRequest: b.request(text, signer), Base: base, Why: why}); err != nil {
		b.t.Fatal(err)
	}
}

func (b *testBook) amend(do func(context.Context, casebook.AmendRequest) (casebook.Receipt, error), id, signer string, base int, r casebook.AmendRequest) {
	b.t.Helper()
	r.Act, r.Case, r.Base = b.act(b.keys[signer]), id, base
	if _, err := do(context.Background(), r); err != nil {
		b.t.Fatal(err)
	}
}

// write makes the final products of cases into a new folder.
func (b *testBook) write(ids ...string) string {
	b.t.Helper()
	out := filepath.Join(b.t.TempDir(), "out")
	code, stdout, stderr := runIn(testEnvironment(), "", append(append([]string{"write"}, ids...), "--out", out, "--casebook", b.path, "--site", "../../testdata/site")...)
	if code != statusDone {
		b.t.Fatalf("%d %s %s", code, stdout, stderr)
	}
	return out
}

func read(t testing.TB, path ...string) []byte {
	t.Helper()
	b, err := os.ReadFile(filepath.Join(path...))
	if err != nil {
		t.Fatal(err)
	}
	return b
}

func entryFile(t testing.TB, name string, edits ...string) string {
	t.Helper()
	text := string(read(t, "../../testdata/entries", name))
	for i := 0; i < len(edits); i += 2 {
		if !strings.Contains(text, edits[i]) {
			t.Fatalf("%s does not hold %q", name, edits[i])
		}
		text = strings.ReplaceAll(text, edits[i], edits[i+1])
	}
	return text
}

// wholeLife is a book with a note in every state.
func wholeLife(t testing.TB) (b *testBook, ids []string) {
	t.Helper()
	b = newBook(t)
	b.addKey("Noor Selby", "trainee", 40)
	plain := b.sign(sampleText(t), "Imara Voss")
	corrected := b.sign(entryFile(t, "02-failed-bubble-manual.yaml"), "Imara Voss")
	b.correct(entryFile(t, "02-failed-bubble-manual.yaml", "blood-loss: none", "blood-loss: minimal"), "Imara Voss", "read again on the theatre sheet", 1)
	added := b.sign(entryFile(t, "03-type-2-microperforation.yaml"), "Imara Voss")
	b.amend(b.book.Addendum, added, "Imara Voss", 1, casebook.AmendRequest{Text: "Histology: keratoconus.", When: testNow.Add(-24 * time.Hour)})
	awaiting := b.sign(entryFile(t, "07-second-eye.yaml"), "Noor Selby")
	counter := b.sign(entryFile(t, "08-regraft.yaml"), "Noor Selby")
	b.amend(b.book.CounterSign, counter, "Imara Voss", 1, casebook.AmendRequest{})
	withdrawn := b.sign(entryFile(t, "13-femtosecond.yaml"), "Imara Voss")
	b.amend(b.book.Withdraw, withdrawn, "Imara Voss", 1, casebook.AmendRequest{Why: "entered for another patient"})
	converted := b.sign(entryFile(t, "06-conversion.yaml"), "Imara Voss")
	technique := b.sign(entryFile(t, "16-with-technique.yaml"), "Imara Voss")
	return b, []string{plain, corrected, added, awaiting, counter, withdrawn, converted, technique}
}

// The states of a note as FHIR R4 names them: Composition.status and
// DocumentReference.docStatus (value set composition-status).
func TestFinalStatuses(t *testing.T) {
	b, ids := wholeLife(t)
	out := b.write(ids...)
	if *keepFinal != "" {
		if err := os.CopyFS(*keepFinal, os.DirFS(out)); err != nil {
			t.Fatal(err)
		}
	}
	want := []string{"final", "amended", "amended", "preliminary", "final", "entered-in-error", "final", "final"}
	// One value was corrected in the second note; to the third something was added.
	observations := []struct{ rest, others string }{{"final", "map[]"}, {"final", "map[amended:1]"}, {"final", "map[]"}, {"preliminary", "map[]"},
		{"final", "map[]"}, {"entered-in-error", "map[]"}, {"final", "map[]"}, {"final", "map[]"}}
	for i, id := range ids {
		var bundle struct {
			Entry []struct {
				Resource struct {
					ResourceType, Status, DocStatus string
					Attester                        []struct{ Mode, Time string }
					RelatesTo                       []struct {
						Code   string
						Target struct{ Reference string }
					}
					Signature []struct {
						When, SigFormat string
						Data            []byte
					}
				}
				FullUrl string
			}
		}
		if err := json.Unmarshal(read(t, out, id+".bundle.json"), &bundle); err != nil {
			t.Fatal(err)
		}
		replaced, page, observed := "", "", map[string]int{}
		for _, e := range bundle.Entry { // the page of this revision is the last
			if e.Resource.ResourceType == "DocumentReference" {
				page = e.FullUrl
			}
		}
		for _, e := range bundle.Entry {
			if e.Resource.ResourceType == "Observation" {
				observed[e.Resource.Status]++
			}
			switch r := e.Resource; r.ResourceType {
			case "Composition":
				legal := 0 // who answers for the note: one, and nobody while a signature is missing
				for _, a := range r.Attester {
					if a.Mode == "legal" {
						legal++
					}
				}
				if r.Status != want[i] || len(r.Attester) == 0 || r.Attester[0].Time == "" || (legal == 1) != (want[i] != "preliminary") {
					t.Errorf("%s: %+v", id, r)
				}
			case "DocumentReference":
				if e.FullUrl != page && (r.Status == "superseded" || want[i] == r.Status) {
					replaced = e.FullUrl
					continue
				}
				if r.DocStatus != want[i] || len(r.RelatesTo) > 0 && (r.RelatesTo[0].Code != "replaces" || r.RelatesTo[0].Target.Reference != replaced) {
					t.Errorf("%s: %+v", id, r)
				}
				if (len(r.RelatesTo) > 0) != (replaced != "") {
					t.Errorf("%s: the older document is not marked", id)
				}
			case "Provenance":
				if len(r.Signature) == 0 || len(r.Signature[0].Data) != 64 {
					t.Errorf("%s: no Ed25519 signature", id)
				}
			case "Procedure", "Observation":
				if want[i] == "entered-in-error" && r.Status != want[i] {
					t.Errorf("%s: %s is %s", id, r.ResourceType, r.Status)
				}
			}
		}
		delete(observed, observations[i].rest)
		if fmt.Sprint(observed) != observations[i].others {
			t.Errorf("%s: Observations %v beside %s", id, observed, observations[i].rest)
		}
	}
}

// Two runs, and a run on a read-only casebook, give the same bytes, at any clock.
func TestFinalSameBytes(t *testing.T) {
	b, ids := wholeLife(t)
	one := contents(t, b.write(ids...))
	env := testEnvironment()
	env.now = func() time.Time { return testNow.AddDate(3, 0, 0) }
	out := filepath.Join(t.TempDir(), "out")
	if code, _, stderr := runIn(env, "", append([]string{"write", "--out", out, "--casebook", b.path, "--site", "../../testdata/site"}, ids...)...); code != 0 {
		t.Fatal(stderr)
	}
	for name, text := range contents(t, out) {
		if one[name] != text {
			t.Errorf("%s differs", name)
		}
	}
	if len(one) != len(contents(t, out)) || len(one) < 4*len(ids)-2 {
		t.Errorf("%d files", len(one))
	}
}

// 21 CFR 11.50: a signed record shows the printed name of the signer, date and
// time of signing, and the meaning of the signature, in every readable form.
// Revisions: CMS Pub. 100-08 chapter 3 section 3.3.2.5, nothing that stood before
// is hidden.
func TestFinalNoteWords(t *testing.T) {
	b, ids := wholeLife(t)
	p, err := note.LoadPhrases(nil)
	if err != nil {
		t.Fatal(err)
	}
	docs := map[string]note.Document{}
	for _, id := range ids {
		d, err := readDossier(t.Context(), b.book, id, schema.Options{Now: testNow})
		if err != nil {
			t.Fatal(err)
		}
		if docs[id], err = d.build(p, ""); err != nil {
			t.Fatal(err)
		}
		for _, s := range docs[id].Signatures {
			if s.Name == "" || s.Meaning == "" || !regexp.MustCompile(`\d{4}, \d\d:\d\d:\d\d [+-]\d\d:\d\d \(Europe/London\)$`).MatchString(s.When()) {
				t.Errorf("%s: %+v %s", id, s, s.When())
			}
		}
		if len(docs[id].Signatures) != len(d.proofs) || docs[id].Draft {
			t.Errorf("%s: %d signatures", id, len(docs[id].Signatures))
		}
	}
	r := docs[ids[1]].Revisions
	if len(r) != 2 || r[1].Kind != "Corrected" || r[1].Why == "" || len(r[1].Changes) != 1 || r[1].Changes[0].Old != "none" || r[1].Changes[0].New != "minimal" || !strings.Contains(r[1].Changes[0].Label, "blood loss") {
		t.Errorf("%+v", r)
	}
	if r := docs[ids[2]].Revisions; r[1].Kind != "Late entry" || r[1].EventWhen() == "" || r[1].Text == "" {
		t.Errorf("%+v", r)
	}
	if d := docs[ids[3]]; !strings.Contains(d.Status, "responsible surgeon") {
		t.Error(d.Status)
	}
	if d := docs[ids[5]]; d.Mark != "WITHDRAWN" {
		t.Error(d.Mark)
	}
	if d := docs[ids[7]]; len(d.Confirmed) == 0 || len(d.Unconfirmed) > 0 || slices.ContainsFunc(d.Confirmed, func(i note.Item) bool { return i.Label == "" || i.Value == "" }) {
		t.Errorf("%+v", d.Confirmed)
	}
}

// The two-dimensional code and the names of files hold nothing of the patient
// (HIPAA Safe Harbor, 45 CFR 164.514(b)(2): none of the eighteen identifiers).
func TestCodeHasNoPatientData(t *testing.T) {
	b, ids := wholeLife(t)
	form := regexp.MustCompile(`^graftnote 1 / [a-z0-9-]{6,40} / rev \d+ / sha256:[0-9a-f]{64} / size \d+ / root [A-Za-z0-9+/]{43}=$`)
	p, err := note.LoadPhrases(nil)
	if err != nil {
		t.Fatal(err)
	}
	for _, id := range ids {
		d, err := readDossier(t.Context(), b.book, id, schema.Options{Now: testNow})
		if err != nil {
			t.Fatal(err)
		}
		doc, err := d.build(p, "")
		if err != nil {
			t.Fatal(err)
		}
		if !form.MatchString(doc.Code) {
			t.Error(doc.Code)
		}
		d.entry.Entry().Walk(func(r *schema.Row, _ int, f schema.Field) {
			if r.Private && f.Recorded() && len(f.Text()) > 3 && strings.Contains(doc.Code, f.Text()) {
				t.Errorf("the code holds %s", r.Path())
			}
		})
		if _, err := pdf.NewRenderer(); err != nil {
			t.Fatal(err)
		}
	}
	files, err := pdf.Attachments(read(t, b.write(ids[0]), ids[0]+".note.pdf"))
	if err != nil || len(files) != 2 || files[0].Name != "entry.json" || files[1].Name != proofName {
		t.Fatalf("%v %v", files, err)
	}
	proofs, err := parseProofs(files[1].Data)
	if err != nil {
		t.Fatal(err)
	}
	if st, err := casebook.ParseStatement(proofs[0].Statement); err != nil || !bytes.Equal(st.Entry, files[0].Data) {
		t.Error("the entry inside is not the signed one", err)
	}
}

// A case that is not there, a file in the place of a casebook and a name that is
// no case are told apart, and an entry stays an entry.
func TestWriteNoteFaults(t *testing.T) {
	b := newBook(t)
	id := b.sign(sampleText(t), "Imara Voss")
	out := filepath.Join(t.TempDir(), "out")
	for args, want := range map[string]string{
		"no-such-case --casebook " + b.path:           "holds no such case",
		id + " --casebook " + b.path + ".none":        "holds nothing yet",
		id:                                            "there is no file " + id,
		"No-Case --casebook " + b.path:                "cannot read No-Case",
		"../../testdata --casebook " + b.path:         "no entry in the folder",
		sample + " " + "zzzz-zz --casebook " + b.path: "holds no such case",
	} {
		code, _, stderr := runIn(testEnvironment(), "", append([]string{"write", "--out", out}, strings.Fields(args)...)...)
		if code != statusIO || !strings.Contains(stderr, want) {
			t.Errorf("%s: %d %s", args, code, stderr)
		}
	}
	if code, stdout, stderr := runIn(testEnvironment(), "", "write", sample, id, "--casebook", b.path, "--out", out); code != 0 || !strings.Contains(stdout, "From the casebook, as signed: 1 note.") {
		t.Errorf("%d %s %s", code, stdout, stderr)
	}
}
