package schema

import (
	"strings"
	"time"

	"graftnote/schema/quantity"
)

// number of a datum in its canonical unit.
func (v datum) number() (quantity.Decimal, bool) {
	if v.field == nil {
		return v.derived.Number, v.derived.Known && v.derived.HasNumber
	}
	return numberOf(v.field)
}

// numberOf gives the exact number behind an answer, in the canonical unit of
// its dimension; counts and clock hours too.
func numberOf(f Field) (quantity.Decimal, bool) {
	if !f.Recorded() {
		return quantity.Decimal{}, false
	}
	switch x := f.Any().(type) {
	case quantity.Quantity:
		return x.In(), true
	case int:
		return quantity.FromInt(int64(x)), true
	case quantity.ClockHour:
		return x.Hours(), true
	case quantity.Fraction:
		return x.Decimal(6), true
	case quantity.Refraction:
		return x.Sphere, true
	case quantity.Acuity:
		return x.LogMAR()
	case quantity.Stitches:
		return quantity.FromInt(int64(x.Count)), true
	case []quantity.Stitches:
		var sum int64
		for _, s := range x {
			sum += int64(s.Count)
		}
		return quantity.FromInt(sum), len(x) > 0
	}
	return quantity.Decimal{}, false
}

func (v datum) date() (quantity.Date, bool) {
	if v.field == nil {
		return v.derived.Date, v.derived.Known && !v.derived.Date.IsZero()
	}
	switch x := v.field.Any().(type) {
	case quantity.Date:
		return x, v.field.Recorded()
	case time.Time:
		return quantity.Date{Year: x.Year(), Month: x.Month(), Day: x.Day()}, v.field.Recorded()
	}
	return quantity.Date{}, false
}

func dateOrder(a, b quantity.Date) int {
	switch {
	case a.Before(b):
		return -1
	case a.After(b):
		return 1
	}
	return 0
}

// compareData compares two answers of one kind: dates, times of day, codes or
// numbers.
func compareData(op string, a, b datum) bool {
	if x, ok := a.date(); ok {
		y, ok := b.date()
		return ok && orders(op, dateOrder(x, y))
	}
	if x, ok := a.number(); ok {
		y, ok := b.number()
		return ok && orders(op, x.Cmp(y))
	}
	return orders(op, strings.Compare(a.text(), b.text()))
}

func (v datum) text() string {
	if v.field == nil {
		return v.derived.Code
	}
	return v.field.Text()
}

func orders(op string, c int) bool {
	switch op {
	case ">":
		return c > 0
	case ">=":
		return c >= 0
	case "<":
		return c < 0
	case "<=":
		return c <= 0
	case "=":
		return c == 0
	case "!=":
		return c != 0
	}
	return false
}
