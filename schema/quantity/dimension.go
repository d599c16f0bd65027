package quantity

import (
	"bytes"
	_ "embed"
	"slices"
	"strings"
	"sync"

	"go.yaml.in/yaml/v3"
	"golang.org/x/text/unicode/norm"
)

// Unit is one unit of a dimension.
type Unit struct {
	// Symbol is the unit as printed: "mm", "µm", "cells/mm²". It is empty for a count.
	Symbol string
	// UCUM is the code of the unit in the Unified Code for Units of Measure.
	UCUM string
	// Factor is the exact number of canonical units in one of this unit.
	Factor Decimal
}

// Dimension is a kind of measured value: its canonical unit, the other units
// and spellings that are read, and how each converts, exactly.
type Dimension struct {
	// Name is the key fields use, such as "depth" or "cell-density".
	Name string
	// Says is the dimension in words, for messages.
	Says string
	// Whole is set when only whole, non-negative numbers are values.
	Whole bool
	// Plus is set when a leading plus sign is read.
	Plus bool
	// Pair names the two values that are dictated together in this dimension,
	// usual order first, such as donor and host. It is nil where there are none.
	Pair []string
	// Units lists the units, the canonical one first.
	Units []Unit

	spellings map[string]int // typed text to index in Units
}

//go:embed units.yaml
var unitsYAML []byte

type dimensionRow struct {
	Name  string   `yaml:"name"`
	Says  string   `yaml:"says"`
	Whole bool     `yaml:"whole"`
	Plus  bool     `yaml:"plus"`
	Pair  []string `yaml:"pair"`
	Units []struct {
		Symbol    string   `yaml:"symbol"`
		UCUM      string   `yaml:"ucum"`
		Factor    string   `yaml:"factor"`
		Spellings []string `yaml:"spellings"`
	} `yaml:"units"`
}

// decodeEmbedded reads a data file of this package. The file is part of the
// program, so a fault in it is a fault of the build and panics.
func decodeEmbedded(name string, data []byte, into any) {
	dec := yaml.NewDecoder(bytes.NewReader(data))
	dec.KnownFields(true)
	if err := dec.Decode(into); err != nil {
		panic("quantity: " + name + ": " + err.Error())
	}
}

var allDimensions = sync.OnceValue(func() []Dimension {
	var file struct {
		Dimensions []dimensionRow `yaml:"dimensions"`
	}
	decodeEmbedded("units.yaml", unitsYAML, &file)
	out := make([]Dimension, 0, len(file.Dimensions))
	for _, row := range file.Dimensions {
		d := Dimension{Name: row.Name, Says: row.Says, Whole: row.Whole, Plus: row.Plus, Pair: row.Pair,
			spellings: map[string]int{}}
		for i, u := range row.Units {
			d.Units = append(d.Units, Unit{Symbol: u.Symbol, UCUM: u.UCUM, Factor: MustDecimal(u.Factor)})
			for _, s := range append([]string{u.Symbol}, u.Spellings...) {
				d.spellings[norm.NFC.String(s)] = i
			}
		}
		out = append(out, d)
	}
	return out
})

// Dimensions lists every dimension, in the order of the data file.
func Dimensions() []Dimension { return slices.Clone(allDimensions()) }

// DimensionByName finds a dimension by its name, such as "depth".
func DimensionByName(name string) (Dimension, bool) {
	for _, d := range allDimensions() {
		if d.Name == name {
			return d, true
		}
	}
	return Dimension{}, false
}

// Canonical returns the unit In counts in. The zero Dimension has an empty one.
func (d Dimension) Canonical() Unit {
	if len(d.Units) == 0 {
		return Unit{UCUM: "1", Factor: FromInt(1)}
	}
	return d.Units[0]
}

// Of makes a Quantity in the canonical unit from a number that was computed,
// such as a disparity. Entered text goes through ParseQuantity instead.
func (d Dimension) Of(n Decimal) Quantity {
	return Quantity{Number: n, Unit: d.Canonical(), Dimension: d.Name}
}

// Unit finds a unit by its symbol or an accepted spelling.
func (d Dimension) Unit(spelling string) (Unit, bool) {
	i, ok := d.spellings[norm.NFC.String(spelling)]
	if !ok || len(d.Units) == 0 {
		return Unit{}, false
	}
	return d.Units[i], true
}

// unitless reports whether the dimension is written without a unit.
func (d Dimension) unitless() bool { return d.Canonical().Symbol == "" }

// symbols lists the printed units, for messages: "mm or µm".
func (d Dimension) symbols() string {
	var s []string
	for _, u := range d.Units {
		s = append(s, u.Symbol)
	}
	return strings.Join(s, " or ")
}

// foldedUnit finds the unit whose spelling differs from s only in capitals.
func (d Dimension) foldedUnit(s string) (Unit, bool) {
	for spelling, i := range d.spellings {
		if spelling != "" && strings.EqualFold(spelling, s) {
			return d.Units[i], true
		}
	}
	return Unit{}, false
}
