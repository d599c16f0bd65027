package month

import (
	"errors"
	"io/fs"
	"math/rand/v2"
	"reflect"
	"slices"
	"strings"
	"testing"

	"graftnote/templates"
)

func shipped(t testing.TB) map[string][]byte {
	t.Helper()
	out := map[string][]byte{}
	names, err := fs.Glob(templates.Registries, "registries/*.yaml")
	if err != nil || len(names) < 2 {
		t.Fatalf("%v %v", names, err)
	}
	for _, n := range names {
		data, err := fs.ReadFile(templates.Registries, n)
		if err != nil {
			t.Fatal(err)
		}
		out[strings.TrimSuffix(strings.TrimPrefix(n, "registries/"), ".yaml")] = data
	}
	return out
}

func profile(t testing.TB, name string) *Profile {
	t.Helper()
	p, err := ParseProfile(shipped(t)[name])
	if err != nil {
		t.Fatalf("%s: %v", name, err)
	}
	return p
}

// The shipped profiles are whole, and a package in their form keeps its promises.
func TestShippedProfiles(t *testing.T) {
	for name := range shipped(t) {
		p := profile(t, name)
		if p.Name != name {
			t.Errorf("%s is called %s", name, p.Name)
		}
		o := keyed()
		o.Profile = p
		made := build(t, input(crowd(t, 60)), o)
		f := folder(t, made)
		if problems, err := Verify(f); err != nil || len(problems) > 0 {
			t.Errorf("%s: %v %v", name, problems, err)
		}
		foreignKeyHolds(t, f)
		if made.Manifest.Profile == nil || made.Manifest.Profile.Name != name || !strings.Contains(string(f[CoverName].Data), p.Title) {
			t.Errorf("%s does not stand on its package", name)
		}
		lines := records(t, f, "operations.csv")
		var want []string
		for _, c := range p.Operations {
			want = append(want, c.Name)
		}
		if !slices.Equal(lines[0], want) {
			t.Errorf("%s: header %v", name, lines[0])
		}
	}
}

// By hand: 7.75 mm is 7750 µm; a woman is F; keratoconus is 10; a missing value is
// an empty cell, one that was withheld is HELD.
func TestProfileTranslates(t *testing.T) {
	list := crowd(t, 60)
	o := keyed()
	plain := records(t, folder(t, build(t, input(list), o)), "operations.csv")
	o.Profile = profile(t, "corvale")
	p := build(t, input(list), o)
	form := records(t, folder(t, p), "operations.csv")
	at := func(lines [][]string, name string) []string { return columnOf(t, lines, name) }
	for i, key := range at(plain, "row_key") {
		if at(form, "GRAFT_ID")[i] != key {
			t.Fatal("the rows are in another order")
		}
		for _, c := range []struct {
			from, to string
			turned   map[string]string
		}{
			{"host_diameter_mm", "HOST_TREPHINE_UM", map[string]string{"7.75": "7750", "8.00": "8000", "8.25": "8250", "NA": "", "NR": "", "WH": "HELD"}},
			{"sex", "SEX", map[string]string{"female": "F", "male": "M"}},
			{"indication", "DIAGNOSIS", map[string]string{"keratoconus": "10", "macular-dystrophy": "30", "WH": "HELD"}},
			{"k_mean_before_d", "KMEAN_D", map[string]string{"54.10": "54.1", "NR": "", "NS": "", "NA": "", "NM": "", "NP": ""}},
		} {
			want, known := c.turned[at(plain, c.from)[i]]
			if got := at(form, c.to)[i]; known && got != want {
				t.Errorf("%s %s became %s, not %s", c.from, at(plain, c.from)[i], got, want)
			}
		}
	}
	if len(p.Gaps) != 0 {
		t.Errorf("%v", p.Gaps)
	}
	for i := range list {
		list[i].Cells[columnPlace("age_band")] = "NR"
	}
	p = build(t, input(list), o)
	if len(p.Gaps) != len(list)-len(p.Disclosure.Dropped) || p.Gaps[0].Column != "AGE_GROUP" || !strings.Contains(strings.Join(p.Warnings, "\n"), "Column AGE_GROUP is required by the registry and has no value in") {
		t.Errorf("%d gaps, %v", len(p.Gaps), p.Warnings)
	}
}

// Replay goes by the roles of columns, so a profile's packages replay alike.
func TestProfilePackagesReplay(t *testing.T) {
	for name := range shipped(t) {
		h := &history{r: rand.New(rand.NewPCG(3, 4)), key: testKey, base: crowd(t, 20)}
		for month := 1; month <= 5; month++ {
			h.happen(t, month)
			h.submit(t, month, profile(t, name))
		}
		state, err := Replay(h.packages...)
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		slices.Reverse(h.packages)
		if again, err := Replay(h.packages...); err != nil || !reflect.DeepEqual(state, again) {
			t.Errorf("%s: the order matters: %v", name, err)
		}
	}
}

