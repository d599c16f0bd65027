package note

import (
	"fmt"
	"regexp"
	"slices"
	"strings"

	"graftnote/schema"
)

// overlay lays a site's own phrases over the built-in ones: a section of
// sentences, a word, the order of the sections, or the cautions. What the site
// does not name stays, so a short file can never take the draft mark, a caution
// or a recorded value off the page.
func (p *Phrases) overlay(own *Phrases) error {
	for _, key := range sortedKeys(own.sentences) {
		if _, known := p.sentences[key]; !known {
			return fmt.Errorf("%s:%d: no section [%s]", phrasesFile, own.lines["["+key+"]"], key)
		}
		if key != "words" {
			p.sentences[key] = own.sentences[key]
		}
	}
	for _, key := range sortedKeys(own.words) {
		if err := p.overlayWord(key, own.words[key]); err != nil {
			return fmt.Errorf("%s:%d: %w", phrasesFile, own.lines[key], err)
		}
	}
	if len(own.sections) > 0 {
		if err := wholeSections(own.sections); err != nil {
			return fmt.Errorf("%s: %w", sectionsFile, err)
		}
		p.sections = own.sections
	}
	if len(own.cautions) > 0 {
		p.cautions = own.cautions
	}
	return nil
}

var placeholder = regexp.MustCompile(`\{[a-z]+\}`)

// overlayWord accepts a word of the site when it says something and still has
// every {part} of the word that it replaces.
func (p *Phrases) overlayWord(key, words string) error {
	built, known := p.words[key]
	switch {
	case !known && !strings.HasPrefix(key, "unit "):
		return fmt.Errorf("no word %q", key)
	case words == "":
		return fmt.Errorf("the word %q is empty", key)
	}
	for _, part := range placeholder.FindAllString(built, -1) {
		if !strings.Contains(words, part) {
			return fmt.Errorf("the word %q lacks %s", key, part)
		}
	}
	p.words[key] = words
	return nil
}

// wholeSections refuses an order of sections that would leave a group of the
// entry, or a section that every note must have, without a place.
func wholeSections(rows []sectionRow) error {
	var keys, groups []string
	for _, r := range rows {
		if !slices.Contains(SectionKeys, r.key) {
			return fmt.Errorf("no section %q", r.key)
		}
		if slices.Contains(keys, r.key) {
			return fmt.Errorf("section %q stands twice", r.key)
		}
		keys, groups = append(keys, r.key), append(groups, r.groups...)
	}
	for _, key := range SectionKeys {
		if !slices.Contains(keys, key) {
			return fmt.Errorf("section %q is missing", key)
		}
	}
	for _, g := range schema.Content().Groups {
		if g.Key != "" && !slices.Contains(groups, g.Key) {
			return fmt.Errorf("no section holds the group %q", g.Key)
		}
	}
	return nil
}

func sortedKeys[V any](m map[string]V) []string {
	out := make([]string, 0, len(m))
	for k := range m {
		out = append(out, k)
	}
	slices.Sort(out)
	return out
}
