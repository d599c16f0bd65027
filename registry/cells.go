package registry

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"unicode"

	"graftnote/schema"
	"graftnote/schema/quantity"
)

// The missing codes that the program itself gives; columns.yaml explains them.
const (
	doesNotApply  = "NA"
	notRecorded   = "NR"
	notStated     = "NS"
	noNumber      = "NC"
	outsideLimits = "OL"
)

// maker writes the cells of one entry.
type maker struct {
	*content
	e       *schema.Entry
	key     []byte
	grafted int // the tissue that was sutured in, counted from 0; -1 for none
}

func newMaker(c *content, e *schema.Entry, key []byte) *maker {
	m := &maker{content: c, e: e, key: key, grafted: -1}
	for i, t := range e.Tissues {
		if t.Outcome.Is("grafted") {
			m.grafted = i
			break
		}
	}
	return m
}

// one is the answer at a row: of a list group, that of the grafted tissue, or
// nil when none was grafted.
func (m *maker) one(r *schema.Row) schema.Field {
	if r.Group.Many == "" {
		return m.e.At(r.Path())
	}
	return m.e.Item(r.Path(), m.grafted)
}

// cell writes one answer, or the code for what is missing.
func (m *maker) cell(c *Column, f schema.Field) string {
	switch {
	case f == nil:
		return doesNotApply
	case f.Recorded():
		return c.writeField(m, f, c)
	}
	if reason, ok := f.NotRecorded(); ok {
		return m.reasonCode(reason)
	}
	if c.need != "always" && c.need != "optional" && m.notAsked(c.need) {
		return doesNotApply
	}
	return notStated
}

// notAsked reports that the condition of a silent answer does not hold. A complete
// entry answers whatever was asked for, so silence means that the condition
// failed, unless what it rests on is itself not recorded: then nobody knows.
func (m *maker) notAsked(need string) bool {
	for _, test := range schema.Content().Conditions[need].When {
		path, _, _ := strings.Cut(test, " ")
		r, ok := schema.Content().Row(path)
		if !ok {
			continue
		}
		fields := m.e.All(path)
		if r.Group.Key == "tissues" && m.grafted >= 0 {
			fields = fields[m.grafted : m.grafted+1]
		}
		for _, f := range fields {
			if _, gap := f.NotRecorded(); gap {
				return false
			}
		}
	}
	return true
}

// reasonCode turns the typed reason into a code. The reason itself stays behind.
func (m *maker) reasonCode(reason string) string {
	text := strings.ToLower(strings.ReplaceAll(reason, "’", "'"))
	for _, c := range m.Missing {
		for _, w := range c.Words {
			if hasPhrase(text, w) {
				return c.Code
			}
		}
	}
	return notRecorded
}

// hasPhrase finds whole words only.
func hasPhrase(text, phrase string) bool {
	for from := 0; ; {
		i := strings.Index(text[from:], phrase)
		if i < 0 {
			return false
		}
		start, end := from+i, from+i+len(phrase)
		before, after := []rune(text[:start]), []rune(text[end:])
		if (len(before) == 0 || !unicode.IsLetter(before[len(before)-1])) && (len(after) == 0 || !unicode.IsLetter(after[0])) {
			return true
		}
		from = start + 1
	}
}

// figure rounds to the places of the column and keeps to its limits.
func (c *Column) figure(n quantity.Decimal) string {
	if !n.IsDefined() {
		return notRecorded
	}
	n = n.Round(c.Places)
	if n.Cmp(c.min) < 0 || n.Cmp(c.max) > 0 {
		return outsideLimits
	}
	return n.String()
}

type key struct{ kind, as string }

// transform is one way from an answer to a cell.
type transform struct {
	kind    string // kind of figure, "" for text
	pattern string
	codes   func(*content) []schema.CodeWord
	write   func(m *maker, f schema.Field, c *Column) string
}

// transforms by the type of the field and as. What stands not here, free text
// and identifiers above all, cannot become a column.
var transforms = map[key]transform{
	{"code", ""}:                           {write: writeCodes},
	{"codes", ""}:                          {write: writeCodes},
	{"yes-no", ""}:                         {write: writeCodes},
	{"code", "yes-no"}:                     {codes: yesNo, write: writeYesNo},
	{"codes", "yes-no"}:                    {codes: yesNo, write: writeYesNo},
	{"yes-no", "yes-no"}:                   {codes: yesNo, write: writeYesNo},
	{"count", ""}:                          {kind: "count", write: writeCount},
	{"fraction", ""}:                       {kind: "fraction", write: writeFraction},
	{"stitches", ""}:                       {kind: "count", write: writeStitches},
	{"stitch-list", ""}:                    {pattern: "[0-9]{1,3}([|][0-9]{1,3})*", write: writeStitchList},
	{"date", "year"}:                       {kind: "year", write: writeYear},
	{"years", "age-band"}:                  {codes: ageBands, write: writeAge},
	{"acuity", "logmar"}:                   {kind: "logmar", write: writeLogMAR},
	{"acuity", "letters"}:                  {kind: "letters", write: writeLetters},
	{"acuity", "acuity-class"}:             {codes: acuityClasses, write: writeAcuityClass},
	{"refraction", "spherical-equivalent"}: {kind: "power", write: writeEquivalent},
	{"refraction", "cylinder"}:             {kind: "power", write: writeCylinder},
	{"refraction", "j0"}:                   {kind: "power", write: writeJ0},
	{"refraction", "j45"}:                  {kind: "power", write: writeJ45},
}

