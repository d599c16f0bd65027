package report

import (
	"bytes"
	"encoding/csv"
	"encoding/xml"
	"errors"
	"io"
	"reflect"
	"regexp"
	"strings"
	"testing"

	"graftnote/note"
)

func tableOf(t *testing.T, d Data, o Options) Table {
	t.Helper()
	out, err := Series(d, o)
	if err != nil {
		t.Fatal(err)
	}
	return out
}

func written(t *testing.T, write func(io.Writer) error) string {
	t.Helper()
	var b bytes.Buffer
	if err := write(&b); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// hostile rows carry codes that a spreadsheet, LaTeX, Markdown or a browser would
// run.
func hostile() Data {
	var d Data
	for i, s := range []string{"=1+1", "+cmd|' /C calc'!A0", "@SUM(A1)", "-2+3", "\t=1", `\input{/etc/passwd}`, "100 % & $x_1^2$ ~{}#", "<script>alert(1)</script>", "a|b\nc", "＝1"} {
		d.Rows = append(d.Rows, Cells{"row_key": string(rune('a' + i)), "indication": s, "procedure_performed": "double-bubble"})
	}
	return d
}

// RFC 4180: what is written is read back as it was, apart from the apostrophe
// that keeps a text from being a formula (CSV injection; the characters from
// memory, unverified).
func TestCSV(t *testing.T) {
	for _, d := range []Data{sample(1, 60), hostile()} {
		table := tableOf(t, d, Options{Unmasked: true})
		text := written(t, table.CSV)
		if strings.Count(text, "\r\n") < len(table.Rows) {
			t.Error("lines do not end in CRLF")
		}
		rows, err := csv.NewReader(strings.NewReader(text)).ReadAll()
		if err != nil || len(rows) != len(table.Rows)+1 || !reflect.DeepEqual(rows[0], table.Header) {
			t.Fatalf("%d rows, %v", len(rows), err)
		}
		number := regexp.MustCompile(`^-?[0-9.]+$`)
		for i, row := range rows[1:] {
			for j, cell := range row {
				// A line feed inside a cell is written as CRLF and read back as a line feed.
				if strings.TrimPrefix(cell, "'") != strings.TrimPrefix(table.Rows[i][j], "'") {
					t.Errorf("%q came back as %q", table.Rows[i][j], cell)
				}
				if cell != "" && strings.ContainsAny(cell[:1], "=+-@\t\r") && !number.MatchString(cell) {
					t.Errorf("a spreadsheet runs %q", cell)
				}
			}
		}
	}
}

// GitHub Flavored Markdown, section 4.10: the header and delimiter rows have as
// many cells as each row; a pipe inside a cell is escaped.
func TestMarkdown(t *testing.T) {
	table := tableOf(t, hostile(), Options{Unmasked: true})
	lines := strings.Split(written(t, table.Markdown), "\n")
	rows := 0
	bar := regexp.MustCompile(`(^|[^\\])\|`)
	for _, l := range lines {
		if strings.HasPrefix(l, "|") {
			rows++
			if n := len(bar.FindAllString(l, -1)); n != len(table.Header)+1 {
				t.Errorf("%d bars: %s", n, l)
			}
		}
		if strings.Contains(l, "<script") {
			t.Errorf("live markup: %s", l)
		}
	}
	if rows != len(table.Rows)+2 {
		t.Errorf("%d lines of table for %d rows", rows, len(table.Rows))
	}
}

// LaTeX's ten special characters (Lamport, LaTeX, 1994, section 2.1) never reach
// a row unescaped, so no command but ours runs and every row has its columns.
func TestLaTeX(t *testing.T) {
	table := tableOf(t, hostile(), Options{Unmasked: true})
	text := written(t, table.LaTeX)
	ours := regexp.MustCompile(`\\(textbackslash|textasciitilde|textasciicircum|textless|textgreater|textbar|textquotedbl|textdegree|textmu|dag)\{\}|\\\(\\pm\\\)|\\[&%$#_{}]|\{[\[\]]\}`)
	body := 0
	for _, l := range strings.Split(text, "\n") {
		row, ok := strings.CutSuffix(l, ` \\`)
		if !ok {
			continue
		}
		body++
		plain := ours.ReplaceAllString(row, "")
		if strings.Count(plain, " & ") != len(table.Header)-1 {
			t.Errorf("%d columns: %s", strings.Count(plain, " & ")+1, row)
		}
		if strings.ContainsAny(strings.ReplaceAll(plain, " & ", ""), `\&%$#_{}~^`) {
			t.Errorf("unescaped: %s", row)
		}
	}
	if body != len(table.Rows)+2 {
		t.Errorf("%d lines for %d rows", body, len(table.Rows))
	}
	if strings.Contains(text, `\input`) {
		t.Error("a command of the rows stands in the file")
	}
}

// The page is well-formed, needs no other file, and is readable without sight:
// WCAG 2.2, success criteria 1.1.1 (text for each drawing) and 1.3.1 (captions
// and headings of tables).
func TestHTML(t *testing.T) {
	d := hostile()
	more := sample(4, 70)
	d.Rows, d.FollowUps, d.Ordered = append(d.Rows, more.Rows...), more.FollowUps, true
	d.Counts = &Counts{Theatre: -1, Operated: len(d.Rows), Signed: len(d.Rows), Sent: len(d.Rows)}
	r := build(t, d, Options{Unmasked: true, Site: `"><script>x</script>`})
	text := written(t, func(w io.Writer) error { return HTML(w, r) })
	if strings.Contains(text, "<script") || strings.Contains(text, "ZgotmplZ") {
		t.Error("something of the data is live in the page")
	}
	for _, word := range []string{"src=", "href=", "url(", "@import"} {
		if strings.Contains(text, word) {
			t.Errorf("the page asks for something else: %s", word)
		}
	}
	x := xml.NewDecoder(strings.NewReader(text))
	x.Strict, x.Entity = true, xml.HTMLEntity
	count := map[string]int{}
	var last string
	for {
		token, err := x.Token()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			t.Fatal(err)
		}
		e, ok := token.(xml.StartElement)
		if !ok {
			continue
		}
		name := e.Name.Local
		count[name]++
		attributes := map[string]string{}
		for _, a := range e.Attr {
			attributes[a.Name.Local] = a.Value
		}
		switch {
		case name == "svg" && (attributes["role"] != "img" || attributes["aria-label"] == ""):
			t.Error("a drawing without its text")
		case last == "table" && name != "caption":
			t.Error("a table without a caption")
		case name == "th" && attributes["scope"] == "":
			t.Error("a heading without its scope")
		case name == "html" && attributes["lang"] != "en-GB":
			t.Error("no language")
		}
		last = name
	}
	if count["svg"] != 4 || count["polyline"] < 50 || count["table"] < 12 || count["h1"] != 1 || count["text"] < 40 {
		t.Errorf("%v", count)
	}
}

