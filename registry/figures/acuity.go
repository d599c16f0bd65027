package figures

import (
	"math"
	"slices"
	"strings"
)

// Acuity is one measured acuity.
type Acuity struct {
	// LogMAR is the acuity on the chart, when Apart is empty.
	LogMAR float64
	// Apart is how vision was recorded that has no logMAR without a convention:
	// CF, HM, LP, NLP, a letter score, a reason why there is none.
	Apart string
	// Seen is true when an Apart record is nevertheless known to be worse than
	// the chart, so the eye counts as one that did not reach the line.
	Seen bool
}

// Category counts the eyes of one kind of record.
type Category struct {
	Name string
	N    int
}

// AcuitySummary describes the acuity of a series.
type AcuitySummary struct {
	// OnChart describes the acuities with a logMAR; Any is false when there is
	// none. The mean of logMAR is the geometric mean of the visual angles;
	// decimals and Snellen fractions are never averaged (Holladay, J Cataract
	// Refract Surg 2004;30:287-290).
	OnChart Summary
	Any     bool
	// Apart counts what is not in OnChart, by name in alphabetical order.
	Apart []Category
	// Reached eyes see the line or better, of Of eyes whose answer is known:
	// those on the chart and those known to be worse than the chart.
	Reached, Of int
}

// SummariseAcuity describes acuities in logMAR only and counts those at line or
// better. line is a logMAR value, 0.3 for 20/40. Both sides are compared at two
// decimals: 20/40 is exactly 0.301, and published series count it as 0.30.
// Vision off the chart is counted apart and is never given a number here, because
// authors give it different ones. Values that are no finite number are counted
// under the name "not a number".
func SummariseAcuity(values []Acuity, line float64) AcuitySummary {
	var out AcuitySummary
	var chart []float64
	apart := map[string]int{}
	for _, v := range values {
		switch {
		case v.Apart != "":
			apart[v.Apart]++
			if v.Seen {
				out.Of++
			}
		case !finite(v.LogMAR):
			apart["not a number"]++
		default:
			chart = append(chart, v.LogMAR)
			out.Of++
			if math.Round(v.LogMAR*100) <= math.Round(line*100) {
				out.Reached++
			}
		}
	}
	out.OnChart, out.Any = Describe(chart)
	for name, n := range apart {
		out.Apart = append(out.Apart, Category{Name: name, N: n})
	}
	slices.SortFunc(out.Apart, func(a, b Category) int { return strings.Compare(a.Name, b.Name) })
	return out
}
