package month

import (
	"encoding/json"
	"io"

	"graftnote/schema"
)

// The descriptor follows Frictionless Data Package and Table Schema, version 1
// (https://specs.frictionlessdata.io). role, alternatives, missingCodes and what
// TableField adds are properties of our own, which the specification allows.
type descriptor struct {
	Profile     string     `json:"profile"`
	Name        string     `json:"name"`
	ID          string     `json:"id"`
	Title       string     `json:"title"`
	Description string     `json:"description"`
	Created     string     `json:"created"`
	Mode        Mode       `json:"mode"`
	KeyEpoch    string     `json:"keyEpoch"`
	Resources   []resource `json:"resources"`
}

type resource struct {
	Profile      string        `json:"profile"`
	Name         string        `json:"name"`
	Path         string        `json:"path"`
	Title        string        `json:"title"`
	Format       string        `json:"format"`
	MediaType    string        `json:"mediatype"`
	Encoding     string        `json:"encoding"`
	Bytes        int64         `json:"bytes"`
	Hash         string        `json:"hash"`
	Dialect      dialect       `json:"dialect"`
	Schema       tableSchema   `json:"schema"`
	Alternatives []alternative `json:"alternatives,omitempty"`
}

type dialect struct {
	Delimiter      string `json:"delimiter"`
	LineTerminator string `json:"lineTerminator"`
	QuoteChar      string `json:"quoteChar"`
	DoubleQuote    bool   `json:"doubleQuote"`
	Header         bool   `json:"header"`
}

type alternative struct {
	Path   string `json:"path"`
	Format string `json:"format"`
	Bytes  int64  `json:"bytes"`
	Hash   string `json:"hash"`
}

type tableSchema struct {
	Fields        []json.RawMessage `json:"fields"`
	MissingValues []string          `json:"missingValues"`
	MissingCodes  []missingCode     `json:"missingCodes,omitempty"`
	PrimaryKey    []string          `json:"primaryKey,omitempty"`
	ForeignKeys   []foreignKey      `json:"foreignKeys,omitempty"`
}

type missingCode struct {
	Code    string `json:"code"`
	Title   string `json:"title"`
	Meaning string `json:"meaning"`
}

type foreignKey struct {
	Fields    []string  `json:"fields"`
	Reference reference `json:"reference"`
}

type reference struct {
	Resource string   `json:"resource"`
	Fields   []string `json:"fields"`
}

var titles = map[string]string{
	"operations": "Operations, one row for each operated eye",
	"followups":  "Follow-up visits, one row for each visit",
}

// descriptor writes datapackage.json.
func (p *Package) descriptor(out io.Writer) error {
	m := p.Manifest
	d := descriptor{Profile: "data-package", Name: "graft-registry-" + m.Period, ID: m.Package,
		Title: "Registry package of corneal grafts, period " + m.Period, Description: m.ModeSays, Created: m.At, Mode: m.Mode, KeyEpoch: m.KeyEpoch}
	var rowKey string
	for _, t := range p.tables {
		s := tableSchema{}
		for _, code := range t.codes {
			s.MissingValues = append(s.MissingValues, code.Code)
			s.MissingCodes = append(s.MissingCodes, missingCode{code.Code, code.Title, code.Meaning})
		}
		for i := range t.columns {
			c := &t.columns[i]
			f, err := c.field(t.name)
			if err != nil {
				return err
			}
			s.Fields = append(s.Fields, f)
			switch {
			case c.role == keyRole[t.name]:
				s.PrimaryKey = []string{c.Name}
			case c.role == "row-key":
				s.ForeignKeys = append(s.ForeignKeys, foreignKey{[]string{c.Name}, reference{"operations", []string{rowKey}}})
			}
			if c.role == "row-key" && t.name == "operations" {
				rowKey = c.Name
			}
		}
		r := p.resource(t.name+".csv", t.name, titles[t.name], s)
		for _, a := range []struct{ path, format string }{{t.name + ".ndjson", "ndjson"}, {p.parquetPath(t), "parquet"}} {
			e := p.entry(a.path)
			r.Alternatives = append(r.Alternatives, alternative{a.path, a.format, e.Bytes, "sha256:" + e.SHA256.String()})
		}
		d.Resources = append(d.Resources, r)
	}
	d.Resources = append(d.Resources, p.resource(ExceptionsName, "exceptions", "Operations left out, counted by reason", exceptionsSchema()))
	return writeJSON(out, d)
}

func (p *Package) resource(path, name, title string, s tableSchema) resource {
	e := p.entry(path)
	return resource{Profile: "tabular-data-resource", Name: name, Path: path, Title: title, Format: "csv", MediaType: "text/csv", Encoding: "utf-8",
		Bytes: e.Bytes, Hash: "sha256:" + e.SHA256.String(), Schema: s,
		Dialect: dialect{Delimiter: ",", LineTerminator: "\r\n", QuoteChar: `"`, DoubleQuote: true, Header: true}}
}

// field is the column in the Table Schema, with the role that the program gave
// it. The key of a table is unique in it.
func (c *column) field(table string) (json.RawMessage, error) {
	b := c.TableField()
	if c.role == "" {
		return b, nil
	}
	var members, constraints map[string]json.RawMessage
	if err := json.Unmarshal(b, &members); err != nil {
		return nil, err
	}
	if err := json.Unmarshal(members["constraints"], &constraints); err != nil {
		return nil, err
	}
	delete(constraints, "unique")
	if c.role == keyRole[table] {
		constraints["unique"] = json.RawMessage("true")
	}
	members["role"] = quoted(c.role)
	var err error
	if members["constraints"], err = json.Marshal(constraints); err != nil {
		return nil, err
	}
	return json.Marshal(members)
}

// keyRole is the role of the primary key of each table.
var keyRole = map[string]string{"operations": "row-key", "followups": "visit-key"}

func sentences(list []Say) []schema.CodeWord {
	var out []schema.CodeWord
	for _, s := range list {
		out = append(out, schema.CodeWord{Code: s.Says, Words: s.Says})
	}
	return out
}
