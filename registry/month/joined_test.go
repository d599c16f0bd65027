package month_test

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"math/rand/v2"
	"slices"
	"strconv"
	"strings"
	"testing"
	"testing/fstest"
	"time"

	"graftnote/registry"
	"graftnote/registry/month"
	"graftnote/registry/month/scenario"
	"graftnote/schema"
)

var siteKey = []byte("0123456789abcdef0123456789abcdef")

// unit are the invented operations of an eye unit.
func unit(t *testing.T, seed uint64, n int, from time.Time) []month.Operation {
	t.Helper()
	plan := scenario.Plan{Seed: seed, From: from, Until: time.Date(2026, 11, 1, 0, 0, 0, 0, time.UTC)}
	o := schema.Options{Now: time.Date(2026, 12, 1, 0, 0, 0, 0, time.UTC)}
	var out []month.Operation
	for i := range n {
		c, err := schema.Check(schema.Read(schema.Source{Name: "a.yaml", Data: plan.Entry(i)}, o).Cases[0], o, nil)
		if err != nil {
			t.Fatal(err)
		}
		op, err := month.Take(c, month.Signing{State: month.Signed, Revision: 1})
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, op)
	}
	return out
}

// reader keeps every version of every row that any package held, by key and
// column, and knows nothing of how they were made.
type reader map[string]map[string][]string

var known = []string{"operation_year", "age_band", "sex", "eye", "indication"}

func (r reader) load(t *testing.T, f fstest.MapFS) {
	t.Helper()
	lines, err := csv.NewReader(bytes.NewReader(f["operations.csv"].Data)).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	cell := func(line []string, name string) string { return line[slices.Index(lines[0], name)] }
	for _, line := range lines[1:] {
		if cell(line, "change") == "withdrawn" {
			continue
		}
		key := cell(line, "row_key")
		if r[key] == nil {
			r[key] = map[string][]string{}
		}
		for _, name := range known {
			text := cell(line, name)
			if name == "operation_year" && text != "WH" {
				text += "+" + cell(line, "operation_year_span")
			}
			r[key][name] = append(r[key][name], text)
		}
	}
}

// The values that a cell may stand for, worked out from its words alone.
func standsFor(column, cell string) func(value string) bool {
	if cell == "WH" {
		return func(string) bool { return true }
	}
	if first, span, ok := strings.Cut(cell, "+"); ok {
		a, _ := strconv.Atoi(first)
		n, _ := strconv.Atoi(span)
		return func(v string) bool { y, _ := strconv.Atoi(v); return y >= a && y < a+n }
	}
	if lo, hi, ok := strings.Cut(cell, " to "); column == "age_band" && (ok || strings.HasSuffix(cell, "or over")) {
		a, _ := strconv.Atoi(strings.TrimSuffix(lo, " or over"))
		b, err := strconv.Atoi(hi)
		if err != nil {
			b = 999
		}
		return func(v string) bool {
			x, _ := strconv.Atoi(strings.Fields(v)[0])
			return x >= a && x < b
		}
	}
	// Groups of indications, by hand from the words of the codes.
	ectasia := []string{"keratoconus", "pellucid", "ectasia-after-refractive-surgery"}
	group := map[string]func(string) bool{
		"any ectasia":             func(v string) bool { return slices.Contains(ectasia, v) },
		"no ectasia":              func(v string) bool { return !slices.Contains(ectasia, v) },
		"any scar":                func(v string) bool { return strings.HasPrefix(v, "scar-") },
		"any dystrophy":           func(v string) bool { return strings.HasSuffix(v, "dystrophy") || v == "storage-disease" },
		"active disease":          func(v string) bool { return v == "descemetocele" || v == "infective-keratitis" },
		"any endothelial disease": func(v string) bool { return v == "fuchs" || v == "bullous-oedema" },
		"regraft or other":        func(v string) bool { return v == "regraft" || v == "other" },
	}
	if is := group[cell]; is != nil {
		return is
	}
	return func(v string) bool { return v == cell }
}

