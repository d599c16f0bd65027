package quantity

import (
	"fmt"
	"math"
	"regexp"
	"slices"
	"strings"
)

var (
	chartFraction = regexp.MustCompile(`^([0-9.]+) ?/ ?([0-9.]+)(?: ?([-+])([0-9]))?$`)
	scaleAfter    = regexp.MustCompile(`(?i)^(.*[0-9.]) ?(logmar|log mar|decimal|dec|letters|etdrs letters|etdrs)$`)
	scaleBefore   = regexp.MustCompile(`(?i)^(logmar|log mar|decimal|dec|etdrs) ?([-0-9.+,]+)$`)
	offChartText  = regexp.MustCompile(`^(\pL(?:.*?[^0-9 @])?)(?: ?(?:@|(?i:at))? ?([0-9][0-9./]*) ?([A-Za-z]*))?$`)
	runTogether   = regexp.MustCompile(`^(6|20)([0-9]{1,3})$`)
)

const (
	fixAcuity   = "write 6/12, 20/40, 0.3 logMAR, 0.5 decimal, 70 letters, or CF, HM, LP or NLP"
	whyTwoScale = "the same number is one vision on the logMAR scale and another on the decimal scale"
)

// ParseAcuity reads a chart fraction (6/36, 20/80, 6/7.5, 6/9-2), a number with
// its scale (0.5 logMAR, 0.5 decimal, 70 letters), or CF, HM, LP, NLP with an
// optional distance (CF 1 m). A number without its scale is a Problem that
// shows what it would be on each.
func ParseAcuity(text string) (Acuity, *Problem) {
	t, p := clean(text)
	if p != nil {
		return Acuity{}, p
	}
	if m := chartFraction.FindStringSubmatch(t); m != nil {
		return chartAcuity(t, m)
	}
	if m := scaleAfter.FindStringSubmatch(t); m != nil {
		return scaledAcuity(t, m[1], m[2])
	}
	if m := scaleBefore.FindStringSubmatch(t); m != nil {
		return scaledAcuity(t, m[2], m[1])
	}
	if n, np := parseNumber(t); np == nil {
		return Acuity{}, bareAcuity(t, n)
	} else if m := offChartText.FindStringSubmatch(t); m != nil {
		return offChartAcuity(t, m)
	} else {
		return Acuity{}, problem(np.What, np.Why, fixAcuity, np.Readings...)
	}
}

func chartAcuity(t string, m []string) (Acuity, *Problem) {
	num, p := parseNumber(m[1])
	if p != nil {
		return Acuity{}, problem(p.What, p.Why, fixAcuity)
	}
	den, p := parseNumber(m[2])
	if p != nil {
		return Acuity{}, problem(p.What, p.Why, fixAcuity)
	}
	a := Acuity{Text: t, Numerator: num, Denominator: den}
	equals := func(s string) bool { return MustDecimal(s).Cmp(num) == 0 }
	switch {
	case slices.ContainsFunc(acuityData().Metres, equals):
		a.Scale = ScaleMetres
	case slices.ContainsFunc(acuityData().Feet, equals):
		a.Scale = ScaleFeet
	default:
		return Acuity{}, problem("the test distance is not one that is used",
			"the first number of a chart fraction is the distance, such as 6 m or 20 ft", fixAcuity)
	}
	if den.Sign() <= 0 {
		return Acuity{}, problem("the lower number of the chart fraction is zero", "no line of a chart has it", fixAcuity)
	}
	if m[4] != "" {
		a.Extra = atoi(m[4])
		if m[3] != "+" {
			a.Extra = -a.Extra
		}
	}
	return a, nil
}

