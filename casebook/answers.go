package casebook

import (
	"slices"
	"strings"

	"graftnote/schema"
)

// toAnswer are the look-again findings, each rule at each path once.
func toAnswer(all []schema.Finding) []schema.Finding {
	var out []schema.Finding
	for _, f := range all {
		same := func(g schema.Finding) bool { return g.Rule == f.Rule && g.Path == f.Path }
		if f.Severity == schema.Look && !slices.ContainsFunc(out, same) {
			out = append(out, f)
		}
	}
	return out
}

// answered holds the answers to the findings: one reason for each, none besides.
func answered(findings []schema.Finding, answers []Answer) error {
	if len(findings) != len(answers) {
		return ErrUnanswered
	}
	for _, f := range findings {
		if !slices.ContainsFunc(answers, func(a Answer) bool { return a.Rule == f.Rule && a.Path == f.Path }) {
			return ErrUnanswered
		}
	}
	for _, a := range answers {
		if strings.TrimSpace(a.Reason) == "" {
			return ErrUnanswered
		}
		if !readable(a.Reason) {
			return ErrText
		}
	}
	return nil
}

// inOrder puts the answers into reading order, whatever order they came in.
func inOrder(findings []schema.Finding, answers []Answer) []Answer {
	var out []Answer
	for _, f := range findings {
		i := slices.IndexFunc(answers, func(a Answer) bool { return a.Rule == f.Rule && a.Path == f.Path })
		out = append(out, answers[i])
	}
	return out
}