// least is the smallest number of people whose rows nothing tells apart for a
// reader who joins all versions by the key of the row.
func (r reader) least(personOf map[string]string) (int, int) {
	values := map[string][]string{
		"sex": {"female", "male", "other", "unknown", "NR", "NS"}, "eye": {"right", "left"},
		"age_band":   {"0 to 9", "10 to 19", "20 to 29", "30 to 39", "40 to 49", "50 to 59", "60 to 69", "70 to 79", "80 to 89", "90 or over"},
		"indication": {"keratoconus", "pellucid", "ectasia-after-refractive-surgery", "scar-infective", "scar-herpetic", "scar-traumatic", "scar-trachoma", "macular-dystrophy", "granular-dystrophy", "lattice-dystrophy", "other-stromal-dystrophy", "storage-disease", "descemetocele", "infective-keratitis", "fuchs", "bullous-oedema", "regraft", "other"},
	}
	for y := 2010; y < 2030; y++ {
		values["operation_year"] = append(values["operation_year"], fmt.Sprint(y))
	}
	people := map[string]map[string]bool{}
	for key, columns := range r {
		class := ""
		for _, name := range known {
			for _, v := range values[name] {
				fits := !slices.ContainsFunc(columns[name], func(cell string) bool { return !standsFor(name, cell)(v) })
				if fits {
					class += v + ","
				}
			}
			class += ";"
		}
		if people[class] == nil {
			people[class] = map[string]bool{}
		}
		people[class][personOf[key]] = true
	}
	least := 0
	for _, p := range people {
		if least == 0 || len(p) < least {
			least = len(p)
		}
	}
	return least, len(people)
}

// Whoever keeps all packages of a small unit and joins the versions of each row
// finds nobody among fewer than five people: a column that was coarse before may
// be fine now and the other way round, and both are known then (own attack, no
// source; people are counted, k = 5). The same for the files themselves: an
// operation that is held back, or a patient who refused, has no key in them.
func TestAllVersionsTogetherHideEverybody(t *testing.T) {
	for _, x := range []struct {
		seed     uint64
		n        int
		from     time.Time
		mode     month.Mode
		holdBack bool
	}{
		{1, 250, time.Date(2024, 11, 1, 0, 0, 0, 0, time.UTC), month.Pseudonymised, false},
		{1, 250, time.Date(2024, 11, 1, 0, 0, 0, 0, time.UTC), month.SafeHarbor, false},
		{2, 400, time.Date(2023, 1, 1, 0, 0, 0, 0, time.UTC), month.SafeHarbor, true},
	} {
		t.Run(fmt.Sprint(x.mode, x.n, x.holdBack), func(t *testing.T) {
			list := unit(t, x.seed, x.n, x.from)
			o := month.Options{Mode: x.mode, Key: siteKey, Keys: month.NewKeyMap(), Rand: rand.NewChaCha8([32]byte{1}), HoldBack: x.holdBack}
			var sent []month.Sent
			var steps map[string]int
			seen, personOf := reader{}, map[string]string{}
			made, refused := 0, 0
			for m := range 9 {
				at := time.Date(2025, time.January+time.Month(m), 1, 0, 0, 0, 0, time.UTC)
				o.Refine = m%5 == 4
				p, err := month.Build(month.Input{Period: month.Period{Year: at.Year(), Month: int(at.Month())}, Operations: month.Operations(list...), Sent: sent, Steps: steps, TheatreCount: -1, At: at}, o)
				if errors.Is(err, month.ErrRefused) {
					refused++
					continue
				}
				if err != nil {
					t.Fatal(err)
				}
				made++
				files, err := p.Files()
				if err != nil {
					t.Fatal(err)
				}
				f := fstest.MapFS{}
				for _, file := range files {
					f[file.Name] = &fstest.MapFile{Data: file.Data}
				}
				drawn := map[string]string{}
				for _, k := range o.Keys.List() {
					if k.Kind == month.OperationRow {
						drawn[k.Name] = k.Key
					}
				}
				for _, op := range list {
					key := registry.RowKey(siteKey, op.Case)
					if x.mode == month.SafeHarbor {
						key = drawn[op.Case]
					}
					personOf[key] = op.Person
				}
				seen.load(t, f)
				noKeyOfThoseLeftOut(t, p, f, sent)
				for c := range p.Changes {
					c.Accepted = m%4 != 3 // now and then the registry refuses, and has the rows all the same
					sent = append(sent, c)
				}
				steps = p.Steps
				least, classes := seen.least(personOf)
				if len(seen) > 0 && least < 5 {
					t.Fatalf("package %d of %s: somebody is among %d in all versions (%d classes, %d rows)", made, at.Format("2006-01"), least, classes, len(seen))
				}
				if d := p.Manifest.Disclosure; d != nil && (d.Joined < 5 || d.Joined > least || d.JoinedRows != len(seen)) {
					t.Errorf("%s: the manifest says %d of %d rows, counted %d of %d", at.Format("2006-01"), d.Joined, d.JoinedRows, least, len(seen))
				}
			}
			t.Logf("%d packages, %d refused, %d rows", made, refused, len(seen))
			if made < 4 || len(seen) < x.n/5 {
				t.Errorf("only %d packages with %d rows were made: the attack had nothing to read", made, len(seen))
			}
		})
	}
}

