package schema_test

import (
	"bytes"
	"encoding/json"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"testing"
	"unicode"

	"golang.org/x/text/encoding/charmap"
	xunicode "golang.org/x/text/encoding/unicode"

	"graftnote/schema"
)

// yamlQuoted writes a text as a YAML double-quoted value (YAML 1.2, 7.3.1:
// JSON strings are among them).
func yamlQuoted(s string) string {
	b, _ := json.Marshal(s)
	return string(b)
}

// Record numbers that are paths or device names are data: they come through
// unchanged and no file is named after them (CWE-22; device names of one system).
func TestHostileRecordNumbers(t *testing.T) {
	for _, id := range []string{
		"../../etc/x", `..\..\x`, "C:x", `\\server\share`, `\??\C:\x`, "CON", "nul.txt", "COM¹", "LPT9.", "aux.",
		"0012345", "1e5", "0x1F", "12:30", "NO", "~", "1_000", "null", "true", ".inf", "0o17", "1.50", "+44", "<<", "=",
	} {
		forms := map[string]string{"quoted": yamlQuoted(id), "bare": id}
		if strings.Contains(id, "?") || id == "<<" {
			delete(forms, "bare") // YAML itself takes these for signs of its own
		}
		for form, written := range forms {
			t.Run(form+" "+id, func(t *testing.T) {
				all, checked := sound(t, source("a.yaml", simple(t, "id: FIC-0101", "id: "+written)), options())
				if len(checked) != 1 || !checked[0].Complete() {
					t.Fatalf("findings %q", rules(all))
				}
				c := checked[0]
				if got := c.Entry().Patient.ID.Value(); got != id {
					t.Errorf("read as %q", got)
				}
				if strings.Contains(c.ID(), id) || strings.ContainsAny(c.ID(), `/\:.~ `) {
					t.Errorf("the case is named %q", c.ID())
				}
				again := schema.Read(source("c.json", string(c.Canonical())), options()).Cases[0].Entry
				if got := again.Patient.ID.Value(); got != id {
					t.Errorf("canonical form gives %q", got)
				}
			})
		}
	}
}

// A blank around an identifier is no part of it; a label or a form adds them.
// Common practice, no source.
func TestHostileTrailingBlank(t *testing.T) {
	e := schema.Read(source("a.yaml", simple(t, "id: FIC-0101", `id: "COM1 "`)), options()).Cases[0].Entry
	if got := e.Patient.ID.Value(); got != "COM1" {
		t.Errorf("read as %q", got)
	}
}

// The case identifier names files, so it takes nothing that a system could read
// otherwise; a draft without one is named by its digest.
func TestHostileCaseIdentifiers(t *testing.T) {
	for _, id := range []string{"../../etc/x", "CON", "con", "nul.txt", "com1", "lpt9", "a/b/c/d", "A1K7-double", "a1k7 double",
		"a1k7_double", "ａ1ｋ7ｄouble", "é1k7-double", "-a1k7-double", "a1k7-double-", "a1k7", strings.Repeat("a", 41), "a1k7:double", "a1k7\u200b-double"} {
		all, checked := sound(t, source("a.yaml", simple(t, "case: a1k7-double-bubble", "case: "+yamlQuoted(id))), options())
		if !slices.Contains(rules(all), "case-id-form") && !slices.Contains(rules(all), "control-character") {
			t.Errorf("%q is accepted: %q", id, rules(all))
		}
		name := checked[0].ID()
		if !strings.HasPrefix(name, "draft-") || len(name) != len("draft-")+12 {
			t.Errorf("%q: the draft is named %q", id, name)
		}
	}
}

