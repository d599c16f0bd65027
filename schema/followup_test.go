package schema_test

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/santhosh-tekuri/jsonschema/v6"

	"graftnote/schema"
)

// followedOn is the day on which the documents of these tests are checked.
var followedOn = time.Date(2029, 3, 1, 12, 0, 0, 0, time.UTC)

// visit is a whole visit; more are replacements of old by new.
func visit(more ...string) string {
	return "  - " + strings.NewReplacer(more...).Replace("{date: 2027-09-08, eye: right, status: surviving, unaided: 6/24, corrected: 0.3 logMAR, refraction: -2.00/-3.00 x 20, "+
		"clarity: 0, haze: 1, sutures-out: 4, double-chamber: none, rejection: none, pressure-treatment: none, late-events: none, further-surgery: none}") + "\n"
}

// unseen is a visit on which nobody was examined: date and status.
func unseen(status string) string { return "  - {date: 2027-09-08, status: " + status + "}\n" }

func followupText(visits ...string) string {
	return "followup: a1k7-double-bubble\nentered-by: {name: Wren Calder, role: optometrist}\npatient: {id: FIC-0101, born: 2002-03-14}\neye: {operated: right}\nvisits:\n" + strings.Join(visits, "")
}

func followupIndex(t testing.TB) schema.Checked {
	t.Helper()
	o := schema.Options{Now: followedOn}
	return check(t, schema.Read(readFile(t, samples+"/01-double-bubble.yaml"), o).Cases[0], o, nil)
}

func readFollowup(t testing.TB, text string) *schema.Followup {
	t.Helper()
	r := schema.ReadFollowup(schema.Source{Name: "visit.yaml", Data: []byte(text)}, schema.Options{Now: followedOn})
	if len(r.Documents) != 1 || len(r.Findings) > 0 {
		t.Fatalf("%d documents, %v", len(r.Documents), r.Findings)
	}
	return r.Documents[0]
}

