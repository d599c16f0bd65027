package figures

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// Every row of the file was worked out by general-purpose libraries (lifelines,
// statsmodels, NumPy, SciPy); their versions stand in the file's first line. The
// script that writes it is .ci/outside/figures/vectors.py.
func TestAgainstVectorsFile(t *testing.T) {
	data, err := os.ReadFile("testdata/vectors.tsv")
	if err != nil {
		t.Fatal(err)
	}
	lines := strings.Split(strings.TrimSuffix(string(data), "\n"), "\n")
	if len(lines) < 3 || !strings.HasPrefix(lines[0], "# lifelines ") || lines[1] != "kind\tinput\tresult" {
		t.Fatal("the header does not name the libraries or the columns")
	}
	kinds := map[string]func(*testing.T, string) string{
		"wilson":   func(t *testing.T, in string) string { return interval(t, in, Wilson) },
		"exact":    func(t *testing.T, in string) string { return interval(t, in, Exact) },
		"survival": survivalText, "summary": summaryText, "lens": lensText, "bounds": boundsText,
	}
	rows := map[string]int{}
	for i, line := range lines[2:] {
		f := strings.Split(line, "\t")
		if len(f) != 3 || kinds[f[0]] == nil {
			t.Fatalf("line %d is not a row", i+3)
		}
		rows[f[0]]++
		if got := kinds[f[0]](t, f[1]); !near(got, f[2]) {
			t.Errorf("%s %s:\n got %s\nwant %s", f[0], f[1], got, f[2])
		}
	}
	want := map[string]int{"wilson": 60, "exact": 60, "survival": 29, "summary": 40, "lens": 40, "bounds": 60}
	if fmt.Sprint(rows) != fmt.Sprint(want) {
		t.Errorf("rows %v, want %v", rows, want)
	}
}

// near compares the texts token by token: numbers with nine places within 2e-9,
// because libraries differ in the last place, everything else exactly.
func near(a, b string) bool {
	split := func(s string) []string {
		return strings.FieldsFunc(s, func(r rune) bool { return strings.ContainsRune("|,: ", r) })
	}
	x, y := split(a), split(b)
	if len(x) != len(y) {
		return false
	}
	for i := range x {
		if x[i] == y[i] {
			continue
		}
		p, err1 := strconv.ParseFloat(x[i], 64)
		q, err2 := strconv.ParseFloat(y[i], 64)
		if err1 != nil || err2 != nil || !strings.Contains(y[i], ".") || math.Abs(p-q) > 2e-9 {
			return false
		}
	}
	return true
}

func interval(t *testing.T, in string, f func(int, int) (Interval, error)) string {
	var r, n int
	if _, err := fmt.Sscanf(in, "%d/%d", &r, &n); err != nil {
		t.Fatal(err)
	}
	i, err := f(r, n)
	if err != nil {
		return err.Error()
	}
	return fmt.Sprintf("%.9f|%.9f", i.Lower, i.Upper)
}

// observations reads "9 13 13+": a plus is a censoring.
func observations(t *testing.T, in string) []Observation {
	t.Helper()
	var out []Observation
	for _, f := range strings.Fields(in) {
		v, err := strconv.ParseFloat(strings.TrimSuffix(f, "+"), 64)
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, Observation{Time: v, Event: !strings.HasSuffix(f, "+")})
	}
	return out
}

func survivalText(t *testing.T, in string) string {
	c, err := KaplanMeier(observations(t, in))
	if err != nil {
		return err.Error()
	}
	var steps []string
	for _, s := range c.Steps {
		se, limits := "-", "-"
		if s.Events > 0 && s.Survival > 0 {
			se = fmt.Sprintf("%.9f", s.SE)
		}
		if s.Limits {
			limits = fmt.Sprintf("%.9f,%.9f", s.Lower, s.Upper)
		}
		steps = append(steps, fmt.Sprintf("%g:%d:%d:%d:%.9f:%s:%s", s.Time, s.AtRisk, s.Events, s.Censored, s.Survival, se, limits))
	}
	median := "-"
	if m, ok := c.Median(); ok {
		median = fmt.Sprintf("%g", m)
	}
	return strings.Join(steps, " ") + "|" + median
}

