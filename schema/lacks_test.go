package schema_test

import (
	"fmt"
	"os"
	"slices"
	"strings"
	"testing"

	"graftnote/schema"
)

// changed gives the findings of a file of the gallery with some of its text
// exchanged.
func changed(t *testing.T, file string, exchange ...string) []string {
	t.Helper()
	b, err := os.ReadFile("testdata/gallery/" + file + ".yaml")
	if err != nil {
		t.Fatal(err)
	}
	text := string(b)
	for i := 0; i < len(exchange); i += 2 {
		if strings.Count(text, exchange[i]) != 1 {
			t.Fatalf("%s does not hold %q once", file, exchange[i])
		}
		text = strings.Replace(text, exchange[i], exchange[i+1], 1)
	}
	o := schema.Options{Now: followedOn}
	r := schema.Read(schema.Source{Name: "entry.yaml", Data: []byte(text)}, o)
	if len(r.Cases) != 1 {
		t.Fatalf("%d cases: %v", len(r.Cases), r.Findings)
	}
	var out []string
	for _, f := range check(t, r.Cases[0], o, nil).Findings() {
		out = append(out, f.Rule+" "+strings.TrimSuffix(f.Severity.String(), " again"))
	}
	return out
}

// A rule whose test is about what a field does not say must not fall silent when
// the field says nothing. Each row leaves such a field open and expects the rule
// all the same.
func TestSilenceDoesNotExcuse(t *testing.T) {
	layered := []string{"performed: air-big-bubble, steps: air", "performed: manual-layered, steps: [air, manual]", "planned: air-big-bubble", "planned: manual-layered",
		"separation: {signs: spreading-blanching, obtained: complete, bubble-type: type-1, plane: pre-descemetic}"}
	for name, x := range map[string]struct {
		file     string
		exchange []string
		want     string
	}{
		"membrane left, no bubble type asked for": {"donor-membrane-left", append(slices.Clone(layered), "separation: {signs: none, obtained: none, plane: deep-stroma}"), "donor-membrane-left look"},
		"membrane left, bubble type not applicable": {"donor-membrane-left", append(slices.Clone(layered), "separation: {signs: none, obtained: none, bubble-type: not-applicable, plane: deep-stroma}"),
			"donor-membrane-left look"},
		"membrane left, plane not recorded": {"donor-membrane-left", []string{"plane: pre-descemetic", "plane: not recorded: bed swollen"}, "donor-membrane-left look"},
		"membrane left over a type 2 bubble, plane not recorded": {"donor-membrane-left", []string{"bubble-type: type-1, plane: pre-descemetic", "bubble-type: type-2, plane: not recorded: bed swollen"},
			"two-membranes-type-2 blocks"},
		"parts of a mixed bubble, type not recorded": {"mixed-area-other-type", []string{"bubble-type: type-1", "bubble-type: not recorded: not looked at"}, "mixed-area-other-type look"},
		"needle perforated, result not recorded":     {"needle-perforated-without-event", []string{resultOf(t, "needle-perforated-without-event"), "result: not recorded: forgotten"}, "needle-perforated-without-event blocks"},
		"converted, plan not recorded":               {"conversion-without-event", []string{"planned: air-big-bubble", "planned: not recorded: list lost"}, "conversion-without-event blocks"},
		"converted without event, plan not recorded": {"conversion-without-complication", []string{"planned: air-big-bubble", "planned: not recorded: list lost"}, "conversion-without-complication blocks"},
		"chamber bubble, plan not recorded":          {"chamber-bubble-other-technique", []string{"planned: air-big-bubble", "planned: not recorded: list lost"}, "chamber-bubble-other-technique look"},
	} {
		t.Run(name, func(t *testing.T) {
			if have := changed(t, x.file, x.exchange...); !slices.Contains(have, x.want) {
				t.Errorf("have %v, want %s", have, x.want)
			}
		})
	}
}

// resultOf is the result of the one attempt of a file of the gallery.
func resultOf(t *testing.T, file string) string {
	t.Helper()
	b, err := os.ReadFile("testdata/gallery/" + file + ".yaml")
	if err != nil {
		t.Fatal(err)
	}
	_, rest, _ := strings.Cut(string(b), "result: ")
	word, _, _ := strings.Cut(rest, "}")
	return "result: " + word
}

// "is not" is silent where nothing was said. Every path that it is used on is
// decided about here, with the reason why the silence excuses nothing.
func TestEveryIsNotIsDecided(t *testing.T) {
	decided := map[string]string{
		"procedure.performed":         "must be answered, and not recorded is no answer there: without it the entry is blocked",
		"procedure.planned":           "only in a comparison that needs the plan to be recorded as well",
		"procedure.steps":             "must be answered; a gap is printed, and the rules would accuse the list of lacking what nobody listed",
		"events.kind":                 "must be answered, or the whole list is a printed gap; a list that says none counts as said",
		"events.managed-by":           "must be answered for each perforation, and not recorded is no answer there",
		"injections.result":           "must be answered; a gap may stand for a bubble",
		"eye.earlier-surgery":         "must be answered; a gap may stand for the graft",
		"indication.diagnosis":        "must be answered; a gap may stand for keratoconus",
		"separation.signs":            "beside the word none, which is said",
		"team.role":                   "must be answered for each person, and the rules ask that one is recorded",
		"trephination.method":         "must be answered; a gap may stand for the laser",
		"anaesthesia.type":            "only under which a habit is filled",
		"dissection.excision":         "only under which a habit is filled",
		"tissues.outcome-reason":      "is not blank: asks about what was said",
		"derived.code-without-expiry": "a computed value always has an answer",
	}
	used := map[string]bool{}
	look := func(where string, when []string) {
		for _, line := range when {
			path, rest, _ := strings.Cut(line, " ")
			if !strings.HasPrefix(rest, "is not ") || rest == "is not blank" {
				continue
			}
			used[path] = true
			if decided[path] == "" {
				t.Errorf("%s: %q: is silence an excuse here? If not, write lacks; if so, say why", where, line)
			}
		}
	}
	for _, r := range schema.Content().Rules {
		look("rule "+r.Name, r.When)
	}
	for _, c := range schema.Content().Conditions {
		look("condition "+c.Name, c.When)
	}
	for path := range decided {
		if !used[path] && path != "tissues.outcome-reason" {
			t.Errorf("no rule uses is not on %s any more", path)
		}
	}
}

