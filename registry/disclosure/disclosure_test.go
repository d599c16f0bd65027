package disclosure

import (
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"os"
	"slices"
	"strings"
	"testing"

	"go.yaml.in/yaml/v3"
)

// set makes a set of one row for each text, columns split by spaces; people are
// numbered.
func set(columns string, rows ...string) Set {
	s := Set{Columns: strings.Fields(columns)}
	for i, r := range rows {
		s.Rows = append(s.Rows, Row{Person: fmt.Sprint("p", i), Month: "2026-11", Values: strings.Fields(r)})
	}
	return s
}

// asIs are columns without coarser forms; dropped ones may be given up.
func asIs(names ...string) []Column {
	var out []Column
	for _, n := range names {
		out = append(out, Column{Name: n, Ladder: []Step{{Name: "as recorded"}}})
	}
	return out
}

func orDropped(names ...string) []Column {
	out := asIs(names...)
	for i := range out {
		out[i].Ladder = append(out[i].Ladder, Step{Name: "not given", All: true})
	}
	return out
}

// The table of Sweeney, IJUFKS 2002;10:557-570 (race, birth, gender, ZIP and
// problem), from memory, unverified: k is 2, and two of the five classes have
// one problem only.
func TestMeasurePublishedTable(t *testing.T) {
	s := set("race birth gender zip problem",
		"Black 1965 m 0214* short-breath", "Black 1965 m 0214* chest-pain",
		"Black 1965 f 0213* hypertension", "Black 1965 f 0213* hypertension",
		"Black 1964 f 0213* obesity", "Black 1964 f 0213* chest-pain",
		"White 1964 m 0213* chest-pain", "White 1964 m 0213* obesity", "White 1964 m 0213* short-breath",
		"White 1967 m 0213* chest-pain", "White 1967 m 0213* chest-pain")
	r, err := Measure(s, []string{"race", "birth", "gender", "zip"}, []string{"problem"})
	if err != nil || r.K != 2 || r.LinkedK != 2 || r.Classes != 5 || r.Singles != 0 || r.Rows != 11 || r.Persons != 11 {
		t.Errorf("%+v %v", r, err)
	}
	if d := r.Diversity[0]; d.L != 1 || d.Uniform != 2 || d.Column != "problem" {
		t.Errorf("%+v", d)
	}
	if !slices.Equal(r.SmallestFirst, []int{0, 4, 1, 0}) {
		t.Errorf("sizes %v", r.SmallestFirst)
	}
}

// Invented, worked by hand: classes 3, 2, 5 and 1.
func worked() Set {
	return set("year age sex indication outcome",
		"2025 20to29 F ectasia a", "2025 20to29 F ectasia b", "2025 20to29 F ectasia a", "2025 20to29 M ectasia a", "2025 20to29 M ectasia b",
		"2025 30to39 M ectasia a", "2025 30to39 M ectasia b", "2025 30to39 M ectasia c", "2025 30to39 M ectasia a", "2025 30to39 M ectasia a",
		"2025 60to69 F dystrophy a")
}

