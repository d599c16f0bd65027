package fhir

import (
	"fmt"
	"strings"

	"github.com/samply/golang-fhir-models/fhir-models/fhir"

	"graftnote/note"
	"graftnote/schema"
)

// ownConcept is one concept of our own code system.
type ownConcept struct {
	Code       string   `yaml:"code"`
	Display    string   `yaml:"display"`
	Definition string   `yaml:"definition"`
	Source     []string `yaml:"source"`
	broader    string
	narrower   []string
}

// ownSystem is our own code system: what data/own.yaml says and every group,
// field and code word of the entry's dictionary.
type ownSystem struct {
	URL         string       `yaml:"url"`
	Version     string       `yaml:"version"`
	Digest      string       `yaml:"digest"` // of the codes of this version
	Name        string       `yaml:"name"`
	Title       string       `yaml:"title"`
	Description string       `yaml:"description"`
	Concepts    []ownConcept `yaml:"concepts"`
	Same        []struct {
		Code    string
		Broader string
		Values  []string
	} `yaml:"same"`

	byCode map[string]*ownConcept
	order  []string
	shared map[string]string // list:word to the concept it shares
}

func loadOwn() (*ownSystem, error) {
	s := &ownSystem{byCode: map[string]*ownConcept{}, shared: map[string]string{}}
	if err := decode("own.yaml", s); err != nil {
		return nil, err
	}
	for _, c := range s.Concepts {
		s.put(c)
	}
	d := schema.Content()
	for _, g := range d.Groups {
		if g.Key != "" {
			s.put(ownConcept{Code: g.Key, Display: g.Title, Definition: "Group of answers of the operative note."})
		}
		for _, r := range g.Fields {
			s.put(fieldConcept(r))
		}
	}
	for _, same := range s.Same {
		for _, v := range same.Values {
			s.shared[v] = same.Code
		}
	}
	users := map[string]*schema.Row{}
	for _, g := range d.Groups {
		for _, r := range g.Fields {
			if name := r.ListName(); name != "" && users[name] == nil {
				users[name] = r
			}
		}
	}
	for _, name := range d.ListNames() {
		for _, w := range d.Lists[name].Codes {
			if err := s.word(name, w, users[name]); err != nil {
				return nil, err
			}
		}
	}
	for _, same := range s.Same {
		c := s.byCode[same.Code]
		if c == nil {
			return nil, fmt.Errorf("own.yaml: same: no word %v", same.Values)
		}
		if same.Broader != "" {
			kind, ok := s.byCode[same.Broader]
			if !ok {
				return nil, fmt.Errorf("own.yaml: no concept %q", same.Broader)
			}
			c.broader = same.Broader
			kind.narrower = append(kind.narrower, same.Code)
		}
	}
	return s, nil
}

func fieldConcept(r *schema.Row) ownConcept {
	def := r.Title
	if r.Group.Title != "" {
		def += ". Field of the group: " + r.Group.Title
	}
	if dim, ok := r.Dimension(); ok && dim.Canonical().Symbol != "" {
		def += ". In " + dim.Canonical().Symbol + " or a unit that converts exactly"
	}
	def += "."
	if r.Help != "" {
		def += " " + r.Help
	}
	return ownConcept{Code: r.Path(), Display: note.FieldName(r), Definition: def, Source: r.Source}
}

// word adds one word of a code list, or leaves it to the concept it shares.
func (s *ownSystem) word(list string, w schema.CodeWord, user *schema.Row) error {
	key := list + ":" + w.Code
	c := ownConcept{Code: key, Display: w.Words, Definition: "A word of the code list '" + list + "'."}
	if user != nil {
		c.Definition = "Answer to: " + user.Title + "."
		c.Source = user.Source
	}
	if shared, ok := s.shared[key]; ok {
		if s.has(shared) {
			return nil
		}
		c.Code = shared
	} else if s.has(key) {
		return fmt.Errorf("own.yaml: the concept %s is a word of a code list", key)
	}
	s.put(c)
	return nil
}

func (s *ownSystem) put(c ownConcept) {
	s.byCode[c.Code] = &c
	s.order = append(s.order, c.Code)
}

func (s *ownSystem) has(code string) bool { return s.byCode[code] != nil }

// value is the concept of a word of a code list.
func (s *ownSystem) value(list, word string) string {
	key := list + ":" + word
	if shared, ok := s.shared[key]; ok {
		return shared
	}
	return key
}

func (s *ownSystem) coding(code string) fhir.Coding {
	c, ok := s.byCode[code]
	if !ok {
		panic("fhir: no own concept " + code)
	}
	return fhir.Coding{System: &s.URL, Code: &c.Code, Display: &c.Display}
}

// broader are the concept itself and what it is a kind of, nearest first.
func (s *ownSystem) broader(code string) []string {
	var out []string
	for c := s.byCode[code]; c != nil; c = s.byCode[c.broader] {
		out = append(out, c.Code)
	}
	return out
}

// conceptJSON is CodeSystem.concept. The model's own type writes every kind of
// property value at once, so the concepts are written by this one.
type conceptJSON struct {
	Code       string        `json:"code"`
	Display    string        `json:"display"`
	Definition string        `json:"definition"`
	Concept    []conceptJSON `json:"concept,omitempty"`
}

// CodeSystem is our own code system as a FHIR R4 resource, complete and
// versioned, with a definition and its source for every concept. It travels with
// the bundles, so that a receiver knows every code it is sent.
func CodeSystem() ([]byte, error) {
	s := terms().own
	var concepts []conceptJSON
	for _, key := range s.order {
		if s.byCode[key].broader == "" {
			concepts = append(concepts, s.json(key))
		}
	}
	meaning := fhir.CodeSystemHierarchyMeaningIsA
	text := "Made for graftnote. Free to use. It holds no code of any other code system."
	return alone(fhir.CodeSystem{
		Id: ptr("corneal-graft"), Url: &s.URL, Version: &s.Version, Name: &s.Name, Title: &s.Title, Description: &s.Description,
		Status: fhir.PublicationStatusActive, Experimental: ptr(false), CaseSensitive: ptr(true),
		HierarchyMeaning: &meaning, Content: fhir.CodeSystemContentModeComplete, Count: ptr(len(s.order)), Copyright: &text,
	}, map[string]any{"concept": concepts})
}

func (s *ownSystem) json(key string) conceptJSON {
	c := s.byCode[key]
	out := conceptJSON{Code: c.Code, Display: c.Display, Definition: c.Definition}
	if cited := citations(c.Source); cited != "" {
		out.Definition += " Source: " + cited
	}
	for _, n := range c.narrower {
		out.Concept = append(out.Concept, s.json(n))
	}
	return out
}

func citations(keys []string) string {
	var out []string
	for _, k := range keys {
		if c, ok := schema.Content().Sources[k]; ok {
			out = append(out, c.Text)
		}
	}
	return strings.Join(out, "; ")
}
