package registry

import (
	"bytes"
	_ "embed"
	"fmt"
	"sync"

	"go.yaml.in/yaml/v3"

	"graftnote/schema"
	"graftnote/schema/quantity"
)

//go:embed columns.yaml
var columnsYAML []byte

//go:embed safeharbor.yaml
var safeHarborYAML []byte

// MissingCode is what stands in a cell that has no value.
type MissingCode struct {
	Code    string   `yaml:"code"`
	Title   string   `yaml:"title"`
	Meaning string   `yaml:"meaning"`
	Words   []string `yaml:"words"` // in the typed reason, lower case
}

// limits say how a figure is written and what its column can hold.
type limits struct {
	Places int    `yaml:"places"`
	Min    string `yaml:"min"`
	Max    string `yaml:"max"`
}

type band struct {
	Code string `yaml:"code"`
	From int64  `yaml:"from"` // completed years
}

// ownColumn is a column of columns.yaml.
type ownColumn struct {
	Name    string   `yaml:"name"`
	Title   string   `yaml:"title"`
	Meaning string   `yaml:"meaning"`
	How     string   `yaml:"how"`
	From    string   `yaml:"from"`
	As      string   `yaml:"as"`
	Source  []string `yaml:"source"`
	which   `yaml:",inline"`
}

// which says which items of a list group a column is about.
type which struct {
	Where string   `yaml:"where"` // path of a coded field of the group
	Is    []string `yaml:"is"`
	Not   []string `yaml:"not"`
}

type classRow struct {
	Code  string `yaml:"code"`
	Title string `yaml:"title"`
}

// leader is the column that an optional one says more about, and its codes that
// leave nothing to say.
type leader struct {
	Column string   `yaml:"column"`
	Is     []string `yaml:"is"`
}

type columnsFile struct {
	Version       int                          `yaml:"version"`
	Digests       map[int]string               `yaml:"digests"` // of the columns, by version
	Separator     string                       `yaml:"separator"`
	Ordered       []string                     `yaml:"ordered"`
	Missing       []MissingCode                `yaml:"missing"`
	Kinds         map[string]limits            `yaml:"kinds"`
	Limits        map[string]limits            `yaml:"limits"`
	Recode        map[string]map[string]string `yaml:"recode"`
	Mixed         map[string]classRow          `yaml:"mixed"` // by path
	Ages          []band                       `yaml:"ages"`
	As            map[string]string            `yaml:"as"`
	Applies       map[string]which             `yaml:"applies"`
	Follows       map[string]leader            `yaml:"follows"`
	AcuityClasses []classRow                   `yaml:"acuity-classes"`
	Head          []ownColumn                  `yaml:"head"`
	Tail          []ownColumn                  `yaml:"tail"`
}

// Identifier is one of the eighteen identifiers of the Safe Harbor rule, 45 CFR
// 164.514(b)(2)(i), and how the row treats it.
type Identifier struct {
	Letter     string   `yaml:"letter"`
	Identifier string   `yaml:"identifier"`
	Holds      []string `yaml:"holds"` // paths of the dictionary
	Row        string   `yaml:"row"`
}

// content is everything that the embedded files say, read once. A failure is a
// fault of the build, so it panics.
type content struct {
	columnsFile
	identifiers []Identifier
	columns     []Column
	byName      map[string]int
	missing     map[string]bool
}

var load = sync.OnceValue(func() *content {
	c, err := build(schema.Content(), columnsYAML, safeHarborYAML)
	if err != nil {
		panic("registry: " + err.Error())
	}
	return c
})

func build(d *schema.Dictionary, columns, safeHarbor []byte) (*content, error) {
	c := &content{byName: map[string]int{}, missing: map[string]bool{}}
	if err := decode("columns.yaml", columns, &c.columnsFile); err != nil {
		return nil, err
	}
	if err := decode("safeharbor.yaml", safeHarbor, &c.identifiers); err != nil {
		return nil, err
	}
	for _, m := range c.Missing {
		c.missing[m.Code] = true
	}
	b := builder{content: c, dict: d}
	if err := b.all(); err != nil {
		return nil, err
	}
	for i := range c.columns {
		col := &c.columns[i]
		if _, twice := c.byName[col.Name]; twice {
			return nil, fmt.Errorf("column %s stands twice", col.Name)
		}
		c.byName[col.Name] = i
		if err := col.seal(c.missing); err != nil {
			return nil, fmt.Errorf("column %s: %w", col.Name, err)
		}
	}
	return c, nil
}

func decode(name string, data []byte, into any) error {
	dec := yaml.NewDecoder(bytes.NewReader(data))
	dec.KnownFields(true)
	if err := dec.Decode(into); err != nil {
		return fmt.Errorf("%s: %w", name, err)
	}
	return nil
}

// MissingCodes are the codes for a cell without a value, each with its meaning.
func MissingCodes() []MissingCode { return append([]MissingCode(nil), load().Missing...) }

func decimal(text string) (quantity.Decimal, error) {
	n, p := quantity.ParseDecimal(text)
	if p != nil {
		return n, fmt.Errorf("limit %q is no number", text)
	}
	return n, nil
}