// noKeyOfThoseLeftOut: no file holds the key of an operation that is held back and
// was never sent, nor that of a patient who refused.
func noKeyOfThoseLeftOut(t *testing.T, p *month.Package, f fstest.MapFS, sent []month.Sent) {
	t.Helper()
	was := map[string]bool{}
	for _, s := range sent {
		was[s.Key] = true
	}
	for _, e := range p.Exceptions {
		if was[e.Key] {
			continue // a row that stood is taken back under its key
		}
		for name, file := range f {
			if bytes.Contains(file.Data, []byte(e.Key)) {
				t.Fatalf("%s holds the key of an operation left out: %s", name, e.Reason)
			}
		}
	}
}

// alike are operations of as many people, of one year, whose rows agree in all that
// is counted but the age.
func alike(t *testing.T, list []month.Operation, n int, name string, age string) []month.Operation {
	t.Helper()
	var out []month.Operation
	for i := range n {
		o := list[i%len(list)]
		o.Case, o.Person = fmt.Sprintf("%s-%02d", name, i), fmt.Sprintf("FIC-%s-%02d", name, i)
		o.Cells, o.Visits, o.Month = slices.Clone(o.Cells), nil, month.Period{Year: 2026, Month: 3}
		for column, cell := range map[string]string{"operation_year": "2026", "age_band": age, "sex": "female", "eye": "right", "indication": "keratoconus"} {
			o.Cells[slices.IndexFunc(registry.Columns(), func(c registry.Column) bool { return c.Name == column })] = cell
		}
		out = append(out, o)
	}
	return out
}

func signedOnly(list []month.Operation) []month.Operation {
	return slices.DeleteFunc(slices.Clone(list), func(o month.Operation) bool { return o.Cells == nil })
}

