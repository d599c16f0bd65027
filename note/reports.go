package note

import (
	"fmt"
	"io/fs"
	"regexp"
	"strings"

	"graftnote/schema"
	"graftnote/templates"
)

// Reports are the pages for others that are made of a signed note: their words
// and lines stand in tissue-report.txt and coder-report.txt.
type Reports struct {
	phrases       *Phrases
	tissue, coder *report
}

type report struct {
	sections []reportSection
	words    map[string]string
}

type reportSection struct {
	title string
	lines []reportLine
}

// reportLine is one labelled answer.
type reportLine struct {
	label string
	must  bool // an answer is asked for, whatever the tests say
	asked bool // an answer is asked for when the tests hold
	each  string
	when  schema.Statement
	text  string
	typed bool // begins with what was typed, which stays as it is
}

// LoadReports reads the lines of the reports, which are the same at every site:
// none can take an unanswered question off the page. Answers are said in the
// site's own phrases.
func LoadReports(p *Phrases) (*Reports, error) {
	r := &Reports{phrases: p}
	for name, into := range map[string]**report{"tissue-report.txt": &r.tissue, "coder-report.txt": &r.coder} {
		b, err := fs.ReadFile(templates.FS, "en/"+name)
		if err != nil {
			return nil, err
		}
		if *into, err = readReport(name, string(b)); err != nil {
			return nil, err
		}
	}
	return r, nil
}

var (
	reportHeading = regexp.MustCompile(`^\[(.+)\]$`)
	reportField   = regexp.MustCompile(`\{([a-z.-]+)(?::(order))?\}`)
	reportOption  = regexp.MustCompile(`\[([^\[\]]*)\]`)
)

func readReport(name, text string) (*report, error) {
	out := &report{words: map[string]string{}}
	section := ""
	err := eachLine(text, func(n int, line string) error {
		fail := func(format string, args ...any) error {
			return fmt.Errorf("%s:%d: %s", name, n, fmt.Sprintf(format, args...))
		}
		if m := reportHeading.FindStringSubmatch(line); m != nil {
			if section = m[1]; section != "words" {
				out.sections = append(out.sections, reportSection{title: section})
			}
			return nil
		}
		switch {
		case line == "":
			return nil
		case section == "":
			return fail("a line stands before the first [heading]")
		case section == "words":
			key, words, ok := strings.Cut(line, ":")
			if !ok {
				return fail("a word is  key: text")
			}
			out.words[key] = strings.TrimSpace(words)
			return nil
		}
		l, err := readReportLine(line)
		if err != nil {
			return fail("%s", err.Error())
		}
		last := &out.sections[len(out.sections)-1]
		last.lines = append(last.lines, l)
		return nil
	})
	return out, err
}

func readReportLine(line string) (reportLine, error) {
	var l reportLine
	rest := line
	var tests string
	if after, ok := strings.CutPrefix(rest, "each "); ok {
		head, body, ok := strings.Cut(after, ": ")
		if !ok {
			return l, fmt.Errorf("'each' needs its list, a colon and the line")
		}
		l.each, tests, _ = strings.Cut(head, " if ")
		rest = body
	} else if after, ok := strings.CutPrefix(rest, "if "); ok {
		if tests, rest, ok = strings.Cut(after, ": "); !ok {
			return l, fmt.Errorf("'if' needs its tests, a colon and the line")
		}
	}
	label, text, ok := strings.Cut(rest, " | ")
	if !ok {
		return l, fmt.Errorf("a line is  Label | text")
	}
	l.label, l.must = strings.CutSuffix(strings.TrimSpace(label), "!")
	l.label, l.asked = strings.CutSuffix(l.label, "?")
	l.text = strings.TrimSpace(text)
	if tests != "" {
		about := l.each
		if about == "" && strings.Contains(tests, "tissues.") {
			about = "tissues"
		}
		var err error
		if l.when, err = schema.Content().Statement(strings.Split(tests, " and "), about); err != nil {
			return l, err
		}
	}
	for _, m := range reportField.FindAllStringSubmatchIndex(l.text, -1) {
		path := l.text[m[2]:m[3]]
		row, known := schema.Content().Row(path)
		if !known {
			return l, fmt.Errorf("no field %q", path)
		}
		l.typed = l.typed || m[0] == 0 && row.ListName() == ""
	}
	if l.each != "" {
		if g, ok := schema.Content().Group(l.each); !ok || g.Many == "" {
			return l, fmt.Errorf("%q is no list", l.each)
		}
	}
	return l, nil
}

