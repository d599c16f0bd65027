package schema_test

import (
	"slices"
	"strings"
	"testing"

	"graftnote/schema"
)

// The six worked cases of the trade, told as the tool is expected to answer
// them: what speaks, what stays quiet, and what a change in the telling does.
// The limits behind each answer are cited in the rule rows; where a case rests on
// common practice without a source its comment says so.
var workedCases = []struct {
	name  string
	file  string
	edit  []string // old, new, old, new
	want  []string // rules that must speak
	quiet []string // rules that must not
}{
	{name: "1 uncomplicated: 0.03 mL is 1.34 of the sphere, stage 3 fits 54.1 D and 372 µm",
		file: "01-double-bubble.yaml", quiet: []string{"chamber-bubble-volume-large", "stage-against-curvature", "stage-below-thickness", "stage-above-thickness"}},
	{name: "1 with 0.08 mL: a remark, no error",
		file: "01-double-bubble.yaml", edit: []string{"volume: 0.03 mL", "volume: 0.08 mL"}, want: []string{"chamber-bubble-volume-large"}},
	{name: "1 with the volumes ten-fold too small",
		file: "01-double-bubble.yaml", edit: []string{"diameter: 3.5 mm, volume: 0.03 mL", "diameter: 3 mm, volume: 0.003 mL"}, want: []string{"chamber-bubble-volume-small"}},
	{name: "1 with a smaller donor on purpose: asks for the reason, does not block",
		file: "01-double-bubble.yaml", edit: []string{"diameter: 8.00 mm", "diameter: 7.50 mm"}, want: []string{"donor-smaller-than-host"}, quiet: []string{"required-field"}},
	{name: "1 with a partial separation: the residual stroma is asked for",
		file: "01-double-bubble.yaml", edit: []string{"obtained: complete", "obtained: partial"}, want: []string{"required-field"}},
	{name: "1 with removal after six weeks, as it is written", // weeks are no other field
		file: "01-double-bubble.yaml", edit: []string{"suture-removal: 12 mo", "suture-removal: 6 wk"}, want: []string{"suture-removal-early-plan"}, quiet: []string{"value-not-read"}},
	{name: "1 with a second tissue that was discarded",
		file: "01-double-bubble.yaml", edit: []string{"outcome: grafted}\n", "outcome: grafted}\n  - {id: T-FIC-9002, bank: Lindow Tissue Bank, donor-age: 61 years, preservation: hypothermic, medium: cold storage medium, storage: 5 d, expires: 2026-09-15, release: released, punched-from: endothelial, diameter: 8.00 mm, membrane: removed-complete, stain: none, outcome: discarded, outcome-reason: dropped}\n"},
		want: []string{"second-tissue-without-event"}},
	{name: "2 failed bubble: the stage is asked for, the small bubble after the injection is not",
		file: "02-failed-bubble-manual.yaml", want: []string{"stage-below-thickness"},
		quiet: []string{"chamber-bubble-other-technique", "manual-with-bubble-type", "performed-differs-without-reason"}},
	{name: "2 with stage 3: now the curvature asks", // 52.6 D is stage 2 of the table
		file: "02-failed-bubble-manual.yaml", edit: []string{"stage: 2", "stage: 3"}, want: []string{"stage-against-curvature"}, quiet: []string{"stage-below-thickness"}},
	{name: "2 without the failed bubble among the events",
		file: "02-failed-bubble-manual.yaml", edit: []string{"kind: failed-bubble", "kind: bleeding"}, want: []string{"failed-bubble-not-listed"}},
	{name: "3 type 2 with microperforation: step, hour, size and management are there",
		file: "03-type-2-microperforation.yaml", quiet: []string{"perforation-without-hour", "perforation-without-size", "perforation-without-step", "perforation-unmanaged", "weak-bubble-combined"}},
	{name: "3 with the pre-Descemetic plane",
		file: "03-type-2-microperforation.yaml", edit: []string{"plane: descemetic", "plane: pre-descemetic"}, want: []string{"type-2-pre-descemetic"}},
	{name: "3 without the hour", // common practice: a small tear asks, a large one blocks
		file: "03-type-2-microperforation.yaml", edit: []string{"hour: 7 o'clock, ", ""}, want: []string{"perforation-without-hour"}},
	{name: "4 child, layered: removal after two months has its reason",
		file: "04-child-layered.yaml", quiet: []string{"suture-removal-early-plan", "child-consent-not-stated", "child-vision-plan-not-stated"}},
	{name: "4 without who consented, the line on vision and the reason", // common practice
		file: "04-child-layered.yaml", edit: []string{"given-by: parent, ", "", "vision:", "lubricant:", "suture-removal-reason:", "systemic:"},
		want: []string{"child-consent-not-stated", "child-vision-plan-not-stated", "suture-removal-early-plan"}},
	{name: "5 healed hydrops by fluid: the depth exceeds the thinnest point, not the ring",
		file: "05-healed-hydrops-fluid.yaml", quiet: []string{"healed-hydrops-air-planned", "depth-beyond-ring", "depth-beyond-thinnest", "bared-without-separation", "donor-membrane-incomplete"}},
	{name: "5 with air planned",
		file: "05-healed-hydrops-fluid.yaml", edit: []string{"planned: hydrodelamination", "planned: air-big-bubble"}, want: []string{"healed-hydrops-air-planned", "posterior-scar-air-planned"}},
	{name: "5 with the ring not measured: asks, does not block",
		file: "05-healed-hydrops-fluid.yaml", edit: []string{"ring: 600 µm", "ring: 'not recorded: not measured'"}, want: []string{"depth-beyond-thinnest"}, quiet: []string{"depth-beyond-ring"}},
	{name: "5 with the donor membrane left incomplete",
		file: "05-healed-hydrops-fluid.yaml", edit: []string{"membrane: removed-complete", "membrane: removed-incomplete"}, want: []string{"donor-membrane-incomplete"}},
	{name: "6 conversion, told whole",
		file: "06-conversion.yaml", quiet: []string{"depth-beyond-ring", "depth-beyond-thinnest", "conversion-with-stripped-tissue", "conversion-without-donor-count", "two-tissues-grafted"}},
	{name: "6 before it was completed",
		file: "blocked/06-before-completion.yaml", want: []string{"conversion-not-in-procedure", "macroperforation-without-hour", "macroperforation-without-size", "required-field"}},
	{name: "6 with the consent silent about conversion",
		file: "06-conversion.yaml", edit: []string{"covers-conversion: yes", "covers-conversion: no"}, want: []string{"conversion-not-consented"}},
	{name: "6 with the count of the second tissue missing",
		file: "06-conversion.yaml", edit: []string{"ecd: 2600 cells/mm2, ", ""}, want: []string{"conversion-without-donor-count"}},
	{name: "6 with the leak not looked for",
		file: "06-conversion.yaml", edit: []string{"watertight: yes", "watertight: no"}, want: []string{"conversion-not-watertight"}},
}

