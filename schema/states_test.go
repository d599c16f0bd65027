package schema

import (
	"bytes"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

const confirmedGallery = "testdata/confirmed"

// TestConfirmedGallery holds each rule whose state can be true to a second file:
// the same entry with its confirmation. Nothing blocks it any more, and the finding
// stays to be seen.
func TestConfirmedGallery(t *testing.T) {
	for _, r := range Content().Rules {
		if r.State == "" {
			continue
		}
		t.Run(r.Name, func(t *testing.T) {
			all := checkFile(t, filepath.Join(confirmedGallery, r.Name+".yaml"))
			hit := false
			var text bytes.Buffer
			for _, f := range all {
				text.WriteString(f.Layout())
				switch {
				case f.Severity == Blocks:
					t.Errorf("still blocks: %s", f.Layout())
				case f.Rule == r.Name:
					hit = f.Severity == Confirmed
				}
			}
			if !hit {
				t.Error("the rule is not confirmed")
			}
			expected := filepath.Join(confirmedGallery, r.Name+".txt")
			if *update {
				if err := os.WriteFile(expected, text.Bytes(), 0o644); err != nil {
					t.Fatal(err)
				}
				return
			}
			was, err := os.ReadFile(expected)
			if err != nil || !bytes.Equal(was, text.Bytes()) {
				t.Errorf("the text differs from %s (%v); run  go test ./schema -run Gallery -update  and read the difference\n%s", expected, err, text.String())
			}
		})
	}
	files, err := filepath.Glob(confirmedGallery + "/*")
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range files {
		name, _, _ := strings.Cut(filepath.Base(f), ".")
		if r, ok := Content().Rule(name); !ok || r.State == "" {
			t.Errorf("%s belongs to no rule whose state can be true", f)
		}
	}
}

// cannotBeTrue are the rules that block and have no confirmation, by the reason.
// Whoever adds a rule that blocks decides: a state that can be true gets a state in
// its row, every other rule stands here. (Common practice, no source.)
var cannotBeTrue = map[string][]string{
	"two answers contradict each other; one is a slip": {
		"storage-longer-than-dates", "preserved-before-death", "preserved-after-surgery", "no-tissue-grafted", "two-tissues-grafted",
		"tissue-listed-twice", "count-after-surgery", "donor-died-after-surgery", "stain-none-with-strength", "backup-none-with-fitness",
		"perforated-without-event", "needle-perforated-without-event", "second-tissue-without-event", "management-none-mixed", "event-none-mixed",
		"pupil-none-mixed", "tear-longer-than-cut", "fill-without-gas", "blood-loss-none-with-volume", "gas-strength-without-gas",
		"fill-of-event-unmanaged", "iridotomy-not-at-end", "earlier-graft-not-failed", "regraft-without-earlier-graft", "graft-failed-without-graft",
		"endothelial-diagnosis-endothelium-well", "hydrops-year-without-hydrops", "k1-above-k2", "earlier-surgery-none-mixed", "scar-none-mixed",
		"ring-below-thinnest", "thickest-below-thinnest", "thickest-below-ring", "scar-diagnosis-without-scar", "phakic-after-cataract-surgery",
		"stage-abcd-impossible", "double-bubble-without-paracentesis", "double-bubble-without-chamber-bubble", "air-bubble-without-attempt",
		"attempts-differ", "chamber-bubble-wider-than-cornea", "no-paracentesis-with-details", "conversion-not-in-procedure",
		"converted-event-lamellar-procedure", "converted-management-lamellar-procedure", "conversion-without-complication",
		"conversion-reason-without-perforation", "abandoned-with-graft", "combined-none-mixed", "plane-full-thickness-lamellar",
		"bared-without-separation", "separation-without-sign", "bubble-type-without-sign", "type-2-pre-descemetic", "bubble-wider-than-cornea",
		"signs-none-mixed", "release-none-mixed", "debulked-none-with-fraction", "rim-none-with-width", "excision-none-with-tissue",
		"excision-none-with-quadrants", "refill-nothing-with-strength", "running-with-interrupted", "interrupted-with-running",
		"single-running-several", "double-running-one", "laser-values-other-method", "laser-procedure-other-method",
		"late-events-none-mixed", "further-surgery-none-mixed",
	},
	"no such day or time, or the order of two times": {
		"born-after-surgery", "age-impossible", "surgery-in-future", "end-in-future", "end-before-start", "end-date-before-surgery",
		"hydrops-after-surgery", "visit-before-surgery", "visit-after-end", "suture-dates-reversed", "suture-out-before-surgery",
		"rejection-before-surgery", "failure-before-surgery", "visit-in-future", "measured-after-surgery", "time-skipped", "time-doubled", "zone-unknown",
	},
	"an answer that can always be given, and then nothing blocks": {
		"two-membranes-bared-plane", "two-membranes-type-2", "tissue-fate-unexplained", "perforation-unmanaged", "air-behind-iris-unmanaged",
		"complications-not-stated", "suprachoroidal-bleeding-untold", "surgeon-not-named", "endothelium-diseased-lamellar",
		"conversion-without-event", "planned-option-without-reason", "combined-without-interrupted", "combined-without-running",
		"failure-without-cause", "failure-without-date", "required-field", "required-group", "element-missing", "script-not-printable",
		"tissue-on-another-patient", "true-state-not-found", "true-state-twice",
	},
	"another person's or another eye's record": {
		"visit-of-other-eye", "followup-case-unknown", "followup-names-patient", "followup-patient-differs", "followup-born-differs", "followup-eye-differs",
		"followup-without-visit", "followup-no-graft", "case-twice", "number-of-two-persons",
	},
	"about the file or the settings, not the operation": {
		"row-holds-identifier", "file-not-yaml", "file-empty", "file-too-large", "file-encoding", "wrong-shape", "no-aliases", "key-twice",
		"unknown-field", "value-unreadable", "unknown-code", "control-character", "text-too-long", "not-recorded-refused", "reason-missing",
		"case-id-form", "item-name", "value-unfilled", "case-names-patient", "technique-not-a-habit", "format-unknown",
	},
	"a figure that no eye has; the limit of the field is where to say otherwise": {"outside-possible-range"},
}

// TestBlockingRulesDecide: no rule blocks a state that can be true without a way
// on, because nobody thought of it.
func TestBlockingRulesDecide(t *testing.T) {
	listed := map[string]bool{}
	for _, names := range cannotBeTrue {
		for _, n := range names {
			if listed[n] {
				t.Errorf("%s stands twice", n)
			}
			listed[n] = true
			if r, ok := Content().Rule(n); !ok || r.Severity != Blocks {
				t.Errorf("%s is no rule that blocks", n)
			}
		}
	}
	for _, r := range Content().Rules {
		if r.Severity == Blocks && (r.State == "") != listed[r.Name] {
			t.Errorf("%s blocks: give it a state when it can be true, else name it in cannotBeTrue (state %q)", r.Name, r.State)
		}
	}
	for _, w := range Content().Lists[stateList].Codes {
		if !slices.ContainsFunc(Content().Rules, func(r *Rule) bool { return r.State == w.Code }) {
			t.Errorf("no rule has the state %s", w.Code)
		}
	}
}

// TestSafetyGapBlocks: on a field of safety "not recorded" is never the easier
// answer; there is a rule that blocks it and has a state.
func TestSafetyGapBlocks(t *testing.T) {
	for _, g := range Content().Groups {
		for _, r := range g.Fields {
			if !r.Safety {
				continue
			}
			if r.Refuse {
				t.Errorf("%s takes no gap at all, so it needs no mark", r.Path())
			}
			gap := func(rule *Rule) bool {
				return rule.State != "" && slices.Contains(rule.When, r.Path()+" is missing")
			}
			if !slices.ContainsFunc(Content().Rules, gap) {
				t.Errorf("no rule with a state asks about a gap in %s", r.Path())
			}
		}
	}
}

// checkedWith reads the gallery entry of a rule with lines added at its end.
func checkedWith(t *testing.T, rule, add string, o Options) Checked {
	t.Helper()
	b, err := os.ReadFile(filepath.Join(gallery, rule+".yaml"))
	if err != nil {
		t.Fatal(err)
	}
	if o.Now.IsZero() {
		o.Now = galleryNow
	}
	r := Read(Source{Name: "case.yaml", Data: append(b, add...)}, o)
	c, err := Check(r.Cases[0], o, nil)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// TestConfirmation: what a confirmation needs, and what it is held against.
func TestConfirmation(t *testing.T) {
	const told = ", told: the bank, told-at: 18:20, incident: INC-7"
	for _, x := range []struct {
		name, rule, add string
		blocks          []string
	}{
		{"nothing", "counts-not-correct", "", []string{"counts-not-correct"}},
		{"complete", "counts-not-correct", "true-states: {state: counts-not-settled, reason: lost" + told + "}\n", nil},
		{"reason missing", "counts-not-correct", "true-states: {state: counts-not-settled" + told + "}\n", []string{"counts-not-correct", "required-field"}},
		{"incident missing", "counts-not-correct", "true-states: {state: counts-not-settled, reason: lost, told: the bank, told-at: 18:20}\n", []string{"counts-not-correct", "required-field"}},
		{"told not recorded", "counts-not-correct", "true-states: {state: counts-not-settled, reason: lost, told: 'not recorded: forgot', told-at: 18:20, incident: x1}\n", []string{"counts-not-correct", "not-recorded-refused"}},
		{"another state", "counts-not-correct", "true-states: {state: tissue-expired, reason: lost" + told + "}\n", []string{"counts-not-correct", "true-state-not-found"}},
		{"no such state", "counts-not-correct", "true-states: {state: counts, reason: lost" + told + "}\n", []string{"counts-not-correct", "unknown-code"}},
		{"item named", "tissue-expired", "true-states: {state: tissue-expired, at: 'tissues[1]', reason: known" + told + "}\n", nil},
		{"wrong item", "tissue-expired", "true-states: {state: tissue-expired, at: 'tissues[2]', reason: known" + told + "}\n", []string{"tissue-expired", "true-state-not-found"}},
		{"no incident", "conversion-not-watertight", "true-states: {state: wound-not-watertight, reason: glue had run out}\n", nil},
		{"a rule that cannot be true", "born-after-surgery", "true-states: {state: note-begun-early, reason: prepared before}\n", []string{"born-after-surgery", "true-state-not-found"}},
	} {
		t.Run(x.name, func(t *testing.T) {
			c := checkedWith(t, x.rule, x.add, Options{})
			var got []string
			for _, f := range c.Gaps() {
				if !slices.Contains(got, f.Rule) {
					got = append(got, f.Rule)
				}
			}
			slices.Sort(got)
			if !slices.Equal(got, x.blocks) {
				t.Errorf("blocks: %v, want %v", got, x.blocks)
			}
			if c.Complete() != (x.blocks == nil) {
				t.Error("complete does not follow")
			}
		})
	}
}

// TestConfirmationIsTypedInTheCase: neither habits nor the head of a list can
// confirm anything.
func TestConfirmationIsTypedInTheCase(t *testing.T) {
	const state = "true-states: {state: counts-not-settled, reason: lost, told: the bank, told-at: 18:20, incident: INC-7}\n"
	tech := ReadTechnique(Source{Name: "technique.yaml", Data: []byte(state)}, Options{Now: galleryNow})
	if !slices.ContainsFunc(tech.Findings, func(f Finding) bool { return f.Rule == "technique-not-a-habit" }) {
		t.Error("the standing technique confirms")
	}
	if c := checkedWith(t, "counts-not-correct", "", Options{Technique: tech}); c.Complete() {
		t.Error("a confirmation of the technique was filled in")
	}
	b, err := os.ReadFile(filepath.Join(gallery, "counts-not-correct.yaml"))
	if err != nil {
		t.Fatal(err)
	}
	list := "list:\n  " + state + "cases:\n  -\n    " + strings.ReplaceAll(string(b), "\n", "\n    ") + "\n"
	r := Read(Source{Name: "list.yaml", Data: []byte(list)}, Options{Now: galleryNow})
	c, err := Check(r.Cases[0], Options{Now: galleryNow}, nil)
	if err != nil {
		t.Fatal(err)
	}
	if c.Complete() || len(c.Entry().TrueStates) > 0 {
		t.Error("the head of a list confirms")
	}
}

// TestConfirmTyped: what a signer types goes into the entry, survives the
// canonical form, and what can't be read is refused without a trace.
func TestConfirmTyped(t *testing.T) {
	b, err := os.ReadFile(filepath.Join(gallery, "tissue-expired.yaml"))
	if err != nil {
		t.Fatal(err)
	}
	o := Options{Now: galleryNow}
	cs := Read(Source{Name: "case.yaml", Data: b}, o).Cases[0]
	before, err := Check(cs, o, nil)
	if err != nil {
		t.Fatal(err)
	}
	ask := before.ToConfirm()
	if len(ask) != 1 || ask[0].StateAt() != (StateAt{"tissue-expired", "tissues[1]"}) {
		t.Fatalf("asked: %+v", ask)
	}
	typed := TypedState{State: "tissue-expired", At: "tissues[1]", Reason: "no other tissue: a 2nd \"came\" late", Told: "the bank", ToldAt: "25:20", Incident: "not yet given"}
	if got, bad, err := cs.Confirm([]TypedState{typed}, o); err != nil || len(bad) != 1 || got != nil {
		t.Fatalf("%v, %v, %v", got, bad, err)
	}
	typed.ToldAt = "18:20"
	told, bad, err := cs.Confirm([]TypedState{typed}, o)
	if err != nil || len(bad) != 0 || len(before.Entry().TrueStates) != 0 {
		t.Fatalf("%v, %v", bad, err)
	}
	after, err := Check(told, o, nil)
	if err != nil || !after.Complete() || after.Digest() == before.Digest() {
		t.Fatalf("complete %v, %v", after.Complete(), err)
	}
	sealed, err := Sealed(after.Canonical(), o)
	if err != nil {
		t.Fatal(err)
	}
	if x := sealed.Entry().TrueStates; len(x) != 1 || x[0].Reason.Text() != typed.Reason || !sealed.Entry().ConfirmedTrue("tissue-expired") {
		t.Errorf("sealed: %+v", x)
	}
}

// TestToConfirm: an entry with another block is not put before the signer.
func TestToConfirm(t *testing.T) {
	if got := checkedWith(t, "counts-not-correct", "", Options{}).ToConfirm(); len(got) != 1 {
		t.Errorf("%d to confirm", len(got))
	}
	if got := checkedWith(t, "born-after-surgery", "", Options{}).ToConfirm(); got != nil {
		t.Errorf("%d to confirm", len(got))
	}
}

// TestSoundCasesPass: what seems impossible and is true, and needs no confirmation:
// an endothelial rejection of an earlier full-thickness graft, a descemetocele.
func TestSoundCasesPass(t *testing.T) {
	for _, x := range []struct{ rule, old, new, gone string }{
		{"endothelial-rejection-lamellar", "earlier-surgery: none", "earlier-surgery: penetrating-graft, earlier-graft-failed: yes", "endothelial-rejection-lamellar"},
		{"counts-not-correct", "thinnest: 372 µm", "thinnest: 45 µm", "outside-possible-range"},
	} {
		b, err := os.ReadFile(filepath.Join(gallery, x.rule+".yaml"))
		if err != nil || !strings.Contains(string(b), x.old) {
			t.Fatalf("%s: %v", x.rule, err)
		}
		r := Read(Source{Name: "case.yaml", Data: []byte(strings.Replace(string(b), x.old, x.new, 1))}, Options{Now: galleryNow})
		c, err := Check(r.Cases[0], Options{Now: galleryNow}, nil)
		if err != nil {
			t.Fatal(err)
		}
		if slices.ContainsFunc(c.Findings(), func(f Finding) bool { return f.Rule == x.gone }) {
			t.Errorf("%s is still raised", x.gone)
		}
	}
}
