package main

import (
	"fmt"
	"os"
	"strings"

	"github.com/spf13/cobra"

	"graftnote/note"
	"graftnote/schema"
)

func (a *app) textCommand() *cobra.Command {
	var s settings
	c := &cobra.Command{
		Use:   "text ENTRY",
		Short: "Read the note of an entry in the terminal",
		Long: `Prints the note as plain text, in the words of the PDF. It shows patient data: it
is for your screen, not for a file or a mail.`,
		Example: "  graftnote text case.yaml",
		Args:    needArgs(1, 1, "an entry"),
		RunE: func(_ *cobra.Command, args []string) error {
			return a.eachNote(args[0], &s, func(d note.Document) error {
				writeNote(a.print, d)
				return nil
			})
		},
	}
	s.flags(c)
	return c
}

func (a *app) briefCommand() *cobra.Command {
	var s settings
	c := &cobra.Command{
		Use:   "brief ENTRY",
		Short: "Print the brief note for the way to recovery",
		Long: `Prints the brief note that must go with the patient when the full note is not yet
in the record: surgeon and assistants, procedure, findings, estimated blood loss,
specimens and post-operative diagnosis, and above them what must be read first. An
item that the entry lacks is named; the exit status is then 1. It shows patient
data.`,
		Example: "  graftnote brief case.yaml",
		Args:    needArgs(1, 1, "an entry"),
		RunE: func(_ *cobra.Command, args []string) error {
			return a.eachNote(args[0], &s, a.brief)
		},
	}
	s.flags(c)
	return c
}

func (a *app) brief(d note.Document) error {
	p := a.print
	p.line("Brief operative note, not signed")
	identity(p, d.Banner)
	for _, alert := range d.Alerts {
		p.line("%s", wrap(visibleProse("! "+alert), textWidth, ""))
	}
	var missing []string
	for _, item := range d.Brief {
		p.item(item)
		if item.Value == note.NotStated {
			missing = append(missing, strings.ToLower(item.Label[:1])+item.Label[1:])
		}
	}
	p.line("")
	if len(missing) == 0 {
		p.line("All six items are stated.")
		return nil
	}
	p.line("%s", wrap("Missing from the brief note: "+strings.Join(missing, "; ")+".", textWidth, ""))
	a.raise(statusBlocked)
	return nil
}

// eachNote builds the note of each case of one file. Findings of the file as a
// whole go before, because then there may be no case at all.
func (a *app) eachNote(arg string, s *settings, show func(note.Document) error) error {
	if err := s.parse(a); err != nil {
		return err
	}
	if info, err := os.Stat(arg); arg != "-" && err == nil && info.IsDir() {
		return usage("this command reads one file", "'graftnote check' and 'graftnote write' read folders")
	}
	files, faults := gather([]string{arg})
	if len(faults) > 0 {
		return faults[0]
	}
	g, err := s.open(a)
	if err != nil {
		return err
	}
	phrases, language, err := g.phrases()
	if err != nil {
		return err
	}
	src, err := a.load(files[0])
	if err != nil {
		return unread(files[0].shown, err)
	}
	r := schema.Read(src, g.options)
	for _, f := range r.Findings {
		a.print.finding(f)
		a.raise(statusBlocked)
	}
	batch := schema.NewBatch()
	for _, cs := range r.Cases {
		batch.Add(cs)
	}
	for i, cs := range r.Cases {
		checked, err := schema.Check(cs, g.options, batch)
		if err != nil {
			return err
		}
		d, err := note.Build(checked, phrases, note.Options{Language: language})
		if err != nil {
			return err
		}
		if i > 0 {
			a.print.line("\n%s\n", strings.Repeat("=", textWidth))
		}
		if !checked.Complete() {
			a.raise(statusBlocked)
		}
		if err := show(d); err != nil {
			return err
		}
	}
	return nil
}

// phrases are the words of the note: the built-in ones, or the site's.
func (g given) phrases() (*note.Phrases, string, error) {
	site := g.options.Site
	if site == nil {
		p, err := note.LoadPhrases(nil)
		return p, "", err
	}
	if site.Phrases == "" {
		p, err := note.LoadPhrases(nil)
		return p, site.Language, err
	}
	dir := g.beside(site.Phrases)
	if _, err := os.Stat(dir); err != nil {
		return nil, "", unread(dir, err)
	}
	p, err := note.LoadPhrases(inputFolder{dir, maxPhraseSet})
	if err != nil {
		return nil, "", &fault{status: statusIO, text: "the site's phrases cannot be used: " + err.Error()}
	}
	return p, site.Language, nil
}

const (
	textWidth  = 78
	labelWidth = 26
)

// writeNote prints the note as text; what could move a cursor is escaped.
func writeNote(p *printer, d note.Document) {
	fmt.Fprint(p.out, visibleProse(d.Text()))
}

// identity says whose eye the brief note is about.
func identity(p *printer, b note.Banner) {
	for _, i := range []note.Item{{Label: "Patient", Value: b.Patient}, {Label: "In Latin letters", Value: b.LatinName},
		{Label: "Hospital number", Value: b.PatientID}, {Label: "Born", Value: b.Born}, {Label: "Eye", Value: b.Eye},
		{Label: "Operated", Value: b.Operated}, {Label: "Site", Value: b.Site}} {
		if i.Value != "" {
			p.item(i)
		}
	}
}

// item puts the value beside its label, and continues it under itself.
func (p *printer) item(i note.Item) {
	pad := strings.Repeat(" ", labelWidth)
	value := wrap(visibleProse(i.Value), textWidth, pad)
	p.line("%-*s%s", labelWidth, i.Label, strings.TrimPrefix(value, pad))
}
