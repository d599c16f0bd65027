package quantity

import (
	"regexp"
	"strings"
	"unicode"

	"github.com/cockroachdb/apd/v3"
)

var (
	plainNumber   = regexp.MustCompile(`^-?(0|[1-9][0-9]*)(\.[0-9]+)?$`)
	noLeadingZero = regexp.MustCompile(`^-?\.[0-9]+$`)
	extraZeros    = regexp.MustCompile(`^-?0+[0-9]+(\.[0-9]+)?$`)
	endingPoint   = regexp.MustCompile(`^-?[0-9]+\.$`)
	commaNumber   = regexp.MustCompile(`^-?[0-9]*,[0-9]+$`)
	grouped       = regexp.MustCompile(`^-?[0-9]{1,3}([_,'’ ][0-9]{3})+(\.[0-9]+)?$`)
	exponent      = regexp.MustCompile(`^[-+]?[0-9.]+[eE][-+]?[0-9]+$`)
	twoNumbers    = regexp.MustCompile(`^(-?[0-9.]+) ?(?:/|on) ?([0-9.]+)$`)
	rangeOf       = regexp.MustCompile(`^([0-9.]+) ?(?:-|–|—|to) ?([0-9.]+)$`)
	approximate   = regexp.MustCompile(`^(?:~|≈|<|>|≤|≥|±|about |approx\.? |ca\.? |c\. )`)
)

// maxDigits is the most digits a typed number may have. The longest real one,
// a laser energy or a cell count, has seven.
const maxDigits = 18

const (
	whyOneReading = "a number on an operative record must have one reading"
	fixPlain      = "write digits 0 to 9, a point for decimals and a zero before the point"
)

// ParseDecimal reads a plain number: an optional minus, digits 0 to 9, an
// optional point followed by digits. It refuses, with the readings where there
// are any: a decimal comma, thousands separators, an exponent, a leading plus,
// a missing zero before the point, needless leading zeros, minus zero, words
// such as NaN, digits of other scripts, and more than 18 digits.
func ParseDecimal(s string) (Decimal, *Problem) {
	t, p := clean(s)
	if p != nil {
		return Decimal{}, p
	}
	return parseNumber(t)
}

// parseNumber is ParseDecimal on cleaned text.
func parseNumber(t string) (Decimal, *Problem) {
	if !plainNumber.MatchString(t) {
		return Decimal{}, notANumber(t)
	}
	if len(t)-strings.Count(t, "-")-strings.Count(t, ".") > maxDigits {
		return Decimal{}, problem("the number has too many digits",
			"no measure of this operation needs more than 18 digits", "check the number and write it again")
	}
	n, _, err := apd.NewFromString(t)
	if err != nil {
		return Decimal{}, notANumber(t)
	}
	if n.IsZero() && n.Negative {
		return Decimal{}, problem("minus zero is not a measure",
			"the sign may belong to another number", "write 0 without a sign, or the number that was meant",
			strings.TrimPrefix(t, "-"))
	}
	return Decimal{n: n}, nil
}

// notANumber names the kind of mistake in t and lists its readings.
func notANumber(t string) *Problem {
	if ascii, other := asciiDigits(t); other {
		return problem("the number is written in digits of another script",
			"digits outside 0 to 9 are lost or reordered in other systems", fixPlain, readable(ascii)...)
	}
	switch {
	case strings.HasPrefix(t, "+"):
		return problem("the number has a plus sign", "this value has no sign",
			"write the number without the sign", readable(t[1:])...)
	case noLeadingZero.MatchString(t):
		return problem("there is no zero before the point",
			"a lost point makes the value ten or a hundred times larger", "write a zero before the point",
			strings.Replace(t, ".", "0.", 1))
	case extraZeros.MatchString(t):
		neg := ""
		if strings.HasPrefix(t, "-") {
			neg = "-"
		}
		digits := strings.TrimLeft(strings.TrimPrefix(t, "-"), "0")
		if digits == "" || digits[0] == '.' {
			digits = "0" + digits
		}
		return problem("the number begins with a needless zero", "a point may have been lost after the zero",
			"write the number without the zero, or with its point", readable(neg+digits)...)
	case endingPoint.MatchString(t):
		return problem("the number ends with a point", "the digits after the point may be missing",
			"write the digits after the point, or leave the point out", readable(strings.TrimSuffix(t, "."))...)
	case grouped.MatchString(t), commaNumber.MatchString(t):
		return separatorProblem(t)
	case exponent.MatchString(t):
		return exponentProblem()
	case twoNumbers.MatchString(t):
		m := twoNumbers.FindStringSubmatch(t)
		return pairProblem(m[1], m[2], nil)
	case rangeOf.MatchString(t):
		return rangeProblem(t, "")
	}
	return problem("the text is not a number", whyOneReading, fixPlain)
}

