package schema

import (
	"go/ast"
	"go/parser"
	"go/token"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
)

// ruleList is the trade's numbered list of contradictions with the severity
// that it gives each: B blocks, W asks to look again, I informs. Where it gives
// two, both must be there. The severities are common practice, to be confirmed
// by corneal surgeons, unless the rule row cites a source. Of 88 and 90 to 92 the list
// blocks all; here what a visit can truly say asks, since whoever sees the patient
// can neither correct the operation nor confirm a state of it.
var ruleList = map[int]string{
	1: "B", 2: "B", 3: "B", 4: "W", 5: "B", 6: "B", 7: "W", 8: "W", 9: "B", 10: "B",
	11: "B", 12: "W", 13: "W", 14: "W", 15: "W", 16: "I", 17: "W", 18: "W", 19: "I", 20: "W",
	21: "B", 22: "B", 23: "B", 24: "B", 25: "B", 26: "B", 27: "B", 28: "W", 29: "B",
	30: "B", 31: "W", 32: "W", 33: "W", 34: "BW", 35: "W", 36: "B", 37: "W",
	38: "B", 39: "B", 40: "W", 41: "I", 42: "W", 43: "W", 44: "W", 45: "B", 46: "B", 47: "W", 48: "I", 49: "W",
	50: "B", 51: "B", 52: "W", 53: "W", 54: "W", 55: "B", 56: "W", 57: "W", 58: "W", 59: "I",
	60: "B", 61: "BW", 62: "W", 63: "W", 64: "B", 65: "B", 66: "W", 67: "B", 68: "W", 69: "W",
	70: "B", 71: "B", 72: "B", 73: "B", 74: "B", 75: "W", 76: "W", 77: "BW", 78: "W", 79: "I", 80: "B", 81: "W", 82: "W",
	83: "B", 84: "B", 85: "I", 86: "W", 87: "W", 88: "W", 89: "W", 90: "W", 91: "BW", 92: "BW", 93: "I", 94: "W",
	95: "B", 96: "W",
}

var severityLetter = map[Severity]string{Blocks: "B", Look: "W", Remark: "I"}

func TestRuleListIsCovered(t *testing.T) {
	if len(ruleList) != 96 {
		t.Fatalf("the list has %d rows", len(ruleList))
	}
	found := map[int]string{}
	for _, r := range Content().Rules {
		if r.Number == 0 {
			continue
		}
		want, ok := ruleList[r.Number]
		letter := severityLetter[r.Severity]
		if !ok || !strings.Contains(want, letter) {
			t.Errorf("%s: number %d with severity %s, the list says %q", r.Name, r.Number, letter, want)
		}
		if !strings.Contains(found[r.Number], letter) {
			found[r.Number] += letter
		}
	}
	for n, want := range ruleList {
		for _, letter := range want {
			if !strings.ContainsRune(found[n], letter) {
				t.Errorf("number %d, severity %c: no rule", n, letter)
			}
		}
	}
}

// blockingPractice are rules outside the numbered list that block although no
// published source was located: the field dictionary of the trade blocks on
// these answers (counts, suprachoroidal bleeding, a label that does not match,
// a tissue that was not released).
var blockingPractice = []string{
	"counts-not-correct", "suprachoroidal-bleeding-untold", "label-mismatch-without-second-tissue", "tissue-not-released",
	// The vaguer answer to the same questions; the signer may confirm it.
	"counts-not-recorded", "tissue-release-not-recorded", "tissue-expiry-not-recorded", "tissue-not-identified", "listed-eye-not-recorded",
	"conversion-preservation-not-recorded",
}

// A limit that is only common practice or memory asks; it does not block.
func TestPracticeDoesNotBlock(t *testing.T) {
	for _, r := range Content().Rules {
		unsourced := r.Basis == "common-practice" || r.Basis == "memory"
		if r.By == "reader" || r.By == "check" || r.Severity != Blocks || !unsourced || r.Number > 0 {
			continue
		}
		if !slices.Contains(blockingPractice, r.Name) {
			t.Errorf("%s blocks on %s", r.Name, r.Basis)
		}
	}
}