// Each fault is found and said, all in one go.
func TestProfileFaults(t *testing.T) {
	text := string(shipped(t)["corvale"])
	change := func(old, new string) string {
		if !strings.Contains(text, old) {
			t.Fatalf("the profile does not hold %q", old)
		}
		return strings.Replace(text, old, new, 1)
	}
	for name, c := range map[string]struct{ text, says string }{
		"doubled":             {change("name: SEX,", "name: SIDE,"), "operations: column SIDE stands twice"},
		"doubled in capitals": {change("name: SEX,", "name: side,"), "stands twice"},
		"unknown":             {change("from: sex,", "from: gender,"), "column SEX cannot be filled: gender is no column of ours"},
		"from nothing":        {change(", from: suture_pattern", ""), "column SUTURES cannot be filled"},
		"key missing":         {change("  - {name: GRAFT_ID, from: row_key}\n  - {name: GRAFT_REV", "  - {name: GRAFT_REV"), "operations: a column made of row_key is missing"},
		"visit key missing":   {change("  - {name: VISIT_ID, from: visit_key}\n", ""), "followups: a column made of visit_key is missing"},
		"code without":        {change("female: F, ", ""), "female of sex has no counterpart"},
		"code unknown":        {change("female: F,", "women: F,"), "women is no code of sex"},
		"coarse code without": {change("any ectasia: \"19\", ", ""), "any ectasia of indication has no counterpart"},
		"unit":                {change("unit: µm", "unit: kg"), "cannot be given in kg"},
		"places":              {change("unit: µm, places: 0", "unit: µm, places: 9"), "places are 0 to 6"},
		"finer date":          {change("grain: year", "grain: day"), "column OP_YEAR: cannot be filled: a row holds the year of surgery and nothing finer"},
		"grain elsewhere":     {change("{name: SUTURES, from: suture_pattern}", "{name: SUTURES, from: suture_pattern, grain: year}"), "grain is for operation_year"},
		"formula code":        {change("female: F", "female: =F"), "a code cannot stand in a cell"},
		"no default":          {change(`default: "", `, ""), "missing: default is needed"},
		"missing a number":    {change("WH: HELD", `WH: "9"`), "is a number"},
		"missing like a code": {change("WH: HELD", "WH: F"), "the same as a text for a missing value"},
		"missing unknown":     {change("WH: HELD", "QQ: HELD"), "QQ is no missing code"},
		"control changed":     {change("from: change}", "from: change, codes: {new: N}, else: C}"), "only renamed"},
		"unknown key":         {change("profile: corvale", "profiles: corvale"), "cannot be read as a profile"},
		"no name":             {change("profile: corvale", "profile: Corvale Register"), "profile: a short name"},
		"column name":         {change("name: SEX,", "name: \"S,X\","), "a column needs a name"},
		"version":             {change("version: 1", "version: 0"), "version"},
		"separator":           {change(`separator: "/"`, `separator: ","`), "separator"},
		"two documents":       {text + "---\nprofile: x\n", "more than one document"},
		"empty":               {"", "empty"},
		"large":               {strings.Repeat("# x\n", 300_000), "larger than"},
	} {
		_, err := ParseProfile([]byte(c.text))
		var fault *ProfileError
		if !errors.As(err, &fault) || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: %v", name, err)
		}
	}
	both := strings.Replace(change("from: sex,", "from: gender,"), "unit: µm", "unit: kg", 1)
	var fault *ProfileError
	if _, err := ParseProfile([]byte(both)); !errors.As(err, &fault) || len(fault.Faults) < 2 {
		t.Errorf("%v", err)
	}
	// A pool that counts people needs the person key, which one mode does not send.
	o := random(1, NewKeyMap())
	o.Profile = profile(t, "northmere")
	if _, err := Build(input(crowd(t, 60)), o); !errors.As(err, &fault) || !strings.Contains(err.Error(), "graft_person cannot be filled in this mode") {
		t.Errorf("%v", err)
	}
}

func FuzzParseProfile(f *testing.F) {
	for _, data := range shipped(f) {
		f.Add(data)
	}
	f.Add([]byte("a: &a [*a]"))
	f.Fuzz(func(t *testing.T, data []byte) {
		p, err := ParseProfile(data)
		if (p == nil) == (err == nil) {
			t.Error("neither a profile nor a fault")
		}
	})
}