func summaryText(t *testing.T, in string) string {
	var values []float64
	for _, f := range strings.Fields(in) {
		v, err := strconv.ParseFloat(f, 64)
		if err != nil {
			t.Fatal(err)
		}
		values = append(values, v)
	}
	s, _ := Describe(values)
	return fmt.Sprintf("%.9f|%.9f|%.9f|%.9f|%.9f", s.Mean, s.SD, s.Q1, s.Median, s.Q3)
}

func lensText(t *testing.T, in string) string {
	var vectors []Vector
	for _, f := range strings.Fields(in) {
		var l Lens
		if _, err := fmt.Sscanf(f, "%f/%f/%f", &l.Sphere, &l.Cylinder, &l.Axis); err != nil {
			t.Fatal(err)
		}
		v, err := l.PowerVector()
		if err != nil {
			t.Fatal(err)
		}
		vectors = append(vectors, v)
	}
	mean, _ := MeanVector(vectors)
	l := mean.Lens()
	return fmt.Sprintf("%.9f|%.9f|%.9f", l.Sphere, l.Cylinder, math.Mod(l.Axis, 180))
}

func boundsText(t *testing.T, in string) string {
	var p struct {
		Tables []struct {
			Counts             [][]int
			List               bool
			Hide               [][]bool
			HideRows, HideCols []bool
		}
		Grand bool
	}
	// The names of the file have underscores.
	if err := json.Unmarshal([]byte(strings.NewReplacer("hide_rows", "HideRows", "hide_cols", "HideCols").Replace(in)), &p); err != nil {
		t.Fatal(err)
	}
	var tables []Table
	var masked []MaskedTable
	for _, x := range p.Tables {
		table := Table{Total: "n", Rows: make([]string, len(x.Counts)), Counts: x.Counts}
		m := MaskedTable{Grand: Cell{Masked: p.Grand}, Cells: make([][]Cell, len(x.Counts))}
		if !x.List {
			table.Cols = make([]string, len(x.Counts[0]))
		}
		for i, row := range x.Hide {
			for _, h := range row {
				m.Cells[i] = append(m.Cells[i], Cell{Masked: h})
			}
		}
		for _, h := range x.HideRows {
			m.RowTotals = append(m.RowTotals, Cell{Masked: h})
		}
		for _, h := range x.HideCols {
			m.ColTotals = append(m.ColTotals, Cell{Masked: h})
		}
		tables, masked = append(tables, table), append(masked, m)
	}
	ranges, err := Ranges(tables, masked)
	if err != nil {
		return err.Error()
	}
	var out [][]any
	for _, r := range ranges {
		// The grand total is one count; the file has it once, under table 0.
		if r.Row < 0 && r.Col < 0 && r.Table > 0 {
			continue
		}
		high := any(r.High)
		if r.Open {
			high = nil
		}
		out = append(out, []any{r.Table, r.Row, r.Col, r.Low, high})
	}
	slices.SortFunc(out, func(a, b []any) int {
		for i := range 3 {
			if d := a[i].(int) - b[i].(int); d != 0 {
				return d
			}
		}
		return 0
	})
	if out == nil {
		return "[]"
	}
	text, err := json.Marshal(out)
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}

// Median is the earliest time at which survival is one half or less; false when
// the curve never falls so far.
func (c Curve) Median() (float64, bool) {
	for _, s := range c.Steps {
		// 1e-12 absorbs the rounding of products such as 3/4 · 2/3.
		if s.Survival <= 0.5+1e-12 {
			return s.Time, true
		}
	}
	return 0, false
}
