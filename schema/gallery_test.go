package schema

import (
	"bytes"
	"flag"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"
)

var update = flag.Bool("update", false, "write the expected texts of testdata/gallery anew")

const gallery = "testdata/gallery"

// galleryNow is when the gallery is checked. It lies after every date in it
// that is not meant to be in the future.
var galleryNow = time.Date(2030, 6, 15, 12, 0, 0, 0, time.UTC)

// besides names the findings that must come with a rule, because the same
// figure breaks a range or a wider rule as well.
var besides = map[string][]string{
	"bed-smooth-mixed":                    {"bed-not-smooth"},
	"true-state-twice":                    {"counts-not-correct"},
	"backup-none-with-fitness":            {"no-backup-tissue"},
	"refill-nothing-with-strength":        {"space-not-refilled"},
	"chamber-bubble-wider-than-cornea":    {"chamber-bubble-wide"},
	"half-filled-without-pupil-care":      {"outside-usual-range"}, // 50 % is the limit of both
	"high-risk-without-immunosuppression": {"outside-usual-range"},
	"host-beyond-limbus":                  {"outside-usual-range"}, // the donor fits the host
	"interrupted-few":                     {"outside-usual-range"},
}

// notInGallery are rules whose file cannot stand in a folder of samples.
var notInGallery = map[string]string{
	"file-too-large": "a file above one megabyte; the hostile inputs build it",
}

// TestGallery holds each rule to its file: the rule is raised, nothing else is,
// and the words are those a person has read. The expectation behind each file is
// the row it is named after; the rows cite their sources.
func TestGallery(t *testing.T) {
	files, err := filepath.Glob(gallery + "/*.yaml")
	if err != nil || len(files) == 0 {
		t.Fatalf("no gallery: %v", err)
	}
	var names []string
	for _, f := range files {
		name := strings.TrimSuffix(filepath.Base(f), ".yaml")
		if strings.HasSuffix(name, ".site") {
			continue
		}
		names = append(names, name)
		t.Run(name, func(t *testing.T) { oneOfGallery(t, name) })
	}
	others, err := filepath.Glob(gallery + "/*")
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range others {
		name, _, _ := strings.Cut(filepath.Base(f), ".")
		if !slices.Contains(names, name) {
			t.Errorf("%s belongs to no entry of the gallery", f)
		}
	}
	for _, r := range Content().Rules {
		if !slices.Contains(names, r.Name) && notInGallery[r.Name] == "" {
			t.Errorf("rule %s has no file in %s", r.Name, gallery)
		}
	}
}

func oneOfGallery(t *testing.T, name string) {
	rule, ok := Content().Rule(name)
	if !ok {
		t.Fatalf("no rule of this name")
	}
	all := checkGallery(t, name)
	// A numbered row raised by the check of a field is seen as that field.
	want, at := name, ""
	if rule.By == "check" && rule.Number > 0 {
		want, at = "required-field", rule.At
	}
	hit := false
	var text bytes.Buffer
	for _, f := range all {
		text.WriteString(f.Layout())
		switch {
		case f.Rule == want && (at == "" || f.Path == at):
			hit = true
			if f.Severity != rule.Severity && rule.By == "" {
				t.Errorf("severity %v, the row says %v", f.Severity, rule.Severity)
			}
		case !slices.Contains(besides[name], f.Rule):
			t.Errorf("also raises: %s", strings.SplitN(f.Layout(), "\n", 2)[0])
		}
	}
	if !hit {
		t.Errorf("the rule is not raised")
	}
	expected := filepath.Join(gallery, name+".txt")
	if *update {
		if err := os.WriteFile(expected, text.Bytes(), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	was, err := os.ReadFile(expected)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(was, text.Bytes()) {
		t.Errorf("the text differs from %s; run  go test ./schema -run TestGallery -update  and read the difference\n%s", expected, text.String())
	}
}

// checkGallery gives the findings of one file, those about the file as a whole
// included.
func checkGallery(t *testing.T, name string) []Finding {
	t.Helper()
	return checkFile(t, filepath.Join(gallery, name+".yaml"))
}

func checkFile(t *testing.T, path string) []Finding {
	t.Helper()
	name := strings.TrimSuffix(filepath.Base(path), ".yaml")
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if rule, _ := Content().Rule(name); rule.By == "followup" {
		return checkGalleryFollowup(t, Source{Name: name + ".yaml", Data: b})
	}
	o := Options{Now: galleryNow, Covers: latinOnly, RowColumn: func(name string) bool { return name == "eye" }}
	siteFile := filepath.Join(gallery, name+".site.yaml")
	if s, err := os.ReadFile(siteFile); err == nil {
		if o.Site, err = ParseSite(Source{Name: filepath.Base(siteFile), Data: s}); err != nil {
			t.Fatal(err)
		}
	}
	reading := Read(Source{Name: name + ".yaml", Data: b}, o)
	batch := NewBatch()
	for _, c := range reading.Cases {
		batch.Add(c)
	}
	all := slices.Clone(reading.Findings)
	for _, c := range reading.Cases {
		checked, err := Check(c, o, batch)
		if err != nil {
			t.Fatal(err)
		}
		all = append(all, checked.Findings()...)
	}
	return all
}

// latinOnly stands for a font without Arabic.
func latinOnly(text string) []rune {
	var missing []rune
	for _, r := range text {
		if r >= 0x0600 && r <= 0x06FF {
			missing = append(missing, r)
		}
	}
	return missing
}

// TestGalleryPublicHalf: whatever may go to a log carries nothing that was
// entered. The person of the gallery is invented, so her name, number and date
// of birth can be looked for.
func TestGalleryPublicHalf(t *testing.T) {
	secrets := []string{"Calloway", "FIC-0201", "1996-03-14", "T-FIC-9001", "Imara", "Lindow Eye"}
	for name := range galleryNames(t) {
		for _, f := range checkGallery(t, name) {
			p := f.Public()
			for _, text := range []string{p.What, p.Why, p.Fix, p.Detail, p.Excerpt, p.Citations(), strings.Join(p.AskedBy, " ")} {
				for _, s := range secrets {
					if strings.Contains(text, s) {
						t.Errorf("%s: %s carries %q", name, f.Rule, s)
					}
				}
			}
		}
	}
}

func galleryNames(t *testing.T) map[string]bool {
	t.Helper()
	files, err := filepath.Glob(gallery + "/*.yaml")
	if err != nil || len(files) == 0 {
		t.Fatalf("no gallery: %v", err)
	}
	names := map[string]bool{}
	for _, f := range files {
		if name := strings.TrimSuffix(filepath.Base(f), ".yaml"); !strings.HasSuffix(name, ".site") {
			names[name] = true
		}
	}
	return names
}
