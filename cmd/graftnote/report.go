package main

import (
	"encoding/json"

	"graftnote/schema"
)

// finding in the form json: the public half only.
type jsonFinding struct {
	Rule     string      `json:"rule"`
	Severity string      `json:"severity"`
	Case     string      `json:"case,omitempty"`
	Path     string      `json:"path,omitempty"`
	Place    *jsonPlace  `json:"place,omitempty"`
	What     string      `json:"what"`
	Why      string      `json:"why,omitempty"`
	Fix      string      `json:"fix,omitempty"`
	Source   string      `json:"source,omitempty"`
	AskedBy  []string    `json:"askedBy,omitempty"`
	Related  []jsonPlace `json:"related,omitempty"`
}

type jsonPlace struct {
	Path   string `json:"path,omitempty"`
	File   string `json:"file"`
	Line   int    `json:"line"`
	Column int    `json:"column"`
	End    int    `json:"endColumn,omitempty"`
}

type jsonReport struct {
	Program    string        `json:"program"`
	Version    string        `json:"version"`
	Dictionary int           `json:"dictionary"`
	Verdict    jsonVerdict   `json:"verdict"`
	Findings   []jsonFinding `json:"findings"`
}

type jsonVerdict struct {
	MayBeSigned bool `json:"mayBeSigned"`
	Cases       int  `json:"cases"`
	Complete    int  `json:"complete"`
	Blocks      int  `json:"blocks"`
	Look        int  `json:"look"`
	Remarks     int  `json:"remarks"`
	Confirmed   int  `json:"confirmed"`
	NotRead     int  `json:"filesNotRead"`
}

func (a *app) reportJSON(o *outcome) error {
	r := jsonReport{Program: "graftnote", Version: programVersion(), Dictionary: schema.Content().Version,
		Verdict: jsonVerdict{o.mayBeSigned(), o.cases, o.complete, o.blocks, o.look, o.remarks, o.confirmed, o.unread},
		// An empty list, never null, so that readers need no special case.
		Findings: []jsonFinding{}}
	for _, f := range o.findings {
		f = f.Public()
		j := jsonFinding{Rule: f.Rule, Severity: f.Severity.String(), Case: f.Case, Path: f.Path, Place: jsonPos("", f.Pos),
			What: f.What, Why: f.Why, Fix: f.Fix, Source: f.Citations(), AskedBy: f.AskedBy}
		for _, rel := range f.Related {
			if p := jsonPos(rel.Path, rel.Pos); p != nil {
				j.Related = append(j.Related, *p)
			}
		}
		r.Findings = append(r.Findings, j)
	}
	return a.writeJSON(r)
}

func jsonPos(path string, p schema.Pos) *jsonPlace {
	if !p.Known() {
		return nil
	}
	return &jsonPlace{Path: path, File: p.File, Line: p.Line, Column: p.Col, End: p.EndCol}
}

func (a *app) writeJSON(v any) error {
	e := json.NewEncoder(a.print.out)
	e.SetEscapeHTML(false)
	e.SetIndent("", "  ")
	return e.Encode(v)
}

func (t tally) mayBeSigned() bool { return t.blocks == 0 && t.unread == 0 && t.cases > 0 }
