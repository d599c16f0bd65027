package schema

import (
	"fmt"

	"graftnote/schema/quantity"
)

// Derived is a value computed from the entry, never typed. The note shows it as
// derived; the rules compare it with limits that stand in the rule rows.
type Derived struct {
	Name      string   `yaml:"name"`
	Title     string   `yaml:"title"`
	Dimension string   `yaml:"dimension"` // a dimension, or count, ratio, yes-no, code, date
	Each      string   `yaml:"each"`      // list group with one value per item
	Formula   string   `yaml:"formula"`
	Source    []string `yaml:"source"`
	Column    string   `yaml:"column"` // registry column
	As        string   `yaml:"as"`
	Shown     bool     `yaml:"shown"` // printed among the measurements

	compute func(*scope) []DerivedValue
}

// DerivedValue is one computed value; Known is false when what it rests on is
// not recorded.
type DerivedValue struct {
	Known     bool
	HasNumber bool
	Number    quantity.Decimal // in the canonical unit of the dimension
	Code      string
	Date      quantity.Date
}

func someNumber(n quantity.Decimal) DerivedValue {
	return DerivedValue{Known: true, HasNumber: true, Number: n}
}

func someCount(n int) DerivedValue { return someNumber(quantity.FromInt(int64(n))) }

func someCode(c string) DerivedValue { return DerivedValue{Known: c != "", Code: c} }

func someYes(yes bool) DerivedValue {
	if yes {
		return someCode("yes")
	}
	return someCode("no")
}

func loadDerived(d *Dictionary) error {
	if err := decode("derived.yaml", &d.Derived); err != nil {
		return err
	}
	for _, x := range d.Derived {
		f, ok := computations[x.Name]
		if !ok {
			return fmt.Errorf("derived %s: no computation of this name", x.Name)
		}
		x.compute = f
		d.derived[x.Name] = x
	}
	return nil
}

// derive computes once per entry and remembers.
func (s *scope) derive(d *Derived) []DerivedValue {
	if v, ok := s.memo[d]; ok {
		return v
	}
	v := d.compute(s)
	s.memo[d] = v
	return v
}

// Derive gives a computed value of the entry by name: one value, or one per
// item for values of a list group.
func (e *Entry) Derive(name string) []DerivedValue {
	d, ok := Content().derived[name]
	if !ok {
		return nil
	}
	s := &scope{e: e, memo: map[*Derived][]DerivedValue{}}
	return s.derive(d)
}

// Number gives a computed single number.
func (e *Entry) Number(name string) (quantity.Decimal, bool) {
	v := e.Derive(name)
	if len(v) != 1 || !v[0].Known || !v[0].HasNumber {
		return quantity.Decimal{}, false
	}
	return v[0].Number, true
}

// Format writes a derived number with its unit, for people.
func (d *Derived) Format(v DerivedValue) string {
	switch {
	case !v.Known:
		return ""
	case v.HasNumber:
		dim, ok := quantity.DimensionByName(d.Dimension)
		if !ok || dim.Canonical().Symbol == "" {
			return v.Number.String()
		}
		return dim.Of(v.Number).String()
	case !v.Date.IsZero():
		return v.Date.String()
	}
	return v.Code
}
