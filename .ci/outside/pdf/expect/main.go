// Command expect writes what each note must show, for check.sh: the recorded
// values, the private values that no metadata may show, the eye, and the
// attached entry. It knows the entry and the words of the note, not the PDF.
//
//	expect OUTDIR [--technique FILE] ENTRY...
package main

import (
	"log"
	"os"
	"path/filepath"
	"strings"
	"time"

	"graftnote/note"
	"graftnote/pdf"
	"graftnote/schema"
)

func main() {
	log.SetFlags(0)
	args := os.Args[1:]
	out, args := args[0], args[1:]
	o := schema.Options{Now: time.Date(2026, 11, 25, 12, 0, 0, 0, time.UTC)}
	if args[0] == "--technique" {
		o.Technique = schema.ReadTechnique(read(args[1]), o)
		args = args[2:]
	}
	phrases, err := note.LoadPhrases(nil)
	if err != nil {
		log.Fatal(err)
	}
	for _, f := range args {
		for _, cs := range schema.Read(read(f), o).Cases {
			c, err := schema.Check(cs, o, nil)
			if err != nil {
				log.Fatal(err)
			}
			write(out, c, phrases)
		}
	}
}

func read(name string) schema.Source {
	b, err := os.ReadFile(name)
	if err != nil {
		log.Fatal(err)
	}
	return schema.Source{Name: name, Data: b}
}

func write(out string, c schema.Checked, p *note.Phrases) {
	var values, private []string
	c.Entry().Walk(func(r *schema.Row, item int, f schema.Field) {
		if reason, gap := f.NotRecorded(); gap {
			values = append(values, reason)
			return
		}
		switch r.Path() {
		case "graftnote", "from-technique", "episode.begun", "story", "sutures.interrupted", "sutures.running":
			return // said in other words; the golden notes hold them
		}
		if !f.Recorded() || f.Codes() != nil || r.Type == "count" || f.Text() == "none" {
			return // words of the lists stand in sentences; the golden notes hold them
		}
		shown := f.Texts()
		if len(shown) == 1 {
			shown = []string{strings.TrimSuffix(p.Say(f), ".")}
		}
		if len(pdf.Covers(f.Text())) == 0 { // another script is spelled out beside its Latin form
			values = append(values, shown...)
		}
		if r.Group.Key == "patient" && r.Key != "stated-age" {
			private = append(private, f.Text(), p.Say(f))
		}
	})
	eye := strings.ToUpper(c.Entry().Eye.Operated.Words())
	name := c.ID() + ".note"
	save(out, name+".values.txt", strings.Join(values, "\n")+"\n")
	save(out, name+".private.txt", strings.Join(private, "\n")+"\n")
	save(out, name+".eye.txt", eye+"\n")
	save(out, name+".entry.json", string(c.Canonical()))
	save(out, name+".attach.txt", "entry.json\t"+name+".entry.json\n")
}

func save(out, name, text string) {
	if err := os.WriteFile(filepath.Join(out, name), []byte(text), 0o600); err != nil {
		log.Fatal(err)
	}
}
