package pdf

import (
	"fmt"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"graftnote/note"
)

// 21 CFR 11.50 (a): printed name, date and time, and meaning of each
// signature; (b): in any readable form of the record. Role, zone and key are
// ours. The time is the one of the note: 15:05:12 UTC is 16:05:12 in London in
// September (IANA time zone database, British Summer Time).
func TestSignatureBox(t *testing.T) {
	for _, d := range []docOf{signed, counterSigned, withdrawn, revised} {
		page := open(t, render(t, d, Options{Made: made})).words()[0]
		got := strings.ReplaceAll(text(page), "\n", " ")
		signs := d().Signatures
		if n := strings.Count(got, "Signed by "); n != len(signs) {
			t.Errorf("%d boxes for %d signatures", n, len(signs))
		}
		for _, s := range signs {
			for _, w := range slices.Concat(strings.Fields(s.Name), strings.Fields(s.Role), strings.Fields(s.When()), strings.Fields(s.Meaning)[:1], []string{s.Key}) {
				if !strings.Contains(strings.ReplaceAll(got, "- ", "-"), w) {
					t.Errorf("page one lacks %q", w)
				}
			}
		}
		if !strings.Contains(got, "9 September 2026, 16:05:12 +01:00 (Europe/London)") {
			t.Error("no time with its zone")
		}
		box, begins, title := place(t, page, "Signed by"), place(t, page, beginsWords), place(t, page, "Note begun")
		if box.y < begins.y || begins.y < title.y {
			t.Errorf("the box lies at %v, above %v and %v", box.y, begins.y, title.y)
		}
	}
}

// A note with many later signatures still opens with what is to be read first, on both
// papers, and every signature has its box. (The place is common practice, no source.)
func TestManySignatures(t *testing.T) {
	many := func() note.Document {
		d := counterSigned()
		for n := range 6 {
			s := d.Signatures[0]
			s.Meaning, s.At = "addition authored; the earlier text stands", at(11, 8, n)
			d.Signatures = append(d.Signatures, s)
		}
		d.Notices = []string{"This note was signed 42 days after an operation with a recorded event."}
		d.Alerts = []string{strings.Repeat("One needle was not found on the field. ", 4), strings.Repeat("The tissue had expired the day before. ", 4), "Zlast."}
		return d
	}
	for _, p := range []Paper{A4, Letter} {
		pages := open(t, render(t, many, Options{Made: made, Paper: p})).words()
		first, whole := text(pages[0]), ""
		for _, page := range pages {
			whole += text(page) + "\n"
		}
		whole = strings.ReplaceAll(whole, "\n", " ")
		if !strings.Contains(first, "Zlast.") || !strings.Contains(strings.ReplaceAll(first, "\n", " "), "6 later signatures stand after the signed text.") {
			t.Errorf("%v: page one:\n%s", p, first)
		}
		if n := strings.Count(whole, "Signed by "); n != 8 {
			t.Errorf("%v: %d boxes for 8 signatures", p, n)
		}
	}
}

func place(t *testing.T, page []word, text string) word {
	t.Helper()
	for _, w := range page {
		if w.text == text {
			return w
		}
	}
	t.Fatalf("no %q", text)
	return word{}
}

// House rule: the word across the page is drawn before everything else, so
// behind it, and light: black on its grey keeps a contrast of 15 to 1 (WCAG
// 2.2, definition of contrast ratio; 7 to 1 is its strictest demand).
func TestMark(t *testing.T) {
	draft := simple()
	draft.Draft = true
	plain := simple()
	plain.Mark = ""
	own := withdrawn()
	own.Draft = true // an own word wins
	for _, c := range []struct {
		d    note.Document
		want string
	}{{draft, "DRAFT"}, {own, "WITHDRAWN"}, {plain, ""}} {
		f := open(t, render(t, func() note.Document { return c.d }, Options{}))
		for i, p := range f.words() {
			if first := p[0].text; across(p[0]) != (c.want != "") || c.want != "" && first != c.want {
				t.Errorf("page %d begins with %q, want the word %q", i+1, first, c.want)
			}
			if c.want == "" {
				continue
			}
			grey := regexp.MustCompile(`cm\nBT [^\n]+\n([0-9.]+) g\nBT `).FindStringSubmatch(f.contents()[i])
			if grey == nil {
				t.Fatal("no colour for the word")
			}
			v, _ := strconv.ParseFloat(grey[1], 64)
			light := math.Pow((v+0.055)/1.055, 2.4)
			if ratio := (light + 0.05) / 0.05; ratio < 15 {
				t.Errorf("contrast of %v on the word", ratio)
			}
			// Its length, turned by 50 degrees about the middle, stays on the sheet.
			half := faces(t).width(c.want, style{true, p[0].size}) / 2
			if x, y := half*math.Cos(50*math.Pi/180), half*math.Sin(50*math.Pi/180); x > 100 || y > 135 {
				t.Errorf("%q reaches %v by %v mm from the middle", c.want, x, y)
			}
		}
	}
}

