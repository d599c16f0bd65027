package disclosure

import (
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"
)

// ErrLadder: a value has no coarser form, or a step of a ladder splits what the
// step before it had put together. The message names the column and the step.
var ErrLadder = errors.New("the ladder does not fit")

// Any stands in a cell whose column has been given up altogether, unless the
// step says another word.
const Any = "any"

// Step is one coarser form of a column. Exactly one of Width, Groups and All is
// set; none in the first step, which leaves the values as they are.
type Step struct {
	// Name is for the report: "two years".
	Name string `yaml:"name"`
	// Width puts whole numbers into bands of so many, beginning at multiples of
	// Width from From: with 2 and 0, the years 2024 and 2025 are "2024 to 2025".
	Width int `yaml:"width"`
	From  int `yaml:"from"`
	// Groups names the original values that become one.
	Groups map[string][]string `yaml:"groups"`
	// All puts all values into one.
	All bool `yaml:"all"`
	// Word is the value of All; "" is Any.
	Word string `yaml:"word"`
}

// Column is a quasi-identifier with its coarser forms.
type Column struct {
	Name string `yaml:"column"`
	// Weight is what the column is worth in the loss; 0 is 1.
	Weight float64 `yaml:"weight"`
	// Keep lists values that stay as they are in every step but All, such as codes
	// for a missing value.
	Keep []string `yaml:"keep"`
	// Ladder begins with the values as they are, and each step is at least as
	// coarse as the one before it.
	Ladder []Step `yaml:"ladder"`
}

func (c Column) fault(step int, why string) error {
	return fmt.Errorf("%w: column %s, step %d: %s", ErrLadder, c.Name, step+1, why)
}

func (c Column) valid() error {
	if len(c.Ladder) == 0 {
		return c.fault(0, "there is no step")
	}
	if !(c.Weight >= 0 && c.Weight <= 1000) {
		return c.fault(0, "the weight is not within 0 and 1000")
	}
	for i, s := range c.Ladder {
		kinds := 0
		for _, set := range []bool{s.Width != 0, len(s.Groups) > 0, s.All} {
			if set {
				kinds++
			}
		}
		switch {
		case i == 0 && kinds > 0:
			return c.fault(i, "the first step leaves the values as they are")
		case i > 0 && kinds != 1:
			return c.fault(i, "give one of width, groups and all")
		case s.Width < 0:
			return c.fault(i, "the width is below zero")
		}
	}
	return nil
}

// coarsen gives the value at a step; false when it has none.
func (c Column) coarsen(value string, step int, groups map[string]string) (string, bool) {
	s := c.Ladder[step]
	switch {
	case s.All:
		if s.Word != "" {
			return s.Word, true
		}
		return Any, true
	case step == 0 || slices.Contains(c.Keep, value):
		return value, true
	case s.Width > 0:
		n, err := strconv.Atoi(value)
		if err != nil || n < -1_000_000_000 || n > 1_000_000_000 {
			return "", false
		}
		past := (n - s.From) % s.Width
		if past < 0 {
			past += s.Width
		}
		if s.Width == 1 {
			return value, true
		}
		return strconv.Itoa(n-past) + " to " + strconv.Itoa(n-past+s.Width-1), true
	}
	group, known := groups[value]
	return group, known
}

// byValue turns the groups of a step round.
func (s Step) byValue() (map[string]string, bool) {
	out := map[string]string{}
	for group, values := range s.Groups {
		for _, v := range values {
			if _, twice := out[v]; twice {
				return nil, false
			}
			out[v] = group
		}
	}
	return out, true
}

// ladder is a column prepared for the values that occur in it.
type ladder struct {
	column Column
	// words are the values at each step, code by code; code[step][base] is the
	// code at a step of the base value.
	words [][]string
	code  [][]uint32
	// penalty[step][code] is the normalised certainty penalty of a value.
	penalty [][]float64
}

// newLadder prepares the ladder for the base values, sorted.
func newLadder(c Column, base []string) (*ladder, error) {
	if err := c.valid(); err != nil {
		return nil, err
	}
	l := &ladder{column: c}
	for step := range c.Ladder {
		groups, ok := c.Ladder[step].byValue()
		if !ok {
			return nil, c.fault(step, "a value is in two groups")
		}
		var words []string
		codes := make([]uint32, len(base))
		at := map[string]uint32{}
		for i, v := range base {
			word, ok := c.coarsen(v, step, groups)
			if !ok {
				return nil, c.fault(step, "a value of the column has no place here")
			}
			code, known := at[word]
			if !known {
				code = uint32(len(words))
				at[word] = code
				words = append(words, strings.Clone(word))
			}
			codes[i] = code
		}
		if step > 0 && splits(l.code[step-1], codes) {
			return nil, c.fault(step, "it splits what the step before put together")
		}
		l.words, l.code = append(l.words, words), append(l.code, codes)
		l.penalty = append(l.penalty, penalties(codes, len(words)))
	}
	return l, nil
}

// splits says whether two base values with one code at the finer step have
// different codes at the coarser one.
func splits(finer, coarser []uint32) bool {
	to := map[uint32]uint32{}
	for i, f := range finer {
		if c, known := to[f]; known && c != coarser[i] {
			return true
		}
		to[f] = coarser[i]
	}
	return false
}

// penalties is the normalised certainty penalty of each value of a step: of the
// different base values of the column, the share of others it may stand for,
// (m-1)/(n-1). Xu and others, KDD 2006, pages 785-790.
func penalties(codes []uint32, words int) []float64 {
	out := make([]float64, words)
	if len(codes) < 2 {
		return out
	}
	for _, c := range codes {
		out[c]++
	}
	for i, m := range out {
		out[i] = (m - 1) / float64(len(codes)-1)
	}
	return out
}
