package registry

import (
	"errors"
	"strings"
	"testing"

	"graftnote/schema"
)

func visitCell(t testing.TB, cells []string, name string) string {
	t.Helper()
	for i, c := range VisitColumns() {
		if c.Name == name {
			return cells[i]
		}
	}
	t.Fatalf("no column %s", name)
	return ""
}

// By hand from the sample: surgery on 7 October 2025; visits after 30, 177 and 366
// days are 0.99, 5.82 and 12.02 months of 30.4375 days; the first suture came out
// after 127 days (4.17), the rejection was seen after 149 (4.90). -3.00/-4.50 has a
// spherical equivalent of -5.25.
func TestVisitValues(t *testing.T) {
	c := checked(t, sample(t, "14-viscodissection-visits.yaml"))
	want := []map[string]string{
		{"months": "1", "refraction_se": "NR", "first_suture_out_months": "NS", "corrected_logmar": "0.50", "clarity": "1"},
		{"months": "6", "refraction_se": "-5.25", "refraction_cyl_d": "4.50", "first_suture_out_months": "4", "rejection": "subepithelial", "rejection_months": "5", "late_events": "suture-problem"},
		{"months": "12", "sutures_out": "8", "visit_host_ecd": "2350", "failure_months": "NS", "graft_status": "surviving"},
	}
	for i, w := range want {
		cells, err := VisitValues(c, i)
		if err != nil {
			t.Fatal(err)
		}
		for name, text := range w {
			if got := visitCell(t, cells, name); got != text {
				t.Errorf("visit %d, %s: %s, want %s", i+1, name, got, text)
			}
		}
	}
	for _, i := range []int{-1, 3} {
		if _, err := VisitValues(c, i); !errors.Is(err, ErrUnchecked) {
			t.Errorf("visit %d: %v", i, err)
		}
	}
	if _, err := VisitValues(schema.Checked{}, 0); !errors.Is(err, ErrUnchecked) {
		t.Errorf("%v", err)
	}
}

// Of a patient who was lost or had died the row says so and when; what would have
// been examined does not apply. It is not silence.
func TestUnseenVisitValues(t *testing.T) {
	text := sample(t, "01-double-bubble.yaml") + "visits:\n  - {date: 2026-10-08, status: lost}\n  - {date: 2026-11-08, status: died}\n"
	c := checked(t, text)
	for i, status := range []string{"lost", "died"} {
		cells, err := VisitValues(c, i)
		if err != nil {
			t.Fatal(err)
		}
		for name, want := range map[string]string{"graft_status": status, "months": []string{"1", "2"}[i], "corrected_logmar": "NA", "corrected_class": "NA", "clarity": "NA", "refraction_se": "NA", "rejection": "NA"} {
			if got := visitCell(t, cells, name); got != want {
				t.Errorf("%s, %s: %s, want %s", status, name, got, want)
			}
		}
	}
}

// Nothing private, no text and no date can become a column of a visit, whatever
// visits.yaml says (45 CFR 164.514(b)(2)(i)(C)).
func TestVisitGate(t *testing.T) {
	for name, text := range map[string]string{
		"date":          "visits: [{name: x, title: x, how: field, from: visits.date}]",
		"not a visit":   "visits: [{name: x, title: x, how: field, from: patient.sex}]",
		"not a date":    "visits: [{name: x, title: x, how: months, from: visits.clarity}]",
		"no such field": "visits: [{name: x, title: x, how: field, from: visits.mood}]",
		"no such way":   "visits: [{name: x, title: x, how: text, from: visits.status}]",
		"twice":         "visits: [{name: x, title: x, how: field, from: visits.status}, {name: x, title: x, how: field, from: visits.haze}]",
		"unknown key":   "visits: [{name: x, as-it-is: true}]",
	} {
		if _, err := buildVisits(load(), []byte(text)); err == nil {
			t.Errorf("%s: accepted", name)
		}
	}
	for _, c := range VisitColumns() {
		if strings.Contains(c.Name, "date") || c.Numeric() == (len(c.Codes) > 0) && c.Pattern == "" {
			t.Errorf("column %s", c.Name)
		}
	}
}

// Values are the cells of Make, but for the two keys.
func TestValuesAreTheRow(t *testing.T) {
	c := checked(t, sample(t, firstSample))
	row, err := Make(c, Options{Key: testKey})
	if err != nil {
		t.Fatal(err)
	}
	cells, err := Values(c)
	if err != nil {
		t.Fatal(err)
	}
	for i, col := range Columns() {
		if want := row.cells[i]; col.Name == "row_key" || col.Name == "person_key" {
			if cells[i] != "" {
				t.Errorf("%s is made without a key", col.Name)
			}
		} else if cells[i] != want {
			t.Errorf("%s: %s, want %s", col.Name, cells[i], want)
		}
	}
	draft := checked(t, changed(t, firstSample, "born: 2002-03-14, ", ""))
	if _, err := Values(draft); !errors.Is(err, ErrDraft) {
		t.Errorf("%v", err)
	}
}