func TestWorkedCases(t *testing.T) {
	for _, w := range workedCases {
		t.Run(w.name, func(t *testing.T) {
			src := readFile(t, samples+"/"+w.file)
			text := string(src.Data)
			for i := 0; i+1 < len(w.edit); i += 2 {
				if !strings.Contains(text, w.edit[i]) {
					t.Fatalf("the sample has no %q", w.edit[i])
				}
				text = strings.ReplaceAll(text, w.edit[i], w.edit[i+1])
			}
			r := schema.Read(schema.Source{Name: src.Name, Data: []byte(text)}, options())
			if len(r.Cases) != 1 {
				t.Fatalf("%d cases", len(r.Cases))
			}
			got := ruleNames(check(t, r.Cases[0], options(), nil))
			for _, rule := range w.want {
				if !slices.Contains(got, rule) {
					t.Errorf("%s is silent; heard %v", rule, got)
				}
			}
			for _, rule := range w.quiet {
				if slices.Contains(got, rule) {
					t.Errorf("%s speaks", rule)
				}
			}
			if len(w.want) == 0 && !check(t, r.Cases[0], options(), nil).Complete() {
				t.Errorf("blocked by %v", got)
			}
		})
	}
}

// Silence is not an answer: without the word none the complications block
// sign-off, whatever else the entry says.
func TestSilenceAboutComplications(t *testing.T) {
	src := readFile(t, samples+"/01-double-bubble.yaml")
	for _, edit := range []string{"", "events:\n", "events: []\n", "events: 'not recorded: not recalled'\n"} {
		text := strings.Replace(string(src.Data), "events: none\n", edit, 1)
		r := schema.Read(schema.Source{Name: src.Name, Data: []byte(text)}, options())
		if check(t, r.Cases[0], options(), nil).Complete() {
			t.Errorf("%q is taken as an answer", edit)
		}
	}
}