// Names that are right, however odd: they come through letter for letter.
func TestNamesThatAreRight(t *testing.T) {
	for _, name := range []string{
		`=HYPERLINK("http://x.example","y")`, "+1", "@a", "＝1", "-", // a spreadsheet's concern, not the note's
		"O'Brien-Ñuñez y Łukasiewiczówna von und zu", "Sukarno", "Null", "None", "Right", "Yes", "No", "1", "2026-09-08",
		`\`, "A&B", "a|b^c~d", "<script>alert(1)</script>", "</div>", "&nbsp;", "]]>", "%s%d%n", "{{.}}", "$(id)", "`id`",
		"'; DROP TABLE note; --", "None: none", "not recordedly", "Ελένη Παππαδάκη", "Ольга Незнамова", "林山月", "ليلى", "😀",
	} {
		all, checked := sound(t, source("a.yaml", simple(t, "name: Ines Calloway", "name: "+yamlQuoted(name))), options())
		if !checked[0].Complete() || checked[0].Entry().Patient.Name.Value() != name {
			t.Errorf("%q is read as %q; %q", name, checked[0].Entry().Patient.Name.Value(), rules(all))
		}
		var canonical struct {
			Patient struct{ Name string }
		}
		if err := json.Unmarshal(checked[0].Canonical(), &canonical); err != nil || canonical.Patient.Name != name {
			t.Errorf("%q: the canonical form holds %q (%v)", name, canonical.Patient.Name, err)
		}
	}
}

// Composed and decomposed letters are one name (Unicode normalisation form C,
// UAX 15), and so one entry to the byte.
func TestNamesComposedAndDecomposed(t *testing.T) {
	var digests []string
	for _, name := range []string{"Zo\u00eb Nu\u0303n\u0303ez", "Zoe\u0308 Nu\u0303\u00f1ez"} {
		_, checked := sound(t, source("a.yaml", simple(t, "name: Ines Calloway", "name: "+name)), options())
		digests = append(digests, checked[0].Digest())
	}
	if digests[0] != digests[1] {
		t.Error("two entries from one name")
	}
}

// latin covers what a note of Latin, Greek and Cyrillic letters can draw.
func latin(text string) (missing []rune) {
	for _, r := range text {
		if unicode.IsLetter(r) && !unicode.In(r, unicode.Latin, unicode.Greek, unicode.Cyrillic) {
			missing = append(missing, r)
		}
	}
	return missing
}

// A name that the paper can't show waits for its Latin form; with it both stand
// in the entry. Any other text must be printable as it is.
func TestNamesInOtherScripts(t *testing.T) {
	o := options()
	o.Covers = latin
	for _, name := range []string{"ليلى الفهد", "נועה ברק", "สมหญิง", "林山月"} {
		all, checked := sound(t, source("a.yaml", simple(t, "name: Ines Calloway", "name: "+name)), o)
		if f, ok := find(all, "script-not-printable", "patient.name"); !ok || checked[0].Complete() || strings.Contains(f.What, name) {
			t.Errorf("%s: %q", name, rules(all))
		}
		all, checked = sound(t, source("a.yaml", simple(t, "name: Ines Calloway", "name: "+name+", latin-name: Some Name")), o)
		if !checked[0].Complete() || checked[0].Entry().Patient.Name.Value() != name {
			t.Errorf("%s with a Latin form: %q", name, rules(all))
		}
		all, _ = sound(t, source("a.yaml", simple(t, "name: Imara Voss", "name: "+name)), o)
		if _, ok := find(all, "script-not-printable", "team[1].name"); !ok {
			t.Errorf("%s of a surgeon: %q", name, rules(all))
		}
	}
}

// Characters that hide, move or turn text around are refused in every field and
// shown as escapes. The set: Unicode categories Cc, Cf, Zl, Zp and the property
// Other_Default_Ignorable_Code_Point.
func TestHostileCharacters(t *testing.T) {
	for _, r := range []rune{0, 7, '\t', '\n', 0x1B, 0x7F, 0x85, 0xAD, 0x34F, 0x61C, 0x180E, 0x200B, 0x200D, 0x200E, 0x202E, 0x2028,
		0x2029, 0x2060, 0x2066, 0x3164, 0xFEFF, 0xFFF9, 0xFFFD, 0xE0001, 0xE0041} {
		for _, path := range []string{"patient.name", "eye.operated", "before.thinnest", "story", "end.drugs[1]"} {
			text := `a\U` + fmt.Sprintf("%08X", r) + `b`
			pairs := map[string][]string{
				"patient.name":    {"name: Ines Calloway", `name: "` + text + `"`},
				"eye.operated":    {"operated: right", `operated: "` + text + `"`},
				"before.thinnest": {"thinnest: 372 µm", `thinnest: "` + text + `"`},
				"story":           {"patient:", "story: \"" + text + "\"\npatient:"},
				"end.drugs[1]":    {"drugs: dexamethasone 4 mg subconjunctival", `drugs: ["` + text + `"]`},
			}[path]
			all, checked := sound(t, source("a.yaml", simple(t, pairs...)), options())
			if path == "story" && (r == '\t' || r == '\n') {
				continue // the story may have lines
			}
			if checked[0].Complete() || !slices.Contains(rules(all), "control-character") {
				t.Errorf("U+%04X in %s: %q", r, path, rules(all))
			}
		}
		if got, want := schema.Visible("a"+string(r)+"b"), fmt.Sprintf("a\\u{%04X}b", r); got != want {
			t.Errorf("U+%04X is shown as %q", r, got)
		}
	}
}

// The same characters typed as they are, not as escapes. Those that YAML takes
// for the end of a line must not shift the places of what follows.
func TestHostileCharactersTypedRaw(t *testing.T) {
	for _, r := range []rune{0, 7, 0x1B, 0x7F, 0x85, 0xAD, 0x61C, 0x200B, 0x202E, 0x2028, 0x2029, 0xFEFF, 0xFFFD} {
		text := simple(t, "name: Ines Calloway", "name: Ines"+string(r)+"Calloway", "depth: 360 µm", "depth: 360")
		all, checked := sound(t, source("a.yaml", text), options())
		if len(checked) > 0 && checked[0].Complete() || len(all) == 0 {
			t.Errorf("U+%04X is accepted", r)
		}
		if f, ok := find(all, "value-unreadable", "trephination.depth"); ok && !strings.Contains(f.Excerpt, "depth: 360,") {
			t.Errorf("U+%04X: the place of a later fault shifts to line %d", r, f.Pos.Line)
		}
	}
}

// Every way a text editor may save the file. UTF-16 and Latin-1 get a plain
// message; the encoders are the reference library's.
func TestHostileEncodings(t *testing.T) {
	text := simple(t, "name: Ines Calloway", "name: Zoë Núñez")
	latin1, err := charmap.ISO8859_1.NewEncoder().String(text)
	if err != nil {
		t.Fatal(err)
	}
	le, _ := xunicode.UTF16(xunicode.LittleEndian, xunicode.UseBOM).NewEncoder().String(text)
	be, _ := xunicode.UTF16(xunicode.BigEndian, xunicode.IgnoreBOM).NewEncoder().String(text)
	bare, _ := xunicode.UTF16(xunicode.LittleEndian, xunicode.IgnoreBOM).NewEncoder().String(text)
	for _, w := range []struct {
		name, text, what string
		line             int
	}{
		{"utf-8 with mark", "\uFEFF" + text, "", 0},
		{"crlf", strings.ReplaceAll(text, "\n", "\r\n"), "", 0},
		{"old cr", strings.ReplaceAll(text, "\n", "\r"), "", 0},
		{"no final newline", strings.TrimRight(text, "\n"), "", 0},
		{"many final newlines", text + "\n\n\n", "", 0},
		{"dashes before and after", "---\n" + text + "---\n", "", 0},
		{"latin-1", latin1, "Latin-1", 3},
		{"latin-1 and old cr", strings.ReplaceAll(latin1, "\n", "\r"), "Latin-1", 3},
		{"utf-16 with mark", le, "UTF-16", 1},
		{"utf-16 big", be, "UTF-16", 1},
		{"utf-16 bare", bare, "UTF-16", 1},
	} {
		t.Run(w.name, func(t *testing.T) {
			all, checked := sound(t, source("a.yaml", w.text), options())
			if w.what == "" {
				if len(checked) != 1 || !checked[0].Complete() || checked[0].Entry().Patient.Name.Value() != "Zoë Núñez" {
					t.Fatalf("%d cases, findings %q", len(checked), rules(all))
				}
				return
			}
			if len(all) != 1 || all[0].Rule != "file-encoding" || !strings.Contains(all[0].What, w.what) || all[0].Pos.Line != w.line {
				t.Errorf("findings %+v", all)
			}
		})
	}
}

// With CRLF, old CR or a byte order mark the places stay those of the editor.
func TestPlacesUnderEveryLineEnd(t *testing.T) {
	text := simple(t, "depth: 360 µm", "depth: 360")
	want := -1
	for i, l := range strings.Split(text, "\n") {
		if strings.HasPrefix(l, "trephination:") {
			want = i + 1
		}
	}
	for _, end := range []string{"\n", "\r\n", "\r"} {
		all, _ := sound(t, source("a.yaml", strings.ReplaceAll(text, "\n", end)), options())
		f, ok := find(all, "value-unreadable", "trephination.depth")
		if !ok || f.Pos.Line != want || !strings.HasPrefix(f.Excerpt, "trephination:") {
			t.Errorf("%q: line %d, want %d", end, f.Pos.Line, want)
		}
	}
}

// The public half of a finding goes into logs and mails. Whatever is typed, no
// part of it may stand there (CERT: sensitive data stays out of logs).
func TestPublicHalfHoldsNoEnteredValue(t *testing.T) {
	const canary = "Qzxcanary7"
	for _, value := range []string{canary, canary + " 9971", "9971.25 " + canary, "9971", "9971,5 mm", "not recorded: " + canary, "9971 mm", "9971 %",
		"{" + canary + ": " + canary + "}", "[" + canary + ", " + canary + "]", yamlQuoted(canary + "\u202e"), "31/12/9971", "9971-12-31", "-9971", canary + ": 1"} {
		all, _ := sound(t, source("a.yaml", everyField(value)), options())
		if len(all) == 0 {
			t.Errorf("%s: nothing found", value)
		}
		for _, f := range all {
			p := f.Public()
			shown := fmt.Sprintf("%+v", p)
			if p.Excerpt+p.Detail != "" || p.Readings != nil || strings.Contains(shown, canary) || strings.Contains(shown, "9971") {
				t.Errorf("%s as %s: %s", f.Path, value, shown)
			}
		}
	}
}

// everyField is an entry that answers each field with the same text.
func everyField(value string) string {
	var b strings.Builder
	b.WriteString("case: aaaaaa-canary\n")
	for _, g := range schema.Content().Groups {
		indent, first := "  ", "  "
		switch {
		case g.Key == "":
			indent, first = "", ""
		case g.Many != "":
			indent, first = "    ", "  - "
			fallthrough
		default:
			b.WriteString(g.Key + ":\n")
		}
		for i, r := range g.Fields {
			if r.Path() == "case" {
				continue
			}
			if i == 0 {
				b.WriteString(first)
			} else {
				b.WriteString(indent)
			}
			b.WriteString(r.Key + ": " + value + "\n")
		}
	}
	return b.String()
}

// A private value that breaks a rule is not in the public half either.
func TestPublicHalfOfRulesHoldsNoValue(t *testing.T) {
	values := []string{"1871-03-14", "Calloway", "FIC-0101", "2026-09-08", "T-FIC-9001", "09:05", "10:02", "Voss", "7.13", "Lindow", "9.99", "618"}
	text := simple(t, "born: 2002-03-14", "born: 1871-03-14", "host-diameter: 7.75 mm", "host-diameter: 7.13 mm", "diameter: 8.00 mm", "diameter: 9.99 mm",
		"depth: 360 µm", "depth: 618 µm", "covers-conversion: yes", "covers-conversion: no", "expires: 2026-09-15", "expires: 2026-09-07", "listed: right", "listed: left")
	all, _ := sound(t, source("a.yaml", text), options())
	if len(all) < 6 {
		t.Fatalf("only %q", rules(all))
	}
	for _, f := range all {
		shown := fmt.Sprintf("%+v", f.Public())
		for _, v := range values {
			if strings.Contains(shown, v) {
				t.Errorf("%s shows %s: %s", f.Rule, strconv.Quote(v), shown)
			}
		}
	}
}

// A file of any bytes never reaches the parser's own words: those may quote it.
func TestParserWordsStayPrivate(t *testing.T) {
	const canary = "Qzxcanary7"
	for _, text := range []string{"a: *" + canary, "a: !" + canary + "<x", "%" + canary + "\n---\n", "? " + canary + "\n: [", canary + ": {" + canary, "&" + canary + " *" + canary,
		"\"" + canary, "a: '" + canary, "- " + canary + "\n" + canary, "a: |9" + canary, "a: b: " + canary, "\t" + canary + ": 1"} {
		all, _ := sound(t, source("a.yaml", text), options())
		for _, f := range all {
			if strings.Contains(fmt.Sprintf("%+v", f.Public()), canary) {
				t.Errorf("%q: %+v", text, f.Public())
			}
		}
		if len(all) == 0 || bytes.Contains([]byte(all[0].What), []byte("yaml:")) {
			t.Errorf("%q: %d findings", text, len(all))
		}
	}
}
