package registry

import (
	"bytes"
	"errors"
	"io"
	"strings"
	"testing"

	"graftnote/schema"
)

// FuzzRow reads mutated entries. A row of whatever was read must be writable or
// be refused, hold nothing that was typed as text, and never panic.
func FuzzRow(f *testing.F) {
	for _, name := range []string{firstSample, "06-conversion.yaml", "12-not-recorded.yaml", "13-femtosecond.yaml", "14-viscodissection-visits.yaml", "15-staged.yaml"} {
		f.Add([]byte(sample(f, name)))
	}
	text := sample(f, firstSample)
	for _, pair := range [][2]string{
		{"0.7 logMAR", "HM"}, {"372 µm", "99999999 µm"}, {"16 x 10-0 nylon", "0"}, {"61 years", "110 years"},
		{"outcome: grafted", "outcome: returned"}, {"events: none", "events: not recorded: forgotten"}, {"2002-03-14", "2026-09-09"},
		{"Ines Calloway", `"=HYPERLINK(1)"`}, {"Ines Calloway", "oved-complete"}, {"FIC-0101", `"\u202e0101"`}, {"11.8 mm", "not recorded: =1+1"},
	} {
		f.Add([]byte(strings.Replace(text, pair[0], pair[1], 1)))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		o := schema.Options{Now: now}
		for _, cs := range schema.Read(schema.Source{Name: "entry.yaml", Data: data}, o).Cases {
			c, err := schema.Check(cs, o, nil)
			if err != nil {
				return
			}
			row, err := Make(c, Options{Key: testKey})
			if err == nil {
				if err := Write(io.Discard, []Row{row}, Options{}); err != nil {
					t.Fatalf("a complete entry gives a row that cannot be written: %v", err)
				}
			} else if !errors.Is(err, ErrDraft) && !errors.Is(err, ErrNoConsent) {
				t.Fatalf("unexpected: %v", err)
			}
			// A draft gives no row, but its cells must hold as well.
			row = rowOf(c.Entry(), testKey)
			columns := load().columns
			for i, have := range row.cells {
				fault := columns[i].accepts(have)
				if fault != "" && !(columns[i].Required && columns[i].missing[have]) {
					t.Fatalf("column %s: %s", columns[i].Name, fault)
				}
			}
			for _, typed := range []string{c.Entry().Patient.Name.Raw(), c.Entry().Patient.ID.Raw(), c.Entry().Story.Raw()} {
				if len(typed) > 8 && bytes.Contains([]byte(strings.Join(row.cells, "\n")), []byte(typed)) {
					if !partOfACode(typed) {
						t.Fatal("the row holds a typed text")
					}
				}
			}
		}
	})
}

// partOfACode: a name that happens to be a code of a list, or a piece of one such
// as "oved-complete", is no leak.
func partOfACode(typed string) bool {
	for _, c := range load().columns {
		for _, w := range c.Codes {
			if strings.Contains(w.Code, typed) {
				return true
			}
		}
	}
	return false
}

func BenchmarkMake(b *testing.B) {
	c := checked(b, sample(b, firstSample))
	o := Options{Key: testKey}
	for b.Loop() {
		if _, err := Make(c, o); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkWriteThousand(b *testing.B) {
	c := checked(b, sample(b, firstSample))
	base, err := Make(c, Options{Key: testKey})
	if err != nil {
		b.Fatal(err)
	}
	rows := make([]Row, 1000)
	for i := range rows {
		rows[i] = Row{cells: append([]string(nil), base.cells...)}
		rows[i].cells[load().byName["row_key"]] = RowKey(testKey, sevenDigits(i))
	}
	for b.Loop() {
		if err := Write(io.Discard, rows, Options{}); err != nil {
			b.Fatal(err)
		}
	}
}
