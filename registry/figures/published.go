package figures

import (
	"bytes"
	_ "embed"
	"fmt"
	"sync"

	"go.yaml.in/yaml/v3"
)

//go:embed published.yaml
var publishedYAML []byte

//go:embed cautions.yaml
var cautionsYAML []byte

// PublishedFigure is one figure of the literature.
type PublishedFigure struct {
	// Text is what is printed.
	Text string `yaml:"text"`
	// Percent is the figure as published, where it is a percentage.
	Percent *float64 `yaml:"percent"`
	// Value and Unit are a figure that is none.
	Value *float64 `yaml:"value"`
	Unit  string   `yaml:"unit"`
	// Low and High are its published limits, in the unit of the figure.
	Low  *float64 `yaml:"low"`
	High *float64 `yaml:"high"`
	// Events and Of are the counts behind it. Events is nil where the source
	// gives no count, Of 0 where it gives no denominator.
	Events *int `yaml:"events"`
	Of     int  `yaml:"of"`
	// Population is whose figure it is.
	Population string `yaml:"population"`
	// Source is the key of Citation.
	Source   string `yaml:"source"`
	Citation string `yaml:"-"`
}

// PublishedMeasure holds the published figures of one measure; none when no
// usable one was found.
type PublishedMeasure struct {
	ID      string            `yaml:"id"`
	Title   string            `yaml:"title"`
	Figures []PublishedFigure `yaml:"figures"`
}

type texts struct {
	measures []PublishedMeasure
	cautions map[string]string
	few      float64
}

// content reads the embedded files once. A fault in them is a fault of the
// program and is found by any test.
var content = sync.OnceValue(func() texts {
	var p struct {
		Measures []PublishedMeasure `yaml:"measures"`
		Sources  map[string]string  `yaml:"sources"`
	}
	var c struct {
		Few      float64           `yaml:"few"`
		Cautions map[string]string `yaml:"cautions"`
	}
	strict(publishedYAML, &p)
	strict(cautionsYAML, &c)
	for _, m := range p.Measures {
		for i := range m.Figures {
			f := &m.Figures[i]
			f.Citation = p.Sources[f.Source]
			if f.Citation == "" {
				panic(fmt.Sprintf("published.yaml: %s has a figure without a source", m.ID))
			}
		}
	}
	return texts{measures: p.Measures, cautions: c.Cautions, few: c.Few}
})

func strict(data []byte, into any) {
	d := yaml.NewDecoder(bytes.NewReader(data))
	d.KnownFields(true)
	if err := d.Decode(into); err != nil {
		panic(err)
	}
}

// Published returns the published comparison figures in the order of
// published.yaml. The result is a copy.
func Published() []PublishedMeasure {
	out := append([]PublishedMeasure(nil), content().measures...)
	for i := range out {
		out[i].Figures = append([]PublishedFigure(nil), out[i].Figures...)
	}
	return out
}

// Caution returns a sentence of cautions.yaml by its key, "" for an unknown key.
func Caution(key string) string { return content().cautions[key] }

// Few returns the caution that a proportion of the given counts needs: that
// nothing was counted, that its exact 95 % interval is too wide to compare, or
// "" for none.
func Few(events, of int) string {
	i, err := Exact(events, of)
	switch {
	case err != nil:
		return Caution("none")
	case i.Width()*100 > content().few:
		return Caution("few")
	}
	return ""
}
