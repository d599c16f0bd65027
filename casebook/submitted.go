package casebook

import (
	"cmp"
	"context"
	"slices"
)

// SubmittedRow is a row of a package with what became of it.
type SubmittedRow struct {
	SentRow
	Package  string
	Month    string
	Mode     string
	Receiver string
	Answer   AnswerState // of the package
	Accepted bool        // by the registry, in a final answer
}

// Sent are all rows of all packages in the order of their sending, those that
// the registry refused or has not answered too.
func (c *Casebook) Sent(ctx context.Context) ([]SubmittedRow, error) {
	l, err := c.ledger(ctx)
	if err != nil {
		return nil, err
	}
	return l.sent(), nil
}

func (l *ledger) sent() (out []SubmittedRow) {
	for _, id := range l.order {
		p := l.packages[id]
		for _, r := range p.rows {
			out = append(out, p.row(r))
		}
	}
	return out
}

func (p *sentPackage) row(r SentRow) SubmittedRow {
	accepted := (p.answer.Answer == AnswerAccepted || p.answer.Answer == AnswerWithFindings) && !p.refused[rowName{r.Kind, r.Key}]
	return SubmittedRow{r, p.head.Package, p.head.Month, p.head.Mode, p.head.Receiver, p.answer.Answer, accepted}
}

// Submitted is what the registries have accepted so far: the newest accepted
// version of each row, by receiver, kind and key. A row whose action is RowWithdrawn was taken back.
// Nothing counts before the registry's answer was read back.
func (c *Casebook) Submitted(ctx context.Context) ([]SubmittedRow, error) {
	l, err := c.ledger(ctx)
	if err != nil {
		return nil, err
	}
	var out []SubmittedRow
	for _, f := range l.rows {
		if f.accepted.Revision > 0 {
			out = append(out, l.packages[f.pkg].row(f.accepted))
		}
	}
	slices.SortFunc(out, func(a, b SubmittedRow) int {
		return cmp.Or(cmp.Compare(a.Receiver, b.Receiver), cmp.Compare(a.Kind, b.Kind), cmp.Compare(a.Key, b.Key))
	})
	return out, nil
}

// PackageState is a package that was sent, with the registry's answer.
type PackageState struct {
	Submission             // without its rows
	Count      int         // rows
	Answer     AnswerState // the newest
	Answered   string      // RFC 3339, "" for none
	Accepted   int         // rows
	Results    []RowResult // what the registry said of single rows
}

// Packages are all packages in the order of their sending.
func (c *Casebook) Packages(ctx context.Context) ([]PackageState, error) {
	l, err := c.ledger(ctx)
	if err != nil {
		return nil, err
	}
	return l.states(), nil
}

func (l *ledger) states() []PackageState {
	out := make([]PackageState, 0, len(l.order))
	for _, id := range l.order {
		p := l.packages[id]
		s := PackageState{Submission: p.head.Submission, Count: p.head.Count, Answer: p.answer.Answer, Answered: p.answer.At, Results: p.results}
		for _, r := range p.rows {
			if p.row(r).Accepted {
				s.Accepted++
			}
		}
		out = append(out, s)
	}
	return out
}
