package quantity

import (
	_ "embed"
	"slices"
	"strings"
	"sync"
)

//go:embed lexicon.yaml
var lexiconYAML []byte

type lexiconFile struct {
	Hours    map[string]int `yaml:"hours"`
	Plano    []string       `yaml:"plano"`
	Sphere   []string       `yaml:"sphere"`
	Cylinder []string       `yaml:"cylinder"`
	Months   map[string]int `yaml:"months"`
	Gauges   []string       `yaml:"gauges"`
	// GaugesReadAsCounts are the sizes that look like a count of stitches when
	// the hyphen is left out.
	GaugesReadAsCounts []string `yaml:"gauges_read_as_counts"`
}

var lexicon = sync.OnceValue(func() lexiconFile {
	var f lexiconFile
	decodeEmbedded("lexicon.yaml", lexiconYAML, &f)
	return f
})

// month finds a month by its name or its first three letters or more.
func (f lexiconFile) month(word string) (int, bool) {
	word = strings.TrimSuffix(strings.ToLower(word), ".")
	if len(word) < 3 {
		return 0, false
	}
	for name, n := range f.Months {
		if strings.HasPrefix(name, word) {
			return n, true
		}
	}
	return 0, false
}

// gauge finds a suture size among the listed ones.
func (f lexiconFile) gauge(s string) bool { return slices.Contains(f.Gauges, s) }
