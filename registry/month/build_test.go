package month

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"errors"
	"slices"
	"strings"
	"testing"
	"testing/fstest"

	"graftnote/registry"
	"graftnote/registry/disclosure"
)

func records(t testing.TB, f fstest.MapFS, name string) [][]string {
	t.Helper()
	file, ok := f[name]
	if !ok {
		t.Fatalf("no %s", name)
	}
	r := csv.NewReader(bytes.NewReader(file.Data))
	lines, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	return lines
}

// column is a column of a table without its header.
func columnOf(t testing.TB, lines [][]string, name string) []string {
	t.Helper()
	i := slices.Index(lines[0], name)
	if i < 0 {
		t.Fatalf("no column %s", name)
	}
	var out []string
	for _, l := range lines[1:] {
		out = append(out, l[i])
	}
	return out
}

// The counts that the month end is asked for: operated, signed, sent and held
// back must add up (own rule, no source).
func TestCountsAddUp(t *testing.T) {
	list := crowd(t, 60)
	list[0].State, list[0].Cells = Unsigned, nil
	list[1].State, list[1].Cells = Blocked, nil
	list[2].State, list[2].Cells = Awaiting, nil
	list[3].State, list[3].Cells = Withdrawn, nil
	list[4].Consent, list[4].Cells = false, nil
	list[5].Month = Period{2026, 10}
	list[6].Month = Period{2026, 12}
	in := input(list)
	in.TheatreCount = 58
	p := build(t, in, keyed())
	c := p.Manifest.Counts
	if c.Entered != 58 || c.Signed != 54 || c.Sent != 53 || !c.AddsUp || *c.NotEntered != 0 {
		t.Errorf("%+v", c)
	}
	for _, reason := range []string{"unsigned", "blocked", "awaiting", "withdrawn", "consent-refused"} {
		if c.HeldBack[reason] != 1 {
			t.Errorf("%s: %d", reason, c.HeldBack[reason])
		}
	}
	f := folder(t, p)
	if lines := records(t, f, ExceptionsName); len(lines) != 6 {
		t.Errorf("exceptions: %v", lines)
	}
	if lines := records(t, f, "operations.csv"); len(lines) != 55 {
		t.Errorf("%d rows", len(lines)-1)
	}
	for theatre, says := range map[int]string{-1: "was not given", 60: "2 have no entry", 59: "1 has no entry", 57: "1 more is entered"} {
		in.TheatreCount = theatre
		p := build(t, in, keyed())
		if p.Manifest.Counts.AddsUp || !strings.Contains(p.Manifest.Counts.Says, says) || len(p.Warnings) == 0 {
			t.Errorf("%d: %s", theatre, p.Manifest.Counts.Says)
		}
	}
}

// Small months of issue and everyday life: nothing, one case, only withdrawn.
func TestSmallMonths(t *testing.T) {
	p := build(t, input(nil), keyed())
	if len(p.Exceptions) != 0 || p.Disclosure != nil || len(p.Warnings) == 0 {
		t.Errorf("%+v", p.Warnings)
	}
	if problems, err := Verify(folder(t, p)); err != nil || len(problems) != 0 {
		t.Errorf("%v %v", problems, err)
	}
	_, err := Build(input(crowd(t, 1)), keyed())
	var refusal *disclosure.Refusal
	if !errors.Is(err, ErrRefused) || !errors.As(err, &refusal) || refusal.Rows != 1 {
		t.Errorf("one case: %v", err)
	}
	o := keyed()
	o.HoldBack = true
	p = build(t, input(crowd(t, 1)), o)
	if len(p.Exceptions) != 1 || p.Exceptions[0].Reason != suppressed || p.Manifest.Counts.HeldBack[suppressed] != 1 || p.Manifest.Counts.Sent != 0 {
		t.Errorf("%+v", p.Exceptions)
	}
	gone := crowd(t, 3)
	for i := range gone {
		gone[i].State, gone[i].Cells, gone[i].Visits = Withdrawn, nil, nil
	}
	p = build(t, input(gone), keyed())
	if len(p.Exceptions) != 3 || p.Manifest.Rows["operations.new"] != 0 {
		t.Errorf("%+v", p.Manifest)
	}
}