var (
	ruleName = regexp.MustCompile(`^[a-z0-9]+(-[a-z0-9]+)*$`)
	// A coder's query is neutral: it says what is stated and what is not, and
	// leads to no answer (compliant query practice of clinical coders).
	leading = regexp.MustCompile(`(?i)did you mean|you should|you must|please|wrong diagnosis|obviously|should have`)
)

func TestRuleRows(t *testing.T) {
	d := Content()
	for _, r := range d.Rules {
		if !ruleName.MatchString(r.Name) {
			t.Errorf("%q is no rule name", r.Name)
		}
		for _, path := range append([]string{r.At}, r.With...) {
			if _, row := d.rows[path]; !row && d.groups[path] == nil && !(path == "" && r.By != "") {
				t.Errorf("%s points at %q", r.Name, path)
			}
		}
		if strings.Contains(r.At, ".") && r.Each != "" && !strings.HasPrefix(r.At, r.Each+".") {
			t.Errorf("%s runs over %s and points at %s", r.Name, r.Each, r.At)
		}
		if r.What == "" || r.Why == "" || r.Fix == "" && r.By == "" {
			t.Errorf("%s lacks words", r.Name)
		}
		for _, text := range []string{r.What, r.Why, r.Fix} {
			if m := leading.FindString(text); m != "" {
				t.Errorf("%s: %q leads", r.Name, m)
			}
		}
		if r.By == "" && !strings.HasSuffix(r.What, ".") {
			t.Errorf("%s: no sentence: %q", r.Name, r.What)
		}
		if !slices.Contains([]string{"cited", "arithmetic", "common-practice", "memory"}, r.Basis) {
			t.Errorf("%s: basis %q", r.Name, r.Basis)
		}
		if !slices.Contains([]string{"", "reader", "check", "batch", "site", "followup"}, r.By) {
			t.Errorf("%s: by %q", r.Name, r.By)
		}
	}
}

// What is called cited cites a text that somebody read.
func TestCitedIsSeen(t *testing.T) {
	d := Content()
	for _, r := range d.Rules {
		seen := slices.ContainsFunc(r.Source, func(k string) bool {
			s := d.Sources[k].Seen
			return k != "arithmetic" && (s == "source" || s == "abstract" || s == "secondary")
		})
		if r.Basis == "cited" && !seen {
			t.Errorf("%s is cited from %v", r.Name, r.Source)
		}
		if r.Basis == "arithmetic" && r.By == "" && !slices.Contains(r.Source, "arithmetic") {
			t.Errorf("%s is arithmetic from %v", r.Name, r.Source)
		}
	}
}

func TestSourceKeys(t *testing.T) {
	d := Content()
	used := map[string]bool{}
	need := func(who string, keys []string) {
		if len(keys) == 0 {
			t.Errorf("%s has no source", who)
		}
		for _, k := range keys {
			used[k] = true
			if _, ok := d.Sources[k]; !ok {
				t.Errorf("%s: no source %q", who, k)
			}
		}
	}
	for _, g := range d.Groups {
		for _, r := range g.Fields {
			need(r.Path(), r.Source)
		}
	}
	for _, r := range d.Rules {
		need(r.Name, r.Source)
	}
	for _, x := range d.Derived {
		need("derived "+x.Name, x.Source)
	}
	for _, e := range d.Elements {
		need(e.Name, e.Source)
	}
	for _, p := range d.Profiles {
		need(p.Key, p.Source)
	}
	for k, c := range d.Sources {
		if !slices.Contains([]string{"source", "abstract", "secondary", "memory"}, c.Seen) || c.Text == "" || strings.HasSuffix(c.Text, ".") {
			t.Errorf("source %s: seen %q, text %q", k, c.Seen, c.Text)
		}
	}
}

func TestDerivedRows(t *testing.T) {
	named := map[string]bool{}
	for _, x := range Content().Derived {
		if named[x.Name] {
			t.Errorf("derived %s stands twice", x.Name)
		}
		named[x.Name] = true
		if x.Title == "" || x.Formula == "" {
			t.Errorf("derived %s lacks words", x.Name)
		}
	}
	for name := range computations {
		if !named[name] {
			t.Errorf("computation %s has no row", name)
		}
	}
}