func checkFollowup(t testing.TB, text string, earlier ...schema.CheckedFollowup) schema.CheckedFollowup {
	t.Helper()
	c, err := schema.CheckFollowup(readFollowup(t, text), followupIndex(t), earlier, schema.Options{Now: followedOn})
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// Each row breaks one rule about a graft's later life (rules 88 to 94 of the
// trade's list, or the dictionary's own ranges) with the expected place. The
// operation is of 2026-09-08 with 16 stitches, corrected acuity 0.7 before.
func TestFollowupRules(t *testing.T) {
	for name, x := range map[string]struct {
		text string
		want []string // rule at path
	}{
		"whole":                    {followupText(visit()), nil},
		"before surgery":           {followupText(visit("2027-09-08", "2026-09-07")), []string{"visit-before-surgery at visits[1].date"}},
		"on the day of surgery":    {followupText(visit("2027-09-08", "2026-09-08")), nil},
		"in the future":            {followupText(visit("2027-09-08", "2029-03-02")), []string{"visit-in-future at visits[1].date"}},
		"other eye examined":       {followupText(visit("eye: right", "eye: left")), []string{"visit-of-other-eye at visits[1].eye"}},
		"more out than placed":     {followupText(visit("sutures-out: 4", "sutures-out: 17")), []string{"sutures-removed-exceed at visits[1].sutures-out"}},
		"more out, sutured again":  {followupText(visit("sutures-out: 4", "sutures-out: 17", "further-surgery: none", "further-surgery: resuture")), nil},
		"cause and date unknown":   {followupText(visit("status: surviving", `status: failed, failure-cause: "not recorded: seen elsewhere", failure-date: "not recorded: seen elsewhere"`)), nil},
		"all stitches out":         {followupText(visit("sutures-out: 4", "sutures-out: 16")), nil},
		"endothelial rejection":    {followupText(visit("rejection: none", "rejection: endothelial")), []string{"endothelial-rejection-lamellar at visits[1].rejection"}},
		"failed, cause missing":    {followupText(visit("status: surviving", "status: failed, failure-date: 2027-09-01")), []string{"failure-without-cause at visits[1].failure-cause"}},
		"failed, date missing":     {followupText(visit("status: surviving", "status: failed, failure-cause: rejection")), []string{"failure-without-date at visits[1].failure-date"}},
		"grafted again unfailed":   {followupText(visit("status: surviving", "status: regrafted")), []string{"regraft-without-failure at visits[1].status"}},
		"clarity off the scale":    {followupText(visit("clarity: 0", "clarity: 5")), []string{"outside-possible-range at visits[1].clarity"}},
		"nothing said of haze":     {followupText(visit("haze: 1, ", "")), []string{"required-field at visits[1].haze"}},
		"not recorded, with words": {followupText(visit("haze: 1", `haze: "not recorded: no lamp"`)), nil},
		"survives after failed in one document": {followupText(
			visit("status: surviving", "status: failed, failure-cause: rejection, failure-date: 2027-09-01"), visit("2027-09-08", "2028-03-08")),
			[]string{"surviving-after-failure at visits[2].status"}},
		"survives after death": {followupText(unseen("died"), visit("2027-09-08", "2028-03-08")), []string{"visit-after-end at visits[2].status"}},
		"lost, the date alone": {followupText(unseen("lost")), nil},
		"died, the date alone": {followupText(unseen("died")), nil},
		"lost, and examined":   {followupText(visit("status: surviving", "status: lost")), []string{"unseen-with-findings at visits[1].status"}},
		"who entered it":       {strings.Replace(followupText(visit()), "name: Wren Calder, ", "", 1), []string{"required-field at entered-by.name"}},
		"role of no list":      {strings.Replace(followupText(visit()), "optometrist", "plumber", 1), []string{"unknown-code at entered-by.role"}},
		"patient typed once":   {strings.Replace(followupText(visit()), "id: FIC-0101, ", "", 1), []string{"required-field at patient.id"}},
		"consent given here":   {"consent: {registry: yes}\n" + followupText(visit()), []string{"unknown-code at consent.registry"}},
		"consent taken back":   {"consent: {registry: no}\n" + followupText(visit()), nil},
		"a row of the entry":   {"trephination: {depth: 300 µm}\n" + followupText(visit()), []string{"unknown-field at ?"}},
		"a name":               {strings.Replace(followupText(visit()), "id: FIC-0101", "id: FIC-0101, name: Ines Calloway", 1), []string{"unknown-field at patient.?"}},
		"later format":         {"graftnote: 2\n" + followupText(visit()), []string{"format-unknown at graftnote"}},
	} {
		t.Run(name, func(t *testing.T) {
			c := checkFollowup(t, x.text)
			var have []string
			for _, f := range c.Findings() {
				if f.Severity != schema.Remark {
					have = append(have, f.Rule+" at "+f.Path)
				}
			}
			if strings.Join(have, "; ") != strings.Join(x.want, "; ") {
				t.Errorf("have %v, want %v", have, x.want)
			}
		})
	}
}

// What can be true at a visit asks and does not block: a follow-up document has no
// confirmation, and whoever fills it in cannot correct the operation. (Common practice,
// no source.)
func TestFollowupTruthIsNotBlocked(t *testing.T) {
	for name, text := range map[string]string{
		"the count at the operation was wrong": followupText(visit("sutures-out: 4", "sutures-out: 17")),
		"another graft since, not recorded":    followupText(visit("rejection: none", "rejection: endothelial")),
		"replaced without a failure":           followupText(visit("status: surviving", "status: regrafted")),
		"a failure called too early": followupText(
			visit("status: surviving", "status: failed, failure-cause: rejection, failure-date: 2027-09-01"), visit("2027-09-08", "2028-03-08")),
	} {
		if c := checkFollowup(t, text); !c.Complete() || len(c.Findings()) == 0 {
			t.Errorf("%s: complete %v, %d findings", name, c.Complete(), len(c.Findings()))
		}
	}
}

// The order of a graft's life holds over documents: what an earlier one recorded
// is seen, and what it would make impossible is told at the new one (rule 92).
func TestFollowupAgainstEarlier(t *testing.T) {
	failed := checkFollowup(t, followupText(visit("status: surviving", "status: failed, failure-cause: rejection, failure-date: 2027-09-01")))
	surviving := checkFollowup(t, followupText(visit("2027-09-08", "2028-03-08")))
	if !failed.Complete() || !surviving.Complete() {
		t.Fatal("a document alone is blocked")
	}
	for name, x := range map[string]struct {
		text    string
		earlier schema.CheckedFollowup
		want    string
	}{
		"surviving after failed":          {followupText(visit("2027-09-08", "2028-03-08")), failed, "surviving-after-failure at visits[1].status"},
		"failed before a surviving visit": {followupText(visit("status: surviving", "status: failed, failure-cause: rejection, failure-date: 2027-09-01")), surviving, "surviving-after-failure at visits"},
		"grafted again after failed":      {followupText(visit("2027-09-08", "2028-03-08", "status: surviving", "status: regrafted")), failed, ""},
		"the same day again":              {followupText(visit("2027-09-08", "2028-03-08")), surviving, "visit-twice at visits[1].date"},
	} {
		var have []string
		for _, f := range checkFollowup(t, x.text, x.earlier).Findings() {
			if f.Severity != schema.Remark {
				have = append(have, f.Rule+" at "+f.Path)
			}
			if f.Pos.File != "visit.yaml" {
				t.Errorf("%s: %s points into %s", name, f.Rule, f.Pos.File)
			}
		}
		if got := strings.Join(have, "; "); got != x.want {
			t.Errorf("%s: have %q, want %q", name, got, x.want)
		}
	}
}

// Canonical bytes are read back to the same document, and bytes that differ in
// anything are refused.
func TestFollowupSealed(t *testing.T) {
	c := checkFollowup(t, "consent: {registry: no}\n"+followupText(visit("haze: 1", `haze: "not recorded: no lamp"`), visit("2027-09-08", "2028-03-08")))
	index := followupIndex(t)
	again, err := schema.SealedFollowup(c.Canonical(), index, schema.Options{})
	if err != nil || again.Digest() != c.Digest() || again.Case() != "a1k7-double-bubble" || again.Visits() != 2 || !again.RefusesRegistry() {
		t.Fatalf("%v, %d visits", err, again.Visits())
	}
	if name, role := again.EnteredBy(); name != "Wren Calder" || role != "optometrist" {
		t.Errorf("entered by %s, %s", name, role)
	}
	// 365 days are 12.0 months of 365.25/12 days; 547 are 18.0 (arithmetic).
	view := schema.NewView(again.Entry())
	for i, want := range []string{"12.0 months", "18.0 months"} {
		if got, ok := view.Derived("visit-months", i); !ok || got != want {
			t.Errorf("visit %d: %q, want %q", i, got, want)
		}
	}
	for _, bad := range [][]byte{nil, []byte("{}"), append([]byte(" "), c.Canonical()...), bytes.Replace(c.Canonical(), []byte("optometrist"), []byte("Optometrist"), 1), index.Canonical()} {
		if _, err := schema.SealedFollowup(bad, index, schema.Options{}); err == nil {
			t.Errorf("taken: %.40s", bad)
		}
	}
	if _, err := schema.CheckFollowup(readFollowup(t, followupText(visit())), schema.Checked{}, nil, schema.Options{}); err == nil {
		t.Error("an unchecked operation is taken")
	}
	if (schema.CheckedFollowup{}).Valid() || (schema.CheckedFollowup{}).Complete() {
		t.Error("the zero value is valid")
	}
}

// Hostile files end in findings. The shapes are those of the entry's own tests.
func TestFollowupHostile(t *testing.T) {
	files, err := filepath.Glob("../testdata/hostile/*")
	if err != nil || len(files) == 0 {
		t.Fatalf("no files: %v", err)
	}
	texts := map[string]string{"list": "- 1\n", "scalar": "7", "visits none": strings.Replace(followupText(), "visits:", "visits: none", 1),
		"visits refused": strings.Replace(followupText(), "visits:", "visits: not recorded: lost", 1), "entered-by list": "entered-by: [a, b]\n", "deep": "followup: {followup: {followup: x}}\n"}
	for _, f := range files {
		b, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		texts[filepath.Base(f)] = string(b)
	}
	for name, text := range texts {
		r := schema.ReadFollowup(schema.Source{Name: "x.yaml", Data: []byte(text)}, schema.Options{Now: followedOn})
		for _, d := range r.Documents {
			c, err := schema.CheckFollowup(d, followupIndex(t), nil, schema.Options{Now: followedOn})
			if err != nil || c.Complete() {
				t.Errorf("%s: %v, complete %v", name, err, c.Complete())
			}
		}
	}
}

// The published schema is judged by an independent validator (santhosh-tekuri/
// jsonschema, JSON Schema 2020-12).
func TestFollowupJSONSchema(t *testing.T) {
	b, err := schema.FollowupJSONSchema()
	if err != nil {
		t.Fatal(err)
	}
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(b))
	if err != nil {
		t.Fatal(err)
	}
	k := jsonschema.NewCompiler()
	if err := k.AddResource("followup.json", doc); err != nil {
		t.Fatal(err)
	}
	s, err := k.Compile("followup.json")
	if err != nil {
		t.Fatal(err)
	}
	good := followupText(visit())
	for text, want := range map[string]bool{
		good:                               true,
		"consent: {registry: no}\n" + good: true,
		strings.Replace(good, "optometrist", "plumber", 1):          false,
		strings.Replace(good, "followup: ", "follow: ", 1):          false,
		strings.Replace(good, "rejection: none", "rejection: 3", 1): false,
		strings.Replace(good, "eye: {operated: right}\n", "", 1):    false,
		"story: x\n" + good: false,
	} {
		docs := documents(schema.Source{Name: "x", Data: []byte(text)})
		if err := s.Validate(docs[0]); (err == nil) != want {
			t.Errorf("%v, want valid %v: %s", err, want, text)
		}
	}
}

