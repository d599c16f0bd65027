package main

import (
	"reflect"
	"regexp"
	"strings"
	"testing"

	"graftnote/schema"
)

var formLine = regexp.MustCompile(`^( *)(# )?((?:- |  )?)([a-z0-9-]+):(.*?)(?: +# .*)?$`)

// filledForm takes every mark away and writes each field's own example behind
// it, as the head of the form tells the user to do.
func filledForm(t *testing.T, form string) string {
	t.Helper()
	group := ""
	var out []string
	for _, line := range strings.Split(form, "\n") {
		m := formLine.FindStringSubmatch(line)
		if m == nil || strings.HasPrefix(line, "# '") {
			continue
		}
		key, value := m[4], strings.TrimSpace(m[5])
		indent := m[1] + m[3]
		if strings.TrimSpace(indent) == "" && len(indent) == 0 {
			group = key
		}
		path := group + "." + key
		if len(indent) == 0 {
			path = key
		}
		if r, ok := schema.Content().Row(path); ok && value == "" {
			if value = r.Example; strings.ContainsAny(value, ":#{") && value[0] != '[' {
				value = `"` + value + `"`
			}
		}
		out = append(out, indent+key+": "+value)
	}
	return strings.Join(out, "\n") + "\n"
}

// Every line of the blank entry can be used as it stands: with all marks taken
// away and all examples filled in, the reader finds no unknown field, no wrong
// shape and no value that is none. The dictionary itself is the outside fact: it
// was written before the form.
func TestBlankEntryCanBeFilled(t *testing.T) {
	text, err := blankEntry(1, false, testNow, &counter{})
	if err != nil {
		t.Fatal(err)
	}
	filled := filledForm(t, text)
	r := schema.Read(schema.Source{Name: "form", Data: []byte(filled)}, schema.Options{Now: testNow})
	for _, line := range strings.Split(text, "\n") { // no value of some case stands beside a field
		if strings.Contains(line, "e.g.") {
			t.Errorf("the form offers a value: %s", line)
		}
	}
	if len(r.Findings) > 0 || len(r.Cases) != 1 {
		t.Fatalf("%d cases, %v\n%s", len(r.Cases), r.Findings, filled)
	}
	checked, err := schema.Check(r.Cases[0], schema.Options{Now: testNow}, nil)
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range checked.Findings() {
		if rule, _ := schema.Content().Rule(f.Rule); rule.By == "reader" {
			t.Errorf("%s", f.Layout())
		}
	}
	answered := map[string]bool{}
	checked.Entry().Walk(func(row *schema.Row, _ int, f schema.Field) { answered[row.Path()] = f.Recorded() })
	for _, g := range schema.Content().Groups {
		for _, row := range g.Fields {
			if !answered[row.Path()] && row.Path() != "graftnote" && row.Path() != "from-technique" {
				t.Errorf("the form lacks %s", row.Path())
			}
		}
	}
}

// The technique with all marks taken away holds habits only.
func TestBlankTechniqueIsHabits(t *testing.T) {
	filled := filledForm(t, blankTechnique())
	got := schema.ReadTechnique(schema.Source{Name: "technique", Data: []byte(filled)}, schema.Options{Now: testNow})
	for _, f := range got.Findings {
		t.Errorf("%s", f.Layout())
	}
	if !strings.Contains(filled, "centration: pupil") {
		t.Errorf("the form is empty:\n%s", filled)
	}
}

// The printed settings are those that are read, no more and no fewer, and each
// can be used as it stands.
func TestBlankSiteIsWhatIsRead(t *testing.T) {
	listed := map[string]bool{}
	for _, l := range siteLines {
		listed[l.key] = true
	}
	site := reflect.TypeFor[schema.Site]()
	n := 0
	for i := range site.NumField() {
		if key := site.Field(i).Tag.Get("yaml"); key != "" {
			n++
			if !listed[key] {
				t.Errorf("the setting %q is not printed", key)
			}
		}
	}
	if n != len(siteLines) {
		t.Errorf("%d settings are read, %d printed", n, len(siteLines))
	}
	text := regexp.MustCompile(`(?m)^# ([a-z-]+: )`).ReplaceAllString(blankSite(keyName), "$1")
	if _, err := schema.ParseSite(schema.Source{Name: "site", Data: []byte(text)}); err != nil {
		t.Errorf("%v\n%s", err, text)
	}
}

// The key has the 32 bytes that RFC 2104 section 3 asks of HMAC-SHA-256, and
// both written forms are read.
func TestKey(t *testing.T) {
	text, err := newKey(&counter{})
	if err != nil {
		t.Fatal(err)
	}
	key, err := parseKey([]byte(text))
	if err != nil || len(key) != 32 || key[31] != 31 {
		t.Errorf("%v %v", key, err)
	}
	// The same bytes as base64 (RFC 4648 section 4), written by coreutils' base64.
	key, err = parseKey([]byte("AAECAwQFBgcICQoLDA0ODxAREhMUFRYXGBkaGxwdHh8=\r\n"))
	if err != nil || len(key) != 32 || key[31] != 31 {
		t.Errorf("%v %v", key, err)
	}
	for _, bad := range []string{"", "# only a comment\n", "c0ffee", "not a key at all"} {
		if _, err := parseKey([]byte(bad)); err == nil || bad != "" && strings.Contains(err.Error(), bad) {
			t.Errorf("%q: %v", bad, err)
		}
	}
}
