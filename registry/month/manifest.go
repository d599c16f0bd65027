package month

import (
	"crypto/sha256"
	"encoding/json"
	"fmt"
	"time"

	"graftnote/registry"
	"graftnote/schema"
)

// Format is the first thing that a manifest says.
const Format = "graftnote registry package 1"

// Manifest is manifest.json: what the package is and holds.
type Manifest struct {
	Format     string         `json:"format"`
	Package    string         `json:"package"` // identifier, made of the contents
	Period     string         `json:"period"`
	Mode       Mode           `json:"mode"`
	ModeSays   string         `json:"mode_says"`
	KeyEpoch   string         `json:"key_epoch"` // "random" for random keys
	MinCell    int            `json:"minimum_cell"`
	ColumnsVer int            `json:"columns_version"`
	FieldsVer  int            `json:"fields_version"`
	PackageVer int            `json:"package_version"` // of month.yaml
	Profile    *ProfileName   `json:"profile,omitempty"`
	Checkpoint string         `json:"checkpoint"`
	By         string         `json:"made_by"`
	At         string         `json:"made_at"` // RFC 3339
	Counts     Counts         `json:"counts"`
	Rows       map[string]int `json:"rows"` // by table and change, as in the files
	Disclosure *Disclosure    `json:"disclosure,omitempty"`
	Notes      []string       `json:"notes"`
	Octets     int64          `json:"octets"` // of all files named
	Files      []FileEntry    `json:"files"`
}

// FileEntry is one file of the package.
type FileEntry struct {
	Path   string `json:"path"`
	Bytes  int64  `json:"bytes"`
	Rows   *int   `json:"rows,omitempty"`
	SHA256 Digest `json:"sha256"`
}

// Counts say what became of the operations of the period.
type Counts struct {
	// Theatre is what the theatre counted; nil when nobody entered it.
	Theatre *int `json:"theatre"`
	// Entered are those that the casebook knows; Signed those whose note stands.
	Entered int `json:"entered"`
	Signed  int `json:"signed"`
	// Sent are those that stand at the registry once this package is accepted.
	Sent int `json:"sent"`
	// HeldBack are the rest, by the first reason that fits.
	HeldBack map[string]int `json:"held_back"`
	// NotEntered is Theatre less Entered; below zero when more were entered than
	// the theatre counted. nil without a count.
	NotEntered *int   `json:"not_entered"`
	AddsUp     bool   `json:"adds_up"`
	Says       string `json:"says"`
}

// close works out the sums.
func (c *Counts) close(theatre, sent int) {
	c.Sent = sent
	held := 0
	for _, n := range c.HeldBack {
		held += n
	}
	c.Says = fmt.Sprintf("%d in the package or at the registry already and %d held back make the %d entered.", sent, held, c.Entered)
	if sent+held != c.Entered {
		// Every operation is taken or left out, so this cannot be; a package that
		// does not add up must say so all the same.
		c.Says = fmt.Sprintf("%d in the package or at the registry already and %d held back do not make the %d entered.", sent, held, c.Entered)
		return
	}
	if theatre < 0 {
		c.Says += " The theatre's count was not given, so nobody can tell whether any is missing."
		return
	}
	missing := theatre - c.Entered
	c.Theatre, c.NotEntered = &theatre, &missing
	switch {
	case missing == 0:
		c.AddsUp = true
		c.Says += fmt.Sprintf(" The theatre counted %d: it adds up.", theatre)
	case missing > 0:
		c.Says += fmt.Sprintf(" The theatre counted %d: %d %s no entry. It does not add up.", theatre, missing, plural(missing, "has", "have"))
	default:
		c.Says += fmt.Sprintf(" The theatre counted %d: %d more %s entered than counted. It does not add up.", theatre, -missing, plural(-missing, "is", "are"))
	}
}

func plural(n int, one, many string) string {
	if n == 1 {
		return one
	}
	return many
}

