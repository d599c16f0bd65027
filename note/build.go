package note

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"graftnote/schema"
)

// Options for a note. There is no clock: all times come from the entry.
type Options struct {
	Language string // BCP 47 tag; "en-GB" when empty
	// ToSign makes the document that is put before a signer, in the words that the
	// signature will bind: no value of the standing technique is marked, since the
	// signature confirms each. Until it is signed it is a draft all the same.
	ToSign bool
}

// ErrUnchecked is returned for a value that schema did not make.
var ErrUnchecked = errors.New("note: the entry was not checked")

// mustAnswer are the sections that a reader must find answered: the eight that
// HL7's Operative Note requires, the indication and the implants.
var mustAnswer = []string{"preoperative", "postoperative", "anaesthesia", "description", "findings",
	"complications", "blood-loss", "specimens", "indication", "implants"}

// Build writes the note of a checked entry. A draft is marked as one and lists
// its gaps.
func Build(c schema.Checked, p *Phrases, o Options) (Document, error) {
	if !c.Valid() {
		return Document{}, ErrUnchecked
	}
	if o.Language == "" {
		o.Language = "en-GB"
	}
	e := c.Entry()
	s := newSpeaker(p, e)
	if !o.ToSign {
		s.mark = p.words["unconfirmed-mark"]
	}
	d := Document{
		ID: c.DraftID(), Language: o.Language, Title: p.words["title"], Subtitle: capital(e.Procedure.Performed.Words()),
		Draft: true, Mark: p.words["draft-mark"], Status: p.words["draft"], Cautions: p.cautions, Diagram: s.diagram(),
		Sources: []Attachment{EntrySource(c)},
	}
	s.banner(&d)
	d.Timeline, d.Standing = s.timeline(), []Item{{p.words["signed"], p.words["not-signed"]}}
	if e.Episode.Date.Recorded() {
		d.Date = e.Episode.Date.Value().String()
	}
	d.Alerts = s.alerts()
	d.Sections = s.sections()
	d.Brief = s.brief()
	for _, f := range c.Gaps() {
		d.Gaps = append(d.Gaps, s.typed(f))
	}
	if len(d.Gaps) > 0 {
		d.Status = p.words["draft-gaps"]
	}
	e.Walk(func(r *schema.Row, item int, f schema.Field) {
		if f.Recorded() && f.Origin() == schema.Technique {
			d.Unconfirmed = append(d.Unconfirmed, Item{s.label(r, item), s.say(f)})
		}
	})
	if o.ToSign {
		d.Confirmed, d.Unconfirmed = d.Unconfirmed, nil
		s.laterWords(&d)
	}
	return d, nil
}

// EntrySource is the entry as a file inside the PDF.
func EntrySource(c schema.Checked) Attachment {
	return Attachment{Name: "entry.json", MIME: "application/json", Description: "The entry that this note was made from, in canonical JSON.", Data: c.Canonical()}
}

// label names a field with its group, and with its number in a list group.
func (s *speaker) label(r *schema.Row, item int) string {
	if r.Group.Many != "" {
		return fmt.Sprintf("%s %d, %s", capital(r.Group.Many), item+1, lower(r.Title))
	}
	return FieldName(r)
}

// FieldName is the title of a field that stands alone, with its group where the
// title does not name it: "Method" says little without the trephination.
func FieldName(r *schema.Row) string {
	head := r.Group.Title
	if r.Group.Many != "" {
		head = capital(r.Group.Many)
	}
	if r.Group.Key == "" || r.Title == head || strings.HasPrefix(lower(r.Title), lower(head)+" ") {
		return r.Title
	}
	return head + ": " + lower(r.Title)
}

// sections first says what the phrases say, then lists whatever the phrases
// left out, so that no recorded value can be missing from the note.
func (s *speaker) sections() []Section {
	var out []Section
	open := make([]bool, len(s.p.sections))
	for i, row := range s.p.sections {
		s.marked = false
		out = append(out, Section{Key: row.key, Title: row.title, Blocks: s.blocks(row.key)})
		open[i] = s.marked
	}
	for i, row := range s.p.sections {
		if len(out[i].Blocks) == 0 && len(row.groups) == 0 { // its answers belong to other sections
			for _, gap := range s.gaps(row.key) {
				out[i].Blocks = append(out[i].Blocks, Block{Paragraph: gap})
			}
		}
	}
	for i, row := range s.p.sections {
		s.marked = open[i]
		if rest := s.leftover(row.groups); len(rest) > 0 {
			out[i].Blocks = append(out[i].Blocks, Block{List: rest})
		}
		if s.marked { // each section explains its marks: a bundle carries them one by one
			out[i].Blocks = append(out[i].Blocks, Block{Paragraph: s.word("unconfirmed-legend", "{mark}", s.mark)})
		}
		if len(out[i].Blocks) == 0 && slices.Contains(mustAnswer, row.key) {
			out[i].Blocks = []Block{{Paragraph: "Not stated."}}
		}
	}
	return slices.DeleteFunc(out, func(x Section) bool { return len(x.Blocks) == 0 })
}

