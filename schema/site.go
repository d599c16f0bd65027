package schema

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"

	"go.yaml.in/yaml/v3"
)

// Site is what a hospital settles once: its name, its identifier systems, which
// profiles block sign-off, its own code mapping and its row key. Local policy
// comes first; graftnote only carries it.
type Site struct {
	Name          string            `yaml:"name"`           // printed when the entry names no site
	Code          string            `yaml:"code"`           // short code, for the row's home only
	Zone          string            `yaml:"zone"`           // IANA name
	Profiles      []string          `yaml:"profiles"`       // bodies whose lists block here
	Identifiers   map[string]string `yaml:"identifiers"`    // kind: system URI (patient, practitioner, organization, location, encounter, tissue, note)
	CreatePatient bool              `yaml:"create-patient"` // the bundle creates the patient when absent
	MetaProfiles  map[string]string `yaml:"meta-profiles"`  // resource type: profile URL, only when the receiver asks
	Mapping       string            `yaml:"mapping"`        // file of the site's licensed and local codes
	Phrases       string            `yaml:"phrases"`        // folder of the site's own phrases
	RowKey        string            `yaml:"row-key"`        // file of the key for pseudonyms
	RowColumns    []string          `yaml:"row-columns"`    // a choice of the registry columns; empty: all
	Small         bool              `yaml:"small"`          // fewer grafts a year than a safe group
	Paper         string            `yaml:"paper"`          // a4 or letter
	Language      string            `yaml:"language"`       // BCP 47 tag of the note

	file  string
	lines []string
	at    map[string]Pos
}

// ParseSite reads a site file. Unknown settings are errors with their line.
func ParseSite(src Source) (*Site, error) {
	s := &Site{file: src.Name, lines: src.lines(), at: map[string]Pos{}}
	dec := yaml.NewDecoder(bytes.NewReader(src.Data))
	dec.KnownFields(true)
	if err := dec.Decode(s); err != nil && !errors.Is(err, io.EOF) { // an empty file settles nothing
		return nil, fmt.Errorf("%s: %s", src.Name, strings.Join(YAMLFaults(err), "; "))
	}
	var doc yaml.Node
	if err := yaml.Unmarshal(src.Data, &doc); err == nil && len(doc.Content) == 1 {
		d := &document{file: src.Name}
		for i := 0; i+1 < len(doc.Content[0].Content); i += 2 {
			s.at[doc.Content[0].Content[i].Value] = d.pos(doc.Content[0].Content[i])
		}
	}
	for _, p := range s.Profiles {
		if !slices.ContainsFunc(Content().Profiles, func(q Profile) bool { return q.Key == p }) {
			return nil, fmt.Errorf("%s:%d: there is no profile of this name; 'graftnote rules --profiles' lists them", src.Name, s.at["profiles"].Line)
		}
	}
	return s, nil
}

// fill gives the zone and the site's name where the entry is silent.
func (s *Site) fill(e *Entry) {
	if s == nil {
		return
	}
	fillText(&e.Episode.Zone, "episode.zone", s.Zone, s.at["zone"])
	fillText(&e.Episode.Site, "episode.site", s.Name, s.at["name"])
}

func fillText(to *Answer[string], path, text string, at Pos) {
	if text == "" || !to.Blank() {
		return
	}
	row, _ := Content().Row(path)
	to.put(answer{row: row, raw: text, pos: at, state: recorded, origin: Header}, text)
}

// site checks what the site file asks of the row against the allow-list.
func (c *checker) site() {
	s := c.o.Site
	if s == nil || c.o.RowColumn == nil {
		return
	}
	for _, col := range s.RowColumns {
		if !c.o.RowColumn(col) {
			at := s.at["row-columns"]
			f := c.finding("row-holds-identifier", at, "row-columns")
			if at.Line >= 1 && at.Line <= len(s.lines) {
				f.Excerpt = s.lines[at.Line-1]
			}
			c.push(f)
			break
		}
	}
}