// Both eyes on one day, an eye operated on twice, and a graft after a graft are
// each an operation with its own key; the person's key is one.
func TestOnePersonSeveralOperations(t *testing.T) {
	list := crowd(t, 40)
	for i := 1; i < 4; i++ {
		list[i].Person = list[0].Person
	}
	o := keyed()
	o.MaxSuppressed = 0.5
	p := build(t, input(list), o)
	lines := records(t, folder(t, p), "operations.csv")
	keys, persons := columnOf(t, lines, "row_key"), columnOf(t, lines, "person_key")
	slices.Sort(keys)
	if len(slices.Compact(keys)) != len(lines)-1 {
		t.Error("two operations share a key")
	}
	if p.Disclosure.Before.Persons != 37 {
		t.Errorf("%d people", p.Disclosure.Before.Persons)
	}
	if want := registry.PersonKey(testKey, list[0].Person); slices.Contains(persons, want) != (p.Disclosure.After.Persons == 37) {
		t.Error("the person's key is neither there nor held back")
	}
}

// Each refusal names what is wrong and nothing else.
func TestBadInput(t *testing.T) {
	good := func() (Input, Options) { return input(crowd(t, 20)), keyed() }
	for name, c := range map[string]struct {
		change func(in *Input, o *Options)
		want   error
	}{
		"no mode":       {func(_ *Input, o *Options) { o.Mode = "" }, ErrMode},
		"short key":     {func(_ *Input, o *Options) { o.Key = o.Key[:31] }, ErrKey},
		"no randomness": {func(_ *Input, o *Options) { o.Mode = SafeHarbor }, ErrRandom},
		"empty randomness": {func(_ *Input, o *Options) {
			*o = Options{Mode: SafeHarbor, Keys: NewKeyMap(), Rand: strings.NewReader("x")}
		}, ErrRandom},
		"thirteenth month": {func(in *Input, _ *Options) { in.Period.Month = 13 }, ErrPeriod},
		"least count":      {func(_ *Input, o *Options) { o.MinCell = 3 }, ErrMinCell},
		"theatre":          {func(in *Input, _ *Options) { in.TheatreCount = 1 << 40 }, ErrTheatre},
		"no operations":    {func(in *Input, _ *Options) { in.Operations = nil }, ErrInput},
		"case twice": {func(in *Input, _ *Options) {
			l := crowd(t, 20)
			l[1].Case = l[0].Case
			in.Operations = Operations(l...)
		}, ErrInput},
		"no person": {func(in *Input, _ *Options) { l := crowd(t, 20); l[1].Person = ""; in.Operations = Operations(l...) }, ErrInput},
		"too few cells": {func(in *Input, _ *Options) {
			l := crowd(t, 20)
			l[1].Cells = l[1].Cells[1:]
			in.Operations = Operations(l...)
		}, ErrInput},
		"formula in a cell": {func(in *Input, _ *Options) {
			l := crowd(t, 20)
			l[1].Cells[9] = "=1+1"
			in.Operations = Operations(l...)
		}, ErrInput},
		"name in a cell": {func(in *Input, _ *Options) {
			l := crowd(t, 20)
			l[1].Cells[3] = "Calloway"
			in.Operations = Operations(l...)
		}, ErrInput},
		"key in a cell": {func(in *Input, _ *Options) {
			l := crowd(t, 20)
			l[1].Cells[0] = registry.RowKey(testKey, "x")
			in.Operations = Operations(l...)
		}, ErrInput},
		"damaged sent row":  {func(in *Input, _ *Options) { in.Sent = []Sent{{Kind: OperationRow, Key: "r"}} }, ErrInput},
		"unchecked profile": {func(_ *Input, o *Options) { o.Profile = &Profile{Name: "x"} }, nil},
		"stream fails": {func(in *Input, _ *Options) {
			in.Operations = func(y func(Operation, error) bool) { y(Operation{}, ErrPackage) }
		}, ErrPackage},
	} {
		in, o := good()
		c.change(&in, &o)
		_, err := Build(in, o)
		var fault *ProfileError
		if c.want != nil && !errors.Is(err, c.want) || c.want == nil && !errors.As(err, &fault) {
			t.Errorf("%s: %v", name, err)
		}
		if err != nil && (strings.Contains(err.Error(), "Calloway") || strings.Contains(err.Error(), "=1+1")) {
			t.Errorf("%s: the error repeats what was entered", name)
		}
	}
}