// The merged list has 32 elements. The college's list counts 18 items (Good
// Surgical Practice 2014, as listed in published audits): with date and time, and
// surgeon and assistants, as rows of their own that is 20; that the note is
// written at once comes on top. The HL7 operative note has eight sections 1..1
// and eight 0..1 (StructureDefinition Operative-Note, read element by element).
func TestElements(t *testing.T) {
	d := Content()
	count := map[string]int{}
	for i, e := range d.Elements {
		if e.Number != i+1 {
			t.Errorf("element %d stands at place %d", e.Number, i+1)
		}
		if len(e.Paths) == 0 && len(e.Any) == 0 {
			t.Errorf("element %d has no path", e.Number)
		}
		for body, how := range e.Asks {
			if !slices.Contains([]string{"required", "required+brief", "if-any", "if-any+brief", "1..1", "0..1"}, how) {
				t.Errorf("element %d, %s: %q", e.Number, body, how)
			}
			count[body+" "+how]++
		}
	}
	if len(d.Elements) != 32 {
		t.Errorf("%d elements", len(d.Elements))
	}
	if n := count["hl7-operative-note 1..1"]; n != 8 {
		t.Errorf("%d sections 1..1", n)
	}
	if n := count["surgical-college required"] + count["surgical-college if-any"]; n != 20+1 {
		t.Errorf("%d elements of the college", n)
	}
	if n := count["hl7-operative-note 0..1"]; n != 8 {
		t.Errorf("%d sections 0..1", n)
	}
	// Accreditor, brief note: surgeon and assistants, procedure, a description of
	// each finding, blood loss, specimens, diagnosis after (RC.02.01.03).
	if n := count["accreditor required+brief"] + count["accreditor if-any+brief"]; n != 8 {
		t.Errorf("%d elements of the brief note", n)
	}
}

// A misspelt path, operator, code or unit in a row must stop the build.
func TestTestLanguageRefuses(t *testing.T) {
	for _, line := range []string{
		"trephination.dept > 1 mm", "derived.agee > 1 years", "trephination.depth", "trephination.depth is", "eye.operated is rigt",
		"trephination.depth over 1", "trephination.depth > 1 mL", "before.k1 outside 1 D", "eye.operated within left..right", "events is conversion",
	} {
		if _, err := Content().parseTest(line); err == nil {
			t.Errorf("%q is taken", line)
		}
	}
}

// neutralNumbers are the only numbers that the computations may hold: places,
// units of time, halves and the parts of a circle. Every clinical limit stands in
// a row.
var neutralNumbers = []string{"0", "1", "2", "6", "12", "24", "60", "100"}

func TestNoLimitInGo(t *testing.T) {
	files, err := filepath.Glob("derive*.go")
	if err != nil || len(files) < 5 {
		t.Fatalf("files %v, %v", files, err)
	}
	for _, name := range files {
		if strings.HasSuffix(name, "_test.go") {
			continue
		}
		set := token.NewFileSet()
		f, err := parser.ParseFile(set, name, nil, 0)
		if err != nil {
			t.Fatal(err)
		}
		ast.Inspect(f, func(n ast.Node) bool {
			lit, ok := n.(*ast.BasicLit)
			if ok && (lit.Kind == token.INT || lit.Kind == token.FLOAT) && !slices.Contains(neutralNumbers, lit.Value) {
				t.Errorf("%s: the number %s", set.Position(lit.Pos()), lit.Value)
			}
			if ok && lit.Kind == token.STRING && regexp.MustCompile(`^"-?[0-9.]+"$`).MatchString(lit.Value) &&
				!slices.Contains([]string{`"365.25"`, `"3.141592653589793"`, `"0"`, `"00000000"`, `"."`}, lit.Value) {
				t.Errorf("%s: the number %s", set.Position(lit.Pos()), lit.Value)
			}
			return true
		})
	}
}
