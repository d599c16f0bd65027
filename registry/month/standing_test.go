package month

import (
	"slices"
	"strings"
	"testing"

	"graftnote/registry"
)

// Of a first package the rows that stand are those of its tables, cell by cell.
func TestStandingRowsAreThoseOfTheTables(t *testing.T) {
	list := crowd(t, 60)
	list[3].Consent, list[3].Cells, list[3].Visits = false, nil, nil
	for i := range 20 {
		list[i].Month = Period{2026, 10}
	}
	p := build(t, input(list), keyed())
	f := folder(t, p)
	for kind, name := range map[string]string{OperationRow: "operations.csv", VisitRow: "followups.csv"} {
		lines := records(t, f, name)
		names := []string{"row_key"}
		columns := registry.Columns()
		if kind == VisitRow {
			columns = registry.VisitColumns()
		}
		for _, c := range columns {
			if c.Name != "row_key" && c.Name != "person_key" {
				names = append(names, c.Name)
			}
		}
		var want, got []string
		for i := range lines[1:] {
			var cells []string
			for _, n := range names {
				cells = append(cells, columnOf(t, lines, n)[i])
			}
			want = append(want, strings.Join(cells, "|"))
		}
		inPeriod := 0
		for r := range p.Standing(kind) {
			var cells []string
			for _, n := range names {
				cells = append(cells, r.Cell(n))
			}
			got = append(got, strings.Join(cells, "|"))
			if r.InPeriod() {
				inPeriod++
			}
			if !strings.HasPrefix(r.Case(), "case-") || r.Cell("no_such_column") != "" {
				t.Errorf("case %q", r.Case())
			}
		}
		slices.Sort(want)
		slices.Sort(got)
		if !slices.Equal(want, got) {
			t.Errorf("%s: %d rows stand, %d are in the table", name, len(got), len(want))
		}
		if kind == OperationRow && inPeriod != p.Manifest.Counts.Sent {
			t.Errorf("%d of the period, sent %d", inPeriod, p.Manifest.Counts.Sent)
		}
	}
	if len(p.GivenUp()) < 2 {
		t.Errorf("given up: %q", p.GivenUp())
	}
}

// A small first month makes all columns coarse; later packages keep to it, and say
// when they need not.
func TestFinerStepsAreOffered(t *testing.T) {
	small := build(t, input(crowd(t, 7)), Options{Mode: Pseudonymised, Key: testKey, MaxSuppressed: 0.9})
	in := input(crowd(t, 200))
	in.Steps = small.Steps
	p := build(t, in, Options{Mode: Pseudonymised, Key: testKey})
	if !slices.ContainsFunc(p.Warnings, func(w string) bool { return strings.Contains(w, "--refine") }) {
		t.Fatalf("steps %v, warnings %q", p.Steps, p.Warnings)
	}
	finer := build(t, in, Options{Mode: Pseudonymised, Key: testKey, Refine: true})
	if finer.Disclosure.Loss >= p.Disclosure.Loss {
		t.Errorf("loss %v, without it %v", finer.Disclosure.Loss, p.Disclosure.Loss)
	}
	if slices.ContainsFunc(finer.Warnings, func(w string) bool { return strings.Contains(w, "--refine") }) {
		t.Error("finer steps are offered to the finest")
	}
}

// A column that the registry requires is made coarse last of all: age is the first
// to be given up otherwise.
func TestRequiredColumnsStayUsable(t *testing.T) {
	list := crowd(t, 40)
	for i := range list {
		list[i].Cells[columnPlace("sex")] = []string{"female", "male"}[i/2%2]
		list[i].Cells[columnPlace("age_band")] = []string{"20 to 29", "30 to 39", "40 to 49", "50 to 59", "60 to 69", "70 to 79", "80 to 89"}[i%7]
	}
	free := build(t, input(list), Options{Mode: Pseudonymised, Key: testKey})
	last := 0
	for _, q := range load().Quasi {
		if q.Name == "age_band" {
			last = len(q.Ladder) - 1
		}
	}
	if free.Steps["age_band"] != last {
		t.Fatalf("the age is not given up without a profile: %v", free.Steps)
	}
	o := Options{Mode: Pseudonymised, Key: testKey, Profile: profile(t, "corvale")}
	p := build(t, input(list), o)
	if p.Steps["age_band"] >= last {
		t.Errorf("the required age is withheld: %v", p.Steps)
	}
	if slices.ContainsFunc(p.Gaps, func(g Gap) bool { return g.Column == "AGE_GROUP" }) {
		t.Error("the required age has gaps")
	}
}

// What would give a coarse indication back is withheld with it.
func TestColumnsThatMirrorTheIndication(t *testing.T) {
	for _, name := range []string{"fellow_eye", "correction_before", "kc_stage", "hydrops"} {
		if !slices.Contains(load().Follows["indication"], name) {
			t.Errorf("%s does not follow the indication", name)
		}
	}
}
