// Package scenario makes invented entries of an invented eye unit, for
// demonstrations and for measuring speed. The same seed always gives the same
// entries. Each entry passes the checks: a test sees to it.
//
// It makes text and knows nothing of the rest of the module.
package scenario

import (
	"bytes"
	_ "embed"
	"fmt"
	"math/rand/v2"
	"sync"
	"text/template"
	"time"

	"go.yaml.in/yaml/v3"
)

//go:embed scenario.yaml
var scenarioYAML []byte

//go:embed case.tmpl
var caseText string

// Plan says what to make.
type Plan struct {
	Seed uint64
	// From and Until bound the days of surgery; no visit is after Until. Only their
	// dates count. Until must be later than From.
	From, Until time.Time
}

type finding struct {
	Weight    int        `yaml:"weight"`
	Diagnosis string     `yaml:"diagnosis"`
	Stage     int        `yaml:"stage"`
	K         [2]float64 `yaml:"k"`
	Thinnest  [2]int     `yaml:"thinnest"`
	Ages      [2]int     `yaml:"ages"`
	Why       string     `yaml:"why"`
}

type course struct {
	Weight int    `yaml:"weight"`
	Key    string `yaml:"key"`
}

type content struct {
	Given    map[string][]string `yaml:"given"`
	Family   []string            `yaml:"family"`
	Surgeons []struct {
		Name  string `yaml:"name"`
		Grade string `yaml:"grade"`
	} `yaml:"surgeons"`
	Findings    []finding `yaml:"findings"`
	Courses     []course  `yaml:"courses"`
	SecondEye   int       `yaml:"second-eye"`
	NoConsent   int       `yaml:"no-consent"`
	VisitMissed int       `yaml:"visit-missed"`
	Rejection   int       `yaml:"rejection"`
	Failure     int       `yaml:"failure"`

	text *template.Template
}

// load reads the embedded files once. A failure is a fault of the build.
var load = sync.OnceValue(func() *content {
	c := &content{}
	d := yaml.NewDecoder(bytes.NewReader(scenarioYAML))
	d.KnownFields(true)
	if err := d.Decode(c); err != nil {
		panic("scenario: " + err.Error())
	}
	c.text = template.Must(template.New("case").Option("missingkey=error").Parse(caseText))
	return c
})

// Name is the file name of an entry: it holds the random-looking case identifier
// and nothing of the patient.
func (p Plan) Name(i int) string { return p.caseID(i) + ".yaml" }

func (p Plan) caseID(i int) string {
	r := rand.New(rand.NewPCG(p.Seed, uint64(i)<<1|1))
	const letters = "abcdefghjkmnpqrstuvwxyz23456789"
	id := make([]byte, 4)
	for n := range id {
		id[n] = letters[r.IntN(len(letters))]
	}
	return fmt.Sprintf("demo-%s-%06d", id, i)
}

// Entry is the entry with the number i, counted from 0, as YAML. The visits of
// its follow-up stand in it.
func (p Plan) Entry(i int) []byte { return made("case", p.values(i)) }

// Operation is the same entry as it is on the day of surgery, without visits, and
// Followups are its visits as documents of their own, in the order of their dates.
func (p Plan) Operation(i int) (entry []byte, followups [][]byte) {
	v := p.values(i)
	for _, seen := range v["Visits"].([]visit) {
		followups = append(followups, made("follow-up", map[string]any{"Case": v["Case"], "Patient": v["Patient"], "Born": v["Born"], "Eye": v["Eye"], "Visit": seen}))
	}
	v["Visits"] = nil
	return made("case", v), followups
}

func made(name string, values map[string]any) []byte {
	var out bytes.Buffer
	if err := load().text.ExecuteTemplate(&out, name, values); err != nil {
		panic("scenario: " + err.Error()) // a fault of the embedded template
	}
	return out.Bytes()
}

// person draws who is operated on: mostly somebody new, sometimes the other eye
// of the person ten entries before.
func (p Plan) person(i int) (number int, second bool) {
	r := rand.New(rand.NewPCG(p.Seed^0x5eed, uint64(i)))
	if i >= 10 && r.IntN(100) < load().SecondEye {
		if _, other := p.person(i - 10); !other {
			return i - 10, true
		}
	}
	return i, false
}

func weighted[T any](r *rand.Rand, list []T, weight func(T) int) T {
	total := 0
	for _, x := range list {
		total += weight(x)
	}
	n := r.IntN(total)
	for _, x := range list {
		if n -= weight(x); n < 0 {
			return x
		}
	}
	return list[len(list)-1]
}

func between(r *rand.Rand, from, to int) int { return from + r.IntN(to-from+1) }

// figure is a number between two, with so many places.
func figure(r *rand.Rand, from, to float64, places int) string {
	return fmt.Sprintf("%.*f", places, from+(to-from)*r.Float64())
}

func percent(r *rand.Rand, share int) bool { return r.IntN(100) < share }

func choose[T any](r *rand.Rand, list ...T) T { return list[r.IntN(len(list))] }
