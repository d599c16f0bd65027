package fhir

import (
	"encoding/json"
	"encoding/xml"
	"errors"
	"io"
	"strings"
	"testing"

	"graftnote/note"
)

// R4 Observation: the unit's code is UCUM (2.1), the number keeps its digits.
func TestValues(t *testing.T) {
	const corrected = "corrected: 0.7 logMAR"
	for _, c := range []struct{ old, typed, end, want string }{
		{corrected, "corrected: 0.70 logMAR", "before.corrected", `"valueQuantity":{"code":"{logMAR}","system":"http://unitsofmeasure.org","unit":"logMAR","value":0.70}`},
		{corrected, "corrected: 6/36", "before.corrected", `"valueRatio":{"denominator":{"code":"m","system":"http://unitsofmeasure.org","unit":"m","value":36},"numerator":{"code":"m","system":"http://unitsofmeasure.org","unit":"m","value":6}}`},
		{corrected, "corrected: 20/80", "before.corrected", `"code":"[ft_i]"`},
		{corrected, "corrected: 6/9-2", "before.corrected", `"valueString":"6/9-2"`},
		{corrected, "corrected: CF 1 m", "before.corrected", `"text":"CF 1 m"`},
		{corrected, "corrected: \"not recorded: not measured\"", "before.corrected", `"dataAbsentReason":{"coding":[{"code":"not-performed","display":"Not Performed","system":"http://terminology.hl7.org/CodeSystem/data-absent-reason"}],"text":"not measured"}`},
		{corrected, "corrected: \"not recorded: child declined\"", "before.corrected", `"asked-declined"`},
		{corrected, "corrected: \"not recorded: not applicable\"", "before.corrected", `"not-applicable"`},
		{corrected, "corrected: \"not recorded: sheet lost\"", "before.corrected", `"code":"unknown"`},
		{"k-mean: 54.1 D", "k-mean: 54.10 D", "before.k-mean", `"code":"[diop]","system":"http://unitsofmeasure.org","unit":"D","value":54.10`},
		{corrected, corrected + ", pressure: 13 mmHg, pressure-by: rebound", "before.pressure", `"method":{"coding":[{"code":"tonometer:rebound"`},
		{corrected, corrected + ", refraction: -3.00/-4.00 x 90", "before.refraction", `"code":"deg","system":"http://unitsofmeasure.org","unit":"°","value":90`},
		{corrected, corrected + ", unaided: 6/60", "before.unaided", `"code":"98499-7"`},
	} {
		entry := whole(t, "01-double-bubble.yaml", c.old, c.typed)
		o := named(t, imported(t, entry), "Observation", c.end)
		got, err := encode(o)
		if err != nil || !strings.Contains(string(got), c.want) {
			t.Errorf("%s: %s, want %s", c.typed, got, c.want)
		}
	}
}

// The LOINC code follows the eye: 79892-6 right, 79893-4 left.
func TestEyeOfTheCode(t *testing.T) {
	b := newTestBuilder(t, whole(t, "15-staged.yaml"))
	f := terms().fields["before.pressure"]
	wants(t, codesOf(object{"x": mustTree(t, b.fieldCode(f, "right"))}), "79892-6", "41633001", "before.pressure")
	wants(t, codesOf(object{"x": mustTree(t, b.fieldCode(f, "left"))}), "79893-4", "41633001", "before.pressure")
	wants(t, codesOf(object{"x": mustTree(t, b.fieldCode(f, ""))}), "41633001", "before.pressure")
	wants(t, codesOf(object{"x": mustTree(t, b.fieldCode(terms().fields["before.k1"], "left"))}), "before.k1")
}

func mustTree(t *testing.T, v any) any {
	t.Helper()
	tree, err := anyTree(v)
	if err != nil {
		t.Fatal(err)
	}
	return tree
}

// R4 Narrative: XHTML in its namespace, well formed (XML 1.0), nothing typed may
// become markup, never empty.
func TestNarrative(t *testing.T) {
	evil := "a < b & \"c\" </div><script>alert(1)</script>\x00\x0b\uFFFE ]]> é 角膜\nnext"
	blocks := []note.Block{{Paragraph: evil}, {Quote: evil}, {List: []string{evil, " "}}, {Paragraph: "  "},
		{Table: &note.Table{Header: []string{evil}, Rows: [][]string{{evil}, {}}}},
		{Events: []note.Event{{Title: evil, Facts: []note.Item{{Label: evil, Value: evil}}, Text: evil}}}}
	x, own := narrative(blocks)
	if !own {
		t.Error("the surgeon's own words are not seen")
	}
	dec := xml.NewDecoder(strings.NewReader(div(x)))
	seen := ""
	for {
		tok, err := dec.Token()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			t.Fatal(err)
		}
		if s, ok := tok.(xml.StartElement); ok {
			if s.Name.Space != "http://www.w3.org/1999/xhtml" || !strings.Contains(" div p br b blockquote ul li table tbody tr th td ", " "+s.Name.Local+" ") {
				t.Errorf("element %v", s.Name)
			}
		}
		if s, ok := tok.(xml.CharData); ok {
			seen += string(s)
		}
	}
	if strings.Count(seen, "</div><script>") < 7 || !strings.Contains(seen, "角膜") {
		t.Errorf("the text was changed: %q", seen)
	}
	if x, _ := narrative([]note.Block{{Paragraph: " "}, {List: []string{""}}, {Table: &note.Table{}}}); x != "" {
		t.Errorf("an empty section gives %q", x)
	}
}

