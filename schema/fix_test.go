package schema

import (
	"fmt"
	"regexp"
	"slices"
	"strings"
	"testing"
)

// pasted puts a suggested line under its group, in a line of its own and within
// braces, and gives what the reader makes of it there.
func pasted(r *Row, line string) (answers []Field, findings []Finding) {
	texts := []string{line + "\n"}
	if r.Group.Key != "" {
		dash := ""
		if r.Group.Many != "" {
			dash = "- "
		}
		texts = []string{fmt.Sprintf("%s:\n  %s%s\n", r.Group.Key, dash, line), fmt.Sprintf("%s:\n  %s{%s}\n", r.Group.Key, dash, line)}
	}
	for _, text := range texts {
		out := Read(Source{Name: "pasted.yaml", Data: []byte(text)}, Options{Now: galleryNow})
		findings = append(findings, out.Findings...)
		for _, c := range out.Cases {
			findings = append(findings, c.findings...)
			if f := c.Entry.slot(r, 0); r.Group.Many == "" || c.Entry.Count(r.Group.Key) > 0 {
				answers = append(answers, f)
			}
		}
	}
	return answers, findings
}

// accepted reports a suggested line that is taken as an answer of its field
// wherever it is pasted.
func accepted(r *Row, line string, recorded bool) bool {
	answers, findings := pasted(r, line)
	refused := slices.ContainsFunc(findings, func(f Finding) bool { return f.Severity == Blocks })
	return len(answers) > 0 && !refused && !slices.ContainsFunc(answers, func(f Field) bool {
		_, gap := f.NotRecorded()
		return f.Recorded() != recorded || gap == recorded
	})
}

// refused reports a suggested line that answers nothing wherever it is pasted: it
// is no value and no gap, and a finding blocks.
func refused(r *Row, line string) bool {
	answers, findings := pasted(r, line)
	return slices.ContainsFunc(findings, func(f Finding) bool { return f.Severity == Blocks }) &&
		!slices.ContainsFunc(answers, func(f Field) bool {
			_, gap := f.NotRecorded()
			return f.Recorded() || gap
		})
}

// yamlExample quotes an example that YAML would read otherwise, within braces too.
func yamlExample(r *Row) string {
	if strings.ContainsAny(r.Example, ":#{},[]") && !strings.HasPrefix(r.Example, "[") {
		return `"` + r.Example + `"`
	}
	return r.Example
}

// The examples of the pages can be written as they stand; what a finding says to
// write for a silent field cannot: neither the line nor the gap beside it, nor
// any word of the field that it was filled with.
func TestFixOfRequiredFields(t *testing.T) {
	line := regexp.MustCompile(`^Write  (.+?)(?:  under [a-z-]+)?(?:, or  (.+))?\.$`)
	for _, g := range Content().Groups {
		for _, r := range g.Fields {
			if r.Prefill == "derived" || r.Key == "from-technique" {
				continue
			}
			m := line.FindStringSubmatch(fixFor(r))
			if m == nil {
				t.Errorf("%s: %s", r.Path(), fixFor(r))
				continue
			}
			if !refused(r, m[1]) {
				t.Errorf("%s: %q is taken for an answer", r.Path(), m[1])
			}
			if m[2] != "" && !refused(r, m[2]) {
				t.Errorf("%s: %q is taken for a gap with its reason", r.Path(), m[2])
			}
			if r.Example != "" && !accepted(r, r.Key+": "+yamlExample(r), true) {
				_, f := pasted(r, r.Key+": "+yamlExample(r))
				t.Errorf("%s: the example %q is refused: %v", r.Path(), r.Example, f)
			}
			if gap := strings.Replace(m[2], "<reason>", "sheet lost", 1); gap != "" && !accepted(r, gap, false) {
				t.Errorf("%s: %q is refused", r.Path(), gap)
			}
			if list, ok := Content().Lists[r.ListName()]; ok {
				for _, c := range list.Codes {
					if !strings.Contains(r.Form(), c.Code) || !accepted(r, r.Key+": "+c.Code, true) {
						t.Errorf("%s: the hint does not offer %s", r.Path(), c.Code)
					}
				}
			}
		}
	}
}

