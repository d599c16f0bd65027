package schema

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/agnivade/levenshtein"
	"go.yaml.in/yaml/v3"
)

// Options is what reading and checking need from outside: nothing here is read
// from the machine.
type Options struct {
	Now       time.Time                // when the check runs
	Technique *TechniqueFile           // the surgeon's habits, nil for none
	Site      *Site                    // the hospital's settings, nil for the defaults
	Covers    func(text string) []rune // runes the printed note cannot draw; nil: all can
	RowColumn func(name string) bool   // whether the registry row has such a column; nil: all do
}

// Case is one operated eye as read: the entry and what was found while reading.
type Case struct {
	Entry    *Entry
	At       Pos
	findings []Finding
	doc      *document
}

// Reading is one file as read. Cases hold whatever could be read; Findings are
// about the file as a whole.
type Reading struct {
	Name     string
	Cases    []*Case
	Findings []Finding
}

// Read turns one file into cases. It never stops at a fault: every fault
// becomes a finding and reading goes on.
func Read(src Source, o Options) *Reading {
	out := &Reading{Name: src.Name}
	c := newCollector()
	for _, d := range src.parse(c) {
		r := reader{collector: newCollector(), doc: d, o: o}
		out.Cases = append(out.Cases, r.document()...)
		c.findings = append(c.findings, r.findings...)
	}
	out.Findings = c.findings
	return out
}

// formatVersion is the version of the entry format that is read and written.
const formatVersion = "1"

// reader reads one document.
type reader struct {
	*collector
	doc  *document
	o    Options
	path string // of the field being read, with its item
}

// document reads a single case, or a list of cases under a shared header.
func (r *reader) document() []*Case {
	top := &reader{collector: newCollector(), doc: r.doc, o: r.o}
	keys, ok := top.mapping(r.doc.root, "", 1)
	_, isList := keys["cases"]
	if ok && !isList { // the case itself says what is wrong at its top
		return []*Case{r.oneCase(r.doc.root, nil)}
	}
	r.findings = append(r.findings, top.findings...)
	if !ok {
		return nil
	}
	header := &Entry{}
	for _, k := range sortedKeys(keys) {
		switch k.key.Value {
		case "graftnote", "cases":
		case "list":
			header = r.header(k.value)
		default:
			r.unknown(k, "", []string{"graftnote", "list", "cases"})
		}
	}
	n := keys["cases"].value
	if n.Kind != yaml.SequenceNode {
		r.node(r.doc, "wrong-shape", n, "cases", func(f *Finding) { f.What = "'cases' holds a list: each case begins with a dash." })
		return nil
	}
	if len(n.Content) > maxCases {
		r.tooMany(n, "cases", maxCases)
		return nil
	}
	cases := make([]*Case, 0, len(n.Content))
	for _, item := range n.Content {
		cases = append(cases, r.oneCase(item, header))
	}
	if len(cases) > 0 { // a fault of what the cases share is a fault of each
		for _, cs := range cases {
			cs.findings = slices.Concat(r.findings, cs.findings)
		}
		r.findings = nil
	}
	return cases
}

// header reads the groups that cases of one list share.
func (r *reader) header(n *yaml.Node) *Entry {
	e := newEntry(r.doc.pos(n))
	keys, ok := r.mapping(n, "list", 2)
	if !ok {
		return e
	}
	for _, k := range sortedKeys(keys) {
		if k.key.Value != "episode" && k.key.Value != "team" {
			r.unknown(k, "list", []string{"episode", "team"})
			continue
		}
		g, _ := r.dict.Group(k.key.Value)
		r.group(e, g, k, Header)
	}
	return e
}

func newEntry(at Pos) *Entry {
	return &Entry{lists: map[string]ListState{}, places: map[string]Pos{"": at}}
}