// k is 1 as given; without the eleventh row 2; without the sex as well 5, with
// classes of 5 and 5, at the cost of 1 row of 11 (9.1 %) and one column.
func TestProtectWorkedTable(t *testing.T) {
	names := []string{"year", "age", "sex", "indication"}
	if r, err := Measure(worked(), names, []string{"outcome"}); err != nil || r.K != 1 || r.Classes != 4 || r.Singles != 1 || r.Diversity[0].Uniform != 1 {
		t.Errorf("%+v %v", r, err)
	}
	columns := append(asIs("year", "age"), orDropped("sex")...)
	columns = append(columns, asIs("indication")...)
	r, err := Protect(worked(), Policy{Quasi: columns, K: 2})
	if err != nil || r.After.K != 2 || !slices.Equal(r.Dropped, []int{10}) || r.Changes[2].Step != 0 || r.After.Classes != 3 {
		t.Errorf("%+v %v", r, err)
	}
	r, err = Protect(worked(), Policy{Quasi: columns, Sensitive: []string{"outcome"}})
	if err != nil || r.K != 5 || r.After.K != 5 || r.After.Classes != 2 || !slices.Equal(r.Dropped, []int{10}) {
		t.Fatalf("%+v %v", r, err)
	}
	if r.Changes[2].Step != 1 || r.Changes[2].Name != "not given" || r.Set.Rows[0].Values[2] != Any || r.Set.Rows[0].Values[4] != "a" {
		t.Errorf("%+v", r)
	}
	// By hand: ten rows with one of four columns lost, one row lost altogether.
	if want := (10*0.25 + 1) / 11; r.Loss < want-1e-12 || r.Loss > want+1e-12 || r.Suppressed != 1.0/11 || r.DroppedPersons != 1 {
		t.Errorf("loss %v, want %v", r.Loss, want)
	}
	if len(r.DroppedByMonth) != 1 || r.DroppedByMonth[0] != (MonthCount{"2026-11", 1}) {
		t.Errorf("%v", r.DroppedByMonth)
	}
	// Without any suppression the age and the indication must go as well.
	_, err = Protect(worked(), Policy{Quasi: columns, MaxSuppressed: NoSuppression})
	var refusal *Refusal
	if !errors.Is(err, ErrRefused) || !errors.As(err, &refusal) || refusal.Least != 1 || refusal.Allowed != 0 || refusal.Rows != 11 {
		t.Errorf("%v", err)
	}
	if r, err := Protect(worked(), Policy{Quasi: orDropped(names...), MaxSuppressed: NoSuppression}); err != nil || r.After.K < 5 || len(r.Dropped) != 0 {
		t.Errorf("%+v %v", r, err)
	}
	// Diversity: the class of the women has the outcomes a and b, so 3 values need
	// coarser classes than k = 2 does.
	r, err = Protect(worked(), Policy{Quasi: orDropped(names...), Sensitive: []string{"outcome"}, K: 2, L: 3, MaxSuppressed: NoSuppression})
	if err != nil || r.After.Diversity[0].L != 3 || r.L != 3 {
		t.Errorf("%+v %v", r, err)
	}
}

// Both eyes of one person are one person: two rows in a class of their own are
// k = 1. Where the person key is on the rows, a person with both eyes stands
// alone among people with one.
func TestPeopleAreCounted(t *testing.T) {
	s := set("sex eye", "F right", "F right", "F right", "F left", "F left", "F left", "M right", "M right")
	for i, p := range []string{"a", "b", "c", "a", "d", "e", "g", "g"} {
		s.Rows[i].Person = p
	}
	r, err := Measure(s, []string{"sex", "eye"}, nil)
	if err != nil || r.Persons != 6 || r.Rows != 8 || r.K != 1 || r.Singles != 1 || r.Classes != 3 {
		t.Errorf("%+v %v", r, err)
	}
	s.Rows = s.Rows[:6]
	if r, _ = Measure(s, []string{"sex", "eye"}, nil); r.K != 3 || r.LinkedK != 1 {
		t.Errorf("%+v", r)
	}
	policy := Policy{Quasi: asIs("sex", "eye"), K: 2, MaxSuppressed: 0.4}
	if r, err := Protect(s, policy); err != nil || len(r.Dropped) != 0 || r.After.LinkedK != 1 {
		t.Errorf("%+v %v", r, err)
	}
	policy.Linked = true
	if r, err := Protect(s, policy); err != nil || !slices.Equal(r.Dropped, []int{0, 3}) || r.After.LinkedK != 2 || r.After.K != 2 {
		t.Errorf("%+v %v", r, err)
	}
}

