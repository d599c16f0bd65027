//go:build outside

package pdf

import (
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"graftnote/note"
)

// These checks run reference readers (poppler-utils, qpdf and zbar) over the
// files. They need the programs pdftotext, pdffonts, pdfdetach, pdftoppm, qpdf
// and zbarimg:
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
			if doc.Code != "" {
				codeOnPage(t, file, doc.Code)
			}
			savedAgain(t, file)
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

// codeOnPage reads the code from a picture of the page with zbar, which shares
// no code with the encoder, at the coarsest resolution an office scanner has.
func codeOnPage(t *testing.T, file, want string) {
	t.Helper()
	base := strings.TrimSuffix(file, ".pdf")
	run(t, "pdftoppm", "-r", "150", "-gray", "-png", file, base)
	pages, err := filepath.Glob(base + "-*.png")
	if err != nil || len(pages) == 0 {
		t.Fatal("no picture of a page")
	}
	var found []string
	for _, p := range pages {
		out, _ := exec.Command("zbarimg", "--quiet", "--raw", "-Sdisable", "-Sqrcode.enable", p).Output() // exit 4: none on this page
		if s := strings.TrimSuffix(string(out), "\n"); s != "" {
			found = append(found, s)
		}
	}
	if len(found) != 1 || found[0] != want {
		t.Errorf("%s: codes %q, want %q", filepath.Base(file), found, want)
	}
}

// savedAgain checks that a file which another program wrote again, page for
// page the same, is told from ours.
func savedAgain(t *testing.T, file string) {
	t.Helper()
	again := file + ".again"
	run(t, "qpdf", file, again)
	b, err := os.ReadFile(again)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := Attachments(b); !errors.Is(err, ErrForeign) {
		t.Errorf("saved again by qpdf: %v", err)
	}
}

// Payloads of every kind are read back from the page too: small, numeric, upper
// case, web address and dense.
func TestOutsideCodes(t *testing.T) {
	for i, payload := range []string{"1", "0123456789", "GRAFTNOTE:1/AB", strings.Repeat("0123456789abcdef/+=", 30), "https://example.invalid/v?c=1&d=~%20"} {
		d := withdrawn()
		d.Code = payload
		file := filepath.Join(t.TempDir(), strconv.Itoa(i)+".pdf")
		if err := os.WriteFile(file, render(t, func() note.Document { return d }, Options{Made: made}), 0o600); err != nil {
			t.Fatal(err)
		}
		codeOnPage(t, file, payload)
	}
}

// A report passes the same reference readers.
func TestOutsideReport(t *testing.T) {
	for _, p := range []Paper{A4, Letter} {
		file := filepath.Join(t.TempDir(), "report.pdf")
		if err := os.WriteFile(file, rendered(t, audit(), Options{Paper: p, Made: made}), 0o600); err != nil {
			t.Fatal(err)
		}
		if out := run(t, "qpdf", "--check", file); !strings.Contains(out, "No syntax or stream encoding errors") || strings.Contains(out, "WARNING") {
			t.Error(out)
		}
		out := run(t, "pdftotext", "-layout", file, "-")
		for _, want := range []string{"READ FIRST", "upright", "level", "a note below", "End of report"} {
			if !strings.Contains(out, want) {
				t.Errorf("%s: %q is not read back", p.Name, want)
			}
		}
	}
}