func scaledAcuity(t, number, scale string) (Acuity, *Problem) {
	n, p := parseNumber(strings.TrimSpace(number))
	if p != nil {
		return Acuity{}, problem(p.What, p.Why, fixAcuity, suffixed(p.Readings, " "+scale)...)
	}
	a := Acuity{Text: t, Value: n}
	switch scale = strings.ToLower(scale); {
	case strings.HasPrefix(scale, "log"):
		a.Scale = ScaleLogMAR
	case strings.HasPrefix(scale, "dec"):
		if n.Sign() <= 0 {
			return Acuity{}, problem("a decimal acuity is above zero", "no line of a chart has it",
				"write CF, HM, LP or NLP for vision off the chart")
		}
		a.Scale = ScaleDecimal
	default:
		if whole, ok := n.Int(); !ok || whole < 0 || whole > 100 || strings.Contains(number, ".") {
			return Acuity{}, problem("a letter score is a whole number from 0 to 100",
				"letters are counted one by one", fixAcuity)
		}
		a.Scale = ScaleLetters
	}
	return a, nil
}

// bareAcuity shows what a number would mean on each scale it can belong to.
func bareAcuity(t string, n Decimal) *Problem {
	var readings []string
	whole := !strings.Contains(t, ".")
	plausible := acuityData().Plausible
	f := n.Float()
	if plausible.LogMAR.holds(n) {
		readings = append(readings, fmt.Sprintf("%s logMAR (6/%s)", t, about(6*math.Pow(10, f))))
	}
	if plausible.Decimal.holds(n) {
		readings = append(readings, fmt.Sprintf("%s decimal (about 6/%s)", t, about(6/f)))
	}
	if m := runTogether.FindStringSubmatch(t); m != nil {
		readings = append(readings, m[1]+"/"+m[2])
	}
	if whole && plausible.Letters.holds(n) {
		readings = append(readings, t+" letters")
	}
	return problem("the acuity has no scale", whyTwoScale, fixAcuity, readings...)
}

// about rounds the lower number of a chart fraction for a reading.
func about(f float64) string {
	if f >= 10 {
		return fmt.Sprintf("%.0f", f)
	}
	return strings.TrimSuffix(fmt.Sprintf("%.1f", f), ".0")
}

func offChartAcuity(t string, m []string) (Acuity, *Problem) {
	word := strings.ToLower(strings.TrimSpace(m[1]))
	if m[2] != "" {
		word = strings.TrimSpace(strings.TrimSuffix(word, " at"))
	}
	for _, row := range acuityData().OffChart {
		if !slices.Contains(row.Spellings, word) {
			continue
		}
		a := Acuity{Text: t, Scale: ScaleOffChart, category: row.Code}
		if m[2] == "" {
			return a, nil
		}
		if !row.Distance {
			return Acuity{}, problem("light perception has no distance", "the distance may belong to another vision",
				"write LP or NLP alone")
		}
		var p *Problem
		a.Distance, p = row.testDistance(m[2], m[3])
		return a, p
	}
	return Acuity{}, problem("the text is not an acuity", whyOneReading, fixAcuity)
}

func (r offChartRow) testDistance(number, unit string) (string, *Problem) {
	const fix = "write the distance with its unit, such as CF 1 m or CF 30 cm"
	n, p := parseNumber(number)
	if p != nil {
		return "", problem(p.What, p.Why, fix)
	}
	if n.Sign() <= 0 {
		return "", problem("the distance is zero", "a distance is above zero", fix)
	}
	var readings []string
	for _, u := range acuityData().DistanceUnits {
		if slices.Contains(u.Spellings, strings.ToLower(unit)) {
			if MustDecimal(r.Longest).Cmp(n.Mul(MustDecimal(u.Factor))) < 0 {
				return "", problem("the distance is longer than the lane in which vision is tested", "a digit or the unit has slipped", fix)
			}
			return number + " " + u.Symbol, nil
		}
		readings = append(readings, r.Code+" "+number+" "+u.Symbol+"?")
	}
	if unit != "" {
		return "", problem("the unit of the distance is not known", whyOneReading, fix)
	}
	return "", problem("number without its unit", "one metre and one foot are different vision", fix, readings...)
}

func suffixed(list []string, suffix string) []string {
	var out []string
	for _, s := range list {
		out = append(out, s+suffix)
	}
	return out
}

func signedLetters(n int) string {
	if n == 0 {
		return ""
	}
	return fmt.Sprintf("%+d", n)
}
