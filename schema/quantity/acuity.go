package quantity

import (
	_ "embed"
	"strings"
	"sync"

	"github.com/cockroachdb/apd/v3"
)

// Scales of an Acuity.
const (
	ScaleMetres   = "snellen-metres" // chart fraction with the distance in metres: 6/36
	ScaleFeet     = "snellen-feet"   // chart fraction with the distance in feet: 20/80
	ScaleLogMAR   = "logmar"
	ScaleDecimal  = "decimal"
	ScaleLetters  = "letters"   // letter score; kept, not converted
	ScaleOffChart = "off-chart" // CF, HM, LP, NLP
)

// LettersPerLogMAR is the definition of a letter score: five letters a line, ten
// lines for 1 logMAR. Only differences of two scores may be turned into logMAR; a
// score itself is not, because that depends on the chart and its distance.
const LettersPerLogMAR = 50

// Acuity is one visual acuity with the scale it was taken in. The words are
// kept; logMAR is derived only where the derivation is exact.
type Acuity struct {
	// Text is what was typed, cleaned.
	Text string
	// Scale is one of the Scale constants.
	Scale string
	// Value is the number on a logMAR, decimal or letter scale.
	Value Decimal
	// Numerator and Denominator are the chart fraction.
	Numerator, Denominator Decimal
	// Extra counts letters read beyond the line (above zero) or missed on it
	// (below zero), as in "6/9-2". It is printed and never turned into logMAR:
	// letters per line differ between charts.
	Extra int
	// Distance is the distance beside CF or HM, as printed: "1 m".
	Distance string

	category string
}

//go:embed acuity.yaml
var acuityYAML []byte

type offChartRow struct {
	Code      string   `yaml:"code"`
	Says      string   `yaml:"says"`
	Distance  bool     `yaml:"distance"`
	Longest   string   `yaml:"longest"`
	Spellings []string `yaml:"spellings"`
}

// span is a closed range of numbers.
type span [2]Decimal

func (s span) holds(d Decimal) bool { return d.Cmp(s[0]) >= 0 && d.Cmp(s[1]) <= 0 }

type acuityFile struct {
	Metres    []string `yaml:"metres"`
	Feet      []string `yaml:"feet"`
	Plausible struct {
		LogMAR  span `yaml:"logmar"`
		Decimal span `yaml:"decimal"`
		Letters span `yaml:"letters"`
	} `yaml:"plausible"`
	OffChart      []offChartRow `yaml:"off_chart"`
	DistanceUnits []struct {
		Symbol    string   `yaml:"symbol"`
		Factor    string   `yaml:"factor"`
		Spellings []string `yaml:"spellings"`
	} `yaml:"distance_units"`
	Conventions []struct {
		Author  string            `yaml:"author"`
		Source  string            `yaml:"source"`
		Values  map[string]string `yaml:"values"`
		Imputed []string          `yaml:"imputed"`
	} `yaml:"conventions"`
}

var acuityData = sync.OnceValue(func() acuityFile {
	var f acuityFile
	decodeEmbedded("acuity.yaml", acuityYAML, &f)
	return f
})

// Category returns CF, HM, LP or NLP for vision off the chart, otherwise "".
func (a Acuity) Category() string { return a.category }

// Says returns the category in words, such as "counting fingers", otherwise "".
func (a Acuity) Says() string {
	for _, row := range acuityData().OffChart {
		if row.Code == a.category {
			return row.Says
		}
	}
	return ""
}

// Convention returns the logMAR value that an author gives to this off-chart
// vision. It is false on the chart, for an unknown author, and where the author
// gives no value.
func (a Acuity) Convention(author string) (Decimal, bool) {
	for _, row := range acuityData().Conventions {
		if v, ok := row.Values[a.category]; ok && row.Author == author {
			return MustDecimal(v), true
		}
	}
	return Decimal{}, false
}

// LogMAR returns the logarithm of the minimum angle of resolution: as typed on
// the logMAR scale, otherwise -log10 of the decimal acuity rounded to four
// places. 20/30 is 0.1761 and is never moved to the 20/32 line. It is false for
// off-chart vision and for letter scores, whose conversions are conventions.
func (a Acuity) LogMAR() (Decimal, bool) {
	switch a.Scale {
	case ScaleLogMAR:
		return a.Value, true
	case ScaleDecimal:
		return minusLog10(a.Value)
	case ScaleMetres, ScaleFeet:
		return minusLog10(a.Numerator.Quo(a.Denominator, 30))
	}
	return Decimal{}, false
}

func minusLog10(d Decimal) (Decimal, bool) {
	if d.Sign() <= 0 {
		return Decimal{}, false
	}
	out := new(apd.Decimal)
	if _, err := exact.WithPrecision(30).Log10(out, d.val()); err != nil {
		return Decimal{}, false
	}
	return wrap(out).Neg().Round(4), true
}

// String prints the acuity in its own scale: "6/36", "20/80", "0.5 logMAR",
// "0.5 decimal", "70 letters", "CF 1 m".
func (a Acuity) String() string {
	switch a.Scale {
	case ScaleMetres, ScaleFeet:
		return a.Numerator.String() + "/" + a.Denominator.String() + signedLetters(a.Extra)
	case ScaleLogMAR:
		return a.Value.String() + " logMAR"
	case ScaleDecimal:
		return a.Value.String() + " decimal"
	case ScaleLetters:
		return a.Value.String() + " letters"
	case ScaleOffChart:
		return strings.TrimSpace(a.category + " " + a.Distance)
	}
	return ""
}