// Limits of acuity: best published Snellen acuity 20/8.9 with a line of margin,
// and logMAR 3.00, which authors impute to no light perception (acuity-best of
// sources.yaml). One limit serves all notations.
func TestAcuityLimits(t *testing.T) {
	for text, want := range map[string]string{
		"-3 logMAR": "outside-possible-range blocks", "7 logMAR": "outside-possible-range blocks", "3.01 logMAR": "outside-possible-range blocks",
		"50 decimal": "outside-possible-range blocks", "20 decimal": "outside-possible-range blocks", "0.0009 decimal": "outside-possible-range blocks",
		"20/2": "outside-possible-range blocks", "6/1.8": "outside-possible-range blocks", "20/21000": "outside-possible-range blocks",
		"101 letters": "value-unreadable blocks", "CF 7 m": "value-unreadable blocks", "HM 700 cm": "value-unreadable blocks",
		"3 logMAR": "outside-usual-range look", "6/6000": "outside-usual-range look", "20/8": "outside-usual-range look", "2 letters": "letters-very-few look",
		"-0.3 logMAR": "", "20/800": "", "6/60": "", "0.05 decimal": "", "CF 1 m": "", "CF 6 m": "", "HM": "", "NLP": "", "40 letters": "", "0.7 logMAR": "",
	} {
		for path, have := range map[string][]string{
			"before.corrected": changed(t, "letters-very-few", "corrected: 2 letters", "corrected: "+text, "why: contact lens no longer tolerated", "why: tectonic"),
			"before.unaided":   changed(t, "letters-very-few", "corrected: 2 letters", "corrected: NLP, unaided: "+text),
			"visits.corrected": changed(t, "visit-outside-window", "corrected: 0.2 logMAR", "corrected: "+text, "unaided: 6/18", "unaided: NLP"),
			"visits.unaided":   changed(t, "visit-outside-window", "unaided: 6/18", "unaided: "+text, "corrected: 0.2 logMAR", `corrected: "not recorded: dark"`),
		} {
			var about []string
			for _, f := range have {
				if strings.HasPrefix(f, "outside-") || strings.HasPrefix(f, "value-") || strings.HasPrefix(f, "letters-") {
					about = append(about, f)
				}
			}
			if w := want; strings.Join(about, "; ") != w && !(w == "letters-very-few look" && strings.HasPrefix(path, "visits")) {
				t.Errorf("%s: %s: have %v, want %q", path, text, have, w)
			}
		}
	}
}

// A figure that no column of the row holds never gets so far: whatever the limits
// of an acuity let through, the row can say. (The column of logMAR ends at -0.5
// and 3.)
func TestCorrectedAgainstUnaided(t *testing.T) {
	for pair, want := range map[[2]string]string{
		{"6/6", "6/18"}: "corrected-worse-than-unaided", {"20/100", "20/400"}: "corrected-worse-than-unaided", {"0.1 logMAR", "0.21 logMAR"}: "corrected-worse-than-unaided",
		{"0.5 decimal", "0.1 decimal"}: "corrected-worse-than-unaided", {"80 letters", "70 letters"}: "corrected-worse-than-unaided", {"6/60", "CF 1 m"}: "corrected-off-chart",
		{"70 letters", "LP"}: "corrected-off-chart",
		{"6/18", "6/18"}:     "", {"6/18", "6/6"}: "", {"0.1 logMAR", "0.2 logMAR"}: "", {"70 letters", "66 letters"}: "", {"CF 1 m", "6/60"}: "", {"HM", "CF 1 m"}: "", {"70 letters", "6/60"}: "",
	} {
		for prefix, have := range map[string][]string{
			"":       changed(t, "letters-very-few", "corrected: 2 letters", fmt.Sprintf("corrected: %s, unaided: %s", pair[1], pair[0])),
			"visit-": changed(t, "visit-outside-window", "corrected: 0.2 logMAR", "corrected: "+pair[1], "unaided: 6/18", "unaided: "+pair[0]),
		} {
			hit := ""
			for _, f := range have {
				if r, _, _ := strings.Cut(f, " "); strings.HasPrefix(r, prefix+"corrected-") {
					hit = r
				}
			}
			if want != "" && hit != prefix+want || want == "" && hit != "" {
				t.Errorf("%s%v: %q, want %q", prefix, pair, hit, want)
			}
		}
	}
}
