package fhir

import (
	"fmt"
	"slices"
	"strings"

	"graftnote/schema"
)

// MappingMarkdown is the page docs/fhir.md for whoever imports: where every field
// of the entry goes, its codes, and what is not sent.
func MappingMarkdown() []byte {
	t := terms()
	head, err := data.ReadFile("data/guide.md")
	if err != nil {
		panic("fhir: data: " + err.Error()) // it is part of the program
	}
	var b strings.Builder
	b.WriteString(strings.ReplaceAll(string(head), "{checkpoint}", "`"+t.CheckpointExtension+"`"))
	b.WriteString("## Where each field goes\n\nA field without a published code has the code of its own name in the system\n`" + t.own.URL + "`. *R* and *L* mark codes that name the right or left eye;\nthe eye always stands in `bodySite` too.\n\n")
	b.WriteString("| Field | Meaning | Resource and path | Published codes |\n|---|---|---|---|\n")
	var kept []*field
	for _, path := range t.paths {
		f := t.fields[path]
		if f.as == "withheld" {
			kept = append(kept, f)
			continue
		}
		fmt.Fprintf(&b, "| `%s` | %s | %s | %s |\n", f.path, titleOf(f.path), t.placeOf(f), t.codesOf(f))
	}
	b.WriteString("\n## What is not sent\n\n| Field | Meaning | Why |\n|---|---|---|\n")
	for _, f := range kept {
		fmt.Fprintf(&b, "| `%s` | %s | %s |\n", f.path, titleOf(f.path), f.where)
	}
	b.WriteString("\nNo photograph, no signature image and no billing code is sent. Codes of licensed\nsystems travel only from a site's mapping that names who holds the licence.\n\n## Sections of the Composition\n\n| Section | Code |\n|---|---|\n")
	for _, s := range t.Sections {
		c := t.coding(s.Code)
		fmt.Fprintf(&b, "| %s | %s |\n", s.Key, codeWords(*c.System, *c.Code, *c.Display))
	}
	return []byte(b.String())
}

func titleOf(path string) string {
	if r, ok := schema.Content().Row(path); ok {
		return strings.ReplaceAll(r.Title, "|", `\|`)
	}
	return ""
}

// placeOf says in words where a field goes.
func (t *tables) placeOf(f *field) string {
	names := strings.Fields(f.where)
	for i, n := range names {
		names[i] = "`" + n + "`"
	}
	about := strings.Join(names, ", ")
	switch f.as {
	case "observation":
		return "Observation of its own, `value[x]`"
	case "fellow":
		return "Observation of its own, `bodySite` the other eye"
	case "component":
		return "Observation " + about + ", `component`"
	case "value":
		return "Observation " + about + ", `code` and `value[x]`"
	case "beside":
		return "Observation of " + about + ", `component`"
	case "method":
		return "`Observation.method` of " + about
	case "effective":
		return "`Observation.effective[x]` of " + about
	case "narrative":
		if _, ok := t.sectionOf(f.where); ok {
			return "text of the section " + about
		}
		return f.where
	}
	return f.where
}

func (t *tables) sectionOf(key string) (sectionRow, bool) {
	i := slices.IndexFunc(t.Sections, func(s sectionRow) bool { return s.Key == key })
	if i < 0 {
		return sectionRow{}, false
	}
	return t.Sections[i], true
}

func (t *tables) codesOf(f *field) string {
	var out []string
	for _, k := range f.codes {
		c := t.codes[k]
		out = append(out, codeWords(c.system, c.code, c.display))
	}
	for _, eye := range []string{"right", "left"} {
		if k := f.eyes[eye]; k != "" {
			c := t.codes[k]
			out = append(out, strings.ToUpper(eye[:1])+": "+codeWords(c.system, c.code, c.display))
		}
	}
	if only, ok := t.OnlyWhen[f.path]; ok {
		out = append(out, fmt.Sprintf("only when `%s` is %s", only.Field, strings.Join(only.Words, ", ")))
	}
	return strings.Join(out, "<br>")
}

// codeWords names a code; the two systems that readers know go by their names.
func codeWords(system, code, display string) string {
	switch system {
	case "http://loinc.org":
		system = "LOINC"
	case "http://snomed.info/sct":
		system = "SNOMED CT"
	default:
		system = "our own"
	}
	return fmt.Sprintf("%s `%s` %s", system, code, strings.ReplaceAll(display, "|", `\|`))
}