// Charts are readable in grey: greys only, curves told apart by dashes, points by
// shape; everything lies on the chart.
func TestCharts(t *testing.T) {
	for _, o := range []Options{{Unmasked: true}, {Minimum: 5}} {
		charts := 0
		for _, s := range build(t, sample(1, 600), o).Sections {
			for _, b := range s.Blocks {
				if b.Chart == nil {
					continue
				}
				charts++
				dashed := 0
				for _, shape := range b.Chart.Shapes {
					for _, p := range append([]note.Point{shape.At}, shape.Points...) {
						if p.X < -1 || p.Y < -1 || p.X > b.Chart.Width+1 || p.Y > b.Chart.Height+1 {
							t.Errorf("%s: %v lies outside", s.Key, p)
						}
					}
					if shape.Text != "" && shape.Turn == 0 && shape.At.X+shape.Length > b.Chart.Width+1 {
						t.Errorf("%s: %q runs off the chart", s.Key, shape.Text)
					}
					if len(shape.Dash) > 0 {
						dashed++
					}
				}
				if dashed == 0 && s.Key != "events" {
					t.Errorf("%s: nothing is dashed", s.Key)
				}
			}
		}
		if charts != 4 {
			t.Errorf("%d charts", charts)
		}
	}
}

func TestFilter(t *testing.T) {
	d := sample(1, 160)
	f, err := ParseFilter([]string{"indication=keratoconus", "separation=complete|partial"}, d.Rows)
	if err != nil {
		t.Fatal(err)
	}
	want := 0
	for _, r := range d.Rows {
		if r.Cell("indication") == "keratoconus" && r.Cell("separation") != "none" {
			want++
		}
	}
	r, err := work(d, Options{Filter: f})
	if err != nil || len(r.all) != want || want == 0 {
		t.Errorf("%d operations, want %d (%v)", len(r.all), want, err)
	}
	for _, bad := range []string{"indication", "nosuch=x", "indication=nosuch", "=x", "indication="} {
		if _, err := ParseFilter([]string{bad}, d.Rows); !errors.Is(err, ErrFilter) {
			t.Errorf("%s: %v", bad, err)
		}
	}
	// Coarser codes of a package stand in rows only.
	if _, err := ParseFilter([]string{"indication=any ectasia"}, []Row{Cells{"indication": "any ectasia"}}); err != nil {
		t.Error(err)
	}
}

// Of several packages the highest revision stands, whatever their order, and a
// package may be read twice.
func TestStanding(t *testing.T) {
	row := func(key, revision, change, sex string) Row {
		return Cells{"row_key": key, "revision": revision, "change": change, "sex": sex}
	}
	rows := []Row{row("a", "2", "corrected", "x"), row("b", "1", "new", "x"), row("a", "1", "new", "y"), row("b", "2", "withdrawn", "WD"), row("a", "2", "corrected", "x"), Cells{"row_key": "c"}}
	got := Standing(rows, KeyColumn)
	if len(got) != 2 || got[0].Cell("sex") != "x" || got[1].Cell("row_key") != "c" {
		t.Errorf("%v", got)
	}
}