func (s *speaker) blocks(key string) []Block {
	switch key {
	case "team":
		return s.team()
	case "measurements":
		return s.measurements()
	case "description":
		return slices.Concat(s.prose("description"), s.attempts(), s.prose("after-attempts"), s.eventsPointed(), s.noDiagram())
	case "complications":
		return slices.Concat(s.events(), s.statesTold())
	case "implants":
		return slices.Concat(s.columns("tissues", s.p.words["tissue"]), s.prose("backup"), s.columns("supplies", "Supply"))
	case "account":
		if story := s.e.Story; story.Recorded() {
			return []Block{{Quote: reflow(story.Value())}}
		}
		return nil
	case "follow-up":
		return s.columns("visits", "Visit")
	}
	return s.prose(key)
}

// eventsPointed keeps the order of events: whoever reads the steps is told what
// happened at them and where it stands.
func (s *speaker) eventsPointed() []Block {
	if steps := s.eventSteps(); steps != "" {
		return []Block{{Paragraph: s.word("events-pointed", "{events}", steps)}}
	}
	return nil
}

// noDiagram says why nothing is drawn of an eye that is not agreed.
func (s *speaker) noDiagram() []Block {
	if !s.eyeOpen() {
		return nil
	}
	return []Block{{Paragraph: s.p.words["no-diagram"]}}
}

func (s *speaker) prose(key string) []Block {
	var out []Block
	for _, p := range s.paragraphs(key) {
		out = append(out, Block{Paragraph: p})
	}
	return out
}

// leftover lists the answers of single groups that no sentence said.
func (s *speaker) leftover(groups []string) []string {
	var out []string
	for _, key := range groups {
		g, _ := schema.Content().Group(key)
		if g.Many != "" {
			switch state := s.e.List(key); {
			case state.Reason != "":
				out = append(out, s.word("not-recorded", "{title}", g.Title, "{reason}", state.Reason))
			case state.Unread():
				out = append(out, closed(g.Title+": "+s.p.words["not-understood"]))
			}
			continue
		}
		for _, r := range g.Fields {
			f := s.e.At(r.Path())
			if reason, gap := f.NotRecorded(); gap && !s.excused[r.Path()] {
				out = append(out, s.word("not-recorded", "{title}", s.label(r, 0), "{reason}", reason))
			} else if said := s.unread(f); said != "" && !s.excused[r.Path()] {
				out = append(out, s.named(r, 0, said))
			} else if f.Recorded() && !s.said[r.Path()] {
				out = append(out, closed(s.label(r, 0)+": "+s.flag(f, s.say(f))))
			}
		}
	}
	return out
}

// gaps says which of the fields that a section speaks of were honestly not
// recorded, so that a section a reader looks for is not called unstated.
func (s *speaker) gaps(section string) []string {
	var out []string
	seen := map[string]bool{}
	for _, sentences := range s.p.sentences[section] {
		for _, line := range sentences {
			unread := slices.ContainsFunc(line.parts, func(p part) bool { return s.unread(s.e.At(p.path)) != "" })
			for _, p := range line.parts {
				f := s.e.At(p.path)
				if p.path == "" || f == nil || seen[p.path] {
					continue
				}
				if reason, gap := f.NotRecorded(); gap {
					seen[p.path], s.excused[p.path] = true, true
					out = append(out, s.word("not-recorded", "{title}", f.Row().Title, "{reason}", reason))
				} else if said := s.unread(f); said != "" {
					seen[p.path], s.excused[p.path] = true, true
					out = append(out, s.named(f.Row(), 0, said))
				} else if unread && f.Recorded() && s.view.Holds(line.when, 0) { // its sentence can't be said, it can
					seen[p.path] = true
					out = append(out, s.named(f.Row(), 0, s.flag(f, s.say(f))))
				}
			}
		}
	}
	return out
}

func (s *speaker) events() []Block {
	state := s.e.List("events")
	if state.None {
		return s.prose("complications-none")
	}
	var events []Event
	for i, ev := range s.e.Events {
		x := Event{Title: s.p.words["event"]}
		if kind := s.eventKind(ev); kind != "" {
			x.Title = kind
		}
		g, _ := schema.Content().Group("events")
		for _, r := range g.Fields {
			f := s.e.Item(r.Path(), i)
			switch words, ok := s.sayOrGap(f); {
			case !ok || r.Key == "kind":
			case r.Key == "detail" && f.Recorded():
				x.Text = closed(capital(words))
			default:
				x.Facts = append(x.Facts, Item{r.Title, words})
			}
		}
		events = append(events, x)
	}
	if len(events) == 0 {
		return nil
	}
	return []Block{{Events: events}}
}

func lower(s string) string {
	if len(s) > 1 && (s[1] >= 'A' && s[1] <= 'Z' || s[1] >= '0' && s[1] <= '9') { // an abbreviation or K1 stays
		return s
	}
	r := []rune(s)
	if len(r) == 0 {
		return s
	}
	if r[0] >= 'A' && r[0] <= 'Z' {
		r[0] += 'a' - 'A'
	}
	return string(r)
}

// reflow joins the lines of a paragraph; a blank line still parts paragraphs.
func reflow(text string) string {
	var out []string
	for _, p := range strings.Split(strings.ReplaceAll(text, "\r\n", "\n"), "\n\n") {
		if p = strings.Join(strings.Fields(p), " "); p != "" {
			out = append(out, p)
		}
	}
	return strings.Join(out, "\n")
}
