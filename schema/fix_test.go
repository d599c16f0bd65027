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

// What a finding says to write can be written as it stands.
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
			if !accepted(r, m[1], true) {
				_, f := pasted(r, m[1])
				t.Errorf("%s: %q is refused: %v", r.Path(), m[1], f)
			}
			if gap := strings.Replace(m[2], "<reason>", "sheet lost", 1); gap != "" && !accepted(r, gap, false) {
				t.Errorf("%s: %q is refused", r.Path(), gap)
			}
		}
	}
}

func TestFixOfMissingGroups(t *testing.T) {
	for _, g := range Content().Groups {
		if g.Many != "" || g.Key == "" {
			continue
		}
		c := &checker{collector: newCollector(), e: newEntry(Pos{})}
		c.missingGroup(g, g.Fields)
		_, text, _ := strings.Cut(c.findings[0].Fix, "  ")
		out := Read(Source{Name: "pasted.yaml", Data: []byte(text + "\n")}, Options{Now: galleryNow})
		if len(out.Findings) > 0 || len(out.Cases) != 1 || len(out.Cases[0].findings) > 0 {
			t.Errorf("%s: %q: %v", g.Key, text, out.Findings)
			continue
		}
		for _, r := range g.Fields {
			if !out.Cases[0].Entry.slot(r, 0).Recorded() {
				t.Errorf("%s is not taken from %q", r.Path(), text)
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