func (r *reader) oneCase(n *yaml.Node, header *Entry) *Case {
	own := &reader{collector: newCollector(), doc: r.doc, o: r.o}
	e := newEntry(r.doc.pos(n))
	cs := &Case{Entry: e, At: r.doc.pos(n), doc: r.doc}
	top, _ := own.dict.Group("")
	if keys, ok := own.mapping(n, "", 1); ok {
		for _, k := range sortedKeys(keys) {
			if row, ok := top.Row(k.key.Value); ok {
				own.field(e, row, 0, k.value, Typed)
			} else if g, ok := own.dict.Group(k.key.Value); ok && g.Key != "" {
				own.group(e, g, k, Typed)
			} else {
				own.unknown(k, "", own.groupKeys())
			}
		}
	}
	if header != nil {
		inherit(e, header)
	}
	own.format(e)
	spreadStitches(e)
	own.markTechnique(e)
	r.o.Technique.fill(e)
	cs.findings = own.findings
	return cs
}

func (r *reader) groupKeys() []string {
	var keys []string
	for _, g := range r.dict.Groups {
		if g.Key != "" {
			keys = append(keys, g.Key)
			continue
		}
		for _, f := range g.Fields {
			keys = append(keys, f.Key)
		}
	}
	return keys
}

// pair is one key of a mapping with its value.
type pair struct{ key, value *yaml.Node }

// mapping checks the shape of a node and gives its keys. Doubled keys, aliases
// and depth are refused here, once for the whole entry.
func (r *reader) mapping(n *yaml.Node, path string, depth int) (map[string]pair, bool) {
	if !r.plain(n, path) {
		return nil, false
	}
	if n.Kind != yaml.MappingNode || depth > maxDepth {
		r.node(r.doc, "wrong-shape", n, path, nil)
		return nil, false
	}
	if len(n.Content)/2 > maxKeys {
		r.tooMany(n, path, maxKeys)
		return nil, false
	}
	keys := make(map[string]pair, len(n.Content)/2)
	for i := 0; i+1 < len(n.Content); i += 2 {
		k, v := n.Content[i], n.Content[i+1]
		if !r.plain(k, path) {
			continue
		}
		if k.Kind != yaml.ScalarNode {
			r.node(r.doc, "wrong-shape", k, path, nil)
			continue
		}
		if first, twice := keys[k.Value]; twice {
			r.node(r.doc, "key-twice", k, join(path, k.Value), func(f *Finding) {
				f.What = fmt.Sprintf("The same field stands twice: on line %d and on line %d.", first.key.Line, k.Line)
				f.Related = []Related{{join(path, k.Value), r.doc.pos(first.key)}}
			})
			continue
		}
		keys[k.Value] = pair{k, v}
	}
	return keys, true
}

// tooMany refuses what is no entry any more, with one finding for all of it.
func (r *reader) tooMany(n *yaml.Node, path string, limit int) {
	r.node(r.doc, "wrong-shape", n, path, func(f *Finding) {
		f.What = fmt.Sprintf("There are more than %d here, or too many in the file.", limit)
	})
}

// plain refuses aliases, anchors, merge keys and tags: an entry needs none, and
// each can make a small file mean something else.
func (r *reader) plain(n *yaml.Node, path string) bool {
	odd := n.Kind == yaml.AliasNode || n.Anchor != "" || n.Tag == "!!merge" ||
		n.Style&yaml.TaggedStyle != 0
	if odd {
		r.node(r.doc, "no-aliases", n, path, nil)
	}
	return !odd
}

func sortedKeys(keys map[string]pair) []pair {
	out := make([]pair, 0, len(keys))
	for _, p := range keys {
		out = append(out, p)
	}
	slices.SortFunc(out, func(a, b pair) int {
		if a.key.Line != b.key.Line {
			return a.key.Line - b.key.Line
		}
		return a.key.Column - b.key.Column
	})
	return out
}

func join(path, key string) string {
	if path == "" {
		return key
	}
	return path + "." + key
}

