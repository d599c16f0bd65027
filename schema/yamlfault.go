package schema

import (
	"errors"
	"regexp"
	"strings"

	"go.yaml.in/yaml/v3"
)

// The texts of the YAML library quote what stands in the file and name Go types. A
// file given by mistake may hold a password, so they are said anew, without either.
var (
	faultLine   = regexp.MustCompile(`^(?:yaml: )?line (\d+): (.*)$`)
	faultInto   = regexp.MustCompile(`^cannot unmarshal .* into (\S+)$`)
	faultTwice  = regexp.MustCompile(`^mapping key .* already defined at line (\d+)$`)
	faultQuotes = regexp.MustCompile("'[^']{2,}'|\"[^\"]{2,}\"|`[^`]*`")
)

// YAMLFaults says what is wrong with a settings file that YAML or its known fields
// refuse, each with its line. It repeats nothing of the file.
func YAMLFaults(err error) []string {
	var list *yaml.TypeError
	if !errors.As(err, &list) {
		where, what := faultPlace(err.Error())
		return []string{where + "it is not YAML as it should be: " + faultQuotes.ReplaceAllString(what, "something")}
	}
	var out []string
	for _, e := range list.Errors {
		where, what := faultPlace(strings.Join(strings.Fields(e), " "))
		into := faultInto.FindStringSubmatch(what)
		twice := faultTwice.FindStringSubmatch(what)
		switch {
		case into != nil:
			what = "what stands there is not " + yamlKind(into[1])
		case twice != nil:
			what = "it stands on line " + twice[1] + " already"
		case strings.HasPrefix(what, "field "):
			what = "there is no setting of this name"
		default:
			what = "it can't be read"
		}
		out = append(out, where+what)
	}
	return out
}

func faultPlace(text string) (where, what string) {
	if m := faultLine.FindStringSubmatch(text); m != nil {
		return "line " + m[1] + ": ", m[2]
	}
	return "", strings.TrimPrefix(text, "yaml: ")
}

// yamlKind is a Go type in the words of a settings file.
func yamlKind(goType string) string {
	switch {
	case goType == "bool":
		return "true or false"
	case goType == "string":
		return "one text"
	case strings.HasPrefix(goType, "int"), strings.HasPrefix(goType, "uint"):
		return "a whole number"
	case strings.HasPrefix(goType, "float"):
		return "a number"
	case strings.HasPrefix(goType, "[]"):
		return "a list"
	}
	return "a group of settings"
}
