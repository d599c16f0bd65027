package quantity

import (
	"fmt"
	"regexp"
	"strings"
)

// Quantity is a number with its unit, exactly as typed. Build it with
// ParseQuantity or Dimension.Of.
type Quantity struct {
	// Number is the number in Unit, with the precision it was typed with.
	Number Decimal
	// Unit is the unit that was typed.
	Unit Unit
	// Dimension is the name of the dimension it was read in.
	Dimension string
}

// String prints the number with its typed precision, one space and the unit's
// symbol: "8.0 mm". A count is printed as the number alone.
func (q Quantity) String() string { return withUnit(q.Number.String(), q.Unit.Symbol) }

// In returns the exact number in the dimension's canonical unit.
func (q Quantity) In() Decimal {
	if q.Unit.Factor.IsZero() {
		return q.Number // the zero Unit: a bare number
	}
	return q.Number.Mul(q.Unit.Factor)
}

// UCUM returns the UCUM code of the typed unit; Number is the value that goes
// with it.
func (q Quantity) UCUM() string {
	if q.Unit.UCUM == "" {
		return "1"
	}
	return q.Unit.UCUM
}

var (
	// numberThenUnit splits at the first character that cannot be part of a
	// number; the signs and digits of other scripts go to the number so that it
	// is the number that is refused.
	numberThenUnit = regexp.MustCompile(`^([-+]?[\p{Nd}.,_٫．]*[\p{Nd}.,_])(.*)$`)
	pairThenUnit   = regexp.MustCompile(`^([0-9.]+)[^0-9/.]{0,12}?(?:/| on ) ?([0-9.]+) ?([^0-9]*)$`)
	rangeThenUnit  = regexp.MustCompile(`^([0-9.]+) ?[^0-9/.]{0,12}? ?(?:-|–|—|to) ?([0-9.]+) ?([^0-9]*)$`)
	exponentTail   = regexp.MustCompile(`^[eE][-+]?[0-9]`)
	gapInNumber    = regexp.MustCompile(`^([0-9]+ [0-9][0-9. ]*?) ?([^0-9 ].*)?$`)
)

// ParseQuantity reads a number with its unit as a value of dim. The unit must
// be there, except for a count. It is a Problem, with the readings there are:
// a bare number, a unit of another dimension, an unknown unit, two numbers, a
// range, an approximation, and every number ParseDecimal refuses.
func ParseQuantity(text string, dim Dimension) (Quantity, *Problem) {
	t, p := clean(text)
	if p != nil {
		return Quantity{}, p
	}
	if p := notOneNumber(t, dim); p != nil {
		return Quantity{}, p
	}
	m := numberThenUnit.FindStringSubmatch(t)
	if m == nil {
		return Quantity{}, problem("the value does not begin with a number", whyOneReading, dim.fix())
	}
	number, unitText := m[1], strings.TrimSpace(m[2])
	if dim.Plus {
		if plain, signed := strings.CutPrefix(number, "+"); signed && plainNumber.MatchString(plain) {
			number = plain
		}
	}
	if exponentTail.MatchString(unitText) {
		return Quantity{}, exponentProblem()
	}
	n, p := parseNumber(number)
	if p != nil {
		return Quantity{}, dim.numberProblem(p, unitText)
	}
	if unitText == "" && !dim.unitless() {
		return Quantity{}, dim.bareProblem(number)
	}
	unit, ok := dim.Unit(unitText)
	if !ok {
		return Quantity{}, dim.unitProblem(number, unitText)
	}
	if p := dim.wholeProblem(n, unit); p != nil {
		return Quantity{}, p
	}
	return Quantity{Number: n, Unit: unit, Dimension: dim.Name}, nil
}

