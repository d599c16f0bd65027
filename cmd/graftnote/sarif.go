package main

import (
	"net/url"
	"path/filepath"
	"strings"

	"graftnote/schema"
)

// The parts of SARIF 2.1.0 (OASIS Standard, 27 March 2020) that graftnote
// writes. No snippet and no entered value is among them.
type sarifLog struct {
	Schema  string     `json:"$schema"`
	Version string     `json:"version"`
	Runs    []sarifRun `json:"runs"`
}

type sarifRun struct {
	Tool        sarifTool         `json:"tool"`
	Invocations []sarifInvocation `json:"invocations"`
	ColumnKind  string            `json:"columnKind"` // section 3.14.17
	Results     []sarifResult     `json:"results"`
}

type sarifTool struct {
	Driver sarifDriver `json:"driver"`
}

type sarifDriver struct {
	Name           string      `json:"name"`
	Version        string      `json:"version"`
	InformationURI string      `json:"informationUri,omitempty"`
	Language       string      `json:"language"`
	Rules          []sarifRule `json:"rules"`
}

type sarifRule struct {
	ID      string      `json:"id"`
	Name    string      `json:"name"`
	Short   sarifText   `json:"shortDescription"`
	Full    sarifText   `json:"fullDescription"`
	Help    sarifText   `json:"help"`
	Default sarifConfig `json:"defaultConfiguration"`
}

type sarifConfig struct {
	Level string `json:"level"`
}

type sarifText struct {
	Text string `json:"text"`
}

type sarifInvocation struct {
	Successful    bool                `json:"executionSuccessful"`
	Notifications []sarifNotification `json:"toolExecutionNotifications,omitempty"`
}

type sarifNotification struct {
	Level   string    `json:"level"`
	Message sarifText `json:"message"`
}

type sarifResult struct {
	RuleID    string          `json:"ruleId"`
	RuleIndex int             `json:"ruleIndex"`
	Level     string          `json:"level"`
	Message   sarifText       `json:"message"`
	Locations []sarifLocation `json:"locations,omitempty"`
	Related   []sarifLocation `json:"relatedLocations,omitempty"`
}

type sarifLocation struct {
	ID       *int           `json:"id,omitempty"`
	Physical sarifPhysical  `json:"physicalLocation"`
	Logical  []sarifLogical `json:"logicalLocations,omitempty"`
	Message  *sarifText     `json:"message,omitempty"`
}

type sarifLogical struct {
	FullyQualifiedName string `json:"fullyQualifiedName"`
}

type sarifPhysical struct {
	Artifact sarifArtifact `json:"artifactLocation"`
	Region   *sarifRegion  `json:"region,omitempty"`
}

type sarifArtifact struct {
	URI string `json:"uri"`
}

type sarifRegion struct {
	StartLine   int `json:"startLine"`
	StartColumn int `json:"startColumn,omitempty"`
	EndColumn   int `json:"endColumn,omitempty"`
}

// sarifLevel: section 3.27.10.
var sarifLevel = map[schema.Severity]string{schema.Blocks: "error", schema.Look: "warning", schema.Remark: "note", schema.Confirmed: "note"}

func (a *app) reportSARIF(o *outcome) error {
	rules, index := sarifRules()
	run := sarifRun{
		Tool:        sarifTool{sarifDriver{Name: "graftnote", Version: programVersion(), Language: "en-GB", Rules: rules}},
		Invocations: []sarifInvocation{{Successful: len(o.faults) == 0}},
		ColumnKind:  "unicodeCodePoints",
		Results:     []sarifResult{},
	}
	for _, f := range o.faults {
		run.Invocations[0].Notifications = append(run.Invocations[0].Notifications,
			sarifNotification{"error", sarifText{sentence(schema.Visible(f.text))}})
	}
	for _, f := range o.findings {
		f = f.Public()
		r := sarifResult{RuleID: f.Rule, RuleIndex: index[f.Rule], Level: sarifLevel[f.Severity], Message: sarifText{sarifMessage(f)}}
		r.Locations = sarifPlaces(f.Path, f.Pos, nil)
		for i, rel := range f.Related {
			r.Related = append(r.Related, sarifPlaces(rel.Path, rel.Pos, &i)...)
		}
		run.Results = append(run.Results, r)
	}
	return a.writeJSON(sarifLog{Schema: "https://json.schemastore.org/sarif-2.1.0.json", Version: "2.1.0", Runs: []sarifRun{run}})
}

// sarifRules are all rules, those that found nothing too: the file then says
// what was looked for.
func sarifRules() ([]sarifRule, map[string]int) {
	var out []sarifRule
	index := map[string]int{}
	for i, r := range schema.Content().Rules {
		index[r.Name] = i
		help := r.Remedy()
		if cited := (schema.Finding{Source: r.Source}).Citations(); cited != "" {
			help = strings.TrimSpace(help + " Source: " + sentence(cited))
		}
		out = append(out, sarifRule{ID: r.Name, Name: camel(r.Group) + camel(r.Name), Short: sarifText{sentence(r.What)}, Full: sarifText{sentence(r.What) + " " + sentence(r.Why)},
			Help: sarifText{help}, Default: sarifConfig{sarifLevel[r.Severity]}})
	}
	return out, index
}

// camel turns the rule's name into the identifier that SARIF asks for beside it
// (section 3.49.7): eye-not-as-listed of the group identity becomes
// IdentityEyeNotAsListed. The group keeps it unlike the id, as the standard advises.
func camel(name string) string {
	var b strings.Builder
	for _, part := range strings.Split(name, "-") {
		if part != "" {
			b.WriteString(strings.ToUpper(part[:1]) + part[1:])
		}
	}
	return b.String()
}

func sarifMessage(f schema.Finding) string {
	text := sentence(f.What)
	if f.Fix != "" {
		text += " " + sentence(f.Fix)
	}
	return text
}

// sentence begins with a capital and ends with a full stop.
func sentence(s string) string {
	s = strings.TrimSpace(s)
	if s == "" {
		return s
	}
	r := []rune(s)
	s = strings.ToUpper(string(r[0])) + string(r[1:])
	if !strings.HasSuffix(s, ".") && !strings.HasSuffix(s, "?") && !strings.HasSuffix(s, ":") {
		s += "."
	}
	return s
}

func sarifPlaces(path string, p schema.Pos, id *int) []sarifLocation {
	if p.File == "" {
		return nil
	}
	l := sarifLocation{ID: id, Physical: sarifPhysical{Artifact: sarifArtifact{fileURI(p.File)}}}
	if p.Known() {
		l.Physical.Region = &sarifRegion{StartLine: p.Line, StartColumn: p.Col, EndColumn: p.EndCol}
		if p.EndCol < p.Col {
			l.Physical.Region.EndColumn = 0
		}
	}
	if path != "" {
		l.Logical = []sarifLogical{{path}}
	}
	if id != nil {
		l.Message = &sarifText{"Compare with this field."}
	}
	return []sarifLocation{l}
}

// fileURI writes a file name as a URI reference (RFC 3986): relative when the
// name is, so that the file means the same on another machine.
func fileURI(name string) string {
	name = filepath.ToSlash(name)
	if vol := filepath.VolumeName(name); vol != "" {
		return (&url.URL{Scheme: "file", Path: "/" + strings.TrimPrefix(name, "/")}).String()
	}
	if strings.HasPrefix(name, "/") {
		return (&url.URL{Scheme: "file", Path: name}).String()
	}
	return (&url.URL{Path: name}).String()
}
