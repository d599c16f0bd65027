package month

import (
	"bufio"
	"encoding/json"
	"io"
)

// missingSuffix ends the name of the member or column that says why a figure is
// missing.
const missingSuffix = "_missing"

// emptyMissing is what that member says where a registry's form has an empty cell
// for a missing value; see Profile.column.
const emptyMissing = "missing"

// ndjson writes one JSON object a line, lines ending in LF. Figures are numbers
// with the digits of the CSV file; a figure that is missing is null, and a member
// with the suffix _missing says why. All other cells are the texts of the CSV file.
func (t *table) ndjson(out io.Writer) error {
	w := bufio.NewWriterSize(out, 1<<16)
	names := make([][]byte, len(t.columns))
	why := make([][]byte, len(t.columns))
	for i, c := range t.columns {
		names[i], why[i] = quoted(c.Name), quoted(c.Name+missingSuffix)
	}
	texts := map[string][]byte{}
	for n := range t.lines {
		for i := range t.columns {
			c := &t.columns[i]
			separator := byte(',')
			if i == 0 {
				separator = '{'
			}
			w.WriteByte(separator)
			w.Write(names[i])
			w.WriteByte(':')
			cell := c.cell(&t.lines[n])
			code, missing := c.missing[cell]
			switch {
			case c.Numeric() && missing:
				w.WriteString("null,")
				w.Write(why[i])
				w.WriteByte(':')
				w.Write(remember(texts, code))
			case c.Numeric():
				w.WriteString(cell)
			case c.role == "row-key" || c.role == "visit-key" || c.role == "person-key":
				w.Write(quoted(cell)) // each different: not worth remembering
			default:
				w.Write(remember(texts, cell))
			}
		}
		w.WriteString("}\n")
	}
	return w.Flush()
}

func remember(texts map[string][]byte, text string) []byte {
	b, ok := texts[text]
	if !ok {
		b = quoted(text)
		texts[text] = b
	}
	return b
}

func quoted(text string) []byte {
	b, err := json.Marshal(text)
	if err != nil {
		panic("month: " + err.Error()) // a string always has a JSON form
	}
	return b
}
