package main

import (
	"encoding/hex"
	"fmt"
	"slices"
	"strings"

	"graftnote/fhir"
)

// kind of a product.
type kind string

const (
	kindNote     kind = "note.pdf"
	kindBundle   kind = "bundle.json"
	kindDocument kind = "document.json"
	kindRow      kind = "row.csv"
	kindDraft    kind = "draft.pdf"
)

// kinds in the order of the summary; a case has the first four or the draft.
var kinds = []struct {
	kind  kind
	title string
}{
	{kindNote, "notes"}, {kindDraft, "blocked drafts"}, {kindBundle, "FHIR transactions"},
	{kindDocument, "FHIR documents"}, {kindRow, "registry rows"},
}

// What a folder holds once: the Table Schema of its rows, and the code system
// that its bundles use.
const (
	rowSchemaName  = "row.schema.json"
	codeSystemName = "codesystem.json"
)

// isProduct tells graftnote's own files from entries, in a folder that holds
// both. The name is in lower case.
func isProduct(name string) bool {
	return name == rowSchemaName || name == codeSystemName || slices.ContainsFunc(kinds, func(k struct {
		kind  kind
		title string
	}) bool {
		return strings.HasSuffix(name, "."+string(k.kind))
	})
}

// summary counts what a run of 'write' made. It keeps one line for each blocked
// case and nothing else of the entries.
type summary struct {
	tally
	flags    *writeFlags
	made     map[kind]int
	withheld map[string]int
	blocked  []string
	digests  []string
	signed   int // notes of the casebook
	large    int // transactions past what receivers usually take
}

func newSummary(w *writeFlags) *summary {
	return &summary{flags: w, made: map[kind]int{}, withheld: map[string]int{}}
}

func (s *summary) take(file string, c *caseDone) {
	s.cases++
	s.blocks, s.look, s.remarks = s.blocks+c.counts.blocks, s.look+c.counts.look, s.remarks+c.counts.remarks
	if c.fault != nil {
		s.unwritten++
	}
	if c.checked && c.complete {
		s.complete++
	}
	if c.checked && !c.complete {
		s.blocked = append(s.blocked, fmt.Sprintf("%s in %s: %s", c.name, file, countFinding(c.counts.blocks)))
	}
	for _, w := range c.written {
		s.made[w.kind]++
		if w.kind == kindBundle && w.size > fhir.UsualLimit {
			s.large++
		}
		s.digest(w.name, w.sum)
	}
	if c.withheld != "" && c.fault == nil {
		s.withheld[c.withheld]++
	}
}

// digest notes the digest of a file, in the form that sha256sum reads.
func (s *summary) digest(name string, sum digest) {
	if s.flags.digests {
		s.digests = append(s.digests, hex.EncodeToString(sum[:])+"  "+name)
	}
}

// summary prints what was written, why rows were withheld, and the verdict.
func (p *printer) summary(s *summary) {
	for _, d := range s.digests {
		p.line("%s", d)
	}
	for _, b := range s.blocked {
		p.line("%s %s", p.paint(bold+red, "blocked:"), b)
	}
	if len(s.blocked) > 0 {
		p.line("'graftnote check' shows these findings in full.\n")
	}
	p.line("In the folder %s:", s.flags.out)
	for _, k := range kinds {
		p.line("  %-18s %6d   CASE.%s", k.title, s.made[k.kind], k.kind)
	}
	if n := len(s.withheld); n > 0 {
		reasons := make([]string, 0, n)
		for why := range s.withheld {
			reasons = append(reasons, why)
		}
		slices.Sort(reasons)
		for _, why := range reasons {
			p.line("  %-18s %6d   %s", "rows withheld", s.withheld[why], why)
		}
	}
	if s.large > 0 {
		p.line("  %-18s %6d   larger than %d bytes: ask the receiver for its limit", "large bundles", s.large, fhir.UsualLimit)
	}
	if s.signed > 0 {
		p.line("From the casebook, as signed: %s.", count(s.signed, "note"))
	}
	if s.signed < s.cases || s.unread > 0 || s.unwritten > 0 {
		p.verdict(s.tally)
	}
}