func writeQuantity(_ *maker, f schema.Field, c *Column) string {
	return c.figure(f.Any().(quantity.Quantity).In())
}

func writeCount(_ *maker, f schema.Field, c *Column) string {
	return c.figure(quantity.FromInt(int64(f.Any().(int))))
}

func writeFraction(_ *maker, f schema.Field, c *Column) string {
	part := f.Any().(quantity.Fraction)
	return c.figure(part.Num.Quo(part.Den, 12))
}

func writeStitches(_ *maker, f schema.Field, c *Column) string {
	return c.figure(quantity.FromInt(int64(f.Any().(quantity.Stitches).Count)))
}

func writeStitchList(m *maker, f schema.Field, _ *Column) string {
	var out []string
	for _, s := range f.Any().([]quantity.Stitches) {
		out = append(out, fmt.Sprint(s.Count))
	}
	return strings.Join(out, m.Separator)
}

func writeYear(_ *maker, f schema.Field, c *Column) string {
	return c.figure(quantity.FromInt(int64(f.Any().(quantity.Date).Year)))
}

func writeAge(m *maker, f schema.Field, _ *Column) string {
	return m.age(f.Any().(quantity.Quantity).In())
}

// age is the code of the band that holds the years.
func (m *maker) age(years quantity.Decimal) string {
	out := outsideLimits
	for _, b := range m.Ages {
		if years.Cmp(quantity.FromInt(b.From)) >= 0 {
			out = b.Code
		}
	}
	return out
}

func writeLogMAR(_ *maker, f schema.Field, c *Column) string {
	n, ok := f.Any().(quantity.Acuity).LogMAR()
	if !ok {
		return noNumber
	}
	return c.figure(n)
}

func writeLetters(_ *maker, f schema.Field, c *Column) string {
	a := f.Any().(quantity.Acuity)
	if a.Scale != quantity.ScaleLetters {
		return doesNotApply
	}
	return c.figure(a.Value)
}

func writeAcuityClass(_ *maker, f schema.Field, _ *Column) string {
	a := f.Any().(quantity.Acuity)
	switch {
	case a.Category() != "":
		return a.Category()
	case a.Scale == quantity.ScaleLetters:
		return "letters"
	}
	return "chart"
}

func writeEquivalent(_ *maker, f schema.Field, c *Column) string {
	return c.figure(f.Any().(quantity.Refraction).SphericalEquivalent())
}

func writeCylinder(_ *maker, f schema.Field, c *Column) string {
	return c.figure(f.Any().(quantity.Refraction).Cylinder.Abs())
}

func writeJ0(_ *maker, f schema.Field, c *Column) string {
	return c.component(f.Any().(quantity.Refraction), math.Cos)
}

func writeJ45(_ *maker, f schema.Field, c *Column) string {
	return c.component(f.Any().(quantity.Refraction), math.Sin)
}

// component is a part of the power vector of a refraction: minus half the
// cylinder times the cosine or sine of twice the axis (Thibos, Wheeler and
// Horner, Optom Vis Sci 1997;74:367-375). Two parts can be averaged; a cylinder
// with its axis cannot.
func (c *Column) component(r quantity.Refraction, of func(float64) float64) string {
	unit := math.Pow10(c.Places)
	j := math.Round(-r.Cylinder.Float()/2*of(float64(r.Axis)*math.Pi/90)*unit)/unit + 0 // no -0
	n, p := quantity.ParseDecimal(strconv.FormatFloat(j, 'f', c.Places, 64))
	if p != nil {
		return outsideLimits
	}
	return c.figure(n)
}

func writeYesNo(_ *maker, f schema.Field, _ *Column) string {
	for _, code := range f.Codes() {
		switch code {
		case "unknown":
			return notRecorded
		case "none", "no":
		default:
			return "yes"
		}
	}
	return "no"
}

func writeCodes(m *maker, f schema.Field, c *Column) string { return c.join(m, f.Codes()) }

// join writes codes in the order of the list, each once; an ordered column
// keeps the order and the repeats of the entry.
func (c *Column) join(m *maker, codes []schema.Code) string {
	out := make([]string, 0, len(codes))
	for _, code := range codes {
		text := string(code)
		if r, ok := c.recode[text]; ok {
			text = r
		}
		if c.ordered || !slices.Contains(out, text) {
			out = append(out, text)
		}
	}
	if !c.ordered {
		slices.SortStableFunc(out, func(a, b string) int { return c.codes[a] - c.codes[b] })
	}
	return strings.Join(out, m.Separator)
}

func yesNo(*content) []schema.CodeWord {
	return []schema.CodeWord{{Code: "yes", Words: "yes"}, {Code: "no", Words: "no"}}
}

func ageBands(c *content) []schema.CodeWord {
	var out []schema.CodeWord
	for _, b := range c.Ages {
		out = append(out, schema.CodeWord{Code: b.Code, Words: b.Code + " years"})
	}
	return out
}

func acuityClasses(c *content) []schema.CodeWord {
	var out []schema.CodeWord
	for _, a := range c.AcuityClasses {
		out = append(out, schema.CodeWord{Code: a.Code, Words: a.Title})
	}
	return out
}
