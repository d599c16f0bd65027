package disclosure

import (
	"errors"
	"slices"
)

// Faults of a set or a policy. They carry no value of a row.
var (
	ErrRow    = errors.New("a row has not one value for each column")
	ErrPerson = errors.New("a row has no person key")
	ErrColumn = errors.New("a column is unknown or named twice")
)

// Row is one row of a release.
type Row struct {
	// Person is the key of the person, the same on all rows of one person.
	Person string
	// Month is the month of the package that the row went out in; it is only
	// reported.
	Month string
	// Values are the values of the set's columns, in their order.
	Values []string
}

// Set is the cumulative set of rows of all releases so far.
type Set struct {
	Columns []string
	Rows    []Row
}

// Diversity is the spread of one sensitive column within the classes.
type Diversity struct {
	Column string
	// L is the least number of different values in a class: distinct l-diversity
	// (Machanavajjhala and others, ACM TKDD 2007;1:3). 0 for no rows.
	L int
	// Uniform counts classes with one single value: whoever is known to be in
	// such a class is known to have the value.
	Uniform int
}

// Report says how well people are hidden in a set.
type Report struct {
	Rows, Persons int
	// K is the least number of people in a class, a class being the rows that
	// agree in all quasi-identifiers: each row is shared with at least K-1 other
	// people (Sweeney, IJUFKS 2002;10:557-570, with people for rows). 0 for no
	// rows.
	K int
	// LinkedK is the same when the person key is on the rows: a reader who can
	// tell which rows are one person's compares all of them together, so a class
	// is the people whose rows agree row for row. It is never above K.
	LinkedK int
	// Classes counts the classes, Singles those with one person only.
	Classes, Singles int
	// SmallestFirst counts classes by size: how many classes have 1, 2, ...
	// people. Sizes of DefaultK and above are not listed.
	SmallestFirst []int
	// Diversity has a line for each sensitive column.
	Diversity []Diversity
}

// report measures the rows that are not dropped, given the class of each row.
func (c *coded) report(g grouping, dropped []bool) Report {
	kept := func(row int) bool { return dropped == nil || !dropped[row] }
	var r Report
	people := make([]int, g.classes)
	rows := make([]int, g.classes)
	for _, of := range c.persons {
		seen := g.distinct(of, kept)
		if len(seen) > 0 {
			r.Persons++
		}
		for _, class := range seen {
			people[class]++
		}
	}
	for row := range c.rows {
		if kept(row) {
			r.Rows++
			rows[g.of[row]]++
		}
	}
	r.SmallestFirst = make([]int, DefaultK-1)
	for class, n := range people {
		if rows[class] == 0 {
			continue
		}
		r.Classes++
		if n == 1 {
			r.Singles++
		}
		if n < DefaultK {
			r.SmallestFirst[n-1]++
		}
		if r.K == 0 || n < r.K {
			r.K = n
		}
	}
	r.LinkedK = c.linkedLeast(g, kept)
	for s, name := range c.sensitive {
		values := c.spread(g, s, kept)
		d := Diversity{Column: name}
		for class, n := range values {
			if rows[class] == 0 {
				continue
			}
			if d.L == 0 || n < d.L {
				d.L = n
			}
			if n == 1 {
				d.Uniform++
			}
		}
		r.Diversity = append(r.Diversity, d)
	}
	return r
}

// spread counts the different values of a sensitive column in each class.
func (c *coded) spread(g grouping, sensitive int, kept func(int) bool) []int {
	out := make([]int, g.classes)
	seen := make(map[uint64]struct{}, g.classes)
	for row := range c.rows {
		if !kept(row) {
			continue
		}
		key := uint64(g.of[row])<<32 | uint64(c.values[sensitive][row])
		if _, known := seen[key]; !known {
			seen[key] = struct{}{}
			out[g.of[row]]++
		}
	}
	return out
}

// linkedLeast is the least number of people whose kept rows agree row for row.
func (c *coded) linkedLeast(g grouping, kept func(int) bool) int {
	least := 0
	for _, n := range c.signatures(g, kept).people {
		if n > 0 && (least == 0 || n < least) {
			least = n
		}
	}
	return least
}

// signatureGroups are the groups of people whose rows agree row for row.
type signatureGroups struct {
	// of is the group of each person, -1 for a person without kept rows.
	of []int
	// people counts the people of each group.
	people []int
}

func (c *coded) signatures(g grouping, kept func(int) bool) signatureGroups {
	out := signatureGroups{of: make([]int, len(c.persons))}
	// Most people have one row, and their group is its class.
	single := make([]int, g.classes)
	for i := range single {
		single[i] = -1
	}
	several := map[string]int{}
	var classes []int32
	var key []byte
	for p, rows := range c.persons {
		classes = classes[:0]
		for _, row := range rows {
			if kept(int(row)) {
				classes = append(classes, g.of[row])
			}
		}
		switch len(classes) {
		case 0:
			out.of[p] = -1
			continue
		case 1:
			at := &single[classes[0]]
			if *at < 0 {
				*at = len(out.people)
				out.people = append(out.people, 0)
			}
			out.of[p] = *at
		default:
			slices.Sort(classes)
			key = key[:0]
			for _, class := range classes {
				key = append(key, byte(class), byte(class>>8), byte(class>>16), byte(class>>24))
			}
			at, known := several[string(key)]
			if !known {
				at = len(out.people)
				several[string(key)] = at
				out.people = append(out.people, 0)
			}
			out.of[p] = at
		}
		out.people[out.of[p]]++
	}
	return out
}
