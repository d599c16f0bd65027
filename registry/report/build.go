package report

import (
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"graftnote/note"
	"graftnote/registry/figures"
)

// Build makes the report. The same data and options give the same report; the
// order of the rows matters only when they are Ordered. Errors: ErrMinimum,
// ErrOptions, ErrCounts, ErrKey, ErrTooLarge.
func Build(d Data, o Options) (note.Report, error) {
	r, err := work(d, o)
	if err != nil {
		return note.Report{}, err
	}
	b := &builder{result: r, w: content(), cited: map[string]int{}}
	b.head(d)
	if err := b.denominator(d.Counts); err != nil {
		return note.Report{}, err
	}
	if len(d.GivenUp) > 0 {
		b.section("given-up", "What was given up to protect people", &note.ReportBlock{List: d.GivenUp})
	}
	if len(r.all) > 0 {
		b.operations()
		b.separation()
		b.events()
		b.acuitySection()
		b.astigmatism()
		b.survivalSection()
		b.learning()
		b.completeness()
	}
	b.sources()
	return b.out, nil
}

// builder puts the result into words.
type builder struct {
	*result
	w     *words
	out   note.Report
	cited map[string]int // citation to its number
	order []string
}

// section adds a headed part; nil blocks are left out.
func (b *builder) section(key, title string, blocks ...*note.ReportBlock) {
	s := note.ReportSection{Key: key, Title: title}
	for _, block := range blocks {
		if block != nil {
			s.Blocks = append(s.Blocks, *block)
		}
	}
	b.out.Sections = append(b.out.Sections, s)
}

func paragraph(text string) *note.ReportBlock { return &note.ReportBlock{Paragraph: text} }

func warning(text string) *note.ReportBlock {
	if text == "" {
		return nil
	}
	return &note.ReportBlock{Caution: text}
}

func table(t note.ReportTable) *note.ReportBlock { return &note.ReportBlock{Table: &t} }

func chart(c *note.Chart, caption, alt string) *note.ReportBlock {
	c.Caption, c.Alt = caption, alt
	return &note.ReportBlock{Chart: c}
}

func (b *builder) head(d Data) {
	b.out = note.Report{Language: "en-GB", Title: b.w.Title, Subtitle: strings.Trim(b.o.Period+". "+b.scope(d.Scope), ". "), Name: b.w.Name}
	if b.out.Subtitle != b.o.Period {
		b.out.Subtitle += "."
	}
	if b.o.Period != "" {
		b.out.Name += ", " + b.o.Period
	}
	fact := func(label, value string) {
		if value != "" {
			b.out.Facts = append(b.out.Facts, note.Item{Label: label, Value: value})
		}
	}
	fact("Site", b.o.Site)
	fact("Only", b.o.Filter.String())
	total := b.n.get(byIndication, "", "")
	fact("Operations", total.String())
	if people := persons(b.all); people > 0 && !total.hidden && (b.o.Unmasked || apart(people, total.n, b.o.Minimum)) {
		fact("People", strconv.Itoa(people))
	}
	smallest := strconv.Itoa(b.o.Minimum)
	if b.o.Unmasked {
		smallest = "all are shown"
	}
	fact("Smallest count shown", smallest)
	if b.o.Unmasked {
		b.out.Alerts = append(b.out.Alerts, b.w.say("unmasked"))
	} else {
		b.out.Alerts = append(b.out.Alerts, b.w.say("masked", "below", strconv.Itoa(b.o.Minimum-1), "mark", mark))
	}
	if len(b.all) == 0 {
		b.out.Alerts = append(b.out.Alerts, b.w.say("empty"))
	}
	if b.lost {
		b.out.Alerts = append(b.out.Alerts, b.w.say("lost"))
	}
	b.out.Cautions = []string{b.w.say("eyes") + " " + b.w.say("rare"), figures.Caution("published")}
}

var word = regexp.MustCompile(`[\pL\pN][\pL\pN./:–-]*`)

// scope is the caller's sentence without the numbers that the report hides.
func (b *builder) scope(text string) string {
	if b.o.Unmasked {
		return text
	}
	return word.ReplaceAllStringFunc(text, func(w string) string {
		bare := strings.TrimRight(w, ".:/")
		n, err := strconv.Atoi(bare)
		total := len(b.all)
		if err != nil || apart(n, 0, b.o.Minimum) && (n > total || apart(n, total, b.o.Minimum)) && (n != total || !b.n.get(byIndication, "", "").hidden) {
			return w
		}
		return mark + w[len(bare):]
	})
}

// persons counts the people behind the eyes; 0 when a row does not say.
func persons(all []eye) int {
	seen := map[string]bool{}
	for _, e := range all {
		if e.row.Cell("person_key") == "" {
			return 0
		}
		seen[e.row.Cell("person_key")] = true
	}
	return len(seen)
}