// notOneNumber refuses pairs, ranges, approximations and blanks inside a
// number before the text is split, because each holds more than one number.
func notOneNumber(t string, dim Dimension) *Problem {
	if approximate.MatchString(t) {
		rest := strings.TrimSpace(approximate.ReplaceAllString(t, ""))
		return problem("the value is marked as approximate or as a limit",
			"the record needs the value that was used or measured", "write the value without the mark", rest)
	}
	if m := pairThenUnit.FindStringSubmatch(t); m != nil {
		unit := strings.TrimSpace(m[3])
		return pairProblem(withUnit(m[1], unit), withUnit(m[2], unit), dim.Pair)
	}
	if m := rangeThenUnit.FindStringSubmatch(t); m != nil {
		return rangeProblem(m[1]+"-"+m[2], strings.TrimSpace(m[3]))
	}
	if m := gapInNumber.FindStringSubmatch(t); m != nil {
		unit := strings.TrimSpace(m[2])
		var readings []string
		for _, mark := range []string{"", "."} {
			if joined := strings.ReplaceAll(m[1], " ", mark); plainNumber.MatchString(joined) {
				readings = append(readings, withUnit(joined, unit))
			}
		}
		return problem("there is a blank inside the number",
			"a blank can be a thousands mark or a lost point", "write the digits together, or with their point", readings...)
	}
	return nil
}

// fix says how a value of the dimension is written.
func (d Dimension) fix() string {
	if d.unitless() {
		return "write a whole number without a unit"
	}
	return "write the number and then its unit: " + d.symbols()
}

// numberProblem adds the unit to the readings of a refused number.
func (d Dimension) numberProblem(p *Problem, unitText string) *Problem {
	readings := make([]string, 0, len(p.Readings))
	for _, r := range p.Readings {
		if strings.Contains(r, " and ") { // a list of numbers takes no unit
			readings = append(readings, r)
			continue
		}
		readings = append(readings, withUnit(r, unitText))
	}
	return problem(p.What, p.Why, p.Fix, readings...)
}

func (d Dimension) bareProblem(number string) *Problem {
	var readings []string
	for _, u := range d.Units {
		readings = append(readings, withUnit(number, u.Symbol)+"?")
	}
	return problem("number without its unit", "the same number in another unit is another operation",
		d.fix(), readings...)
}

// unitProblem explains a unit that dim does not have.
func (d Dimension) unitProblem(number, unitText string) *Problem {
	if d.unitless() {
		return problem("a count has no unit", "what is counted is said by the field", d.fix(), number)
	}
	if u, ok := d.foldedUnit(unitText); ok {
		return problem("the unit has other capitals",
			"capitals change the meaning of a unit", "write the unit as "+d.symbols(), withUnit(number, u.Symbol))
	}
	for _, other := range allDimensions() {
		if _, ok := other.Unit(unitText); ok && other.Name != d.Name {
			return problem("a unit of "+other.Says+" stands where "+d.Says+" is wanted",
				"the value may belong to another field", d.fix())
		}
	}
	return problem("the unit is not one of this value", "only these units convert exactly: "+d.symbols(), d.fix())
}

// wholeProblem refuses a fraction or a negative number where only whole
// numbers are values. "0.27 G" is shown the gauge that was likely meant.
func (d Dimension) wholeProblem(n Decimal, u Unit) *Problem {
	if !d.Whole {
		return nil
	}
	if n.Sign() < 0 {
		return problem(fmt.Sprintf("a %s is never below zero", d.Says), whyOneReading, d.fix(),
			withUnit(n.Neg().String(), u.Symbol)+"?")
	}
	if strings.Contains(n.String(), ".") {
		digits := strings.TrimLeft(strings.ReplaceAll(n.String(), ".", ""), "0")
		whole, _, _ := strings.Cut(n.String(), ".")
		var readings []string
		for _, r := range []string{whole, digits} {
			if r != "" && r != "0" {
				readings = append(readings, withUnit(r, u.Symbol)+"?")
			}
		}
		return problem(fmt.Sprintf("a %s is a whole number", d.Says), "a point may have slipped in", d.fix(), readings...)
	}
	return nil
}