func exponentProblem() *Problem {
	return problem("the number has an exponent", "no measure of this operation is written so", fixPlain)
}

// separatorProblem explains a comma, underscore, apostrophe or blank inside a
// number: it may stand for the decimal point, for thousands or for a list.
func separatorProblem(t string) *Problem {
	i := strings.IndexAny(t, "_,'’ ")
	var readings []string
	if t[i] == ',' && strings.Count(t, ",") == 1 && !strings.Contains(t, ".") {
		point := strings.Replace(t, ",", ".", 1)
		if i == 0 || t[:i] == "-" {
			point = strings.Replace(point, ".", "0.", 1)
		}
		readings = append(readings, point)
	}
	if grouped.MatchString(t) {
		readings = append(readings, strings.NewReplacer("_", "", ",", "", "'", "", "’", "", " ", "").Replace(t))
	} else if i > 0 && t[:i] != "-" {
		readings = append(readings, t[:i]+" and "+t[i+1:])
	}
	if t[i] == ',' {
		return problem("the number has a comma", "a comma can be a decimal point, a thousands mark or a list",
			"write a point for decimals and nothing between thousands", readings...)
	}
	return problem("the number has a mark between its digits",
		"a mark or blank can be a thousands mark or a lost point", "write the digits without a mark", readings...)
}

// pairProblem explains "8.25/8.0": two values where one is wanted. Where the
// trade dictates such pairs, roles names the two in the usual order.
func pairProblem(a, b string, roles []string) *Problem {
	const fix = "write each value in its own field"
	if len(roles) != 2 {
		return problem("two values stand where one is wanted", whyOneReading, fix, a, b)
	}
	return problem("two values stand where one is wanted",
		roles[0]+" and "+roles[1]+" are dictated in either order", fix,
		roles[0]+" "+a+", "+roles[1]+" "+b, roles[1]+" "+a+", "+roles[0]+" "+b)
}

// rangeProblem explains "3-4" and "3 to 4".
func rangeProblem(t, unit string) *Problem {
	m := rangeOf.FindStringSubmatch(t)
	return problem("a range stands where one value is wanted",
		"the record needs the value that was used or measured", "write one value",
		withUnit(m[1], unit), withUnit(m[2], unit))
}

func withUnit(number, unit string) string {
	if unit == "" {
		return number
	}
	return number + " " + unit
}

// readable returns t as the only reading when it is a plain number.
func readable(t string) []string {
	if _, p := parseNumber(t); p != nil {
		return nil
	}
	return []string{t}
}

// asciiDigits writes decimal digits of any script as 0 to 9 and reports
// whether there were any outside 0 to 9.
func asciiDigits(t string) (string, bool) {
	other := false
	out := strings.Map(func(r rune) rune {
		if r < 0x80 || !unicode.IsDigit(r) {
			if r == '．' || r == '٫' { // full-width point, Arabic decimal mark
				return '.'
			}
			return r
		}
		other = true
		return '0' + digitValue(r)
	}, t)
	return out, other
}

// digitValue relies on Unicode encoding decimal digits in runs of ten from 0
// (Unicode Standard, section 4.6).
func digitValue(r rune) rune {
	for _, x := range unicode.Nd.R16 {
		if rune(x.Lo) <= r && r <= rune(x.Hi) {
			return (r - rune(x.Lo)) % 10
		}
	}
	for _, x := range unicode.Nd.R32 {
		if rune(x.Lo) <= r && r <= rune(x.Hi) {
			return (r - rune(x.Lo)) % 10
		}
	}
	return 0
}
