package fhir

import (
	"regexp"
	"slices"
	"strings"
)

// eyeCodes tells which eye a code of a classification names (data/tables.yaml,
// eye-codes). In some groups the digit of the eye is the fifth, in others the
// fourth or a later one, and before a stage or an encounter it is not the last;
// so it is looked up in the published list, never guessed from its place.
type eyeCodes struct {
	Systems []string `yaml:"systems"`
	// File holds the beginnings of codes, without the point, each with right,
	// left, both, unspecified or none.
	File string `yaml:"file"`
	// Chapter matches the codes that the file holds all of, those without an eye
	// too; a code of it that is not there is unknown.
	Chapter string `yaml:"chapter"`

	chapter *regexp.Regexp
	says    map[string]string
	parents map[string]bool // groups that stand above different eyes, and name none
}

// The verdicts about a code that names neither one eye nor both.
const (
	eyeNone        = "none"
	eyeUnspecified = "unspecified"
	eyeUnlisted    = "unlisted" // of the chapter, but not in the list
)

func (c *eyeCodes) load() error {
	c.chapter = regexp.MustCompile(c.Chapter)
	c.says, c.parents = map[string]string{}, map[string]bool{}
	return eachRow(c.File, 2, func(row []string) error {
		c.says[row[0]] = row[1]
		for n := range len(row[0]) {
			c.parents[row[0][:n]] = true
		}
		return nil
	})
}

// has reports whether a system is the classification, in any of its addresses.
func (c *eyeCodes) has(system string) bool {
	plain := func(s string) string {
		return strings.TrimSuffix(strings.Replace(strings.ToLower(s), "https://", "http://", 1), "/")
	}
	return slices.ContainsFunc(c.Systems, func(s string) bool { return plain(s) == plain(system) })
}

// eye gives right, left or both, or one of the verdicts above.
func (c *eyeCodes) eye(code string) string {
	code = strings.ToUpper(strings.ReplaceAll(code, ".", ""))
	for n := len(code); n > 0; n-- {
		if says, ok := c.says[code[:n]]; ok {
			return says
		}
	}
	if c.chapter.MatchString(code) && !c.parents[code] {
		return eyeUnlisted
	}
	return eyeNone
}

// eyeFault compares the eye that a code or its words name with the side of the
// row.
func (r mapped) eyeFault(t *tables) []string {
	if other := otherSide[r.side]; other != "" && wordOf[other].MatchString(r.display) && !wordOf[r.side].MatchString(r.display) {
		return []string{"column display: the words of the code and the side of the row name different eyes"}
	}
	if r.side == "" && oneEye.MatchString(r.display) {
		return []string{"column display: the words of the code name one eye, but the row is for either"}
	}
	for _, c := range t.EyeCodes {
		if !c.has(r.system) {
			continue
		}
		switch says := c.eye(r.code); {
		case says == eyeNone:
		case says == eyeUnlisted:
			return []string{"column code: this code of the eye chapter is not in the list that graftnote knows, so nobody can tell which eye it names"}
		case says == eyeUnspecified && r.side != "":
			return []string{"column code: the code says that the eye is not specified, but the row has a side"}
		case says != eyeUnspecified && says != r.side:
			return []string{"column code: the eye that the code names and the side of the row name different eyes"}
		}
	}
	return nil
}

var (
	otherSide = map[string]string{"right": "left", "left": "right"}
	wordOf    = map[string]*regexp.Regexp{
		"right": regexp.MustCompile(`(?i)\bright\b`),
		"left":  regexp.MustCompile(`(?i)\bleft\b`),
	}
	oneEye = regexp.MustCompile(`(?i)\b(?:right|left) (?:eye|cornea)\b`)
)
