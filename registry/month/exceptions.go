package month

import (
	"encoding/csv"
	"io"

	"graftnote/registry"
)

// Exception is an operation that was left out. It stays at home: the package
// counts exceptions and names none, because a key that is left out today and sent
// later would tell its month, and a patient who refused has no key there at all.
type Exception struct {
	Key    string // row key
	Which  string // this, earlier or unknown, codes of month.yaml
	Reason string // code of ExceptionReasons
	Case   string
}

// leftOut is how many operations were left out for one reason.
type leftOut struct {
	which, reason string
	n             int
}

// leftOut counts the exceptions in the order of month.yaml. Reasons without an
// operation are left out themselves.
func (p *Package) leftOut() []leftOut {
	count := map[leftOut]int{}
	for _, e := range p.Exceptions {
		count[leftOut{which: e.Which, reason: e.Reason}]++
	}
	var out []leftOut
	for _, w := range load().Which {
		for _, r := range load().Exceptions {
			key := leftOut{which: w.Code, reason: r.Code}
			if n := count[key]; n > 0 {
				key.n = n
				out = append(out, key)
			}
		}
	}
	return out
}

func (p *Package) exceptionsCSV(out io.Writer) error {
	w := csv.NewWriter(out)
	w.UseCRLF = true
	if err := w.Write([]string{"which", "reason", "operations", "says"}); err != nil {
		return err
	}
	for _, e := range p.leftOut() {
		if err := w.Write([]string{e.which, e.reason, itoa(e.n), load().says(load().Exceptions, e.reason)}); err != nil {
			return err
		}
	}
	w.Flush()
	return w.Error()
}

func exceptionsSchema() tableSchema {
	c := load()
	fields := []registry.Column{
		{Name: "which", Title: "Which operations", Meaning: "Of the period, of an earlier one, or of no known month.", Type: registry.TypeString, Codes: words(c.Which), Required: true},
		{Name: "reason", Title: "Reason", Meaning: "Why they are left out.", Type: registry.TypeString, Codes: words(c.Exceptions), Required: true},
		{Name: "operations", Title: "Operations", Meaning: "How many. No key of any of them leaves the hospital.", Type: registry.TypeInteger, Minimum: "1", Maximum: "10000000", Required: true},
		{Name: "says", Title: "Reason in words", Meaning: "The same for people.", Type: registry.TypeString, Codes: sentences(c.Exceptions), Required: true},
	}
	s := tableSchema{MissingValues: []string{""}, PrimaryKey: []string{"which", "reason"}}
	for _, f := range fields {
		s.Fields = append(s.Fields, f.TableField())
	}
	return s
}
