package month

import (
	"encoding/csv"
	"io"
	"slices"
	"strings"
	"sync"

	"graftnote/registry"
	"graftnote/schema"
)

// readingWord is how a column is called in the copy for reading, where the title
// of the column alone would not do.
type readingWord struct {
	Name  string `yaml:"name"`
	Title string `yaml:"title"`
	Unit  string `yaml:"unit"` // that people say and the column has not
}

// readingWords are those of month.yaml by what a column keeps in every form: what
// it is made of, and its title.
var readingWords = sync.OnceValue(func() map[string]readingWord {
	out := map[string]readingWord{}
	for _, list := range [][]registry.Column{registry.Columns(), registry.VisitColumns()} {
		for _, c := range list {
			for _, w := range load().Reading {
				if w.Name == c.Name {
					out[c.From+"\n"+c.Title] = w
				}
			}
		}
	}
	return out
})

func (c *column) readingWord() readingWord { return readingWords()[c.From+"\n"+c.Title] }

func (c *column) title() string {
	if w := c.readingWord(); w.Title != "" {
		return w.Title
	}
	return c.Title
}

func (c *column) readingUnit() string {
	if c.Symbol != "" {
		return c.Symbol
	}
	return c.readingWord().Unit
}

// heading is the column in words: its group, its title and its unit.
func (c *column) heading() string {
	group := load().Says["reading-row"]
	if name, _, _ := strings.Cut(c.From, "."); name == "derived" {
		group = load().Says["reading-derived"]
	} else if g, ok := schema.Content().Group(name); ok && name != "" {
		group = g.Title
	}
	title := c.title()
	if unit := c.readingUnit(); unit != "" && !strings.HasPrefix(strings.ToLower(title), unit) {
		title += " (" + unit + ")"
	}
	return group + ": " + title
}

// reading writes the copy for people: words instead of names and codes, and only
// the columns that say something. A spreadsheet may open it: no cell is a formula,
// and no figure with a point is bare, because a spreadsheet makes dates of them.
func (t *table) reading(out io.Writer) error {
	if _, err := io.WriteString(out, "\ufeff"+load().Says["reading"]+"\r\n"); err != nil {
		return err
	}
	w := csv.NewWriter(out)
	w.UseCRLF, w.Comma = true, ';'
	var shown []readingColumn
	var record []string
	var left [][]string
	for i := range t.columns {
		c := &t.columns[i]
		if why := t.silent(c); why != "" {
			left = append(left, []string{load().Says[why], c.heading()})
			continue
		}
		shown = append(shown, readingColumn{c, t.codes, map[string]string{}})
		record = append(record, c.heading())
	}
	if err := w.Write(record); err != nil {
		return err
	}
	for n := range t.lines {
		for i := range shown {
			record[i] = shown[i].words(shown[i].cell(&t.lines[n]))
		}
		if err := w.Write(record); err != nil {
			return err
		}
	}
	if len(left) > 0 {
		left = append([][]string{nil}, left...) // an empty line before
	}
	return w.WriteAll(left)
}

// silent says why a column is left out of the copy for reading, as a sentence of
// month.yaml: it has no value in any row that stands. "" when it has one.
func (t *table) silent(c *column) string {
	if c.role != "" || len(t.lines) == 0 {
		return ""
	}
	held := true
	for n := range t.lines {
		if t.lines[n].source < 0 {
			continue
		}
		code, missing := c.missing[c.cell(&t.lines[n])]
		if !missing {
			return ""
		}
		held = held && missingTitle(t.codes, code) == missingTitle(missingCodes(), withheld)
	}
	if held {
		return "reading-withheld"
	}
	return "reading-empty"
}

func missingTitle(codes []registry.MissingCode, code string) string {
	for _, m := range codes {
		if m.Code == code {
			return m.Title
		}
	}
	return ""
}

type readingColumn struct {
	*column
	missingCodes []registry.MissingCode
	known        map[string]string // cells that were put into words before
}

func (c *readingColumn) words(cell string) string {
	text, ok := c.known[cell]
	if !ok {
		text = c.say(cell)
		if !strings.HasSuffix(c.role, "-key") { // each different: not worth remembering
			c.known[cell] = text
		}
	}
	return text
}

func (c *readingColumn) say(cell string) string {
	if _, missing := c.missing[cell]; missing {
		title := missingTitle(c.missingCodes, cell)
		if title == "" || strings.Contains(title, ";") { // a registry's form has one text for several
			title = load().Says["reading-missing"]
		}
		return title
	}
	if c.Numeric() {
		unit := c.readingUnit()
		if cell == "1" {
			unit = strings.TrimSuffix(unit, "s") // of the months
		}
		if figure, negative := strings.CutPrefix(cell, "-"); negative {
			cell = "minus " + figure
		}
		return strings.TrimSuffix(cell+" "+unit, " ")
	}
	if c.role == "change" {
		return cell // a word already; what it means is a sentence
	}
	if text, ok := c.word(cell); ok {
		return text
	}
	for _, separator := range []string{registry.Separator(), "/", "+", " "} { // those of registries too
		parts := strings.Split(cell, separator)
		if !c.Several || len(parts) == 1 {
			continue
		}
		all := true
		for i := range parts {
			var ok bool
			parts[i], ok = c.word(parts[i])
			all = all && ok
		}
		if all {
			return strings.Join(parts, ", ")
		}
	}
	return cell
}

// word gives the words of a code. Words that begin with a figure stay a code: a
// spreadsheet would make a date of a suture size.
func (c *readingColumn) word(code string) (string, bool) {
	i := slices.IndexFunc(c.Codes, func(w codeWord) bool { return w.Code == code })
	if i < 0 {
		return "", false
	}
	words := c.Codes[i].Words
	if words == "" || !(words[0] >= 'a' && words[0] <= 'z' || words[0] >= 'A' && words[0] <= 'Z') {
		return code, true
	}
	return words, true
}