// The same month made again is the same, byte for byte, in both modes and in any
// order of the operations.
func TestSameMonthSameBytes(t *testing.T) {
	list := crowd(t, 40)
	back := slices.Clone(list)
	slices.Reverse(back)
	keys := NewKeyMap()
	first := folder(t, build(t, input(list), random(1, keys)))
	if keys.Len() == 0 {
		t.Fatal("no key was drawn")
	}
	kept := NewKeyMap()
	if err := kept.Add(keys.List()...); err != nil {
		t.Fatal(err)
	}
	for name, pair := range map[string][2]fstest.MapFS{
		"random keys": {first, folder(t, build(t, input(back), random(2, kept)))},
		"keyed":       {folder(t, build(t, input(list), keyed())), folder(t, build(t, input(back), keyed()))},
	} {
		if len(pair[0]) != len(pair[1]) {
			t.Errorf("%s: %d and %d files", name, len(pair[0]), len(pair[1]))
		}
		for file, data := range pair[0] {
			if other, ok := pair[1][file]; !ok || !bytes.Equal(data.Data, other.Data) {
				t.Errorf("%s: %s differs", name, file)
			}
		}
	}
}

// Kept at home as JSON, an operation is the same.
func TestOperationSurvivesKeeping(t *testing.T) {
	list := crowd(t, 20)
	data, err := json.Marshal(list)
	if err != nil {
		t.Fatal(err)
	}
	var again []Operation
	if err := json.Unmarshal(data, &again); err != nil {
		t.Fatal(err)
	}
	a, b := folder(t, build(t, input(list), keyed())), folder(t, build(t, input(again), keyed()))
	if !bytes.Equal(a[ManifestName].Data, b[ManifestName].Data) {
		t.Error("the package differs")
	}
}

// A coarser indication is not given back by a column that only some indications
// have, and the year is the first of the years that it stands for (own rule, no
// source).
func TestCoarserColumnsGiveNothingBack(t *testing.T) {
	list := crowd(t, 48)
	for i := range list {
		list[i].Cells[columnPlace("operation_year")] = []string{"2024", "2025", "2026", "2025"}[i%4]
	}
	in := input(list)
	in.Steps = map[string]int{"operation_year": 1, "age_band": 3, "sex": 1, "eye": 1, "indication": 1, "true_state": 1}
	p := build(t, in, keyed())
	lines := records(t, folder(t, p), "operations.csv")
	get := func(name string) []string {
		out := slices.Clone(columnOf(t, lines, name))
		slices.Sort(out)
		return slices.Compact(out)
	}
	for name, want := range map[string][]string{"age_band": {"WH"}, "sex": {"WH"}, "eye": {"WH"}, "kc_stage": {"WH"}, "hydrops": {"WH"}, "true_state": {"WH"}, "tissue_release": {"WH"}, "operation_year": {"2024", "2026"}, "operation_year_span": {"2"}} {
		if got := get(name); !slices.Equal(got, want) {
			t.Errorf("%s: %v", name, got)
		}
	}
	for _, code := range get("indication") {
		if code != "any ectasia" && code != "any dystrophy" && code != "any scar" && code != "regraft or other" && code != "active disease" {
			t.Errorf("indication %s", code)
		}
	}
	// Finer steps when they are asked for; every row that changes says why.
	in.Sent, in.TheatreCount = accept(nil, p), -1
	o := keyed()
	o.Refine, o.MaxSuppressed = true, 0.5
	finer := build(t, in, o)
	changed := 0
	for c := range finer.Changes {
		if c.Kind == OperationRow && c.Change == "corrected" {
			if changed++; c.Reason != "detail-changed" || c.Revision != 2 || c.Replaces != 1 {
				t.Fatalf("%+v", c)
			}
		}
	}
	if changed == 0 {
		t.Error("no row became finer")
	}
}
