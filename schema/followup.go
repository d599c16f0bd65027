package schema

import (
	"fmt"
	"slices"

	"go.yaml.in/yaml/v3"
)

// Followup is one follow-up document as read: the operation it names, the
// patient and the eye typed again, who entered it, and its visits.
type Followup struct {
	Graftnote Answer[string]
	Case      Answer[string] // of the operation
	Name      Answer[string] // of whoever entered it
	Role      Answer[Code]
	Consent   Answer[Code] // "no" when the consent to the registry was taken back
	At        Pos

	entry    *Entry // patient, eye and visits as typed; all else is silent
	findings []Finding
	doc      *document
}

// Findings are what was found while reading; CheckFollowup gives them again.
func (f *Followup) Findings() []Finding { return f.findings }

// NamesPatient reports whether the identifier that the document names holds a part
// of the patient's name, number or date of birth, as typed in it.
func (f *Followup) NamesPatient() bool { return f.names(f.entry) }

func (f *Followup) names(of *Entry) bool {
	return (&Entry{Case: f.Case, Patient: of.Patient, Episode: of.Episode}).CaseNamesPatient()
}

// FollowupReading is one file as read. Findings are about the file as a whole.
type FollowupReading struct {
	Name      string
	Documents []*Followup
	Findings  []Finding
}

// followupContent is data/followup.yaml.
type followupContent struct {
	Own     []*Group  `yaml:"own"`
	Again   []string  `yaml:"again"`
	Lists   yaml.Node `yaml:"lists"`
	Windows []Window  `yaml:"windows"`
	Expects string    `yaml:"expects"`
	Ends    []Code    `yaml:"ends"`
	Unseen  []Code    `yaml:"unseen"`

	form []*Group
}

// loadFollowup reads the rows of the follow-up document and puts its form
// together: the own rows, those typed again, and the visits.
func loadFollowup(d *Dictionary) error {
	c := &followupContent{}
	if err := decode("followup.yaml", c); err != nil {
		return err
	}
	loadFollowupLists(d, c.Lists)
	for _, g := range c.Own {
		for _, r := range g.Fields {
			r.Group = g
			if _, ok := followupSlots[r.Path()]; !ok {
				return fmt.Errorf("followup.yaml: no place for %s", r.Path())
			}
			if _, ok := d.Lists[r.List]; r.List != "" && !ok {
				return fmt.Errorf("followup.yaml: %s: no list %s", r.Path(), r.List)
			}
		}
	}
	if _, ok := d.Conditions[c.Expects]; !ok {
		return fmt.Errorf("followup.yaml: no condition %q", c.Expects)
	}
	c.form = slices.Clone(c.Own)
	for _, path := range c.Again {
		r, ok := d.rows[path]
		if !ok || r.Group.Many != "" || r.Group.Key == "" {
			return fmt.Errorf("followup.yaml: %q cannot be typed again", path)
		}
		i := slices.IndexFunc(c.form, func(g *Group) bool { return g.Key == r.Group.Key })
		if i < 0 {
			i = len(c.form)
			c.form = append(c.form, &Group{Key: r.Group.Key, Title: r.Group.Title + ", typed again from the chart in hand", index: r.Group.index})
		}
		c.form[i].Fields = append(c.form[i].Fields, r)
	}
	c.form = append(c.form, d.groups["visits"])
	for _, g := range c.form[:len(c.form)-1] {
		g.byKey = map[string]*Row{}
		for _, r := range g.Fields {
			g.byKey[r.Key] = r
		}
	}
	d.followup = c
	return c.soundWindows(d)
}

// loadFollowupLists keeps the order of the file in each list.
func loadFollowupLists(d *Dictionary, lists yaml.Node) {
	for i := 0; i+1 < len(lists.Content); i += 2 {
		l := &CodeList{Name: lists.Content[i].Value, byKey: map[string]int{}}
		codes := lists.Content[i+1].Content
		for j := 0; j+1 < len(codes); j += 2 {
			l.byKey[codes[j].Value] = len(l.Codes)
			l.Codes = append(l.Codes, CodeWord{codes[j].Value, codes[j+1].Value})
		}
		d.Lists[l.Name] = l
	}
}

// FollowupForm lists the groups of a follow-up document in the order of the
// blank form. Groups that repeat rows of the operation hold only those rows.
func (d *Dictionary) FollowupForm() []*Group { return d.followup.form }

// followupSlots are the places of the own rows.
var followupSlots = map[string]func(*Followup) slot{
	"graftnote":        func(f *Followup) slot { return &f.Graftnote },
	"followup":         func(f *Followup) slot { return &f.Case },
	"entered-by.name":  func(f *Followup) slot { return &f.Name },
	"entered-by.role":  func(f *Followup) slot { return &f.Role },
	"consent.registry": func(f *Followup) slot { return &f.Consent },
}

// slot is the place of a row of the form; item counts from 0 for visits.
func (f *Followup) slot(g *Group, r *Row, item int) slot {
	if slices.Contains(Content().followup.Own, g) {
		return followupSlots[r.Path()](f)
	}
	return f.entry.slot(r, item)
}

// ReadFollowup turns one file into follow-up documents. It never stops at a
// fault: every fault becomes a finding and reading goes on.
func ReadFollowup(src Source, o Options) *FollowupReading {
	out := &FollowupReading{Name: src.Name}
	c := newCollector()
	for _, d := range src.parse(c) {
		r := reader{collector: newCollector(), doc: d, o: o}
		out.Documents = append(out.Documents, r.followup())
	}
	out.Findings = c.findings
	return out
}

func (r *reader) followup() *Followup {
	at := r.doc.pos(r.doc.root)
	f := &Followup{At: at, entry: newEntry(at), doc: r.doc}
	form := r.dict.FollowupForm()
	keys, _ := r.mapping(r.doc.root, "", 1)
	for _, k := range sortedKeys(keys) {
		top := form[0]
		if row, ok := top.Row(k.key.Value); ok {
			r.answer(f.slot(top, row, 0), row, 0, k.value, Typed)
			continue
		}
		i := slices.IndexFunc(form, func(g *Group) bool { return g.Key != "" && g.Key == k.key.Value })
		switch {
		case i < 0:
			r.unknown(k, "", r.followupKeys())
		case slices.Contains(r.dict.followup.Own, form[i]):
			f.entry.places[form[i].Key] = r.doc.pos(k.key)
			r.ownFields(f, form[i], k.value)
		default:
			r.group(f.entry, form[i], k, Typed)
		}
	}
	r.knownFormat(f.Graftnote)
	f.findings = r.findings
	return f
}

// ownFields reads a group of the document's own.
func (r *reader) ownFields(f *Followup, g *Group, n *yaml.Node) {
	if blankNode(n) {
		return // the heading of a blank form
	}
	keys, ok := r.mapping(n, g.Key, 2)
	if !ok {
		return
	}
	for _, k := range sortedKeys(keys) {
		if row, ok := g.Row(k.key.Value); ok {
			r.answer(f.slot(g, row, 0), row, 0, k.value, Typed)
			continue
		}
		var known []string
		for _, row := range g.Fields {
			known = append(known, row.Key)
		}
		r.unknown(k, g.Key, known)
	}
}

func (r *reader) followupKeys() []string {
	var keys []string
	for i, g := range r.dict.FollowupForm() {
		if i > 0 {
			keys = append(keys, g.Key)
			continue
		}
		for _, f := range g.Fields {
			keys = append(keys, f.Key)
		}
	}
	return keys
}