// The line that is suggested for a silent group can be read as YAML and answers
// none of its fields.
func TestFixOfMissingGroups(t *testing.T) {
	for _, g := range Content().Groups {
		if g.Many != "" || g.Key == "" {
			continue
		}
		c := &checker{collector: newCollector(), e: newEntry(Pos{})}
		c.missingGroup(g, g.Fields)
		_, text, _ := strings.Cut(c.findings[0].Fix, "  ")
		out := Read(Source{Name: "pasted.yaml", Data: []byte(text + "\n")}, Options{Now: galleryNow})
		if len(out.Findings) > 0 || len(out.Cases) != 1 || len(out.Cases[0].findings) < len(g.Fields) {
			t.Errorf("%s: %q: %v", g.Key, text, out.Findings)
			continue
		}
		for _, r := range g.Fields {
			if out.Cases[0].Entry.slot(r, 0).Recorded() {
				t.Errorf("%s is taken from %q", r.Path(), text)
			}
		}
	}
}

// No finding about a silent field offers a value for it: what a rule, or a
// published list of contents, says to write for a path that it misses is a form.
func TestFixOfSilentFieldsIsNoValue(t *testing.T) {
	d := Content()
	silent := regexp.MustCompile(`^([a-z-]+\.[a-z-]+) is (?:missing|blank)$`)
	try := func(name, fix string, r *Row) {
		for _, m := range regexp.MustCompile(`(?:^|[^a-z-])`+r.Key+`: (\[[^\]]*\]|"[^"]*"|[^;]+)`).FindAllStringSubmatch(fix, -1) {
			value := m[1]
			if value[0] != '[' && value[0] != '"' {
				value = strings.TrimSuffix(value[:wordsEnd.FindStringIndex(value + ". ")[0]], ".")
			}
			if !refused(r, r.Key+": "+value) {
				t.Errorf("%s: %q answers %s", name, value, r.Path())
			}
		}
	}
	for _, rule := range d.Rules {
		for _, w := range rule.When {
			if m := silent.FindStringSubmatch(w); m != nil {
				if r, ok := d.Row(m[1]); ok {
					try(rule.Name, rule.Fix, r)
				}
			}
		}
		if strings.Contains(rule.Fix, "events: none") {
			t.Errorf("%s offers that there was no complication", rule.Name)
		}
	}
	for _, e := range d.Elements {
		if strings.Contains(e.Fix, "none") && strings.Contains(e.Fix, ": none") {
			t.Errorf("element %d offers the reassuring answer", e.Number)
		}
		for _, p := range slices.Concat(e.Paths, e.Any) {
			if r, ok := d.Row(p); ok {
				try(e.Name, e.Fix, r)
			}
		}
	}
}

var (
	suggestion = regexp.MustCompile(`\b([a-z][a-z-]*): (\[[^\]]*\]|"[^"]*"|[^;]+)`)
	wordsEnd   = regexp.MustCompile(`, or |  |; |\.( |$)`)
	codeEnd    = regexp.MustCompile(`,? (?:or|and|if|with|on) |, |; |\.( |$)`)
)

// The same for the lines within the words of the rules: key, colon, value.
func TestFixOfRules(t *testing.T) {
	d := Content()
	tried := 0
	for _, rule := range d.Rules {
		for rest := rule.Fix; ; {
			at := suggestion.FindStringSubmatchIndex(rest)
			if at == nil {
				break
			}
			key, value := rest[at[2]:at[3]], rest[at[4]:at[5]]
			rest = rest[at[4]:]
			var rows []*Row
			for _, g := range d.Groups {
				if r, ok := g.byKey[key]; ok && (g.Key == strings.Split(rule.At, ".")[0] || len(rows) == 0) {
					rows = []*Row{r}
				}
			}
			// "the reason: why: ..." names the field after it.
			if next := suggestion.FindStringSubmatchIndex(value); len(rows) == 0 || next != nil && next[0] == 0 && !strings.HasPrefix(value, "not recorded") {
				continue
			}
			end := codeEnd
			if rows[0].ListName() == "" && rows[0].Type != "stitches" && rows[0].Type != "stitch-list" {
				end = wordsEnd
			}
			if value[0] != '[' && value[0] != '"' {
				if i := end.FindStringIndex(value + " "); i != nil {
					value = value[:min(i[0], len(value))]
				}
				value = strings.TrimSuffix(value, ".")
			}
			tried++
			if strings.HasPrefix(strings.Trim(value, "["), "<") {
				if !refused(rows[0], key+": "+value) {
					t.Errorf("%s: the form %q is taken for a value under %s", rule.Name, key+": "+value, rows[0].Group.Key)
				}
				continue
			}
			if !accepted(rows[0], key+": "+value, !strings.Contains(value, "not recorded")) {
				_, f := pasted(rows[0], key+": "+value)
				t.Errorf("%s: %q is refused under %s: %v", rule.Name, key+": "+value, rows[0].Group.Key, f)
			}
		}
	}
	if tried < 100 {
		t.Errorf("only %d lines were tried", tried)
	}
}
