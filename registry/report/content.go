package report

import (
	"bytes"
	_ "embed"
	"fmt"
	"strings"
	"sync"

	"go.yaml.in/yaml/v3"

	"graftnote/registry"
	"graftnote/registry/figures"
)

//go:embed report.yaml
var reportYAML []byte

// finding is something that an eye has or has not.
type finding struct {
	ID        string   `yaml:"id"`
	Title     string   `yaml:"title"`
	Column    string   `yaml:"column"`
	Codes     []string `yaml:"codes"`
	Published string   `yaml:"published"`
}

// words is report.yaml, with what the rows' dictionary adds.
type words struct {
	Title     string            `yaml:"title"`
	Name      string            `yaml:"name"`
	Short     map[string]string `yaml:"short"`
	Events    []finding         `yaml:"events"`
	Later     []finding         `yaml:"later"`
	Uncounted []string          `yaml:"uncounted"`
	Times     []float64         `yaml:"times"`
	Visit     float64           `yaml:"visit"`
	Window    float64           `yaml:"window"`
	Curve     struct {
		Measure string `yaml:"measure"`
		Source  string `yaml:"source"`
	} `yaml:"curve"`
	Text map[string]string `yaml:"text"`

	columns map[string]registry.Column
	target  float64 // failures of the curve's published series, 0 to 1
	series  figures.PublishedFigure
}

// content reads the embedded file once. A fault in it is a fault of the build
// and is found by any test.
var content = sync.OnceValue(func() *words {
	var w words
	d := yaml.NewDecoder(bytes.NewReader(reportYAML))
	d.KnownFields(true)
	if err := d.Decode(&w); err != nil {
		panic("report.yaml: " + err.Error())
	}
	w.columns = map[string]registry.Column{}
	for _, c := range registry.Columns() {
		w.columns[c.Name] = c
	}
	for _, c := range registry.VisitColumns() {
		w.columns[c.Name] = c
	}
	for _, f := range append(append([]finding(nil), w.Events...), w.Later...) {
		if _, ok := w.columns[f.Column]; !ok {
			panic("report.yaml: no column " + f.Column)
		}
	}
	for _, name := range w.Uncounted {
		if _, ok := w.columns[name]; !ok {
			panic("report.yaml: no column " + name)
		}
	}
	for _, m := range figures.Published() {
		for _, f := range m.Figures {
			if m.ID == w.Curve.Measure && f.Source == w.Curve.Source && f.Events != nil && f.Of > 0 && w.target == 0 {
				w.target, w.series = 1-float64(*f.Events)/float64(f.Of), f
			}
		}
	}
	if w.target <= 0 || w.target >= 1 {
		panic("report.yaml: the curve has no target")
	}
	return &w
})

// say is a paragraph with its blanks filled in: name, value, name, value.
func (w *words) say(key string, fill ...string) string {
	text, ok := w.Text[key]
	if !ok {
		panic("report.yaml: no text " + key)
	}
	for i := 0; i+1 < len(fill); i += 2 {
		text = strings.ReplaceAll(text, "{"+fill[i]+"}", fill[i+1])
	}
	return text
}

// code names a code of a column in few words; an unknown code is its own name.
func (w *words) code(column, code string) string {
	if s, ok := w.Short[code]; ok {
		return s
	}
	for _, c := range w.columns[column].Codes {
		if c.Code == code {
			return c.Words
		}
	}
	return code
}

// title names a column, with the part of the entry that its field stands in.
func (w *words) title(column string) string {
	group, title := w.named(column)
	if group != "" {
		return group + ": " + title
	}
	return upperFirst(title)
}

// named gives a column's title, and the part of the entry without which the title
// may say little; none for the columns of the row's own.
func (w *words) named(column string) (group, title string) {
	c := w.columns[column]
	// Columns of the field dictionary have both at the head of their meaning.
	group, rest, _ := strings.Cut(c.Meaning, ": ")
	if n := len(c.Title); n > 0 && len(rest) > n && strings.EqualFold(rest[:n], c.Title) {
		return group, rest[:n]
	}
	if c.Title != "" {
		return "", lowerFirst(c.Title)
	}
	title, _, _ = strings.Cut(c.Meaning, ". ")
	return "", lowerFirst(strings.TrimSuffix(title, "."))
}

func upperFirst(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}

// percent writes a share between 0 and 1 with one place.
func percent(share float64) string { return fmt.Sprintf("%.1f %%", share*100) }
