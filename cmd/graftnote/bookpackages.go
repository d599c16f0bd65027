package main

import (
	"context"

	"github.com/spf13/cobra"

	"graftnote/casebook"
)

// jsonPackage is one package in the form json.
type jsonPackage struct {
	Package  string `json:"package"`
	Period   string `json:"period"`
	Receiver string `json:"receiver"`
	Mode     string `json:"mode"`
	Made     string `json:"made"`
	By       string `json:"by"`
	Rows     int    `json:"rows"`
	Answer   string `json:"answer"`
	Answered string `json:"answered"`
	Accepted int    `json:"accepted"`
	Results  int    `json:"results"`
}

func (a *app) bookPackagesCommand() *cobra.Command {
	var b bookFlags
	var format string
	c := &cobra.Command{
		Use:     "packages",
		Short:   "List the packages of month ends and what the registries answered",
		Long:    "Lists every package that was made with 'month --submit', the oldest first: period,\nregistry, mode, rows, the registry's answer and how many rows it accepted.",
		Example: "  graftnote casebook packages --site lindow",
		Args:    needArgs(0, 0, ""),
		RunE: func(*cobra.Command, []string) error {
			if err := textOrJSON(format); err != nil {
				return err
			}
			return b.withBook(a, casebook.Options{ReadOnly: true}, func(ctx context.Context, book *casebook.Casebook) error {
				list, err := book.Packages(ctx)
				if err != nil {
					return bookFault("the packages", err)
				}
				if format == "json" {
					return a.writeJSON(jsonPackages(list))
				}
				for _, p := range list {
					a.print.line("%s  %-7s  %-12s %-13s  made %s, %s, %s", p.Package, p.Month, receiverWords(p.Receiver), p.Mode, p.At[:min(len(p.At), 10)], count(p.Count, "row"), answerWords(p))
				}
				a.print.line("%s.", count(len(list), "package"))
				return nil
			})
		},
	}
	b.flags(c, false)
	formatFlag(c, &format)
	return c
}

func receiverWords(r string) string {
	if r == "" {
		return "(own form)"
	}
	return r
}

func answerWords(p casebook.PackageState) string {
	switch p.Answer {
	case casebook.AnswerOpen:
		return "no answer read yet"
	case casebook.AnswerPending:
		return "pending: no final answer read yet"
	case casebook.AnswerRefused:
		return "refused"
	}
	return string(p.Answer) + ", " + count(p.Accepted, "row") + " accepted"
}

func jsonPackages(list []casebook.PackageState) []jsonPackage {
	out := make([]jsonPackage, 0, len(list))
	for _, p := range list {
		out = append(out, jsonPackage{p.Package, p.Month, p.Receiver, p.Mode, p.At, p.By, p.Count, string(p.Answer), p.Answered, p.Accepted, len(p.Results)})
	}
	return out
}