// Every row of the file was worked out by pyCANON, whose version stands in its
// first line; the script is .ci/outside/figures/vectors.py.
func TestAgainstVectorsFile(t *testing.T) {
	data, err := os.ReadFile("testdata/vectors.tsv")
	if err != nil {
		t.Fatal(err)
	}
	lines := strings.Split(strings.TrimSuffix(string(data), "\n"), "\n")
	if len(lines) != 42 || !strings.HasPrefix(lines[0], "# pycanon ") {
		t.Fatal("the file has no header or not 40 rows")
	}
	for _, line := range lines[2:] {
		f := strings.Split(line, "\t")
		var in struct {
			Quasi []string
			Rows  [][]string
		}
		if len(f) != 3 || f[0] != "canon" || json.Unmarshal([]byte(f[1]), &in) != nil {
			t.Fatal("not a row")
		}
		s := Set{Columns: []string{"year", "age", "sex", "indication", "status"}}
		for _, r := range in.Rows {
			s.Rows = append(s.Rows, Row{Person: r[0], Values: r[1:]})
		}
		r, err := Measure(s, in.Quasi, []string{"status"})
		if err != nil {
			t.Fatal(err)
		}
		if got := fmt.Sprintf("%d|%d", r.K, r.Diversity[0].L); got != f[2] {
			t.Errorf("%d rows by %v: %s, the library says %s", len(in.Rows), in.Quasi, got, f[2])
		}
	}
}

func TestLadder(t *testing.T) {
	var columns []Column
	err := yaml.Unmarshal([]byte(`
- column: year
  weight: 2
  keep: [NR]
  ladder:
    - {name: year}
    - {name: two years, width: 2}
    - {name: four years, width: 4}
    - {name: not given, all: true, word: withheld}
- column: age
  ladder:
    - {name: ten years}
    - {name: twenty years, groups: {young: [20s, 30s], older: [40s, 50s]}}
    - {name: not given, all: true}
`), &columns)
	if err != nil {
		t.Fatal(err)
	}
	l, err := newLadder(columns[0], []string{"2023", "2024", "2025", "2026", "NR"})
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for step := range l.words {
		for _, code := range l.code[step] {
			got = append(got, l.words[step][code])
		}
	}
	want := []string{
		"2023", "2024", "2025", "2026", "NR",
		"2022 to 2023", "2024 to 2025", "2024 to 2025", "2026 to 2027", "NR",
		"2020 to 2023", "2024 to 2027", "2024 to 2027", "2024 to 2027", "NR",
		"withheld", "withheld", "withheld", "withheld", "withheld",
	}
	if !slices.Equal(got, want) {
		t.Errorf("%q", got)
	}
	// Two of five values in one: (2-1)/(5-1), Xu and others, KDD 2006.
	if p := l.penalty[1][l.code[1][1]]; p != 0.25 || l.penalty[0][0] != 0 || l.penalty[3][0] != 1 {
		t.Errorf("penalty %v", p)
	}
	if l, err := newLadder(Column{Name: "n", Ladder: []Step{{}, {Width: 10, From: 5}}}, []string{"-6", "-5", "4", "5"}); err != nil || l.words[1][0] != "-15 to -6" || l.words[1][1] != "-5 to 4" || len(l.words[1]) != 3 {
		t.Errorf("%v %v", l, err)
	}
}

