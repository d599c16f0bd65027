package main

import (
	"context"
	"strings"

	"github.com/spf13/cobra"

	"graftnote/casebook"
	"graftnote/registry"
	"graftnote/schema"
)

func (a *app) casebookCommand() *cobra.Command {
	c := &cobra.Command{
		Use:   "casebook",
		Short: "Look into the casebook, check it, back it up",
		Long: `The casebook keeps every signed note with all that was ever done to it. It is one
file, made by the first 'keys add', or a PostgreSQL database that a department
shares (--casebook postgres://..., or the variable ` + casebookVariable + `).

Nothing in it is changed or deleted; each act is added at the end and sealed by a
signed checkpoint. Whoever keeps a checkpoint can tell later that nothing before
it was touched.`,
		Args: needArgs(0, 0, ""),
		RunE: func(*cobra.Command, []string) error {
			return usage("casebook wants one of: list, find, show, status, check, checkpoint, backup, restore", "'graftnote casebook --help' says what each does")
		},
	}
	c.AddCommand(a.bookListCommand(), a.bookFindCommand(), a.bookPackagesCommand(), a.bookShowCommand(), a.bookStatusCommand(), a.bookCheckCommand(),
		a.bookCheckpointCommand(), a.bookBackupCommand(), a.bookRestoreCommand())
	return c
}

// filterFlags choose cases.
type filterFlags struct {
	from, until, eye, separation, event, state, signer string
	limit                                              int
}

func (f *filterFlags) flags(c *cobra.Command) {
	c.Flags().StringVar(&f.from, "from", "", "operated on this `day` or later, as 2026-09-08")
	c.Flags().StringVar(&f.until, "until", "", "operated on this `day` or earlier")
	c.Flags().StringVar(&f.eye, "eye", "", "`code` of the eye: right or left")
	c.Flags().StringVar(&f.separation, "separation", "", "`code` of the separation obtained")
	c.Flags().StringVar(&f.event, "event", "", "`code` of a recorded event")
	c.Flags().StringVar(&f.state, "state", "", "signed, awaiting, amended or withdrawn")
	c.Flags().StringVar(&f.signer, "signer", "", "printed `name` of the signer")
	c.Flags().IntVar(&f.limit, "limit", 0, "at most this `number` of cases; 0 for all")
}

// stateWords are the states as they are typed.
var stateWords = map[string]casebook.State{"": "", "signed": casebook.StateSigned, "awaiting": casebook.StateAwaiting,
	"amended": casebook.StateAmended, "withdrawn": casebook.StateWithdrawn}

// filter refuses a code that no case can hold: an empty list would look like an
// answer.
func (f *filterFlags) filter() (casebook.Filter, error) {
	state, known := stateWords[f.state]
	if !known {
		return casebook.Filter{}, usage("--state is signed, awaiting, amended or withdrawn")
	}
	for _, day := range []struct{ flag, text string }{{"--from", f.from}, {"--until", f.until}} {
		if _, err := momentFlag(day.flag, day.text+"T00:00:00Z"); day.text != "" && err != nil {
			return casebook.Filter{}, usage(day.flag + " is a day, written as 2026-09-08")
		}
	}
	for _, code := range []struct{ flag, text, path string }{{"--eye", f.eye, "eye.operated"}, {"--separation", f.separation, "separation.obtained"}, {"--event", f.event, "events.kind"}} {
		row, ok := schema.Content().Row(code.path)
		if !ok || code.text == "" {
			continue
		}
		if _, known := schema.Content().Lists[row.List].Words(code.text); !known {
			return casebook.Filter{}, usage(code.flag+" is no code of the list "+row.List, "'graftnote fields "+code.path+"' shows the codes")
		}
	}
	if f.limit < 0 {
		return casebook.Filter{}, usage("--limit is not negative")
	}
	return casebook.Filter{From: f.from, To: f.until, Eye: f.eye, Separation: f.separation, Event: f.event, State: state, Signer: f.signer, Limit: f.limit}, nil
}

func (a *app) bookListCommand() *cobra.Command {
	var b bookFlags
	var f filterFlags
	var format string
	c := &cobra.Command{
		Use:   "list",
		Short: "List the cases, the newest operation first",
		Long: `Lists the cases of the casebook: identifier, day of surgery, eye, separation,
events, state, revision and signer. No patient identifier is shown.`,
		Example: `  graftnote casebook list --from 2026-09-01 --until 2026-09-30
  graftnote casebook list --event microperforation --format json`,
		Args: needArgs(0, 0, ""),
		RunE: func(*cobra.Command, []string) error { return a.bookList(&b, &f, format) },
	}
	b.flags(c, false)
	f.flags(c)
	formatFlag(c, &format)
	return c
}

