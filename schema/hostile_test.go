package schema_test

import (
	"fmt"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"testing"
	"unicode"
	"unicode/utf8"

	"graftnote/schema"
)

// Inputs to be afraid of. Each must give a clear finding with its place, or the
// right value; nothing may panic, and the other cases of the file still read.
// What is right for each is arithmetic, the YAML 1.2 and Unicode standards, or
// common practice with no source, as noted.

// sound reads and checks a source and asserts what holds for every input: each
// place lies in the file, each excerpt is the line itself, and nothing that is
// printed moves the cursor, and no entry can be signed off with a value that was
// not understood. It returns all findings and the checked cases.
func sound(t testing.TB, src schema.Source, o schema.Options) ([]schema.Finding, []schema.Checked) {
	t.Helper()
	r := schema.Read(src, o)
	batch := schema.NewBatch()
	for _, cs := range r.Cases {
		batch.Add(cs)
	}
	all := r.Findings
	var checked []schema.Checked
	for _, cs := range r.Cases {
		c := check(t, cs, o, batch)
		checked = append(checked, c)
		all = append(all, c.Findings()...)
	}
	lines := strings.Split(strings.ReplaceAll(strings.ReplaceAll(string(src.Data), "\r\n", "\n"), "\r", "\n"), "\n")
	width := map[int]int{}
	for _, f := range all {
		if f.Pos.File != src.Name || f.Pos.Line < 1 || f.Pos.Line > len(lines) {
			t.Errorf("%s: place %+v lies outside the file", f.Rule, f.Pos)
			continue
		}
		line := lines[f.Pos.Line-1]
		if _, known := width[f.Pos.Line]; !known {
			width[f.Pos.Line] = utf8.RuneCountInString(line)
		}
		if f.Pos.Col < 1 || f.Pos.Col > width[f.Pos.Line]+1 || f.Pos.EndCol != 0 && f.Pos.EndCol < f.Pos.Col {
			t.Errorf("%s: column %d to %d lies outside line %d", f.Rule, f.Pos.Col, f.Pos.EndCol, f.Pos.Line)
		}
		if f.Excerpt != "" && f.Excerpt != line {
			t.Errorf("%s: the excerpt is not line %d", f.Rule, f.Pos.Line)
		}
		if f.What == "" || f.Why == "" || f.Fix == "" {
			t.Errorf("%s: what %q, why %q, fix %q", f.Rule, f.What, f.Why, f.Fix)
		}
	}
	for _, c := range checked {
		if !c.Complete() {
			continue
		}
		c.Entry().Walk(func(r *schema.Row, item int, f schema.Field) {
			reason, gap := f.NotRecorded()
			read := f.Recorded() || f.Blank() || gap && reason != ""
			if !read || f.Blank() && r.Need == "always" {
				t.Errorf("%s can be signed off without %s of item %d", c.ID(), r.Path(), item+1)
			}
		})
	}
	for _, f := range all[:min(len(all), 50)] {
		if i := strings.IndexFunc(strings.ReplaceAll(f.Layout(), "\n", ""), unicode.IsControl); i >= 0 {
			t.Errorf("%s: the layout holds a control character", f.Rule)
		}
	}
	return all, checked
}

func source(name, text string) schema.Source {
	return schema.Source{Name: name, Data: []byte(text)}
}

func rules(f []schema.Finding) []string {
	var out []string
	for _, x := range f {
		out = append(out, x.Rule)
	}
	return out
}

// find gives the finding of a rule at a path.
func find(f []schema.Finding, rule, path string) (schema.Finding, bool) {
	i := slices.IndexFunc(f, func(x schema.Finding) bool { return x.Rule == rule && x.Path == path })
	if i < 0 {
		return schema.Finding{}, false
	}
	return f[i], true
}

// sampleWith is a sample with some of its texts replaced.
func sampleWith(t testing.TB, file string, pairs ...string) string {
	t.Helper()
	text := string(readFile(t, filepath.Join(samples, file)).Data)
	for i := 0; i < len(pairs); i += 2 {
		if !strings.Contains(text, pairs[i]) {
			t.Fatalf("%q is not in %s", pairs[i], file)
		}
		text = strings.Replace(text, pairs[i], pairs[i+1], 1)
	}
	return text
}

