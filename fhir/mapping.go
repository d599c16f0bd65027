package fhir

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"net/url"
	"regexp"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"github.com/samply/golang-fhir-models/fhir-models/fhir"
)

// mappingColumns are the columns of a site mapping, in any order.
var mappingColumns = []string{"concept", "side", "system", "code", "display", "version", "licence_held_by"}

// The longest mapping that is read, and the longest cell.
const (
	maxMapping = 4 << 20
	maxCell    = 500
)

// Mapping is the site's own and licensed codes: for a concept of ours and an
// eye, what else to send. The zero of *Mapping, nil, maps nothing.
type Mapping struct {
	rows      []mapped
	byConcept map[string][]mapped
}

type mapped struct {
	concept, side                          string
	system, code, display, version, holder string
}

// fhirCode is the form of a code in FHIR R4 (datatypes, primitive type code).
var fhirCode = regexp.MustCompile(`^[^\s]+( [^\s]+)*$`)

// ParseMapping reads a site mapping: a CSV file with the header concept, side,
// system, code, display, version, licence_held_by. Lines that begin with # are
// passed over. concept is a code of CodeSystem; side is right, left or empty for
// either eye.
//
// It refuses an unknown concept, a row twice, a code of a licensed system whose
// row does not name the licence holder, a code that names another eye than its
// side, and a code that SNOMED CT has retired. Every fault is reported, each with
// file name and line.
func ParseMapping(name string, text []byte) (*Mapping, error) {
	fail := func(line int, format string, args ...any) error {
		return fmt.Errorf("%s:%d: %s", name, line, fmt.Sprintf(format, args...))
	}
	if len(text) > maxMapping {
		return nil, fail(1, "the mapping is longer than %d bytes", maxMapping)
	}
	if !utf8.Valid(text) {
		return nil, fail(1, "the mapping is no UTF-8 text")
	}
	r := csv.NewReader(bytes.NewReader(bytes.TrimPrefix(text, []byte("\ufeff"))))
	r.Comment = '#'
	r.FieldsPerRecord = len(mappingColumns)
	head, err := r.Read()
	if err != nil {
		return nil, fail(lineOf(err, 1), "the first line must name the columns %s", strings.Join(mappingColumns, ", "))
	}
	place := map[string]int{}
	for _, c := range mappingColumns {
		i := slices.Index(head, c)
		if i < 0 {
			return nil, fail(1, "there is no column %s; the columns are %s", c, strings.Join(mappingColumns, ", "))
		}
		place[c] = i
	}
	m := &Mapping{byConcept: map[string][]mapped{}}
	seen := map[mapped]int{}
	var faults []error
	for {
		cells, err := r.Read()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			line := lineOf(err, 0)
			faults = append(faults, fail(line, "%s", csvFault(err)))
			if !errors.Is(err, csv.ErrFieldCount) {
				break
			}
			continue
		}
		line, _ := r.FieldPos(0)
		get := func(c string) string { return cells[place[c]] }
		row := mapped{get("concept"), get("side"), get("system"), get("code"), get("display"), get("version"), get("licence_held_by")}
		said := row.faults(cells)
		key := mapped{concept: row.concept, side: row.side, system: row.system, code: row.code}
		if at, twice := seen[key]; twice {
			said = append(said, fmt.Sprintf("the same mapping stands in line %d", at))
		}
		seen[key] = line
		for _, s := range said {
			faults = append(faults, fail(line, "%s", s))
		}
		m.rows = append(m.rows, row)
		m.byConcept[row.concept] = append(m.byConcept[row.concept], row)
	}
	if len(faults) > 0 {
		return nil, errors.Join(faults...)
	}
	return m, nil
}

func lineOf(err error, otherwise int) int {
	var p *csv.ParseError
	if errors.As(err, &p) {
		return p.Line
	}
	return otherwise
}

func csvFault(err error) string {
	if errors.Is(err, csv.ErrFieldCount) {
		return fmt.Sprintf("the row has not %d cells", len(mappingColumns))
	}
	return "a quotation mark is out of place"
}

// faults says what is wrong with one row.
func (r mapped) faults(cells []string) []string {
	t := terms()
	for _, c := range cells {
		if len(c) > maxCell || strings.TrimSpace(c) != c || strings.ContainsFunc(c, unicode.IsControl) {
			return []string{fmt.Sprintf("a cell has blanks at its ends, control characters or more than %d bytes", maxCell)}
		}
	}
	var out []string
	if !t.own.has(r.concept) {
		out = append(out, "column concept: this is no code of our code system")
	}
	if _, ok := t.Eyes[r.side]; !ok && r.side != "" {
		out = append(out, "column side: write right, left or nothing")
	}
	if u, err := url.Parse(r.system); err != nil || u.Scheme == "" || strings.ContainsAny(r.system, " |") {
		out = append(out, "column system: write the full address of the code system")
	}
	if !fhirCode.MatchString(r.code) {
		out = append(out, "column code: there is no code, or it has blanks")
	}
	if slices.Contains(t.Inactive, r.code) {
		out = append(out, "column code: this code is inactive in its system")
	}
	if why := t.licence(r.system); why != "" && r.holder == "" {
		out = append(out, "column licence_held_by: name who holds the licence for codes of this system: "+why)
	}
	if f, ok := t.fields[r.concept]; ok && t.aboutTissue(f) && slices.Contains(t.OfPatient, r.system+"|"+r.code) {
		out = append(out, "column code: this code means the patient's own eye, and what the donor tissue has would be read as the patient's; leave the row out or write a code that says donor")
	}
	if r.system == t.own.URL {
		out = append(out, "column system: our own codes are sent already")
	}
	return append(out, r.eyeFault(t)...)
}

// aboutTissue reports a field whose Observation is about donor tissue.
func (t *tables) aboutTissue(f *field) bool {
	p, ok := t.panels[f.where]
	return ok && p.Focus != ""
}

// licence says why a system needs a licence, "" when it does not.
func (t *tables) licence(system string) string {
	low := strings.ToLower(system)
	for _, l := range t.Licensed {
		stem, open := strings.CutSuffix(l.System, "*")
		// http and https name the same owner.
		if same(low, stem, open) || same(strings.Replace(low, "https://", "http://", 1), stem, open) {
			return l.Why
		}
	}
	return ""
}

func same(system, stem string, open bool) bool {
	return system == stem || open && strings.HasPrefix(system, stem)
}

// codings are what the site sends for the nearest of the concepts that it maps.
func (m *Mapping) codings(concepts []string, eye string) []fhir.Coding {
	if m == nil {
		return nil
	}
	for _, c := range concepts {
		var out []fhir.Coding
		for _, r := range m.byConcept[c] {
			if r.side == "" || r.side == eye {
				out = append(out, r.coding())
			}
		}
		if out != nil {
			return out
		}
	}
	return nil
}

func (r mapped) coding() fhir.Coding {
	c := fhir.Coding{System: ptr(r.system), Code: ptr(r.code)}
	if r.display != "" {
		c.Display = ptr(r.display)
	}
	if r.version != "" {
		c.Version = ptr(r.version)
	}
	return c
}
