package pdf

import (
	"bytes"
	"math"
	"slices"
	"strings"
	"testing"

	"graftnote/note"
)

// audit is a report with every kind of block, an odd chart among them.
func audit() note.Report {
	rows := [][]string{}
	for range 90 {
		rows = append(rows, []string{"Any perforation", "17", "160", "10.6"}, []string{"Macroperforation", "*", "160", "*"})
	}
	line := note.Shape{Points: []note.Point{{X: 10, Y: 90}, {X: 190, Y: 10}}, Width: 1, Dash: []float64{4, 2}}
	bad := note.Shape{Points: []note.Point{{X: math.NaN(), Y: 1}, {X: 2, Y: math.Inf(1)}}, Width: 1}
	chart := &note.Chart{Caption: "A line that rises", Alt: "It rises.", Width: 200, Height: 100, Shapes: []note.Shape{
		{Points: []note.Point{{X: 0, Y: 0}, {X: 200, Y: 0}, {X: 200, Y: 100}, {X: 0, Y: 100}}, Closed: true, Width: 0.5, Grey: 130},
		{Points: []note.Point{{X: 50, Y: 50}, {X: 55, Y: 50}, {X: 55, Y: 55}}, Filled: true},
		line, bad,
		{Text: "upright", At: note.Point{X: 20, Y: 80}, Turn: 90, Size: 9, Length: 30},
		{Text: "level", At: note.Point{X: 60, Y: 95}, Size: 9, Length: 20, Bold: true}}}
	return note.Report{Language: "en-GB", Title: "Audit report", Subtitle: "November 2026", Name: "Audit report, November 2026",
		Facts: []note.Item{{Label: "Operations", Value: "160"}}, Alerts: []string{"Counts from 1 to 10 are hidden."}, Cautions: []string{"Eyes are counted, not people."},
		Sections: []note.ReportSection{{Key: "a", Title: "First part", Blocks: []note.ReportBlock{{Paragraph: "Some words."}, {Caution: "No certificate."}, {Chart: chart}, {List: []string{"one source", "another"}}}},
			{Key: "b", Title: "Second part", Blocks: []note.ReportBlock{{Table: &note.ReportTable{Caption: "Happenings", Header: []string{"What", "Eyes", "Of", "Per cent"}, Rows: rows, Notes: []string{"a note below"}}}}}}}
}

func rendered(t *testing.T, p note.Report, o Options) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := RenderReport(&b, p, o); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// Nothing is lost on the way to paper, and each page has its foot and number
// (common practice, no source).
func TestReportPages(t *testing.T) {
	for _, paper := range []Paper{A4, Letter} {
		raw := rendered(t, audit(), Options{Paper: paper, Made: made})
		pages := open(t, raw).words()
		if len(pages) < 3 {
			t.Fatalf("%d pages", len(pages))
		}
		all := ""
		for i, page := range pages {
			words := text(page)
			all += words
			if !strings.Contains(words, "Eyes are counted, not people.") || !strings.Contains(words, "Audit report, November 2026") {
				t.Errorf("page %d has no foot", i+1)
			}
			if i > 0 && strings.Contains(words, "perforation") && !strings.Contains(words, "Per cent") {
				t.Errorf("page %d has a table without its header", i+1)
			}
		}
		for _, want := range []string{"READ FIRST", "Some words.", "No certificate.", "A line that rises", "upright", "level", "one source", "Happenings", "a note below", "End of report"} {
			if !strings.Contains(all, want) {
				t.Errorf("%s: lost %q", paper.Name, want)
			}
		}
		if n := strings.Count(all, "Any perforation"); n != 90 {
			t.Errorf("%d of 90 rows", n)
		}
		for _, content := range open(t, raw).contents() {
			if strings.Contains(content, "NaN") || strings.Contains(content, "Inf") {
				t.Error("a number that is none stands in the page")
			}
		}
	}
}

func TestReportIsTheSameEveryTime(t *testing.T) {
	first := rendered(t, audit(), Options{Made: made})
	if !bytes.Equal(first, rendered(t, audit(), Options{Made: made})) {
		t.Error("two files of one report differ")
	}
	r, err := NewRenderer()
	if err != nil {
		t.Fatal(err)
	}
	if _, err := r.Render(simple(), Options{}); err != nil {
		t.Fatal(err)
	}
	if again, err := r.RenderReport(audit(), Options{Made: made}); err != nil || !bytes.Equal(first, again) {
		t.Errorf("a note before it changes the report (%v)", err)
	}
}

// A heading stays on the page of the table that it heads, wherever it comes to
// stand (common practice, no source).
func TestHeadingStaysWithItsTable(t *testing.T) {
	var rows [][]string
	for range 12 {
		rows = append(rows, []string{"one of twelve", "1", "12"})
	}
	table := &note.ReportTable{Caption: "Twelve rows", Header: []string{"What", "Eyes", "Of"}, Rows: rows}
	for n := range 60 {
		p := note.Report{Language: "en-GB", Title: "Audit report", Name: "Audit report", Sections: []note.ReportSection{
			{Key: "a", Title: "First part", Blocks: []note.ReportBlock{{List: slices.Repeat([]string{"a line before"}, n+1)}}},
			{Key: "b", Title: "Second part", Blocks: []note.ReportBlock{{Paragraph: "Words between."}, {Table: table}}}}}
		for _, page := range open(t, rendered(t, p, Options{Made: made})).words() {
			words := text(page)
			if strings.Contains(words, "Second part") != strings.Contains(words, "Twelve rows") {
				t.Errorf("%d lines before: the heading stands alone", n+1)
			}
		}
	}
}

// The file is named after the report, by title and metadata alike.
func TestReportMetadata(t *testing.T) {
	raw := rendered(t, audit(), Options{})
	if n := bytes.Count(raw, []byte("Audit report, November 2026")); n < 2 || bytes.Contains(raw, []byte("Operative note")) {
		t.Errorf("the name stands %d times", n)
	}
	if err := RenderReport(&bytes.Buffer{}, audit(), Options{Paper: Paper{Name: "A5"}}); err != ErrPaper {
		t.Error(err)
	}
}
