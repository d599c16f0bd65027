package registry

import (
	_ "embed"
	"fmt"
	"strings"

	"graftnote/schema"
)

//go:embed about.yaml
var aboutYAML []byte

type about struct {
	Title      string `yaml:"title"`
	Opening    string `yaml:"opening"`
	Missing    string `yaml:"missing"`
	Keys       string `yaml:"keys"`
	Columns    string `yaml:"columns"`
	Visits     string `yaml:"visits"`
	SafeHarbor string `yaml:"safeharbor"`
	Small      string `yaml:"small"`
}

func fieldsVersion() int { return schema.Content().Version }

// DictionaryMarkdown is the page docs/registry-dictionary.md: every column with
// meaning, unit, codes and limits, the codes for missing values, the keys, and
// the treatment of the eighteen Safe Harbor identifiers.
func DictionaryMarkdown() []byte {
	var a about
	if err := decode("about.yaml", aboutYAML, &a); err != nil {
		panic("registry: " + err.Error()) // a fault of the build
	}
	c := load()
	var b strings.Builder
	fmt.Fprintf(&b, "# %s\n\n%s\nVersion %d of the columns, version %d of the field dictionary.\n", a.Title, a.Opening, c.Version, fieldsVersion())
	fmt.Fprintf(&b, "\n## Columns\n\n%s\n", a.Columns)
	columnLines(&b, c.columns)
	fmt.Fprintf(&b, "\n## Columns of a follow-up visit\n\n%s\n", a.Visits)
	columnLines(&b, visitColumns())
	fmt.Fprintf(&b, "\n## Codes\n\nThe words are those of the note.\n\n| Columns | Code | Meaning |\n|---|---|---|\n")
	for _, group := range codeGroups(append(Columns(), VisitColumns()...)) {
		for n, w := range group.codes {
			head := ""
			if n == 0 {
				head = "`" + strings.Join(group.columns, "`, `") + "`"
			}
			line(&b, head, "`"+w.Code+"`", w.Words)
		}
	}
	fmt.Fprintf(&b, "\n## Missing values\n\n%s\n| Code | Says | When | Words looked for in the reason |\n|---|---|---|---|\n", a.Missing)
	for _, m := range c.Missing {
		line(&b, "`"+m.Code+"`", m.Title, m.Meaning, strings.Join(m.Words, ", "))
	}
	fmt.Fprintf(&b, "\n## Keys\n\n%s\n## Safe Harbor identifiers\n\n%s\n| | Identifier | Fields of the entry | The row |\n|---|---|---|---|\n", a.Keys, a.SafeHarbor)
	for _, id := range c.identifiers {
		fields := "none"
		if len(id.Holds) > 0 {
			fields = "`" + strings.Join(id.Holds, "`, `") + "`"
		}
		line(&b, id.Letter, id.Identifier, fields, id.Row)
	}
	fmt.Fprintf(&b, "\n## Small groups\n\n%s", a.Small)
	fmt.Fprintf(&b, "\n## Sources\n\n%s", c.sources())
	return []byte(b.String())
}

// columnLines writes the table of columns.
func columnLines(b *strings.Builder, columns []Column) {
	b.WriteString("| Column | Meaning | Unit | Values | Made of | Source |\n|---|---|---|---|---|---|\n")
	for i := range columns {
		col := &columns[i]
		line(b, "`"+col.Name+"`", meaning(col), unitText(col), values(col), madeOf(col), strings.Join(col.Source, ", "))
	}
}

// line writes one row of a table; a bar inside a cell is escaped.
func line(b *strings.Builder, cells ...string) {
	for _, c := range cells {
		b.WriteString("| " + strings.ReplaceAll(c, "|", `\|`) + " ")
	}
	b.WriteString("|\n")
}

// meaning leads with the title, unless the title stands in it.
func meaning(c *Column) string {
	if strings.Contains(strings.ToLower(c.Meaning), strings.ToLower(c.Title)) {
		return c.Meaning
	}
	return c.Title + ". " + c.Meaning
}

func unitText(c *Column) string {
	if c.Symbol == "" || c.Symbol == c.Unit {
		return c.Symbol
	}
	return c.Symbol + " (UCUM `" + c.Unit + "`)"
}

// values says what may stand in the column besides the missing values.
func values(c *Column) string {
	var out string
	switch {
	case c.Numeric():
		places := "whole"
		if c.Places == 1 {
			places = "1 place"
		} else if c.Places > 1 {
			places = fmt.Sprintf("%d places", c.Places)
		}
		out = fmt.Sprintf("%s to %s, %s", c.Minimum, c.Maximum, places)
	case c.Several:
		out = "several codes, joined by a bar"
		if c.ordered {
			out += ", in the order of the entry"
		}
	case len(c.Codes) > 0:
		out = "one code"
	default:
		out = "`" + c.Pattern + "`"
	}
	if c.Required {
		out += "; never missing"
	}
	return out
}

func madeOf(c *Column) string {
	if c.From == "" {
		return "the program"
	}
	return "`" + c.From + "`"
}

type codeGroup struct {
	columns []string
	codes   []schema.CodeWord
}

// codeGroups puts columns with the same codes together, in column order.
func codeGroups(columns []Column) []codeGroup {
	var out []codeGroup
	at := map[string]int{}
	for _, col := range columns {
		if len(col.Codes) == 0 {
			continue
		}
		key := fmt.Sprint(col.Codes)
		i, ok := at[key]
		if !ok {
			i = len(out)
			at[key] = i
			out = append(out, codeGroup{codes: col.Codes})
		}
		out[i].columns = append(out[i].columns, col.Name)
	}
	return out
}

// sources lists the citations behind the keys, in the order of first use.
func (c *content) sources() string {
	var b strings.Builder
	seen := map[string]bool{}
	for _, col := range append(Columns(), VisitColumns()...) {
		for _, k := range col.Source {
			if cite, ok := schema.Content().Sources[k]; ok && !seen[k] {
				seen[k] = true
				fmt.Fprintf(&b, "- **%s** %s\n", k, cite.Text)
			}
		}
	}
	return b.String()
}

func upperFirst(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}

// lowerFirst lowers the capital of a word; a symbol such as K1 stays.
func lowerFirst(s string) string {
	if len(s) > 1 && s[0] >= 'A' && s[0] <= 'Z' && (s[1] >= 'a' && s[1] <= 'z') {
		return string(s[0]+'a'-'A') + s[1:]
	}
	return s
}
