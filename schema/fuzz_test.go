package schema_test

import (
	"bytes"
	"fmt"
	"math/rand/v2"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"graftnote/schema"
)

// seeds are the small hostile files and short entries of each shape.
func seeds(f *testing.F) {
	files, _ := filepath.Glob("../testdata/hostile/*.yaml")
	for _, path := range files {
		f.Add(readFile(f, path).Data)
	}
	for _, s := range []string{
		"case: aaaaaa\neye: {operated: right, listed: left}\nevents: none\n",
		"list: {episode: {date: 2026-09-08}, team: [{name: A, role: surgeon}]}\ncases: [{case: aaaaaa}, {case: bbbbbb}]\n",
		"a: not recorded: b\npatient: {sex: not recorded: asked, born: not recorded: lost}\n",
		"\uFEFF{\"case\": \"aaaaaa\",\n\t\"before\": {\"thinnest\": \"372 µm\", \"k1\": \"52,1 D\"}}",
		"injections: {medium: air, hour: '5:30', volume: .5 mL}\r\nstory: |\r  one\r\n  two\n",
		"from-technique: [sutures.gauge, 'injections[1].gauge', 'x[']\nsutures: {interrupted: 16 x 10-0 nylon}\n",
		"tissues: [{id: a, split: 1}, {id: a}]\nvisits: [{date: 2026-01-01, clarity: 5}]\n---\n---\n1\n",
		"name: a\u0085b\u2028c\nstory: \"\\u2028\\x1b\"\n",
	} {
		f.Add([]byte(s))
	}
}

// FuzzRead: any bytes are read and checked without a panic, every place lies in
// the file and every excerpt is its line, the public half quotes nothing, and
// what can be signed comes back from its canonical form byte for byte.
func FuzzRead(f *testing.F) {
	seeds(f)
	f.Add(readFile(f, filepath.Join(samples, "16-with-technique.yaml")).Data)
	f.Fuzz(func(t *testing.T, data []byte) {
		all, checked := sound(t, schema.Source{Name: "fuzz.yaml", Data: data}, options())
		if len(all) == 0 && len(checked) == 0 {
			t.Error("nothing was read and nothing was said")
		}
		for _, c := range checked {
			r := schema.Read(schema.Source{Name: "c.json", Data: c.Canonical()}, options())
			if len(r.Cases) != 1 {
				t.Fatalf("%d cases from the canonical form %s", len(r.Cases), c.Canonical())
			}
			again := check(t, r.Cases[0], options(), nil)
			if !bytes.Equal(again.Canonical(), c.Canonical()) {
				t.Errorf("first  %s\nsecond %s", c.Canonical(), again.Canonical())
			}
		}
	})
}

// FuzzTechnique: any file of habits is read without a panic, and no entry takes
// anything but habits from it.
func FuzzTechnique(f *testing.F) {
	seeds(f)
	f.Add(readFile(f, "../testdata/technique.yaml").Data)
	short := readFile(f, filepath.Join(samples, "16-with-technique.yaml"))
	f.Fuzz(func(t *testing.T, data []byte) {
		o := options()
		o.Technique = schema.ReadTechnique(schema.Source{Name: "technique.yaml", Data: data}, o)
		lines := 1 + strings.Count(strings.ReplaceAll(string(data), "\r\n", "\n"), "\n") + strings.Count(string(data), "\r")
		for _, x := range o.Technique.Findings {
			if x.Pos.Line < 1 || x.Pos.Line > lines || x.Layout() == "" {
				t.Errorf("%s at %+v", x.Rule, x.Pos)
			}
		}
		for _, cs := range schema.Read(short, o).Cases {
			c := check(t, cs, o, nil)
			c.Entry().Walk(func(r *schema.Row, _ int, a schema.Field) {
				if a.Origin() == schema.Technique && !a.Blank() && !r.Habit() {
					t.Errorf("%s came from the technique", r.Path())
				}
			})
		}
	})
}

// FuzzSite: any site file gives settings or an error that names the file.
func FuzzSite(f *testing.F) {
	seeds(f)
	f.Add(readFile(f, "../testdata/site/site.yaml").Data)
	f.Add([]byte("row-columns: [patient.name, eye]\nprofiles: [nobody]\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		s, err := schema.ParseSite(schema.Source{Name: "site.yaml", Data: data})
		if (s == nil) == (err == nil) {
			t.Fatalf("site %v, error %v", s, err)
		}
		if err != nil {
			if !strings.HasPrefix(err.Error(), "site.yaml") {
				t.Errorf("the error names no file: %v", err)
			}
			return
		}
		o := options()
		o.Site = s
		for _, cs := range schema.Read(source("a.yaml", "case: aaaaaa\n"), o).Cases {
			for _, x := range check(t, cs, o, nil).Findings() {
				_ = fmt.Sprint(x.Layout())
			}
		}
	})
}

// nasty are values put in the place of others.
var nasty = []string{"none", "[]", "{}", "~", "''", "not recorded", "not recorded: why", "{not recorded: why}", "not recorded: a, b", "-", "0", "-1", "1e9", "7,5 mm",
	"99999 µm", "2026-02-29", "24:00", "25/12/2026", "\"\\u202e\"", "[none, none]", "[[a]]", "{a: b}", "*x", "&x y", "!t z", "|", ">-", "'", "\"", "#", "a: b", "x # y", "é", "\t", "%", "@", "unknown",
	"10-0", "16 x 10-0 nylon", "16-bite 10-0 nylon", "12:30", "5:30", "[1, 2]", "27 G", "6/12", "CF", "type-1", "lamellar-graft", "converted-penetrating", "abandoned", "staged", "grafted", "left", "failed"}

// Samples with some values exchanged, in a fixed order of choices: the same
// properties as FuzzRead, on entries that are nearly right.
func TestMutatedSamples(t *testing.T) {
	rng := rand.New(rand.NewPCG(8, 785))
	var texts []string
	for _, path := range sampleFiles(t, "*.yaml") {
		if !strings.Contains(path, "11-very-long") {
			texts = append(texts, string(readFile(t, path).Data))
		}
	}
	value := regexp.MustCompile(`: ([^\s,{}\[\]][^,{}\[\]\n]*)`)
	for range mutations {
		text := texts[rng.IntN(len(texts))]
		for range 1 + rng.IntN(4) {
			at := value.FindAllStringSubmatchIndex(text, -1)
			if len(at) == 0 {
				break
			}
			m := at[rng.IntN(len(at))]
			text = text[:m[2]] + nasty[rng.IntN(len(nasty))] + text[m[3]:]
		}
		_, checked := sound(t, source("mutated.yaml", text), options())
		for _, c := range checked {
			r := schema.Read(schema.Source{Name: "c.json", Data: c.Canonical()}, options())
			again := check(t, r.Cases[0], options(), nil)
			if !bytes.Equal(again.Canonical(), c.Canonical()) || c.Complete() && !again.Complete() {
				t.Errorf("first  %s\nsecond %s", c.Canonical(), again.Canonical())
			}
		}
		if t.Failed() {
			t.Fatalf("the entry was\n%s", text)
		}
	}
}

const mutations = 300
