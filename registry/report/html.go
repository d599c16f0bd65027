package report

import (
	_ "embed"
	"fmt"
	"html/template"
	"io"
	"strconv"
	"strings"

	"graftnote/note"
)

//go:embed report.html
var reportHTML string

var page = template.Must(template.New("report").Funcs(template.FuncMap{
	"number": func(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) },
	"minus":  func(v float64) float64 { return -v },
	"grey":   func(g int) string { return fmt.Sprintf("#%02x%02x%02x", g&255, g&255, g&255) },
	"points": func(points []note.Point) string {
		parts := make([]string, len(points))
		for i, p := range points {
			parts[i] = strconv.FormatFloat(p.X, 'f', -1, 64) + "," + strconv.FormatFloat(p.Y, 'f', -1, 64)
		}
		return strings.Join(parts, " ")
	},
	"lengths": func(all []float64) string {
		parts := make([]string, len(all))
		for i, v := range all {
			parts[i] = strconv.FormatFloat(v, 'f', -1, 64)
		}
		return strings.Join(parts, " ")
	},
	"cell":    cell,
	"figures": figuresOnly,
}).Parse(reportHTML))

// cell says the mark of a hidden count in words to a reader that speaks.
func cell(text string) template.HTML {
	if text == mark {
		return `<span role="img" aria-label="hidden">*</span>`
	}
	return template.HTML(template.HTMLEscapeString(text))
}

// figuresOnly reports whether a column holds nothing but numbers and hidden
// ones, so that it is set to the right.
func figuresOnly(t *note.ReportTable, col int) bool {
	some := false
	for _, r := range t.Rows {
		if col >= len(r) {
			continue
		}
		text := strings.TrimSuffix(r[col], " †")
		if text == "" || text == mark || text == "none" {
			continue
		}
		if strings.Trim(text, "0123456789.-") != "" {
			return false
		}
		some = true
	}
	return some
}

// HTML writes a report as one web page that needs nothing else: no script, no
// other file, no network. Charts are drawings with a text that says what they
// show, tables have captions and headings. The error is that of w.
func HTML(w io.Writer, r note.Report) error { return page.Execute(w, r) }
