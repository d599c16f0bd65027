package registry

import (
	"fmt"
	"regexp"
	"strings"

	"graftnote/schema"
	"graftnote/schema/quantity"
)

// Types of a column, as Table Schema names them.
const (
	TypeString  = "string"
	TypeNumber  = "number"
	TypeInteger = "integer"
	TypeYear    = "year"
)

// Column is one column of the row: what it holds, in which unit, and what is
// allowed in it.
type Column struct {
	Name     string            // the header of the CSV file
	Title    string            // the trade's name
	Meaning  string            // what it holds and how it was changed on its way
	Type     string            // one of the Type constants
	Unit     string            // UCUM code, "" where there is none
	Symbol   string            // the unit as people write it
	Codes    []schema.CodeWord // all allowed codes, nil when free of codes
	Several  bool              // several codes may stand in one cell
	Pattern  string            // regular expression for the whole cell, "" for none
	Minimum  string            // smallest value, "" when not a figure
	Maximum  string            // largest value
	Places   int               // decimal places of a figure
	Required bool              // never missing
	From     string            // dictionary path or derived value it is made of
	Source   []string          // keys of the dictionary's sources

	write      func(m *maker, c *Column) string
	writeField func(m *maker, f schema.Field, c *Column) string
	need       string            // when the dictionary asks for the answer
	ordered    bool              // several codes keep the order of the entry
	recode     map[string]string // code of the entry to code of the row
	missing    map[string]bool
	whole      *regexp.Regexp
	min, max   quantity.Decimal
	codes      map[string]int // code to its place in the list
}

// Columns are all columns that a row can have, in their fixed order.
func Columns() []Column { return append([]Column(nil), load().columns...) }

// Numeric reports whether the cells are figures, which may begin with a minus.
func (c *Column) Numeric() bool { return c.Type != TypeString }

var number = regexp.MustCompile(`^-?[0-9]{1,9}(\.[0-9]{1,6})?$`)

// plain is what a text cell may look like at all. It begins with a letter or a
// digit, so that no spreadsheet takes it for a formula: no equals, plus, at
// sign, tab or carriage return, no full-width form of them, no quote.
var plain = regexp.MustCompile(`^[A-Za-z0-9][A-Za-z0-9 |-]*$`)

// seal prepares the checks of a finished column.
func (c *Column) seal(missing map[string]bool) error {
	c.missing = missing
	var err error
	if c.Numeric() {
		if c.min, err = decimal(c.Minimum); err != nil {
			return err
		}
		if c.max, err = decimal(c.Maximum); err != nil {
			return err
		}
		return nil
	}
	if len(c.Codes) == 0 && c.Pattern == "" {
		return fmt.Errorf("a text column needs a code list or a pattern")
	}
	c.codes = map[string]int{}
	for i, w := range c.Codes {
		if !plain.MatchString(w.Code) || missing[w.Code] {
			return fmt.Errorf("code %q cannot stand in a cell", w.Code)
		}
		c.codes[w.Code] = i
	}
	if c.Several {
		c.Pattern = severalPattern(c.Codes)
	}
	if c.Pattern != "" {
		c.whole, err = regexp.Compile("^(" + c.Pattern + ")$")
	}
	return err
}

// severalPattern allows the codes of a list, joined by bars.
func severalPattern(codes []schema.CodeWord) string {
	var alternatives []string
	for _, w := range codes {
		alternatives = append(alternatives, regexp.QuoteMeta(w.Code))
	}
	one := "(" + strings.Join(alternatives, "|") + ")"
	return one + "([|]" + one + ")*"
}

// accepts says why a cell cannot stand in the column, "" when it can.
func (c *Column) accepts(cell string) string {
	switch {
	case c.missing[cell]:
		if c.Required {
			return "a value that is never missing is missing"
		}
		return ""
	case c.Numeric():
		if !number.MatchString(cell) {
			return "not a figure"
		}
		n, p := quantity.ParseDecimal(cell)
		if p != nil || n.Cmp(c.min) < 0 || n.Cmp(c.max) > 0 {
			return "figure outside the limits of the column"
		}
		if _, whole := n.Int(); !whole && c.Type != TypeNumber {
			return "not a whole figure"
		}
		return ""
	case c.whole == nil && c.isCode(cell): // our own codes are plain
		return ""
	case !plain.MatchString(cell):
		return "not a plain text"
	case c.whole != nil && !c.whole.MatchString(cell):
		return "not of the form of the column"
	case c.whole == nil:
		return "not a code of the column"
	}
	return ""
}

func (c *Column) isCode(cell string) bool {
	_, ok := c.codes[cell]
	return ok
}

// narrow takes the blocking limits of the dictionary where they are closer than
// those of the kind.
func (c *Column) narrow(hard string) error {
	lo, hi, ok := strings.Cut(hard, "..")
	if !ok {
		return nil
	}
	for _, end := range []struct {
		text string
		at   *string
		sign int
	}{{lo, &c.Minimum, 1}, {hi, &c.Maximum, -1}} {
		if end.text == "" {
			continue
		}
		n, err := decimal(end.text)
		if err != nil {
			return err
		}
		have, err := decimal(*end.at)
		if err != nil {
			return err
		}
		if n.Cmp(have) == end.sign {
			*end.at = n.String()
		}
	}
	return nil
}

// IsColumn reports whether the row has a column of this name: the allow-list
// that a site may choose from.
func IsColumn(name string) bool {
	_, ok := load().byName[name]
	return ok
}