// teller fills the lines of one report from one entry.
type teller struct {
	r      *report
	p      *Phrases
	view   *schema.View
	e      *schema.Entry
	tissue int // the report's own, from 0; -1 when it is about none
}

// sections are the report's tables, and the labels without an answer.
func (t *teller) sections() (out []Section, missing []string) {
	for _, s := range t.r.sections {
		table := &Table{Header: []string{"Item", "Stated"}}
		row := map[string]int{}
		for _, l := range s.lines {
			for _, answer := range t.answers(l) {
				at, known := row[answer.Label]
				switch {
				case !known:
					row[answer.Label] = len(table.Rows)
					table.Rows = append(table.Rows, []string{answer.Label, answer.Value})
				case answer.Value != "" && table.Rows[at][1] != "":
					table.Rows[at][1] += "; " + answer.Value
				case answer.Value != "":
					table.Rows[at][1] = answer.Value
				}
			}
		}
		for _, r := range table.Rows {
			if r[1] == "" {
				r[1] = t.r.words["missing"]
			} else if !strings.HasPrefix(r[1], t.gap("")) {
				continue
			}
			missing = append(missing, r[0])
		}
		if len(table.Rows) > 0 {
			out = append(out, Section{Key: "report", Title: s.title, Blocks: []Block{{Table: table}}})
		}
	}
	return out, missing
}

// gap is the beginning of an honest gap; with a reason the whole of it.
func (t *teller) gap(reason string) string {
	words := t.r.words["gap"]
	if reason == "" {
		words, _, _ = strings.Cut(words, "{reason}")
		return words
	}
	return strings.ReplaceAll(words, "{reason}", reason)
}

// answers are what one line says: nothing for an optional one without its fields,
// an empty value for one that must be answered.
func (t *teller) answers(l reportLine) []Item {
	items := 1
	if l.each != "" {
		items = t.e.Count(l.each)
	}
	var out []Item
	for i := range items {
		item := i
		if l.each == "" {
			item = t.tissue
		}
		label := strings.ReplaceAll(l.label, "{number}", fmt.Sprint(i+1))
		holds := t.view.Holds(l.when, max(item, 0))
		value := ""
		if holds {
			value = t.fill(l.text, item)
			if !l.typed {
				value = capital(value)
			}
		}
		if value != "" || l.must || l.asked && holds {
			out = append(out, Item{label, value})
		}
	}
	return out
}

// fill writes the text of a line; "" when a field outside brackets is silent, and
// the reason when it is an honest gap.
func (t *teller) fill(text string, item int) string {
	text = reportOption.ReplaceAllStringFunc(text, func(m string) string {
		s, reason, ok := t.put(m[1:len(m)-1], item)
		if !ok || reason != "" {
			return ""
		}
		return s
	})
	s, reason, ok := t.put(text, item)
	switch {
	case !ok && reason != "":
		return t.gap(reason)
	case !ok:
		return ""
	}
	return s
}

func (t *teller) put(text string, item int) (out, reason string, ok bool) {
	ok = true
	out = reportField.ReplaceAllStringFunc(text, func(m string) string {
		part := reportField.FindStringSubmatch(m)
		f := t.e.At(part[1])
		if f == nil {
			f = t.e.Item(part[1], max(item, 0))
		}
		if f == nil || !f.Recorded() {
			ok = false
			if f != nil {
				if why, gap := f.NotRecorded(); gap {
					reason = why
				}
			}
			return ""
		}
		if part[2] == "order" {
			return strings.Join(itemWords(f), ", then ")
		}
		if n := itemNumber(f.Text()); n != "" && part[1] == "true-states.at" {
			return strings.ToLower(n[:1]) + n[1:] // the item that a state is about, named as in the tables
		}
		return t.p.Say(f)
	})
	return out, reason, ok
}