// cmp-2 with HL7's list-empty-reason: "none" is nilknown, silence is unavailable.
func TestEmptySections(t *testing.T) {
	c := whole(t, "01-double-bubble.yaml")
	d := words(t, c)
	d.Sections = nil // a note that says nothing
	raw, err := DocumentBundle(c, d, Options{})
	if err != nil {
		t.Fatal(err)
	}
	got := map[string]any{}
	for _, s := range dig(all(tree(t, raw), "Composition")[0], "section").([]any) {
		got[codesOf(object{"x": dig(s, "code")})[0]] = dig(s, "emptyReason", "coding", 0, "code")
		if dig(s, "text", "div") == nil {
			t.Errorf("no text in %v", s)
		}
	}
	for _, row := range terms().Sections {
		if _, there := got[strings.TrimPrefix(row.Code, "loinc:")]; row.Required && !there {
			t.Errorf("required section %s is missing", row.Key)
		}
	}
	if got["55109-3"] != "nilknown" {
		t.Errorf("complications: %v", got["55109-3"])
	}
}

func TestWriterRefusesWhatFHIRHasNot(t *testing.T) {
	for _, v := range []object{{"a": nil}, {"a": []any{}}, {"a": object{}}, {"a": ""}, {"a": "<unknown>"}} {
		if b, err := encode(v); err == nil {
			t.Errorf("%v gave %s", v, b)
		}
	}
	b, err := encode(object{"b": json.Number("8.50"), "resourceType": "X", "a": "<p>&"})
	if err != nil || string(b) != `{"resourceType":"X","a":"<p>&","b":8.50}` {
		t.Errorf("%s %v", b, err)
	}
}

func firstCode(concept any) []string {
	if code, ok := dig(concept, "coding", 0, "code").(string); ok {
		return []string{code}
	}
	return nil
}

// Each suture keeps its own size and material: R4 Observation.hasMember for the
// parts of a panel, since a size beside two counts would belong to neither.
func TestSuturesOfTwoKinds(t *testing.T) {
	const old = "pattern: interrupted, interrupted: 16 x 10-0 nylon"
	for _, c := range []struct {
		typed string
		panel []string // codes of the panel's components
		each  map[string][]string
	}{
		{"pattern: double-running, running: [12-bite 10-0 nylon, 12-bite 11-0 nylon]",
			[]string{"sutures.pattern", "suture-pattern:double-running", "sutures.running", "sutures.running", "sutures.material", "suture-material:nylon"},
			map[string][]string{"sutures.running-1": {"12", "suture-gauge:10-0", "suture-material:nylon"}, "sutures.running-2": {"12", "suture-gauge:11-0", "suture-material:nylon"}}},
		{"pattern: interrupted-and-running, interrupted: 8 x 10-0 nylon, running: 16-bite 11-0 polypropylene",
			[]string{"sutures.pattern", "suture-pattern:interrupted-and-running", "sutures.interrupted", "sutures.running"},
			map[string][]string{"sutures.interrupted": {"8", "suture-gauge:10-0", "suture-material:nylon"}, "sutures.running-1": {"16", "suture-gauge:11-0", "suture-material:polypropylene"}}},
		{"pattern: interrupted-and-running, interrupted: 8 x 10-0 nylon, running: 16-bite 10-0 nylon",
			[]string{"sutures.pattern", "suture-pattern:interrupted-and-running", "sutures.interrupted", "sutures.running", "sutures.material", "suture-material:nylon", "sutures.gauge", "suture-gauge:10-0"}, nil},
	} {
		b := imported(t, whole(t, "01-double-bubble.yaml", old, c.typed))
		panel := named(t, b, "Observation", "sutures")
		var got []string
		for _, x := range panel["component"].([]any) {
			got = append(got, firstCode(x.(object)["code"])...)
			got = append(got, firstCode(x.(object)["valueCodeableConcept"])...)
		}
		if strings.Join(got[:len(c.panel)], " ") != strings.Join(c.panel, " ") {
			t.Errorf("%s: panel %v", c.typed, got)
		}
		members, _ := panel["hasMember"].([]any)
		if len(members) != len(c.each) {
			t.Errorf("%s: %d members", c.typed, len(members))
		}
		for end, want := range c.each {
			o := named(t, b, "Observation", end)
			said := []string{string(o["valueInteger"].(json.Number))}
			for _, x := range o["component"].([]any) {
				said = append(said, firstCode(x.(object)["valueCodeableConcept"])...)
			}
			wants(t, said, want...)
		}
	}
}
