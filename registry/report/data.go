package report

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"graftnote/registry"
	"graftnote/registry/figures"
)

// Row is one de-identified row. A column that it does not carry has the cell "".
type Row interface{ Cell(column string) string }

// KeyColumn ties a visit to its operation: both rows carry it.
const KeyColumn = "row_key"

// Data is what a report is made of.
type Data struct {
	// Rows are operations, with the columns of registry.Columns. A column may be
	// absent.
	Rows []Row
	// FollowUps are visits, with the columns of registry.VisitColumns and the
	// KeyColumn of their operation.
	FollowUps []Row
	// Ordered says that Rows stand in the order of operation, which the rows
	// themselves do not tell. Without it there is no learning curve.
	Ordered bool
	// Counts say what became of all operations of the period; nil when nobody
	// counted.
	Counts *Counts
	// Scope says in one sentence what the rows are; it may be empty. While small
	// counts are hidden, so is a whole number in it that is one, or that differs from
	// the operations of the rows by one.
	Scope string
	// GivenUp are sentences about what was given up for disclosure protection. They
	// are printed as they are, so they must not carry a count that is to be hidden.
	GivenUp []string
}

// Counts is the denominator: all operations of the period. Operated should be Sent
// and the Held together, and the report says whether it is.
type Counts struct {
	// Theatre is what the theatre counted; below zero when nobody entered it.
	Theatre                int
	Operated, Signed, Sent int
	Held                   []Held
}

// Held counts operations that were left out for one reason.
type Held struct {
	Reason string // in words
	N      int
}

// Options are the reader's choices. The zero value hides counts below
// figures.DefaultMinimum and looks at vision 12 months after surgery.
type Options struct {
	// Minimum is the smallest count above zero that is shown: one of
	// figures.Minimums, or 0 for figures.DefaultMinimum.
	Minimum int
	// Unmasked shows small counts. The report says that it must not leave the unit.
	Unmasked bool
	// Period and Site are words for the head; either may be empty.
	Period, Site string
	// Months is the visit for acuity and astigmatism, 0 for 12.
	Months float64
	// Line is the acuity that is counted as reached, logMAR; nil for 0.3 (20/40).
	Line *float64
	// Filter keeps some of the operations, with their visits.
	Filter Filter
}

// Faults of data and options. None carries a value of a row.
var (
	ErrMinimum  = errors.New("report: the smallest shown count must be 5, 8 or 11")
	ErrCounts   = errors.New("report: a count of operations is below zero, or more were sent than signed, or signed than entered")
	ErrKey      = errors.New("report: two operations have one row key")
	ErrFilter   = errors.New("report: a filter names a column and its codes, such as indication=keratoconus")
	ErrOptions  = errors.New("report: the visit and the acuity line must be numbers, the visit above 0 months")
	ErrTooLarge = errors.New("report: more than a thousand million operations")
)

func (o Options) ready() (Options, error) {
	if o.Minimum == 0 {
		o.Minimum = figures.DefaultMinimum
	}
	if !slices.Contains(figures.Minimums(), o.Minimum) {
		return o, ErrMinimum
	}
	if o.Months == 0 {
		o.Months = content().Visit
	}
	if o.Line == nil {
		line := 0.3
		o.Line = &line
	}
	if !(o.Months > 0) || math.IsInf(o.Months, 0) || math.IsNaN(*o.Line) || math.IsInf(*o.Line, 0) {
		return o, ErrOptions
	}
	return o, nil
}

// Filter keeps the operations that satisfy all conditions.
type Filter []Condition

// Condition holds when the column's cell is one of the codes or, in a column
// that may hold several, has one of them.
type Condition struct {
	Column string
	Codes  []string
}

// ParseFilter reads conditions such as "indication=keratoconus" or
// "operation_year=2025|2026". The error is ErrFilter, for a column that rows do
// not have or a code that neither the column's list nor one of the rows has.
func ParseFilter(conditions []string, rows []Row) (Filter, error) {
	var out Filter
	for _, text := range conditions {
		name, list, ok := strings.Cut(text, "=")
		name = strings.TrimSpace(name)
		if !ok || !registry.IsColumn(name) {
			return nil, ErrFilter
		}
		column := content().columns[name]
		c := Condition{Column: name, Codes: strings.Split(list, "|")}
		for i, code := range c.Codes {
			code = strings.TrimSpace(code)
			c.Codes[i] = code
			known := len(column.Codes) == 0 && code != ""
			for _, w := range column.Codes {
				known = known || w.Code == code
			}
			for i := 0; i < len(rows) && !known; i++ { // coarser codes stand in rows only
				known = slices.Contains(strings.Split(rows[i].Cell(name), registry.Separator()), code)
			}
			if !known {
				return nil, fmt.Errorf("%w; %s has no such code", ErrFilter, name)
			}
		}
		out = append(out, c)
	}
	return out, nil
}

func (f Filter) keeps(r Row) bool {
	for _, c := range f {
		held := false
		for _, code := range strings.Split(r.Cell(c.Column), registry.Separator()) {
			held = held || slices.Contains(c.Codes, code)
		}
		if !held {
			return false
		}
	}
	return true
}

// String writes the filter as it is typed.
func (f Filter) String() string {
	var out []string
	for _, c := range f {
		out = append(out, c.Column+"="+strings.Join(c.Codes, "|"))
	}
	return strings.Join(out, ", ")
}

// state is what a cell says about its question.
type state int

const (
	recorded state = iota
	reasoned       // left out with a reason
	silent
	notAsked
	withheld // known to the hospital, and held back
)

// states name the missing ones.
var states = map[state]string{reasoned: "not recorded", silent: "not stated", notAsked: "does not apply", withheld: "withheld"}

// missing reads the codes of the registry's columns.yaml and of its packages. An
// absent cell is silence.
func missing(cell string) state {
	switch cell {
	case "":
		return silent
	case "NA":
		return notAsked
	case "NP", "NM", "NR":
		return reasoned
	case "NS":
		return silent
	case "WH", "WD":
		return withheld
	}
	return recorded // NC and OL too: something was recorded
}

// Standing are the rows that stand after several packages of one registry, in the
// order in which their keys first came: of the rows of one key that with the
// highest revision, unless it was withdrawn. key is the column of the row's key:
// KeyColumn for operations, VisitColumn for visits. Rows without a revision are
// taken as they are.
func Standing(rows []Row, key string) []Row {
	at := map[string]int{}
	var out []Row
	for _, r := range rows {
		n, ok := value(r, "revision")
		if !ok || r.Cell(key) == "" {
			out = append(out, r)
			continue
		}
		i, known := at[r.Cell(key)]
		if !known {
			at[r.Cell(key)] = len(out)
			out = append(out, r)
			continue
		}
		if old, _ := value(out[i], "revision"); n > old {
			out[i] = r
		}
	}
	return slices.DeleteFunc(out, func(r Row) bool { return r.Cell("change") == "withdrawn" })
}

// VisitColumn is the column of a visit's own key in a package.
const VisitColumn = "visit_key"

// largest is more than any column of a row can hold.
const largest = 1e6

// value is a cell as a number.
func value(r Row, column string) (float64, bool) {
	v, err := strconv.ParseFloat(r.Cell(column), 64)
	return v, err == nil && math.Abs(v) <= largest // not for NaN
}