// unknown names a key that is no field, with the nearest that is.
func (r *reader) unknown(p pair, group string, known []string) {
	k := p.key
	r.node(r.doc, "unknown-field", k, join(group, "?"), func(f *Finding) {
		if len(r.findings) > maxHints {
			return
		}
		if near := nearest(k.Value, known); near != "" {
			f.Fix = fmt.Sprintf("Write %q if that is meant; 'graftnote fields' lists all.", near)
			return
		}
		for _, g := range r.dict.Groups {
			if _, ok := g.Row(k.Value); ok && g.Key != group {
				f.Fix = fmt.Sprintf("A field of this name belongs under %q.", g.Key)
				return
			}
		}
		if p.value.Kind == yaml.ScalarNode && p.value.Value == "" {
			f.Fix = "Within braces a comma ends the value: write a point for decimals, and put a text with commas in quotes."
		}
	})
}

// nearest known word, when it is near enough to be a slip of the keyboard.
func nearest(word string, known []string) string {
	if len(word) > maxID {
		return ""
	}
	slips := max(1, len(word)/3)
	if len(word) > 3 { // two letters exchanged count as two slips
		slips = max(2, slips)
	}
	best, at := "", 1+slips
	word = strings.ToLower(word)
	for _, k := range known {
		if n := levenshtein.ComputeDistance(word, k); n < at {
			best, at = k, n
		}
	}
	return best
}

// group reads one group of the entry, single or list.
func (r *reader) group(e *Entry, g *Group, k pair, o Origin) {
	e.places[g.Key] = r.doc.pos(k.key)
	if g.Many == "" {
		r.fields(e, g, 0, k.value, o)
		return
	}
	state := ListState{Stated: true, Pos: r.doc.pos(k.value)}
	n := k.value
	if !r.plain(n, g.Key) {
		return
	}
	if reason, said := notRecordedNode(n); said {
		state.Reason = reason
		e.lists[g.Key] = state
		if g.MayBeNone {
			r.node(r.doc, "not-recorded-refused", n, g.Key, nil)
		}
		return
	}
	switch {
	case n.Kind == yaml.ScalarNode && strings.EqualFold(strings.TrimSpace(n.Value), "none"):
		state.None = true
	case n.Kind == yaml.ScalarNode && n.Value == "":
		state.Stated = false
	case n.Kind == yaml.SequenceNode && len(n.Content) == 0:
		state.Stated = false // an empty list is silence, not "none"
	case n.Kind == yaml.SequenceNode && !r.doc.affords(len(n.Content)):
		state.unread = true
		r.tooMany(n, g.Key, maxItems)
	case n.Kind == yaml.SequenceNode:
		e.reserve(g, len(n.Content))
		for _, item := range n.Content {
			state.Items = append(state.Items, r.doc.pos(item))
			r.fields(e, g, e.grow(g), item, o)
		}
	case n.Kind == yaml.MappingNode: // one item may stand without its dash
		state.Items = append(state.Items, r.doc.pos(n))
		r.fields(e, g, e.grow(g), n, o)
	default:
		state.unread = true
		r.node(r.doc, "wrong-shape", n, g.Key, nil)
	}
	e.lists[g.Key] = state
}

func (r *reader) fields(e *Entry, g *Group, item int, n *yaml.Node, o Origin) {
	if n.Kind == yaml.ScalarNode && n.Value == "" && n.Tag == "!!null" {
		return // the heading of a blank form
	}
	keys, ok := r.mapping(n, g.Key, 2)
	if !ok {
		return
	}
	known := make([]string, 0, len(g.Fields))
	for _, f := range g.Fields {
		known = append(known, f.Key)
	}
	for _, k := range sortedKeys(keys) {
		if row, ok := g.Row(k.key.Value); ok {
			r.field(e, row, item, k.value, o)
		} else if g.Many != "" && k.key.Value == itemKey {
			r.itemName(e, g, item, k.value)
		} else {
			r.unknown(k, g.Key, known)
		}
	}
}

// format refuses a version of the entry format that this program does not know:
// it could read a later form wrongly.
func (r *reader) format(e *Entry) { r.knownFormat(e.Graftnote) }

func (r *reader) knownFormat(v Answer[string]) {
	if !v.Recorded() || v.Value() == formatVersion {
		return
	}
	f := r.finding("format-unknown", v.Pos(), "graftnote")
	f.Excerpt = r.doc.line(v.Pos().Line)
	r.push(f)
}
