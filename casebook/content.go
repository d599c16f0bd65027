package casebook

import (
	_ "embed"
	"strings"
	"sync"

	"go.yaml.in/yaml/v3"
)

//go:embed casebook.yaml
var contentFile string

// duty says what the holder of a key may do.
type duty struct {
	Notes   bool `yaml:"notes"`
	Alone   bool `yaml:"alone"`
	Counter bool `yaml:"counter"`
	Keys    bool `yaml:"keys"`

	FollowUp bool `yaml:"follow-up"`
}

type alikeContent struct {
	Types   []string `yaml:"types"`
	Plain   []string `yaml:"plain"`
	Several int      `yaml:"several"`
	Common  int      `yaml:"common"`
	Fields  int      `yaml:"fields"`
	Share   int      `yaml:"share"`
	Last    int      `yaml:"last"`
}

type contents struct {
	Roles    map[string]duty   `yaml:"roles"`
	Meanings map[Kind]string   `yaml:"meanings"`
	Index    map[string]string `yaml:"index"`
	Alike    alikeContent      `yaml:"alike"`
}

// content is read from a file inside the program: a failure is a fault of the
// build.
var content = sync.OnceValue(func() *contents {
	var c contents
	dec := yaml.NewDecoder(strings.NewReader(contentFile))
	dec.KnownFields(true)
	if err := dec.Decode(&c); err != nil {
		panic("casebook: casebook.yaml: " + err.Error())
	}
	return &c
})

// Roles are the roles that a key may be given, with what each may do in words.
func Roles() map[string]string {
	out := map[string]string{}
	for name, d := range content().Roles {
		var may []string
		for _, x := range []struct {
			yes   bool
			words string
		}{
			{d.Notes && d.Alone, "signs notes"},
			{d.Notes && !d.Alone, "signs notes that await a counter-signature"},
			{d.Counter, "counter-signs"},
			{d.FollowUp, "records follow-up"},
			{d.Keys, "vouches for and revokes keys"},
		} {
			if x.yes {
				may = append(may, x.words)
			}
		}
		out[name] = strings.Join(may, ", ")
	}
	return out
}

// Meaning is what a signature of this kind means, in the words printed beside it.
func Meaning(k Kind) string { return content().Meanings[k] }
