package quantity

import (
	"fmt"
	"regexp"
	"slices"
	"strings"
)

// Refraction is a spectacle prescription at the eye, in dioptres and degrees.
type Refraction struct {
	// Sphere and Cylinder are in dioptres, with the precision typed.
	Sphere, Cylinder Decimal
	// Axis is the whole degree of the cylinder's axis, 1 to 180; 0 means there
	// is no cylinder. A typed axis 0 is kept as 180, the same meridian.
	Axis int
	// Text is what was typed, cleaned.
	Text string
}

var (
	// sphere, optional mark, optional slash, cylinder, optional mark, axis.
	sphereCylinder = regexp.MustCompile(`^([-+]?[0-9.,]+|[\pL∞]+)(?: ?([A-Za-z]+))? ?[/ ] ?([-+]?[0-9.,]+)(?: ?([A-Za-z]*[A-WYZa-wyz]))? ?(?:[xX×]|ax|axis) ?([0-9.,]+) ?(?:°|deg)?$`)
	tightCylinder  = regexp.MustCompile(`^([-+]?[0-9.]+)([-+][0-9.]+)(.*)$`)
	noAxis         = regexp.MustCompile(`^(\S+) ?[/ ] ?([-+][0-9.,]+)$`)
	lostCross      = regexp.MustCompile(`^(\S+ ?[/ ] ?[-+][0-9.]+) ([0-9]{1,3})$`)
	sphereOnly     = regexp.MustCompile(`^([-+]?[0-9.,]+) ?([A-Za-z]+)$`)
	wholeDegrees   = regexp.MustCompile(`^[0-9]{1,3}$`)
)

const (
	fixRefraction = "write sphere, cylinder and axis such as -3.00/-4.00 x 90, or -2.00 sph, or plano"
	whySign       = "a lost sign doubles the error of the lens"
)

// ParseRefraction reads "-3.00/-4.00 x 90", "-3.00 -4.00 x 90",
// "plano/-1.00 x 180" and "-2.00 sph". Sphere and cylinder need their signs; a
// power of zero needs none. The axis is 1 to 180 in whole degrees; 0 is read as
// 180, the same meridian.
func ParseRefraction(text string) (Refraction, *Problem) {
	t, p := clean(text)
	if p != nil {
		return Refraction{}, p
	}
	lex := lexicon()
	if r, ok := sphereAlone(t, lex); ok {
		return r.finish(t)
	}
	spaced := t
	if m := tightCylinder.FindStringSubmatch(t); m != nil {
		spaced = m[1] + "/" + m[2] + m[3]
	}
	if m := sphereCylinder.FindStringSubmatch(spaced); m != nil {
		if !markOf(m[2], lex.Sphere) || !markOf(m[4], lex.Cylinder) {
			return Refraction{}, notRefraction()
		}
		return rawRefraction{sphere: m[1], cylinder: m[3], axis: m[5]}.finish(t)
	}
	if m := lostCross.FindStringSubmatch(spaced); m != nil {
		return Refraction{}, problem("the axis has no x before it", "the last number may be another power",
			fixRefraction, m[1]+" x "+m[2])
	}
	if noAxis.MatchString(spaced) {
		return Refraction{}, problem("the cylinder has no axis", "a cylinder without its axis corrects nothing", fixRefraction)
	}
	if n, np := power(t); np == nil {
		return Refraction{}, problem("the power stands alone", "a cylinder may be missing", fixRefraction, signed(n)+" sph")
	}
	return Refraction{}, notRefraction()
}

func notRefraction() *Problem {
	return problem("the text is not a refraction", whyOneReading, fixRefraction)
}

type rawRefraction struct{ sphere, cylinder, axis string }

// sphereAlone recognises "plano" and "-2.00 sph".
func sphereAlone(t string, lex lexiconFile) (rawRefraction, bool) {
	word := strings.ToLower(t)
	if first, rest, ok := strings.Cut(word, " "); ok && slices.Contains(lex.Sphere, rest) {
		word = first
	}
	if slices.Contains(lex.Plano, word) {
		return rawRefraction{sphere: word}, true
	}
	m := sphereOnly.FindStringSubmatch(t)
	if m == nil || !slices.Contains(lex.Sphere, strings.ToLower(m[2])) {
		return rawRefraction{}, false
	}
	return rawRefraction{sphere: m[1]}, true
}