// The days are counted by hand on a calendar: surgery on 8 September 2026.
func TestFollowupDue(t *testing.T) {
	index := followupIndex(t)
	year := checkFollowup(t, followupText(visit()))
	failed := checkFollowup(t, followupText(visit("2027-09-08", "2027-02-01", "status: surviving", "status: failed, failure-cause: rejection, failure-date: 2027-01-20")))
	lost := checkFollowup(t, followupText(strings.Replace(unseen("lost"), "status", "nominal: 12 mo, status", 1)))
	named := checkFollowup(t, followupText(visit("{date: 2027-09-08", "{nominal: 6 mo, date: 2027-06-20")))
	for name, x := range map[string]struct {
		on       string
		recorded []schema.CheckedFollowup
		want     string
	}{
		"day before three months": {"2026-12-07", nil, "to come, to come, to come, to come"},
		"three months":            {"2026-12-08", nil, "due, to come, to come, to come"},
		"half a year":             {"2027-03-08", nil, "missed, due, to come, to come"},
		"one year seen":           {"2027-10-01", []schema.CheckedFollowup{year}, "missed, missed, seen, to come"},
		"not yet seen then":       {"2027-09-07", []schema.CheckedFollowup{year}, "missed, missed, to come, to come"},
		"two years":               {"2028-09-08", []schema.CheckedFollowup{year}, "missed, missed, seen, due"},
		"failed in the sixth":     {"2028-09-08", []schema.CheckedFollowup{failed}, "missed, seen, not due, not due"},
		"lost in the year":        {"2028-09-08", []schema.CheckedFollowup{lost}, "missed, missed, not due, not due"},
		"lost, not yet then":      {"2027-09-07", []schema.CheckedFollowup{lost}, "missed, missed, to come, to come"},
		"late, but named":         {"2027-07-01", []schema.CheckedFollowup{named}, "missed, seen, to come, to come"},
	} {
		on, err := time.Parse(time.DateOnly, x.on)
		if err != nil {
			t.Fatal(err)
		}
		var have []string
		for _, d := range schema.FollowupDue(index, x.recorded, on) {
			have = append(have, string(d.State))
		}
		if got := strings.Join(have, ", "); got != x.want {
			t.Errorf("%s: %s, want %s", name, got, x.want)
		}
	}
	due := schema.FollowupDue(index, nil, followedOn)
	// 4.5 months of 365.25/12 days are 136.97 days; 4.45 round up to 4.5 one or two
	// days before: 136 days are 4.468, which rounds to 4.5 (arithmetic).
	if got := due[0].Closes.String(); got != "2027-01-22" {
		t.Errorf("the first window closes on %s", got)
	}
	o := schema.Options{Now: followedOn}
	staged := check(t, schema.Read(readFile(t, samples+"/15-staged.yaml"), o).Cases[0], o, nil)
	if got := schema.FollowupDue(staged, nil, followedOn); got != nil {
		t.Errorf("without a graft: %v", got)
	}
}