// Disclosure says how people are hidden in all rows that stand at the registry
// once the package is accepted, and what was given up.
type Disclosure struct {
	K       int `json:"k_asked"`
	L       int `json:"l_asked"`
	Reached int `json:"k_reached"`
	Linked  int `json:"k_reached_linked"` // when rows of one person can be told
	// Joined is the least number of people alike in all versions of all rows that
	// this registry has had, with this package; JoinedLinked the same when rows of
	// one person can be told; JoinedRows how many rows those are.
	Joined       int         `json:"k_all_versions"`
	JoinedLinked int         `json:"k_all_versions_linked"`
	JoinedRows   int         `json:"rows_all_versions"`
	Rows         int         `json:"rows"`
	Persons      int         `json:"persons"`
	Classes      int         `json:"classes"`
	Before       int         `json:"k_before"`
	Steps        []Step      `json:"steps"`
	Suppressed   int         `json:"rows_suppressed"`
	Share        string      `json:"share_suppressed"`
	Limit        string      `json:"share_allowed"`
	Loss         string      `json:"loss"` // normalised certainty penalty, 0 to 1
	Diversity    []Diversity `json:"diversity"`
}

// Step is how coarse a column was made.
type Step struct {
	Column string `json:"column"`
	Step   int    `json:"step"`
	Of     int    `json:"of"`
	Name   string `json:"name"`
	Loss   string `json:"loss"`
}

// Diversity is the spread of a column that must not be learnt.
type Diversity struct {
	Column  string `json:"column"`
	L       int    `json:"l"`
	Uniform int    `json:"classes_of_one_value"`
}

func manifestOf(in Input, o Options, d *differ, p *Package) Manifest {
	m := Manifest{Format: Format, Period: in.Period.String(), Mode: o.Mode, ModeSays: load().Says[string(o.Mode)], KeyEpoch: d.keys.epoch(),
		MinCell: o.MinCell, ColumnsVer: registry.Version(), FieldsVer: schema.Content().Version, PackageVer: load().Version,
		Checkpoint: in.Checkpoint, By: in.By, At: in.At.UTC().Format(time.RFC3339), Counts: d.counts, Rows: map[string]int{}}
	if o.Profile != nil {
		m.Profile = &ProfileName{o.Profile.Name, o.Profile.Title, o.Profile.Version}
	}
	for _, t := range p.tables {
		for _, c := range load().Changes {
			m.Rows[t.name+"."+c.Code] = 0
		}
		for i := range t.lines {
			m.Rows[t.name+"."+t.lines[i].change]++
		}
	}
	if o.Mode == SafeHarbor {
		m.Notes = append(m.Notes, load().Says["knowledge"])
	}
	if in.Period.Month != 0 {
		m.Notes = append(m.Notes, load().Says["month"])
	}
	m.Notes = append(m.Notes, load().Says["versions"], load().Says["rare"])
	if r := p.Disclosure; r != nil {
		dis := &Disclosure{K: r.K, L: r.L, Reached: r.After.K, Linked: r.After.LinkedK, Rows: r.After.Rows, Persons: r.After.Persons, Classes: r.After.Classes,
			Before: r.Before.K, Suppressed: len(r.Dropped), Share: ratio(r.Suppressed), Limit: ratio(max(o.MaxSuppressed, 0)), Loss: ratio(r.Loss)}
		dis.Joined, dis.JoinedLinked, dis.JoinedRows = d.joined.k, d.joined.linkedK, d.joined.rows
		for _, c := range r.Changes {
			dis.Steps = append(dis.Steps, Step{c.Column, c.Step, c.Last, c.Name, ratio(c.Penalty)})
		}
		for _, v := range r.After.Diversity {
			dis.Diversity = append(dis.Diversity, Diversity{v.Column, v.L, v.Uniform})
		}
		m.Disclosure = dis
	}
	m.Package = identifier(m, p)
	return m
}

// ratio writes a share with four places, so that the file does not depend on how
// a machine prints a fraction.
func ratio(x float64) string { return fmt.Sprintf("%.4f", x) }

// identifier is made of all that the manifest says but the files, so the same
// month made again, with the time of the first, has the same one.
func identifier(m Manifest, p *Package) string {
	h := sha256.New()
	head, _ := json.Marshal(m) // texts and figures: it cannot fail
	h.Write(head)
	for _, t := range p.tables {
		for i := range t.lines {
			l := &t.lines[i]
			fmt.Fprintf(h, "%s %s %s %d %s %s\n", l.kind, l.key, l.change, l.revision, l.reason, l.digest)
		}
	}
	for _, e := range p.leftOut() {
		fmt.Fprintf(h, "%s %s %d\n", e.which, e.reason, e.n)
	}
	var sum Digest
	h.Sum(sum[:0])
	return sum.String()[:16]
}