// markOf reports whether a mark is absent, plain dioptres or one of the words.
func markOf(mark string, words []string) bool {
	mark = strings.ToLower(mark)
	return mark == "" || mark == "d" || slices.Contains(words, mark)
}

func (r rawRefraction) finish(t string) (Refraction, *Problem) {
	out := Refraction{Text: t}
	var p *Problem
	if slices.Contains(lexicon().Plano, strings.ToLower(r.sphere)) {
		out.Sphere = MustDecimal("0.00")
	} else if out.Sphere, p = power(r.sphere); p != nil {
		return Refraction{}, p
	}
	if r.cylinder == "" {
		return out, nil
	}
	if out.Cylinder, p = power(r.cylinder); p != nil {
		return Refraction{}, p
	}
	out.Axis, p = axis(r.axis)
	return out, p
}

// power reads a signed power in dioptres.
func power(t string) (Decimal, *Problem) {
	sign, digits := "", t
	for _, mark := range []string{"+", "-"} {
		if rest, ok := strings.CutPrefix(t, mark); ok {
			sign, digits = mark, rest
			break
		}
	}
	n, p := parseNumber(digits)
	if p != nil {
		return Decimal{}, problem(p.What, p.Why, fixRefraction, prefixed(sign, p.Readings)...)
	}
	switch {
	case n.Sign() < 0: // the sign read above was not the only one
		return Decimal{}, problem("the power has two signs", whySign, fixRefraction)
	case n.IsZero() || sign == "+":
		return n, nil
	case sign == "":
		return Decimal{}, problem("the power has no sign", whySign, fixRefraction, "+"+digits, "-"+digits)
	}
	return n.Neg(), nil
}

func axis(t string) (int, *Problem) {
	const fix = "write the axis as a whole degree from 1 to 180"
	if !wholeDegrees.MatchString(t) {
		return 0, problem("the axis is not a whole number of degrees", "axes are set in whole degrees", fix)
	}
	a := atoi(t)
	switch {
	case a == 0:
		return 180, nil
	case a > 360:
		return 0, problem("the axis is above a whole turn", "a digit may be wrong", fix)
	case a > 180:
		return 0, problem("the axis is above 180", "an axis and the one 180 degrees on are the same line", fix,
			fmt.Sprint(a-180))
	}
	return a, nil
}

func prefixed(prefix string, list []string) []string {
	var out []string
	for _, s := range list {
		if plainNumber.MatchString(s) {
			out = append(out, prefix+s)
		}
	}
	return out
}

// signed prints a power with its sign, as the trade does; zero has none.
func signed(d Decimal) string {
	if d.Sign() > 0 {
		return "+" + d.String()
	}
	return d.String()
}

// String prints "-3.00/-4.00 x 90", "plano/-1.00 x 180" or "-2.00 sph".
func (r Refraction) String() string {
	sphere := signed(r.Sphere)
	if r.Sphere.IsZero() {
		sphere = "plano"
	}
	if r.Axis == 0 {
		if sphere == "plano" {
			return sphere
		}
		return sphere + " sph"
	}
	return fmt.Sprintf("%s/%s x %d", sphere, signed(r.Cylinder), r.Axis)
}

// SphericalEquivalent returns sphere plus half the cylinder, exact, with at
// least two places.
func (r Refraction) SphericalEquivalent() Decimal {
	return r.Sphere.Add(r.Cylinder.Mul(MustDecimal("0.5"))).reduce(2)
}

// Transpose returns the same lens with the other sign of cylinder: sphere plus
// cylinder, cylinder reversed, axis 90 degrees on. A lens without cylinder is
// returned as it is.
func (r Refraction) Transpose() Refraction {
	if r.Axis == 0 {
		return r
	}
	out := Refraction{Sphere: r.Sphere.Add(r.Cylinder), Cylinder: r.Cylinder.Neg(), Axis: r.Axis + 90}
	if out.Axis > 180 {
		out.Axis -= 180
	}
	out.Text = out.String()
	return out
}
