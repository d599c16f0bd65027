package registry

import (
	"bytes"
	"encoding/json"
)

// The descriptor follows Frictionless Table Schema, version 1
// (https://specs.frictionlessdata.io/table-schema/). unit, codes, classification
// and the like are properties of our own, which the specification allows.
type tableSchema struct {
	Title             string       `json:"title"`
	Description       string       `json:"description"`
	Classification    string       `json:"classification"`
	DictionaryVersion int          `json:"dictionaryVersion"`
	FieldsVersion     int          `json:"fieldsVersion"`
	KeyEpoch          string       `json:"keyEpoch,omitempty"`
	Fields            []tableField `json:"fields"`
	MissingValues     []string     `json:"missingValues"`
	MissingCodes      []codeTitle  `json:"missingCodes"`
	PrimaryKey        []string     `json:"primaryKey,omitempty"`
}

type tableField struct {
	Name        string      `json:"name"`
	Title       string      `json:"title"`
	Description string      `json:"description"`
	Type        string      `json:"type"`
	Constraints constraints `json:"constraints"`
	Unit        *unit       `json:"unit,omitempty"`
	Codes       []codeTitle `json:"codes,omitempty"`
	Separator   string      `json:"separator,omitempty"`
	MadeOf      string      `json:"madeOf,omitempty"`
}

type constraints struct {
	Required bool            `json:"required"`
	Unique   bool            `json:"unique,omitempty"`
	Enum     []string        `json:"enum,omitempty"`
	Minimum  json.RawMessage `json:"minimum,omitempty"`
	Maximum  json.RawMessage `json:"maximum,omitempty"`
	Pattern  string          `json:"pattern,omitempty"`
}

type unit struct {
	Symbol string `json:"symbol"`
	UCUM   string `json:"ucum"`
}

type codeTitle struct {
	Code    string `json:"code"`
	Title   string `json:"title"`
	Meaning string `json:"meaning,omitempty"`
}

// classification is what every description of the row says about it.
const classification = "pseudonymised, not anonymous"

// TableSchema describes the file that Write makes with the same options, as
// JSON. With a key in the options it names the key that made the pseudonyms. The
// error is ErrColumn.
func TableSchema(o Options) ([]byte, error) {
	chosen, err := choose(o.Columns)
	if err != nil {
		return nil, err
	}
	c := load()
	s := tableSchema{
		Title:             "Registry rows of corneal grafts, one row for each operated eye",
		Description:       "The rows are " + classification + ": the site that holds the key can link a row to a person. Cells without a value hold one of the missing values; no cell is empty.",
		Classification:    classification,
		DictionaryVersion: c.Version,
		FieldsVersion:     fieldsVersion(),
		KeyEpoch:          Epoch(o.Key),
	}
	for _, m := range c.Missing {
		s.MissingValues = append(s.MissingValues, m.Code)
		s.MissingCodes = append(s.MissingCodes, codeTitle{m.Code, m.Title, m.Meaning})
	}
	for _, i := range chosen {
		s.Fields = append(s.Fields, c.columns[i].field(c.Separator))
		if c.columns[i].Name == "row_key" {
			s.PrimaryKey = []string{"row_key"}
		}
	}
	var out bytes.Buffer
	enc := json.NewEncoder(&out)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", "  ")
	if err := enc.Encode(s); err != nil {
		return nil, err
	}
	return out.Bytes(), nil
}

func (c *Column) field(separator string) tableField {
	f := tableField{Name: c.Name, Title: c.Title, Description: c.Meaning, Type: c.Type, MadeOf: c.From,
		Constraints: constraints{Required: c.Required, Pattern: c.Pattern, Unique: c.Name == "row_key"}}
	if c.Unit != "" {
		f.Unit = &unit{c.Symbol, c.Unit}
	}
	if c.Numeric() {
		f.Constraints.Minimum, f.Constraints.Maximum = json.RawMessage(c.Minimum), json.RawMessage(c.Maximum)
	}
	for _, w := range c.Codes {
		f.Codes = append(f.Codes, codeTitle{Code: w.Code, Title: w.Words})
		if !c.Several {
			f.Constraints.Enum = append(f.Constraints.Enum, w.Code)
		}
	}
	if c.Several {
		f.Separator = separator
	}
	return f
}