// simple is the uncomplicated sample with replacements.
func simple(t testing.TB, pairs ...string) string {
	return sampleWith(t, "01-double-bubble.yaml", pairs...)
}

// Files with a fault of their own; each rule and line is what a reader of the
// file would point at. Comments in the files say what they are.
func TestHostileFiles(t *testing.T) {
	want := map[string]string{ // file: rule at line
		"alias-bomb.yaml":     "no-aliases:10",
		"deep.yaml":           "wrong-shape:1",
		"empty.yaml":          "file-empty:1",
		"key-twice.yaml":      "key-twice:5",
		"merge-key.yaml":      "no-aliases:4",
		"only-remarks.yaml":   "file-empty:1",
		"self-reference.yaml": "no-aliases:2",
		"tab-indent.yaml":     "file-not-yaml:3",
		"tagged.yaml":         "no-aliases:2",
		"two-colons.yaml":     "file-not-yaml:3",
		"unclosed.yaml":       "file-not-yaml:2",
		"unknown-field.yaml":  "unknown-field:4",
	}
	files, _ := filepath.Glob("../testdata/hostile/*.yaml")
	if len(files) != len(want) {
		t.Fatalf("%d files, %d expectations", len(files), len(want))
	}
	for _, path := range files {
		t.Run(filepath.Base(path), func(t *testing.T) {
			src := readFile(t, path)
			all, checked := sound(t, src, options())
			var got []string
			for _, f := range all {
				got = append(got, fmt.Sprintf("%s:%d", f.Rule, f.Pos.Line))
			}
			if !slices.Contains(got, want[filepath.Base(path)]) {
				t.Errorf("got %q, want %s", got, want[filepath.Base(path)])
			}
			for _, c := range checked {
				if c.Complete() {
					t.Error("it can be signed off")
				}
			}
		})
	}
}

// A fault in one case leaves the next case of the list alone.
func TestHostileCaseLeavesTheOthers(t *testing.T) {
	good := strings.ReplaceAll(strings.TrimSpace(simple(t)), "\n", "\n    ")
	for name, bad := range map[string]string{
		"a text for a case":   "just words",
		"a list for a case":   "[1, 2]",
		"doubled key":         "{case: aaaaaa, case: bbbbbb}",
		"alias":               "&x {case: aaaaaa}",
		"unknown everything":  "{who: me, what: this}",
		"wrong shapes":        "{patient: [1], team: 5, eye: right, events: {none: none}}",
		"nothing":             "",
		"control characters":  `{patient: {name: "a\u0000\u202e\x1b[2J"}}`,
		"not recorded at all": "{eye: {operated: not recorded: lost}, tissues: not recorded: lost, events: not recorded: lost}",
	} {
		t.Run(name, func(t *testing.T) {
			text := "cases:\n  - " + bad + "\n  - " + good + "\n"
			_, checked := sound(t, source("list.yaml", text), options())
			if len(checked) != 2 {
				t.Fatalf("%d cases were read", len(checked))
			}
			if checked[0].Complete() || !checked[1].Complete() {
				t.Errorf("complete: %v and %v; %v", checked[0].Complete(), checked[1].Complete(), rules(checked[1].Findings()))
			}
		})
	}
}

// A fault in what the cases of a list share is a fault of each of them.
func TestHostileListHeader(t *testing.T) {
	for _, w := range [][2]string{{"urgency: elective", "urgency: whenever"}, {"theatre: Theatre 3", "teatre: Theatre 3"}, {"name: Sunniva Harte", `name: "a\u202e"`}, {"graftnote: 1", "graftnotes: 1"}} {
		all, checked := sound(t, source("list.yaml", sampleWith(t, "list-2026-09-08.yaml", w[0], w[1])), options())
		if len(checked) != 3 || len(all) != 3 {
			t.Errorf("%s: %d cases, findings %q", w[1], len(checked), rules(all))
		}
		for _, c := range checked {
			if c.Complete() {
				t.Errorf("%s: %s can be signed off", w[1], c.ID())
			}
		}
	}
}