// page is the frame of a report: the identity and the signatures of the note that
// it is made of.
func (r *Reports) page(rep *report, c schema.Checked, so *Signoff, language, id string, tissue int) (Document, error) {
	base, err := Build(c, r.phrases, Options{Language: language, ToSign: so != nil})
	if err != nil {
		return Document{}, err
	}
	if so != nil {
		base = base.Sign(*so)
	}
	t := &teller{r: rep, p: r.phrases, view: schema.NewView(c.Entry()), e: c.Entry(), tissue: tissue}
	d := Document{ID: id, Language: base.Language, Title: rep.words["title"], Subtitle: rep.words["subtitle"], Draft: base.Draft,
		Status: base.Status, Mark: base.Mark, Banner: base.Banner, Cautions: []string{rep.words["caution"]}}
	var missing []string
	d.Sections, missing = t.sections()
	d.Sections = append(d.Sections, madeFrom(rep, c, base, missing))
	return d, nil
}

// madeFrom says what the report could not tell, and of which signed note it is
// made, with the signature as every readable form shows it (21 CFR 11.50).
func madeFrom(rep *report, c schema.Checked, base Document, missing []string) Section {
	t := &Table{Header: []string{"Item", "Stated"}}
	gaps := rep.words["all-stated"]
	if len(missing) > 0 {
		gaps = strings.Join(missing, "; ")
	}
	t.Rows = append(t.Rows, []string{rep.words["not-stated"], capital(gaps)})
	for _, s := range base.Signatures {
		t.Rows = append(t.Rows, []string{capital(s.Meaning), s.Name + " (" + s.Role + "), " + s.When()})
	}
	if n := len(base.Revisions); n > 0 {
		t.Rows = append(t.Rows, []string{rep.words["revision"], fmt.Sprintf("%s, %d", c.ID(), base.Revisions[n-1].Number)})
	}
	t.Rows = append(t.Rows, []string{rep.words["entry"], c.Digest()})
	return Section{Key: "report", Title: rep.words["source"], Blocks: []Block{{Table: t}}}
}

// Tissue is the report to the eye bank on one tissue, counted from 1. It names
// the patient only when asked to.
func (r *Reports) Tissue(c schema.Checked, so *Signoff, language string, tissue int, withName bool) (Document, error) {
	if !c.Valid() {
		return Document{}, ErrUnchecked
	}
	total := c.Entry().Count("tissues")
	if tissue < 1 || tissue > total {
		return Document{}, fmt.Errorf("note: the entry has no tissue %d", tissue)
	}
	d, err := r.page(r.tissue, c, so, language, fmt.Sprintf("%s.tissue-%d", c.ID(), tissue), tissue-1)
	if err != nil {
		return d, err
	}
	opened := r.tissue.words["not-opened"]
	if c.Entry().Derive("tissue-opened")[tissue-1].Code == "yes" {
		opened = r.tissue.words["opened"]
	}
	d.Subtitle = strings.NewReplacer("{number}", fmt.Sprint(tissue), "{total}", fmt.Sprint(total), "{opened}", opened).Replace(d.Subtitle)
	if !withName {
		w := r.tissue.words
		d.Banner = Banner{Patient: w["patient"], PatientID: w["withheld"], Born: w["withheld"], Eye: d.Banner.Eye, Operated: d.Banner.Operated,
			Site: d.Banner.Site, Surgeon: d.Banner.Surgeon}
	}
	return d, nil
}

// Coder is the half page for the coder.
func (r *Reports) Coder(c schema.Checked, so *Signoff, language string) (Document, error) {
	if !c.Valid() {
		return Document{}, ErrUnchecked
	}
	return r.page(r.coder, c, so, language, c.ID()+".coder", 0)
}
