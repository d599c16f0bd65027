package schema

import (
	"strings"
	"testing"
)

// Whatever is given as a settings file, its fault names the line and what belongs
// there, and neither a word of the file nor a type of Go.
func TestSettingsFaultsQuoteNothing(t *testing.T) {
	for text, want := range map[string]string{
		"small: Zqmaybe\n":                      "line 1: what stands there is not",
		"name: [Zqa, Zqb]\n":                    "line 1: what stands there is not one text",
		"row-columns: Zqtext\n":                 "line 1: what stands there is not a list",
		"Zqroot:x:0:0\n":                        "line 1: what stands there is not a group of settings",
		"Zqsecret: Zqvalue\n":                   "line 1: there is no setting of this name",
		"name: Zqa\nname: Zqb\n":                "it stands on line 1 already",
		"name: *Zqanchor\n":                     "it is not YAML as it should be",
		"name: \"Zqopen\n":                      "it is not YAML as it should be",
		"name: Zqa\n\tzone: Zqb\n":              "it is not YAML as it should be",
		"profiles: [zq-profile]\n":              "no profile of this name",
		"Zqline one\nZqline two: Zq: Zq\n":      "it is not YAML as it should be",
		"name: {Zqa: 1, Zqa: 2}\nzone: !Zq x\n": "",
	} {
		_, err := ParseSite(Source{Name: "site.yaml", Data: []byte(text)})
		if err == nil {
			t.Errorf("%q is read", text)
			continue
		}
		if !strings.Contains(err.Error(), want) || !strings.HasPrefix(err.Error(), "site.yaml:") {
			t.Errorf("%q: %v, want %q", text, err, want)
		}
		for _, word := range []string{"zq", "schema.", "!!", "unmarshal", "\n", "yaml:"} {
			if strings.Contains(strings.ToLower(strings.TrimPrefix(err.Error(), "site.yaml:")), word) {
				t.Errorf("%q: %v holds %q", text, err, word)
			}
		}
	}
}