// grown is how many bytes were allocated while f ran.
func grown(f func()) uint64 {
	var a, b runtime.MemStats
	runtime.ReadMemStats(&a)
	f()
	runtime.ReadMemStats(&b)
	return b.TotalAlloc - a.TotalAlloc
}

// Files that try to grow. The bound is the project's own: 150 MB allocated in
// all while reading and checking, for a file of at most a megabyte. Under the race
// detector a sync.Pool forgets at random, so that package fmt allocates more.
func TestHostileSizesStayBounded(t *testing.T) {
	many := func(n int, format string) string {
		var b strings.Builder
		for i := range n {
			fmt.Fprintf(&b, format, i)
		}
		return b.String()
	}
	for _, w := range []struct{ name, text, rule string }{
		{"alias bomb", string(readFile(t, "../testdata/hostile/alias-bomb.yaml").Data), "no-aliases"},
		{"100,000 brackets", "case: " + strings.Repeat("[", 100_000), "file-not-yaml"},
		{"9,000 brackets and no end", "case: " + strings.Repeat("[", 9_000), "file-not-yaml"},
		{"9,000 brackets", "case: " + strings.Repeat("[", 9_000) + strings.Repeat("]", 9_000), "wrong-shape"},
		{"9,000 braces", "case: " + strings.Repeat("{a: ", 9_000) + "1" + strings.Repeat("}", 9_000), "wrong-shape"},
		{"50 MB in one text", "story: " + strings.Repeat("a", 50<<20), "file-too-large"},
		{"a megabyte in one text", "story: " + strings.Repeat("a", 1<<20-100), "text-too-long"},
		{"a megabyte for a measurement", "before: {thinnest: " + strings.Repeat("7", 1<<20-100) + "}", "text-too-long"},
		{"a megabyte for a code", "eye: {operated: " + strings.Repeat("right ", 170_000) + "}", "text-too-long"},
		{"a megabyte for a field name", strings.Repeat("a", 1<<20-100) + ": 1", "file-not-yaml"},
		{"a million keys", many(1_000_000, "k%d: 1\n"), "file-too-large"},
		{"90,000 keys", many(90_000, "k%d:\n"), "wrong-shape"},
		{"90,000 keys in braces", "{" + many(90_000, "k%d,") + "}", "wrong-shape"},
		{"the same key 90,000 times", strings.Repeat("a: 1\n", 90_000), "wrong-shape"},
		{"30,000 documents", strings.Repeat("---\n{}\n", 30_000), "file-too-large"},
		{"30,000 cases", "cases: [" + strings.Repeat("{},", 30_000) + "]", "wrong-shape"},
		{"30,000 tissues", "tissues: [" + strings.Repeat("{},", 30_000) + "]", "wrong-shape"},
		{"30,000 events", "events: [" + strings.Repeat("{kind: other},", 30_000) + "]", "wrong-shape"},
		{"40,000 tissues in 200 cases", "cases: [" + strings.Repeat("{tissues: ["+strings.Repeat("{},", 200)+"]},", 200) + "]", "wrong-shape"},
		{"30,000 codes", "procedure: {steps: [" + strings.Repeat("air,", 30_000) + "]}", "wrong-shape"},
		{"30,000 lines of blanks", "story: |\n" + strings.Repeat(" \n", 30_000) + "  a\n", "required-group"},
	} {
		t.Run(w.name, func(t *testing.T) {
			size := grown(func() {
				for _, cs := range schema.Read(source("big.yaml", w.text), options()).Cases {
					check(t, cs, options(), nil)
				}
			})
			all, _ := sound(t, source("big.yaml", w.text), options())
			if !slices.Contains(rules(all), w.rule) {
				t.Errorf("got %q, want %s", rules(all[:min(len(all), 20)]), w.rule)
			}
			if len(all) > 100_000 {
				t.Errorf("%d findings", len(all))
			}
			if size > mostAllocated {
				t.Errorf("%d MB were allocated", size>>20)
			}
			for _, f := range all[:min(len(all), 500)] {
				if len(f.Layout()) > 8000 {
					t.Fatalf("%s: a layout of %d bytes", f.Rule, len(f.Layout()))
				}
			}
		})
	}
}