// House rule: every revision is there in order, with who, when and why, and
// each change has its old and new value on one line, old first.
func TestRevisions(t *testing.T) {
	d := revised()
	pages := open(t, render(t, revised, Options{Made: made})).words()
	if got := text(pages[0]); !strings.Contains(got, "Revision 20 of 20, see Revisions") {
		t.Error("page one does not tell of the revisions")
	}
	var all []word
	for _, p := range pages {
		all = append(all, p...)
	}
	from := slices.IndexFunc(all, func(w word) bool { return w.text == "Revisions" && w.bold })
	if from < 0 {
		t.Fatal("no section")
	}
	changes := 0
	for _, r := range d.Revisions {
		n := slices.IndexFunc(all[from:], func(w word) bool { return w.text == fmt.Sprint(r.Number) && w.bold && w.x < 43 })
		if n < 0 {
			t.Fatalf("revision %d is missing or out of order", r.Number)
		}
		from += n
		got := text(all[from : from+6])
		for _, w := range []string{r.Kind, r.Who, r.When()} {
			if !strings.Contains(got, w) {
				t.Errorf("revision %d: no %q in %q", r.Number, w, got)
			}
		}
		if e := r.EventWhen(); e != "" && !strings.Contains(text(all[from:from+12]), e) {
			t.Errorf("revision %d: no time of the event", r.Number)
		}
		for _, c := range r.Changes[:min(2, len(r.Changes))] {
			i := from + slices.IndexFunc(all[from:], func(w word) bool { return w.text == c.Label })
			row := all[i : i+3]
			if row[1].text != c.Old || row[2].text != c.New || row[0].y != row[2].y || row[0].x >= row[1].x || row[1].x >= row[2].x {
				t.Errorf("revision %d: %q", r.Number, text(row))
			}
			changes++
		}
	}
	if changes != 12 {
		t.Errorf("%d changes looked at", changes)
	}
	for _, one := range []docOf{signed, simple} {
		if got := text(open(t, render(t, one, Options{})).words()[0]); strings.Contains(got, "see Revisions") {
			t.Error("a note with one revision tells of more")
		}
	}
}

// House rule: what a revision spreads over pages says on each whose it is,
// and a table of changes repeats its header.
func TestLongRevision(t *testing.T) {
	d := signed()
	var cs []note.Change
	for i := range 150 {
		cs = append(cs, note.Change{Label: fmt.Sprintf("Attempt %d, depth", i+1), Old: "290 \u00b5m", New: "310 \u00b5m"})
	}
	d.Revisions = append(d.Revisions, note.Revision{Number: 2, Kind: "Corrected", Who: "O. Tarrant", At: at(12, 8, 0), Zone: zone, Why: "All depths read again.", Changes: cs})
	rows, parts := 0, 0
	for i, p := range open(t, render(t, func() note.Document { return d }, Options{})).words() {
		n := strings.Count(text(p), "290 \u00b5m\n310 \u00b5m\n")
		rows += n
		if n > 0 {
			parts++
			if !strings.Contains(text(p), "Before\nNow\n") || parts > 1 && !strings.Contains(text(p), "2 (continued)\n") {
				t.Errorf("page %d does not say whose changes it lists", i+1)
			}
		}
	}
	if rows != 150 || parts < 3 {
		t.Errorf("%d rows on %d pages", rows, parts)
	}
}

// Silence before or after a change is not the answer "not recorded", which stands
// only with its reason.
func TestSilenceInAChange(t *testing.T) {
	d := signed()
	d.Revisions = append(d.Revisions, note.Revision{Number: 2, Kind: "Corrected", Who: "O. Tarrant", At: at(12, 8, 0), Zone: zone, Changes: []note.Change{
		{Label: "Plan after surgery: vision", New: "none"}, {Label: "Plan after surgery: posture", Old: "24 h"}}})
	var got string
	for _, p := range open(t, render(t, func() note.Document { return d }, Options{})).words() {
		got += text(p)
	}
	for _, w := range []string{"vision\nnothing stood here\nnone\n", "posture\n24 h\nnothing stands here\n"} {
		if !strings.Contains(got, w) {
			t.Errorf("no %q", w)
		}
	}
}

// The signer's reasons and the confirmed values have their own sections, with
// no square left to tick (house rule).
func TestConfirmations(t *testing.T) {
	var got string
	for _, p := range open(t, render(t, signed, Options{})).words() {
		got += text(p)
	}
	for _, w := range []string{"Looked at again, with the signer's reason\n", "From the standing technique, confirmed by the signature\n", "Povidone-iodine 5 %\n", "Fill kept below 60 %, pupil watched for two hours.\n"} {
		if !strings.Contains(got, w) {
			t.Errorf("no %q", w)
		}
	}
	if strings.Contains(got, "not yet confirmed") {
		t.Error("a signed note says that values are not confirmed")
	}
}
