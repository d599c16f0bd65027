//go:build outside

package pdf

import (
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// These checks run reference readers (poppler-utils and qpdf) over the files.
// They need the programs pdftotext, pdffonts, pdfdetach and qpdf:
//
//	go test -tags outside -run Outside ./pdf

func run(t *testing.T, name string, args ...string) string {
	t.Helper()
	out, err := exec.Command(name, args...).CombinedOutput()
	if err != nil {
		t.Fatalf("%s: %v\n%s", name, err, out)
	}
	return string(out)
}

func TestOutside(t *testing.T) {
	dir := t.TempDir()
	for name, d := range samples {
		for _, p := range []Paper{A4, Letter} {
			file := filepath.Join(dir, name+p.Name+".pdf")
			if err := os.WriteFile(file, render(t, d, Options{Paper: p, Made: made}), 0o600); err != nil {
				t.Fatal(err)
			}
			if out := run(t, "qpdf", "--check", file); !strings.Contains(out, "No syntax or stream encoding errors") || strings.Contains(out, "WARNING") {
				t.Errorf("%s: %s", name, out)
			}
			for _, l := range strings.Split(strings.TrimSpace(run(t, "pdffonts", file)), "\n")[2:] {
				if f := strings.Fields(l); strings.Join(f[len(f)-5:len(f)-2], " ") != "yes yes yes" || f[0][6] != '+' {
					t.Errorf("%s: not embedded, subset and mapped: %s", name, l)
				}
			}
			doc := d()
			pages := strings.Split(strings.TrimSuffix(run(t, "pdftotext", "-layout", file, "-"), "\f"), "\f")
			if name == "scripts" && !strings.Contains(pages[0], "Ad\u00e9b\u1ecd\u0301l\u00e1") {
				t.Error("a name with combining marks is not found")
			}
			for i, page := range pages {
				for _, want := range []string{doc.Banner.Eye, doc.Banner.PatientID, doc.Banner.Born, doc.Banner.Site, "Note " + doc.ID} {
					if !strings.Contains(page, want) {
						t.Errorf("%s page %d: no %q", name, i+1, want)
					}
				}
			}
			for _, s := range doc.Sources {
				out := filepath.Join(dir, "out")
				run(t, "pdfdetach", "-savefile", s.Name, "-o", out, file)
				if got, _ := os.ReadFile(out); string(got) != string(s.Data) {
					t.Errorf("%s: pdfdetach gives other bytes for %s", name, s.Name)
				}
				if got := run(t, "qpdf", "--show-attachment="+s.Name, file); got != string(s.Data) {
					t.Errorf("%s: qpdf gives other bytes for %s", name, s.Name)
				}
			}
		}
	}
}
