package note

import (
	"fmt"
	"strings"

	"graftnote/schema"
)

// team lists everyone with role and task; a name alone is not enough for those
// who did surgical tasks.
func (s *speaker) team() []Block {
	if len(s.e.Team) == 0 {
		return nil
	}
	t := &Table{Header: []string{"Name", "Role", "Grade", "Did"}}
	for i := range s.e.Team {
		t.Rows = append(t.Rows, []string{
			s.person(i), s.cell("team.role", i), s.cell("team.grade", i), s.cell("team.did", i)})
	}
	return []Block{{Table: t}}
}

// cell is an answer of a list item; silence is an empty cell.
func (s *speaker) cell(path string, item int) string {
	words, _ := s.sayOrGap(s.e.Item(path, item))
	return words
}

// person is a name with the registration number behind it.
func (s *speaker) person(item int) string {
	id := s.e.Item("team.id", item)
	words, ok := s.sayOrGap(id)
	switch {
	case !ok:
		return s.cell("team.name", item)
	case id.Recorded():
		return s.cell("team.name", item) + " (" + words + ")"
	}
	return s.cell("team.name", item) + ", " + lower(id.Row().Title) + " " + words
}

// measurements are the single answers about the eye before surgery, with what
// was computed from them.
func (s *speaker) measurements() []Block {
	t := &Table{Header: []string{"Measurement", "Value"}}
	for _, key := range []string{"patient", "eye", "before"} {
		g, _ := schema.Content().Group(key)
		for _, r := range g.Fields {
			f := s.e.At(r.Path())
			if words, ok := s.sayOrGap(f); ok && f.Recorded() && (key != "patient" || !s.said[r.Path()]) {
				s.said[r.Path()] = true
				t.Rows = append(t.Rows, []string{r.Title, words})
			}
		}
	}
	for _, d := range schema.Content().Derived {
		if !d.Shown {
			continue
		}
		if words, ok := s.view.Derived(d.Name, 0); ok {
			t.Rows = append(t.Rows, []string{d.Title + " (" + s.p.words["derived"] + ")", words})
		}
	}
	if len(t.Rows) == 0 {
		return nil
	}
	return []Block{{Table: t}}
}

// attempts are one row each, in their order. Related facts share a cell, so the
// table fits the page.
func (s *speaker) attempts() []Block {
	if len(s.e.Injections) == 0 {
		return nil
	}
	columns := []struct {
		title string
		keys  []string
	}{
		{"With", []string{"medium", "volume"}},
		{"Through", []string{"instrument", "gauge"}},
		{"Entry", []string{"hour", "site", "advance", "tip-depth", "tip-residual"}},
		{"Stopped because", []string{"stopped"}},
		{"Result", []string{"result"}},
	}
	g, _ := schema.Content().Group("injections")
	t := &Table{Header: []string{s.p.words["attempt"]}}
	placed := map[string]bool{}
	for _, c := range columns {
		t.Header = append(t.Header, c.title)
		for _, k := range c.keys {
			placed[k] = true
		}
	}
	for i := range s.e.Injections {
		row := []string{fmt.Sprint(i + 1)}
		for _, c := range columns {
			var cell []string
			for n, k := range c.keys {
				f := s.e.Item("injections."+k, i)
				words, ok := s.sayOrGap(f)
				if !ok {
					continue
				}
				if n > 0 && (!f.Recorded() || k == "advance" || k == "tip-depth" || k == "tip-residual") {
					r, _ := g.Row(k)
					words = lower(r.Title) + " " + words
				}
				cell = append(cell, words)
			}
			row = append(row, strings.Join(cell, ", "))
		}
		t.Rows = append(t.Rows, row)
	}
	out := []Block{{Table: t}}
	for i := range s.e.Injections { // a field added later is still said
		for _, r := range g.Fields {
			if words, ok := s.sayOrGap(s.e.Item(r.Path(), i)); ok && !placed[r.Key] {
				out = append(out, Block{List: []string{closed(s.label(r, i) + ": " + words)}})
			}
		}
	}
	return out
}

// perTable is how many items stand side by side before a new table begins.
const perTable = 3

// columns lays a list group out with one column an item and one row a field.
func (s *speaker) columns(group, title string) []Block {
	g, _ := schema.Content().Group(group)
	n := s.e.Count(group)
	var out []Block
	for from := 0; from < n; from += perTable {
		to := min(n, from+perTable)
		t := &Table{Header: []string{""}}
		for i := from; i < to; i++ {
			t.Header = append(t.Header, fmt.Sprintf("%s %d", title, i+1))
		}
		for _, r := range g.Fields {
			row, any := []string{r.Title}, false
			for i := from; i < to; i++ {
				words := s.cell(r.Path(), i)
				any = any || words != ""
				row = append(row, words)
			}
			if any {
				t.Rows = append(t.Rows, row)
			}
		}
		out = append(out, Block{Table: t})
	}
	return out
}