// A fault names the column and the step, never a value of a row.
func TestFaults(t *testing.T) {
	const mark = "QZX7"
	good := set("a b", "1 x", "2 "+mark)
	split := []Step{{}, {Groups: map[string][]string{"g": {"x", mark}}}, {Groups: map[string][]string{"h": {"x"}, "i": {mark}}}}
	for i, c := range []struct {
		s    Set
		p    Policy
		want error
	}{
		{Set{Columns: []string{"a"}, Rows: []Row{{Person: "p"}}}, Policy{Quasi: asIs("a")}, ErrRow},
		{Set{Columns: []string{"a"}, Rows: []Row{{Values: []string{mark}}}}, Policy{Quasi: asIs("a")}, ErrPerson},
		{Set{Columns: []string{"a", "a"}}, Policy{Quasi: asIs("a")}, ErrColumn},
		{good, Policy{Quasi: asIs("c")}, ErrColumn},
		{good, Policy{Quasi: asIs("a", "a")}, ErrColumn},
		{good, Policy{Quasi: asIs("a"), Sensitive: []string{"a"}}, ErrColumn},
		{good, Policy{Quasi: asIs("a"), AtLeast: map[string]int{"b": 0}}, ErrColumn},
		{good, Policy{Quasi: asIs("a"), AtLeast: map[string]int{"a": 1}}, ErrPolicy},
		{good, Policy{Quasi: asIs("a"), K: -1}, ErrPolicy},
		{good, Policy{Quasi: asIs("a"), MaxSuppressed: 1.5}, ErrPolicy},
		{good, Policy{Quasi: asIs("a"), L: 2}, ErrPolicy},
		{good, Policy{Quasi: []Column{{Name: "b"}}}, ErrLadder},
		{good, Policy{Quasi: []Column{{Name: "b", Weight: math.NaN(), Ladder: []Step{{}}}}}, ErrLadder},
		{good, Policy{Quasi: []Column{{Name: "b", Ladder: []Step{{All: true}}}}}, ErrLadder},
		{good, Policy{Quasi: []Column{{Name: "b", Ladder: []Step{{}, {}}}}}, ErrLadder},
		{good, Policy{Quasi: []Column{{Name: "b", Ladder: []Step{{}, {Width: 2}}}}}, ErrLadder},
		{good, Policy{Quasi: []Column{{Name: "b", Ladder: []Step{{}, {Width: -2}}}}}, ErrLadder},
		{good, Policy{Quasi: []Column{{Name: "b", Ladder: []Step{{}, {Groups: map[string][]string{"g": {"x"}}}}}}}, ErrLadder},
		{good, Policy{Quasi: []Column{{Name: "b", Ladder: []Step{{}, {Groups: map[string][]string{"g": {"x"}, "h": {"x", mark}}}}}}}, ErrLadder},
		{good, Policy{Quasi: []Column{{Name: "b", Ladder: split}}}, ErrLadder},
		{good, Policy{Quasi: asIs("a"), K: 2}, ErrRefused},
	} {
		_, err := Protect(c.s, c.p)
		if !errors.Is(err, c.want) {
			t.Errorf("%d: %v, want %v", i, err, c.want)
		} else if strings.Contains(err.Error(), mark) {
			t.Errorf("%d: the message carries a value: %v", i, err)
		}
	}
	if r, err := Protect(Set{Columns: []string{"a"}}, Policy{Quasi: orDropped("a")}); err != nil || r.After.Rows != 0 || r.Changes[0].Step != 0 {
		t.Errorf("an empty set: %+v %v", r, err)
	}
}

// One loss leads to the next (worked by hand from the definition of distinct
// l-diversity): class x has one outcome, so the people a go with all their rows;
// without them class y has one outcome too, so b go; z stays.
func TestLinkedSuppressionFollowsThrough(t *testing.T) {
	s := set("class outcome", "x 1", "y 1", "x 1", "y 1", "y 2", "y 2", "z 1", "z 2")
	for i, p := range []string{"a1", "a1", "a2", "a2", "b1", "b2", "c1", "c2"} {
		s.Rows[i].Person = p
	}
	r, err := Protect(s, Policy{Quasi: asIs("class"), Sensitive: []string{"outcome"}, K: 2, L: 2, Linked: true, MaxSuppressed: 0.8})
	if err != nil || !slices.Equal(r.Kept, []int{6, 7}) || r.DroppedPersons != 4 {
		t.Errorf("%+v %v", r, err)
	}
}

// Measure counts the classes of a set as it stands, apart from any search; it is
// held to outside vectors and judges what Protect gives. It reports how well people are hidden when the columns quasi are what a
// reader may know of a person, and sensitive are what must not be learned. Values
// are compared as they stand. The error is ErrRow, ErrPerson or ErrColumn.
func Measure(set Set, quasi, sensitive []string) (Report, error) {
	columns := make([]Column, len(quasi))
	for i, q := range quasi {
		columns[i] = Column{Name: q, Ladder: []Step{{}}}
	}
	c, err := newCoded(set, columns, sensitive)
	if err != nil {
		return Report{}, err
	}
	return c.report(c.group(make([]int, len(quasi))), nil), nil
}
