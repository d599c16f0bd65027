package month

import (
	"encoding/csv"
	"regexp"
	"slices"
	"strings"
	"testing"
	"testing/fstest"

	"graftnote/schema"
)

// readingCopy takes a copy for reading apart: its headings, its rows and what was
// left out.
func readingCopy(t *testing.T, f fstest.MapFS, table string) (head []string, rows, left [][]string) {
	t.Helper()
	first, rest, _ := strings.Cut(string(f[ReadingFolder+"/"+table+".csv"].Data), "\r\n")
	if !strings.HasPrefix(first, "\ufeffFOR READING ONLY.") || strings.Contains(first, ";") {
		t.Errorf("%s: the first line is %q", table, first)
	}
	body, tail, _ := strings.Cut(rest, "\r\n\r\n")
	read := func(text string) [][]string {
		r := csv.NewReader(strings.NewReader(text))
		r.Comma = ';'
		all, err := r.ReadAll()
		if err != nil {
			t.Fatal(err)
		}
		return all
	}
	all := read(body)
	return all[0], all[1:], read(tail)
}

// The copy for people has words instead of names and codes, and leaves out what
// has no value. A spreadsheet finds nothing in it to run or to turn into a date.
func TestReadingCopy(t *testing.T) {
	bare := regexp.MustCompile(`^-?[0-9]+[.,][0-9]+$`)
	missing := allMissing(load())
	for _, form := range []string{"", "corvale", "northmere"} {
		o := keyed()
		if form != "" {
			o.Profile = profile(t, form)
		}
		p := build(t, input(crowd(t, 60)), o)
		f := folder(t, p)
		for _, table := range p.tables {
			head, rows, left := readingCopy(t, f, table.name)
			if len(rows) != len(table.lines) || len(head)+len(left) != len(table.columns) || form == "" && len(left) == 0 {
				t.Errorf("%s %s: %d rows, %d columns and %d left out of %d", form, table.name, len(rows), len(head), len(left), len(table.columns))
			}
			for _, l := range left {
				if !strings.HasPrefix(l[0], "Left out: with") || !strings.Contains(l[1], ": ") || slices.Contains(head, l[1]) {
					t.Errorf("%s %s: left out: %q", form, table.name, l)
				}
			}
			for _, h := range head {
				if !strings.Contains(h, ": ") || strings.Contains(h, "_") {
					t.Errorf("%s %s: heading %q", form, table.name, h)
				}
			}
			if names := slices.Compact(slices.Sorted(slices.Values(head))); len(names) != len(head) {
				t.Errorf("%s %s: two columns have one heading", form, table.name)
			}
			for _, cell := range slices.Concat(slices.Concat(rows...), head) {
				switch {
				case cell == "" || strings.ContainsRune("=+-@\t\r＝＋－＠", []rune(cell)[0]):
					t.Errorf("%s %s: %q is empty or starts like a formula", form, table.name, cell)
				case bare.MatchString(cell) || dateLike.MatchString(cell):
					t.Errorf("%s %s: %q becomes a date", form, table.name, cell)
				case slices.Contains(missing, cell):
					t.Errorf("%s %s: %q is a code", form, table.name, cell)
				}
			}
		}
	}
}

// Cells and their words, by hand.
func TestReadingWords(t *testing.T) {
	o := keyed()
	o.K = 12 // a column or two can't be kept
	f := folder(t, build(t, input(crowd(t, 60)), o))
	head, rows, left := readingCopy(t, f, "operations")
	plain := records(t, f, "operations.csv")
	for _, c := range []struct {
		name, heading string
		words         map[string]string
	}{
		{"host_diameter_mm", "Trephination of the host: Host diameter (mm)", map[string]string{"7.75": "7.75 mm", "NA": "does not apply"}},
		{"refraction_before_se", "Measurements before surgery: Refraction as spherical equivalent (D)", map[string]string{"-6.50": "minus 6.50 D", "NS": "not stated"}},
		{"corrected_before_logmar", "Measurements before surgery: Corrected distance acuity (logMAR)", map[string]string{"0.70": "0.70 logMAR", "NC": "no number"}},
		{"operation_year", "Operation day: Year of surgery", map[string]string{"2026": "2026"}},
		{"suture_gauge", "Sutures: Suture size", map[string]string{"size 10-0": "size 10-0"}},
		{"change", "Row: Change", map[string]string{"new": "new"}},
		{"reason", "Row: Reason", map[string]string{"first": "sent for the first time"}},
		{"attempts", "Worked out: Attempts", map[string]string{"1": "1"}},
		{"techniques_tried", "Procedure: Techniques tried in order", map[string]string{"manual": "manual dissection"}},
	} {
		met := false
		at := slices.Index(head, c.heading)
		if at < 0 {
			t.Errorf("no heading %s in %q", c.heading, head)
			continue
		}
		for i, cell := range columnOf(t, plain, c.name) {
			want, known := c.words[cell]
			if known && rows[i][at] != want {
				t.Errorf("%s: %s reads %s", c.name, cell, rows[i][at])
			}
			met = met || known
		}
		if !met {
			t.Errorf("%s: none of the cells is met", c.name)
		}
	}
	head, rows, _ = readingCopy(t, f, "followups")
	at := slices.Index(head, "Follow-up: Months since surgery")
	for i, months := range columnOf(t, records(t, f, "followups.csv"), "months") {
		want := months + " months"
		if months == "1" {
			want = "1 month"
		}
		if at < 0 || rows[i][at] != want {
			t.Fatalf("%d: %s months read %q", at, months, rows[i])
		}
	}
	// Every code of the form has words, except where they begin with a figure.
	operations, visits := ownForm()
	for _, table := range []*table{operations, visits} {
		for i := range table.columns {
			c := readingColumn{&table.columns[i], table.codes, map[string]string{}}
			for _, w := range c.Codes {
				if got := c.words(w.Code); got != w.Words && got != w.Code || got == w.Code && w.Words != w.Code && c.role != "change" && strings.IndexAny(w.Words, "0123456789") != 0 {
					t.Errorf("%s: %s reads %s", c.Name, w.Code, got)
				}
			}
			if c.Numeric() && c.Places > 0 && c.readingUnit() == "" {
				t.Errorf("%s: a figure with a point has no unit", c.Name)
			}
		}
	}
	var held, empty []string
	for _, l := range left {
		if l[0] == load().Says["reading-withheld"] {
			held = append(held, l[1])
		} else {
			empty = append(empty, l[1])
		}
	}
	if len(held) == 0 || len(empty) == 0 {
		t.Errorf("withheld %q, empty %q", held, empty)
	}
}

// Several codes in a cell become several words, with a registry's separator too.
func TestReadingSeveral(t *testing.T) {
	codes := []schema.CodeWord{{Code: "a-b", Words: "first word"}, {Code: "c", Words: "second word"}}
	var c column
	c.Type, c.Several, c.Codes = "string", true, codes
	r := readingColumn{&c, nil, map[string]string{}}
	for cell, want := range map[string]string{"a-b": "first word", "a-b|c": "first word, second word", "c/a-b": "second word, first word", "c d": "c d"} {
		if got := r.words(cell); got != want {
			t.Errorf("%s reads %s", cell, got)
		}
	}
}
