package quantity

import (
	"fmt"
	"regexp"
	"slices"
	"strings"
)

// Stitches is one suture group: a number of interrupted stitches, or the bites
// of one running suture, with its size and material where they were written.
type Stitches struct {
	// Count is the number of stitches, or of bites when Bites is set.
	Count int
	// Bites is set for a running suture.
	Bites bool
	// Gauge is the suture size, "10-0"; empty when not written.
	Gauge string
	// Material is the material as typed, "nylon"; empty when not written.
	Material string
}

var (
	countThenRest = regexp.MustCompile(`^([0-9]{1,3})(?: ?[xX×] ?| ?- ?(bites?)\b ?| (bites?)\b ?)(.*)$`)
	countAlone    = regexp.MustCompile(`^[0-9]{1,3}$`)
	gaugeFirst    = regexp.MustCompile(`^([0-9]{1,2}-0)(?: (.*))?$`)
	// The wrong ways of writing a size: a blank, a slash, a dash or nothing for
	// the hyphen, and the letter O for zero.
	slippedGauge = regexp.MustCompile(`^([0-9]{1,2}) ?[-–—/ ]? ?[0oO](?:\b ?(.*))?$`)
	materialText = regexp.MustCompile(`^\pL[\pL\pM'’-]*(?: [\pL\pM0-9'’-]+){0,3}$`)
	fillers      = regexp.MustCompile(`^(?:(?:of|x|×) )+`)
	severalGroup = regexp.MustCompile(`^(.*[^ +]) ?(?:\+|&| and | plus ) ?([0-9].*)$`)
)

const (
	fixStitches = "write the count, x, the size and the material, as in 16 x 10-0 nylon or 16-bite 10-0 nylon"
	whyGauge    = "a suture size is a number, a hyphen and a zero; without the hyphen it reads as a count"
)

// ParseStitches reads "16 x 10-0 nylon", "16", "16-bite 10-0 nylon" and "16
// bites 10-0". A size written "10 0", "100", "10/0" or "10-O" is a Problem, and
// so are two groups in one text.
func ParseStitches(text string) (Stitches, *Problem) {
	t, p := clean(text)
	if p != nil {
		return Stitches{}, p
	}
	if m := severalGroup.FindStringSubmatch(t); m != nil {
		return Stitches{}, problem("two suture groups stand in one text",
			"interrupted stitches and running bites are counted apart", "write each group as its own entry", m[1], m[2])
	}
	if countAlone.MatchString(t) {
		return countOnly(t)
	}
	m := countThenRest.FindStringSubmatch(t)
	if m == nil {
		return Stitches{}, noCount(t)
	}
	out := Stitches{Count: atoi(m[1]), Bites: m[2]+m[3] != ""}
	if p := out.size(m[4]); p != nil {
		return Stitches{}, p
	}
	if p := countProblem(m[1]); p != nil {
		return Stitches{}, p
	}
	if !out.Bites && m[4] == "" {
		return Stitches{}, problem("nothing follows the x", "the size may be missing", fixStitches, m[1])
	}
	return out, nil
}

// size reads the size and material that follow the count.
func (s *Stitches) size(rest string) *Problem {
	// "16 bites of 10-0" and "16-bite x 10-0" say the same.
	rest = fillers.ReplaceAllString(rest, "")
	if rest == "" {
		return nil
	}
	if m := gaugeFirst.FindStringSubmatch(rest); m != nil {
		if !lexicon().gauge(m[1]) {
			return problem("there is no such suture size", "sizes used here run from 1-0 to 12-0", fixStitches)
		}
		s.Gauge, rest = m[1], m[2]
	} else if m := slippedGauge.FindStringSubmatch(rest); m != nil {
		guess := m[1] + "-0"
		p := problem("the suture size is not written with a hyphen and a zero", whyGauge, fixStitches)
		if lexicon().gauge(guess) {
			with := *s
			with.Gauge, with.Material = guess, m[2]
			p.Readings = []string{with.String()}
		}
		return p
	}
	if rest != "" && !materialText.MatchString(rest) {
		return problem("the text after the count is not a size and material", whyOneReading, fixStitches)
	}
	s.Material = rest
	return nil
}

// countOnly reads a bare count. A number that is also a size without its
// hyphen, such as 100 or 90, has two readings.
func countOnly(t string) (Stitches, *Problem) {
	if p := countProblem(t); p != nil {
		return Stitches{}, p
	}
	if guess, ok := strings.CutSuffix(t, "0"); ok && slices.Contains(lexicon().GaugesReadAsCounts, guess+"-0") {
		return Stitches{}, problem("the number is a count or a suture size without its hyphen", whyGauge, fixStitches,
			t+" stitches", guess+"-0 suture")
	}
	return Stitches{Count: atoi(t)}, nil
}

func countProblem(t string) *Problem {
	if len(t) > 1 && t[0] == '0' {
		return problem("the count begins with a zero", "a digit may be lost or moved", fixStitches,
			strings.TrimLeft(t, "0"))
	}
	return nil
}

// noCount explains a text that does not begin with a count.
func noCount(t string) *Problem {
	if m := gaugeFirst.FindStringSubmatch(t); m != nil {
		return problem("the count is missing", "how many stitches were placed is not said", fixStitches)
	}
	if m := slippedGauge.FindStringSubmatch(t); m != nil && lexicon().gauge(m[1]+"-0") {
		return problem("the suture size is not written with a hyphen and a zero", whyGauge, fixStitches,
			strings.TrimSpace(m[1]+"-0 "+m[2]))
	}
	if n, rest, ok := strings.Cut(t, " "); ok && countAlone.MatchString(n) {
		with := Stitches{Count: atoi(n)}
		if with.size(rest) == nil {
			return problem("the x after the count is missing", "the count may belong to another value", fixStitches,
				with.String())
		}
	}
	return problem("the text is not a suture group", whyOneReading, fixStitches)
}

// String prints "16 x 10-0 nylon", "16-bite 10-0 nylon" or "16".
func (s Stitches) String() string {
	what := strings.TrimSpace(s.Gauge + " " + s.Material)
	switch {
	case s.Bites:
		return strings.TrimSpace(fmt.Sprintf("%d-bite %s", s.Count, what))
	case what == "":
		return fmt.Sprint(s.Count)
	}
	return fmt.Sprintf("%d x %s", s.Count, what)
}
