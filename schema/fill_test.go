package schema_test

import (
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"graftnote/schema"
)

// A habit is filled only where its step took place: the surgeon who has a
// standing technique still meets the eye that went another way.
func TestHabitsOfStepsNotTaken(t *testing.T) {
	const technique = `before: {pachymeter: tomography, pressure-by: applanation}
anaesthesia: {drug: lidocaine 2 %, volume: 5 mL}
trephination: {tunnel-hour: 12 o'clock}
paracentesis: {blade: 15 degree, aqueous-released: yes}
dissection: {debulked: after-injection, opened-with: blade, refill: viscoelastic, refill-strength: 2 %, blade-dye: gentian-violet, excision: quadrants, interface-washed: yes, host-tissue: histology, host-tissue-reason: exempt}
tissues: {punched-from: endothelial, stain: trypan-blue, stain-strength: 0.06 %, prepared: after-separation}
sutures: {bite-depth: 90 %, knot-side: host, tension-checked: yes}
end: {epithelium: intact, contact-lens: no}
plan: {suture-removal: 12 mo}
`
	for _, x := range []struct {
		file   string
		edit   []string
		filled []string
		silent []string
	}{
		{file: "15-staged.yaml", edit: []string{", excision: none", "", "dissection: {debulked: none", "dissection: {rim: none", `interface-washed: "not recorded: there was no interface", host-tissue: "not recorded: nothing was excised"`, "bed: smooth"},
			filled: []string{"before.pachymeter"},
			silent: []string{"paracentesis.blade", "paracentesis.aqueous-released", "dissection.debulked", "dissection.opened-with", "dissection.refill", "dissection.refill-strength", "dissection.blade-dye", "dissection.excision", "dissection.interface-washed", "dissection.host-tissue", "tissues.punched-from", "tissues.stain", "tissues.stain-strength", "tissues.prepared", "sutures.bite-depth", "end.epithelium", "end.contact-lens", "plan.suture-removal", "trephination.tunnel-hour", "anaesthesia.drug", "anaesthesia.volume", "before.pressure-by"}},
		{file: "06-conversion.yaml", edit: []string{", stain: trypan-blue, stain-strength: 0.06 %", "", "punched-from: endothelial, ", ""},
			filled: []string{"tissues[1].stain-strength", "tissues[1].stain", "tissues[1].punched-from", "tissues[1].prepared", "tissues[2].punched-from", "end.epithelium", "dissection.blade-dye"},
			silent: []string{"tissues[2].stain", "tissues[2].stain-strength", "trephination.tunnel-hour", "dissection.host-tissue-reason"}},
		{file: "13-femtosecond.yaml", filled: []string{"trephination.tunnel-hour"}, edit: []string{", tunnel-hour: 12 o'clock", ""}},
		{file: "02-failed-bubble-manual.yaml", edit: []string{"excision: layered, ", "", "host-tissue: histology", "rim: none"},
			filled: []string{"dissection.excision", "dissection.host-tissue"}, silent: []string{"dissection.opened-with", "dissection.refill-strength", "dissection.blade-dye"}},
		{file: "01-double-bubble.yaml", edit: []string{"performed: double-bubble", "performed: air-big-bubble", "made: yes, hours: 11 o'clock, aqueous-released: yes", "made: no"},
			silent: []string{"paracentesis.blade", "paracentesis.aqueous-released"}, filled: []string{"sutures.knot-side"}},
		{file: "01-double-bubble.yaml", edit: []string{"type: general", "type: sub-tenon", "suture-removal: 12 mo, ", ""}, filled: []string{"anaesthesia.drug", "anaesthesia.volume", "plan.suture-removal"}},
	} {
		text := string(readFile(t, filepath.Join(samples, x.file)).Data)
		for i := 0; i+1 < len(x.edit); i += 2 {
			text = strings.ReplaceAll(text, x.edit[i], x.edit[i+1])
		}
		o := options()
		o.Technique = schema.ReadTechnique(schema.Source{Name: "technique.yaml", Data: []byte(technique)}, o)
		if len(o.Technique.Findings) > 0 {
			t.Fatal(o.Technique.Findings[0].Layout())
		}
		e := schema.Read(schema.Source{Name: x.file, Data: []byte(text)}, o).Cases[0].Entry
		var got []string
		e.Walk(func(r *schema.Row, item int, f schema.Field) {
			if f.Origin() == schema.Technique {
				path := r.Path()
				if r.Group.Many != "" {
					path = r.Group.Key + "[" + string(rune('1'+item)) + "]." + r.Key
				}
				got = append(got, path)
			}
		})
		for _, p := range x.filled {
			if !slices.Contains(got, p) {
				t.Errorf("%s: %s is not filled; filled are %v", x.file, p, got)
			}
		}
		for _, p := range x.silent {
			group, key, _ := strings.Cut(p, ".")
			for _, each := range []string{p, group + "[1]." + key} {
				if slices.Contains(got, each) {
					t.Errorf("%s: %s is filled", x.file, each)
				}
			}
		}
	}
}