func (a *app) bookFindCommand() *cobra.Command {
	var b bookFlags
	var f filterFlags
	var format, row string
	c := &cobra.Command{
		Use:   "find",
		Short: "Find cases by date, eye, separation, event or state",
		Long: `Finds cases as 'list' shows them; at least one of the choices below is asked for.
With --row it says which case a row of a package stands for, when a registry asks
about it by the row's key. Which case and revision a written file belongs to says
'graftnote verify'.`,
		Example: `  graftnote casebook find --eye left --separation partial
  graftnote casebook find --state awaiting
  graftnote casebook find --row 6f0d2c5b9e1a4477 --site lindow`,
		Args: needArgs(0, 0, ""),
		RunE: func(*cobra.Command, []string) error {
			switch {
			case row != "" && f != (filterFlags{}):
				return usage("--row stands alone")
			case row != "":
				return a.bookFindRow(&b, row)
			}
			if f == (filterFlags{limit: f.limit}) {
				return usage("say what to find", "'graftnote casebook list' shows all cases")
			}
			return a.bookList(&b, &f, format)
		},
	}
	b.flags(c, false)
	f.flags(c)
	c.Flags().StringVar(&row, "row", "", "the `key` of a row that was sent to a registry")
	formatFlag(c, &format)
	return c
}

// jsonCase is one line of a list in the form json.
type jsonCase struct {
	Case       string   `json:"case"`
	Date       string   `json:"date"`
	Eye        string   `json:"eye"`
	Separation string   `json:"separation"`
	Events     []string `json:"events"`
	State      string   `json:"state"`
	Revision   int      `json:"revision"`
	Amended    bool     `json:"amended"`
	Signer     string   `json:"signer"`
	Signed     string   `json:"signed"`
	Statement  int64    `json:"statement"`
}

func jsonCases(list []casebook.Summary) []jsonCase {
	out := make([]jsonCase, 0, len(list))
	for _, s := range list {
		events := append([]string{}, s.Events...) // an empty list, never null
		out = append(out, jsonCase{s.Case, s.Date, s.Eye, s.Separation, events, string(s.State), s.Revision, s.Amended, s.Signer, s.Signed, s.Index})
	}
	return out
}

func (a *app) bookList(b *bookFlags, f *filterFlags, format string) error {
	if err := textOrJSON(format); err != nil {
		return err
	}
	filter, err := f.filter()
	if err != nil {
		return err
	}
	return b.withBook(a, casebook.Options{ReadOnly: true}, func(ctx context.Context, book *casebook.Casebook) error {
		list, err := book.List(ctx, filter)
		if err != nil {
			return bookFault("the cases cannot be listed", err)
		}
		if format == "json" {
			return a.writeJSON(jsonCases(list))
		}
		a.print.cases(list)
		a.print.line("%s.", count(len(list), "case"))
		return nil
	})
}

// bookFindRow resolves the key of a row that was sent, or that was held back.
func (a *app) bookFindRow(b *bookFlags, key string) error {
	return b.withBook(a, casebook.Options{ReadOnly: true}, func(ctx context.Context, book *casebook.Casebook) error {
		sent, err := book.Sent(ctx)
		if err != nil {
			return bookFault("the rows sent so far", err)
		}
		found := false
		for _, r := range sent {
			if r.Key != key {
				continue
			}
			found = true
			state := "accepted"
			if !r.Accepted {
				state = "not accepted"
			}
			a.print.line("case %s: %s row, revision %d (%s), package %s of %s, %s", r.Case, r.Kind, r.Revision, r.Action, r.Package, r.Month, state)
		}
		if found {
			return nil
		}
		id, err := a.caseOfKey(ctx, book, b, key)
		if err != nil {
			return err
		}
		if id == "" {
			return &fault{status: statusIO, text: "no row has this key", hints: []string{"rows of the mode pseudonymised that were never sent are found with the site's row key: --site"}}
		}
		a.print.line("case %s: no row of it was sent", id)
		return nil
	})
}

// caseOfKey finds the case of a key that no row carries: a random one by the map,
// a keyed one by making the keys of all cases.
func (a *app) caseOfKey(ctx context.Context, book *casebook.Casebook, b *bookFlags, key string) (string, error) {
	keys, err := book.RowKeys(ctx)
	if err != nil {
		return "", bookFault("the map of row keys", err)
	}
	for _, k := range keys {
		if k.Key == key {
			id, _, _ := strings.Cut(k.Name, "/")
			return id, nil
		}
	}
	g, err := b.readSettings(a)
	if err != nil {
		return "", err
	}
	secret, err := g.rowKey()
	if err != nil || len(secret) == 0 {
		return "", err
	}
	list, err := book.List(ctx, casebook.Filter{})
	if err != nil {
		return "", bookFault("the cases", err)
	}
	for _, s := range list {
		if registry.RowKey(secret, s.Case) == key {
			return s.Case, nil
		}
	}
	return "", nil
}

// cases prints one line per case.
func (p *printer) cases(list []casebook.Summary) {
	for _, s := range list {
		p.line("%-24s %s  %-5s  %-9s %s, revision %d, %s", s.Case, s.Date, s.Eye, s.Separation, s.State, s.Revision, visibleProse(s.Signer))
		if len(s.Events) > 0 {
			p.line("%-24s events: %s", "", schema.JoinWords(s.Events))
		}
	}
}
