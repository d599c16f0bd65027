package quantity

import (
	"fmt"
	"regexp"
	"strings"
	"testing"
)

// parsers gives every parser one shape: the printed value and its Problem.
var parsers = map[string]func(string) (string, *Problem){
	"decimal":  printed(ParseDecimal),
	"fraction": printed(ParseFraction),
	"clock":    printed(ParseClockHour),
	"clocks": func(s string) (string, *Problem) {
		list, p := ParseClockHours(s)
		var said []string
		for _, h := range list {
			said = append(said, h.String())
		}
		return strings.Join(said, ", "), p
	},
	"acuity":      printed(ParseAcuity),
	"refraction":  printed(ParseRefraction),
	"date":        printed(ParseDate),
	"time of day": printed(ParseTimeOfDay),
	"instant": func(s string) (string, *Problem) {
		at, p := ParseInstant(s)
		return at.Format("2006-01-02T15:04:05.999999999Z07:00"), p
	},
	"stitches": printed(ParseStitches),
}

func init() {
	for _, d := range Dimensions() {
		parsers[d.Name] = func(s string) (string, *Problem) { return show(ParseQuantity(s, d)) }
	}
}

func printed[T fmt.Stringer](parse func(string) (T, *Problem)) func(string) (string, *Problem) {
	return func(s string) (string, *Problem) { return show(parse(s)) }
}

func show[T fmt.Stringer](v T, p *Problem) (string, *Problem) { return v.String(), p }

// awkward holds texts that every parser meets, for tables and as fuzz seeds.
var awkward = []string{
	"", " ", "0", "-0", "7,75", ".08", "1e308", "NaN", "Inf", "1_000", "٨٫٢٥", "８．２", "8.25/8.0", "350um", "350\u00a0µm",
	"27 G", "2500 cells/mm²", "1 000 mm", "2/3", "66 %", "half five", "5:30", "11 o'clock", "10, 2", "12,5", "6/36", "6/9-2",
	"0.3", "0.5 logMAR", "CF 1 m", "P-L", "70 letters", "-3.00/-4.00 x 90", "-5-4x300", "plano/-1.00 x 0", "-2.00 sph", "2026-04-03",
	"03/04/2026", "26-1-5", "3 April 2026", "09:05", "9:05 pm", "24:00", "02:30+01:00", "2026-09-08T10:20+01:00", "16 x 10-0 nylon",
	"16-bite 10-0 nylon", "8 + 16", "10-O", "16 x of x nylon", "=HYPERLINK(\"http://x\")", "\u202e8 mm", "8\x00", "\xff\xfe",
	"e\u0301", "<script>", "../../etc", strings.Repeat("9", 300), strings.Repeat("(", 200), strings.Repeat("+", 200),
}

// check holds for any text and any parser: a value prints as text that is read
// as the same value, a Problem has all three public parts, and its public half
// says nothing that was typed.
func check(t *testing.T, name, text string) {
	t.Helper()
	parse := parsers[name]
	value, p := parse(text)
	if p == nil {
		again, p := parse(value)
		if p != nil || again != value {
			t.Errorf("%s: %q prints %q, which is read as %q, %v", name, text, value, again, p)
		}
		return
	}
	if p.What == "" || p.Why == "" || p.Fix == "" {
		t.Errorf("%s: %q: a part of the problem is empty: %+v", name, text, p)
	}
	// A second text with the same shape must give the same public half: so it
	// cannot carry what was typed.
	if _, other := parse(disguise(text)); other != nil && other.What == p.What && other.Error() != p.Error() {
		t.Errorf("%s: %q: the public half changes with the text", name, text)
	}
	_, planted := parse(text + sentinel)
	if planted == nil || strings.Contains(planted.Error(), sentinel) {
		// The material of a suture is any word, so there the text may be a value.
		if planted != nil || name != "stitches" {
			t.Errorf("%s: %q: the public half carries the text", name, text)
		}
	}
}

const sentinel = "Qvzx"

var anyDigit = regexp.MustCompile(`[1-9]`)

// disguise changes every digit of the text but not its shape.
func disguise(text string) string {
	return anyDigit.ReplaceAllStringFunc(text, func(d string) string { return string('1' + (d[0]-'1'+1)%9) })
}

func TestAwkwardTexts(t *testing.T) {
	for name := range parsers {
		for _, text := range awkward {
			check(t, name, text)
		}
	}
}

// Unicode Standard Annex 15: a decomposed and a composed spelling are one text.
func TestComposedAndDecomposed(t *testing.T) {
	a, p := ParseStitches("16 x 10-0 soie\u0301")
	b, q := ParseStitches("16 x 10-0 soi\u00e9")
	if p != nil || q != nil || a != b {
		t.Errorf("%+v, %v and %+v, %v", a, p, b, q)
	}
}

func fuzz(f *testing.F, names ...string) {
	for _, s := range awkward {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		for _, name := range names {
			check(t, name, text)
		}
	})
}

func FuzzParseDecimal(f *testing.F)    { fuzz(f, "decimal") }
func FuzzParseFraction(f *testing.F)   { fuzz(f, "fraction") }
func FuzzParseClockHour(f *testing.F)  { fuzz(f, "clock", "clocks") }
func FuzzParseAcuity(f *testing.F)     { fuzz(f, "acuity") }
func FuzzParseRefraction(f *testing.F) { fuzz(f, "refraction") }
func FuzzParseDate(f *testing.F)       { fuzz(f, "date") }
func FuzzParseTimeOfDay(f *testing.F)  { fuzz(f, "time of day") }
func FuzzParseInstant(f *testing.F)    { fuzz(f, "instant") }
func FuzzParseStitches(f *testing.F)   { fuzz(f, "stitches") }

func FuzzParseQuantity(f *testing.F) {
	var names []string
	for _, d := range Dimensions() {
		names = append(names, d.Name)
	}
	fuzz(f, names...)
}