// A package is refused when the registry had a column fine that must be coarse now
// and a row would stand alone between the two; the refusal says which kind it is,
// and with rows held back the package is made. A row that was corrected counts
// among those it was like before, so that no correction locks a unit out.
func TestVersionsThatGiveAway(t *testing.T) {
	base := signedOnly(unit(t, 3, 60, time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC)))
	at := time.Date(2026, 4, 1, 0, 0, 0, 0, time.UTC)
	build := func(list []month.Operation, sent []month.Sent, steps map[string]int, o month.Options) (*month.Package, error) {
		return month.Build(month.Input{Period: month.Period{Year: 2026, Month: 3}, Operations: month.Operations(list...), Sent: sent, Steps: steps, TheatreCount: -1, At: at}, o)
	}
	o := month.Options{Mode: month.Pseudonymised, Key: siteKey}
	list := alike(t, base, 10, "a", "20 to 29")
	first, err := build(list, nil, nil, o)
	if err != nil {
		t.Fatal(err)
	}
	var sent []month.Sent
	for c := range first.Changes {
		c.Accepted = true
		if c.Kind == month.OperationRow && !strings.Contains(c.Cells, "sex=female") {
			t.Errorf("what was sent is not kept: %q", c.Cells)
		}
		sent = append(sent, c)
	}
	// Three more, of another age: at the steps of before they would be three in ten,
	// coarser they would be told from the first ten, whose age the registry has.
	more := append(slices.Clone(list), alike(t, base, 3, "b", "30 to 39")...)
	if _, err = build(more, sent, first.Steps, o); !errors.Is(err, month.ErrJoined) || !errors.Is(err, month.ErrRefused) {
		t.Fatalf("the package is made: %v", err)
	}
	o.HoldBack = true
	p, err := build(more, sent, first.Steps, o)
	if err != nil {
		t.Fatal(err)
	}
	if c := p.Manifest; c.Rows["operations.new"] != 0 || c.Rows["operations.withdrawn"] != 0 || c.Counts.HeldBack["suppressed"] != 3 || c.Disclosure.Joined != 10 {
		t.Errorf("%+v %+v", c.Rows, c.Counts)
	}
	// Without the memory of cells (a casebook of before) all that is known counts.
	bare := slices.Clone(sent)
	for i := range bare {
		bare[i].Cells = ""
	}
	o.HoldBack = false
	if _, err = build(more, bare, first.Steps, o); !errors.Is(err, month.ErrJoined) {
		t.Errorf("without the cells: %v", err)
	}
	// Five like them, and one of the ten was corrected to be like them.
	enough := append(slices.Clone(list), alike(t, base, 5, "c", "30 to 39")...)
	enough[0].Cells = slices.Clone(enough[5+5].Cells)
	enough[0].Revision = 2
	p, err = build(enough, sent, first.Steps, o)
	if err != nil {
		t.Fatal(err)
	}
	if m := p.Manifest; m.Rows["operations.new"] != 5 || m.Rows["operations.corrected"] != 1 || m.Disclosure.Joined != 6 {
		t.Errorf("%+v %+v", m.Rows, m.Disclosure)
	}
	// Whoever takes the consent back is taken back, whatever the others are.
	list[0].Consent, list[0].Cells = false, nil
	p, err = build(list[:1], sent, first.Steps, o)
	if err != nil || p.Manifest.Rows["operations.withdrawn"] != 10 {
		t.Errorf("%v", err)
	}
}

// An entry that cannot be read, or lacks its day, counts in the period it was
// handed in with, a year as well as a month; the exceptions say that its month is
// not known.
func TestUndatedEntriesCountInAYear(t *testing.T) {
	list := alike(t, signedOnly(unit(t, 3, 40, time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC))), 6, "a", "20 to 29")
	list = append(list, month.Operation{Case: "unread-1", State: month.Blocked}, month.Operation{Case: "undated", State: month.Unsigned},
		month.Operation{Case: "gone", State: month.Withdrawn})
	for _, period := range []month.Period{{Year: 2026}, {Year: 2026, Month: 3}} {
		p, err := month.Build(month.Input{Period: period, Operations: month.Operations(list...), TheatreCount: 8, At: time.Date(2027, 1, 1, 0, 0, 0, 0, time.UTC)},
			month.Options{Mode: month.Pseudonymised, Key: siteKey})
		if err != nil {
			t.Fatal(err)
		}
		if c := p.Manifest.Counts; c.Entered != 8 || c.Sent != 6 || !c.AddsUp || c.HeldBack["blocked"] != 1 || c.HeldBack["unsigned"] != 1 {
			t.Errorf("%s: %+v", period, c)
		}
		files, err := p.Files()
		if err != nil {
			t.Fatal(err)
		}
		for _, f := range files {
			want := "which,reason,operations,says\r\nearlier,withdrawn,1,the note was withdrawn\r\nunknown,blocked,1,findings stand against signing the note\r\nunknown,unsigned,1,the note is complete and not signed\r\n"
			if f.Name == month.ExceptionsName && string(f.Data) != want {
				t.Errorf("%s: %s", period, f.Data)
			}
		}
	}
}