// denominator says what became of all operations of the period.
func (b *builder) denominator(c *Counts) error {
	if c == nil {
		return nil
	}
	held, reasons := 0, figures.Table{Name: "held back"}
	for _, h := range c.Held {
		if h.N < 0 {
			return ErrCounts
		}
		held += h.N
		reasons.Rows = append(reasons.Rows, h.Reason)
		reasons.Counts = append(reasons.Counts, []int{h.N})
	}
	if c.Sent < 0 || c.Signed < c.Sent || c.Operated < c.Signed {
		return ErrCounts
	}
	shown := b.shownCounts(c)
	t := note.ReportTable{Caption: "What became of the operations of the period", Header: []string{"Operations", "Number"}}
	if c.Theatre >= 0 {
		t.Rows = append(t.Rows, []string{"Counted by the theatre", shown.theatre.String()})
	}
	t.Rows = append(t.Rows, []string{"Entered, signed or not", shown.operated.String()})
	parts := &figures.MaskedTable{}
	if len(reasons.Rows) > 0 {
		m, err := hide([]figures.Table{reasons}, b.o)
		if err != nil {
			return err
		}
		parts = m.table(reasons.Name)
	}
	covered, someHidden := shown.operated.hidden || parts.Grand.Masked, false
	for i, h := range c.Held {
		n := of(parts.Cells[i][0])
		if covered && h.N > 0 {
			n = count{hidden: true}
		}
		someHidden = someHidden || n.hidden
		t.Rows = append(t.Rows, []string{"Held back: " + h.Reason, n.String()})
	}
	if someHidden { // what was signed and not sent is a sum of reasons
		shown.signed = count{hidden: true}
	}
	t.Rows = append(t.Rows, []string{"Signed", shown.signed.String()}, []string{"Sent", shown.sent.String()})
	blocks := []*note.ReportBlock{table(t)}
	blocks = append(blocks, b.adds(c, shown, held))
	b.section("denominator", "Denominator", blocks...)
	return nil
}

// adds says in one sentence whether the counts add up, with no number that is
// hidden.
func (b *builder) adds(c *Counts, shown shownCounts, held int) *note.ReportBlock {
	sum := b.w.say("sums-up")
	if c.Sent+held != c.Operated {
		sum = b.w.say("sums-differ")
	}
	d := c.Theatre - c.Operated
	by := ""
	if !shown.theatre.hidden && !shown.operated.hidden {
		by = " " + strconv.Itoa(max(d, -d))
	}
	key := "theatre-same"
	switch {
	case c.Theatre < 0:
		key = "theatre-none"
	case d > 0:
		key = "theatre-more"
	case d < 0:
		key = "theatre-fewer"
	}
	text := b.w.say(key, "by", by, "sums", sum)
	switch {
	case c.Theatre < 0 && c.Sent+held == c.Operated:
		return warning(text)
	case d != 0 || c.Sent+held != c.Operated:
		return warning(b.w.say("no-sum") + " " + lowerFirst(text))
	}
	return paragraph(b.w.say("sum") + " " + text)
}

type shownCounts struct{ theatre, operated, signed, sent count }

// shownCounts hides each count that differs by a small number from one shown
// before it, beginning with what was sent: the rows are there for all to count.
func (b *builder) shownCounts(c *Counts) shownCounts {
	if b.o.Unmasked {
		return shownCounts{count{n: c.Theatre}, count{n: c.Operated}, count{n: c.Signed}, count{n: c.Sent}}
	}
	before := []int{0} // a count is to differ from zero as well
	show := func(n int) count {
		for _, k := range before {
			if !apart(n, k, b.o.Minimum) {
				return count{hidden: true}
			}
		}
		before = append(before, n)
		return count{n: n}
	}
	var s shownCounts
	s.sent = show(c.Sent)
	if s.sent.hidden || c.Sent == len(b.all) && b.n.get(byIndication, "", "").hidden {
		hidden := count{hidden: true}
		return shownCounts{hidden, hidden, hidden, hidden}
	}
	s.operated = show(c.Operated)
	s.signed = show(c.Signed)
	s.theatre = show(c.Theatre)
	return s
}

// cite numbers a source in the order of first mention.
func (b *builder) cite(citation string) string {
	n, ok := b.cited[citation]
	if !ok {
		b.order = append(b.order, citation)
		n = len(b.order)
		b.cited[citation] = n
	}
	return fmt.Sprintf("[%d]", n)
}

// published is the table of the literature's figures for some measures.
func (b *builder) published(ids ...string) *note.ReportBlock {
	t := note.ReportTable{Caption: "Published figures", Header: []string{"Measure", "Figure as published", "Eyes", "Population", "Source"}}
	for _, m := range figures.Published() {
		if !slices.Contains(ids, m.ID) {
			continue
		}
		for i, f := range m.Figures {
			name := ""
			if i == 0 {
				name = m.Title
			}
			eyes := "not given"
			if f.Of > 0 {
				eyes = strconv.Itoa(f.Of)
			}
			t.Rows = append(t.Rows, []string{name, f.Text, eyes, f.Population, b.cite(f.Citation)})
		}
		if len(m.Figures) == 0 {
			t.Rows = append(t.Rows, []string{m.Title, b.w.say("blank"), "", "", ""})
		}
	}
	if slices.ContainsFunc(t.Rows, func(r []string) bool { return strings.Contains(r[3], "KC") }) {
		t.Notes = []string{b.w.say("kc")}
	}
	return table(t)
}

func (b *builder) sources() {
	var list []string
	for i, c := range b.order {
		list = append(list, fmt.Sprintf("[%d] %s", i+1, c))
	}
	if len(list) > 0 {
		b.section("sources", "Sources of the published figures", paragraph(figures.Caution("published")), &note.ReportBlock{List: list})
	}
}
