package note

import (
	"errors"
	"fmt"
	"io/fs"
	"regexp"
	"slices"
	"strings"

	"graftnote/schema"
	"graftnote/templates"
)

// Phrases are the words of the note, read from text files and checked: a path
// that is no field, or a test that can't hold, is an error with its line.
type Phrases struct {
	sections  []sectionRow
	sentences map[string][][]sentence // by section: paragraphs of sentences
	words     map[string]string
	cautions  []string
	lines     map[string]int // line of each [section] and word, for messages
}

// The three files of a folder of phrases.
const (
	sectionsFile = "sections.txt"
	phrasesFile  = "phrases.txt"
	cautionsFile = "cautions.txt"
)

type sectionRow struct {
	key, title string
	groups     []string
}

// sentence is one line of a phrase file.
type sentence struct {
	when  schema.Statement
	parts []part
}

// part is literal text or a field; optional parts hold parts of their own.
type part struct {
	text     string
	path     string
	style    string // "" or one of styles
	optional []part
}

// LoadPhrases reads the built-in phrases and lays those of the site's folder
// over them; nil means no such folder. See overlay for what a site may change.
func LoadPhrases(site fs.FS) (*Phrases, error) {
	p, err := readAll(func(name string) ([]byte, error) { return fs.ReadFile(templates.FS, "en/"+name) })
	if err != nil || site == nil {
		return p, err
	}
	own, err := readAll(func(name string) ([]byte, error) {
		b, err := fs.ReadFile(site, name)
		if errors.Is(err, fs.ErrNotExist) {
			return nil, nil
		}
		return b, err
	})
	if err != nil {
		return nil, err
	}
	return p, p.overlay(own)
}

func readAll(open func(name string) ([]byte, error)) (*Phrases, error) {
	p := &Phrases{sentences: map[string][][]sentence{}, words: map[string]string{}, lines: map[string]int{}}
	for _, f := range []struct {
		name string
		read func(name, text string) error
	}{{sectionsFile, p.readSections}, {phrasesFile, p.readPhrases}, {cautionsFile, p.readCautions}} {
		b, err := open(f.name)
		if err != nil {
			return nil, err
		}
		if err := f.read(f.name, string(b)); err != nil {
			return nil, err
		}
	}
	return p, nil
}

func eachLine(text string, do func(n int, line string) error) error {
	for i, line := range strings.Split(strings.ReplaceAll(text, "\r\n", "\n"), "\n") {
		if strings.HasPrefix(line, "#") {
			continue
		}
		if err := do(i+1, strings.TrimRight(line, " \t")); err != nil {
			return err
		}
	}
	return nil
}

func (p *Phrases) readSections(name, text string) error {
	return eachLine(text, func(n int, line string) error {
		if line == "" {
			return nil
		}
		cells := strings.Split(line, "|")
		if len(cells) != 3 {
			return fmt.Errorf("%s:%d: a section is  key | title | groups", name, n)
		}
		row := sectionRow{strings.TrimSpace(cells[0]), strings.TrimSpace(cells[1]), strings.Fields(cells[2])}
		for _, g := range row.groups {
			if _, ok := schema.Content().Group(g); !ok {
				return fmt.Errorf("%s:%d: no group %q", name, n, g)
			}
		}
		p.sections = append(p.sections, row)
		return nil
	})
}

func (p *Phrases) readCautions(_, text string) error {
	return eachLine(text, func(_ int, line string) error {
		if line != "" {
			p.cautions = append(p.cautions, line)
		}
		return nil
	})
}

var heading = regexp.MustCompile(`^\[([a-z-]+)\]$`)

func (p *Phrases) readPhrases(name, text string) error {
	section, open := "", false
	return eachLine(text, func(n int, line string) error {
		if m := heading.FindStringSubmatch(line); m != nil {
			section, open = m[1], false
			p.lines["["+section+"]"] = n
			if _, ok := p.sentences[section]; !ok {
				p.sentences[section] = nil
			}
			return nil
		}
		switch {
		case line == "":
			open = false
			return nil
		case strings.HasPrefix(line, "[") && strings.HasSuffix(line, "]") && !strings.Contains(line, "{"):
			return fmt.Errorf("%s:%d: a section is named in small letters and hyphens", name, n)
		case section == "":
			return fmt.Errorf("%s:%d: a sentence stands before the first [section]", name, n)
		case section == "words":
			key, words, ok := strings.Cut(line, ":")
			if !ok {
				return fmt.Errorf("%s:%d: a word is  key: text", name, n)
			}
			p.words[key] = strings.TrimSpace(words)
			p.lines[key] = n
			return nil
		}
		s, err := parseSentence(line)
		if err != nil {
			return fmt.Errorf("%s:%d: %w", name, n, err)
		}
		if !open {
			p.sentences[section] = append(p.sentences[section], nil)
			open = true
		}
		last := len(p.sentences[section]) - 1
		p.sentences[section][last] = append(p.sentences[section][last], s)
		return nil
	})
}

func parseSentence(line string) (sentence, error) {
	var s sentence
	if rest, ok := strings.CutPrefix(line, "if "); ok {
		tests, words, ok := strings.Cut(rest, ": ")
		if !ok {
			return s, fmt.Errorf("'if' needs its tests, a colon and the sentence")
		}
		var err error
		if s.when, err = schema.Content().Statement(strings.Split(tests, " and "), ""); err != nil {
			return s, err
		}
		line = words
	}
	var err error
	s.parts, _, err = parseParts(line, false)
	return s, err
}

// parseParts reads text, {fields} and, at the top level, [optional parts].
func parseParts(text string, inner bool) ([]part, string, error) {
	var out []part
	for text != "" {
		i := strings.IndexAny(text, "{[]")
		if i < 0 {
			return append(out, part{text: text}), "", nil
		}
		if i > 0 {
			out = append(out, part{text: text[:i]})
		}
		switch text[i] {
		case ']':
			if !inner {
				return nil, "", fmt.Errorf("a bracket closes that was never opened")
			}
			return out, text[i+1:], nil
		case '[':
			if inner {
				return nil, "", fmt.Errorf("brackets stand inside brackets")
			}
			parts, rest, err := parseParts(text[i+1:], true)
			if err != nil {
				return nil, "", err
			}
			out = append(out, part{optional: parts})
			text = rest
		case '{':
			name, rest, ok := strings.Cut(text[i+1:], "}")
			if !ok {
				return nil, "", fmt.Errorf("a brace is never closed")
			}
			path, style, _ := strings.Cut(name, ":")
			if !knownPath(path) {
				return nil, "", fmt.Errorf("no field %q", path)
			}
			if style != "" && !slices.Contains(styles, style) {
				return nil, "", fmt.Errorf("no style %q: there are %s", style, strings.Join(styles, ", "))
			}
			out = append(out, part{path: path, style: style})
			text = rest
		}
	}
	if inner {
		return nil, "", fmt.Errorf("a bracket is never closed")
	}
	return out, "", nil
}

// paths of the fields that a section speaks of outside its optional parts, each once.
func (p *Phrases) paths(section string) (out []string) {
	for _, sentences := range p.sentences[section] {
		for _, line := range sentences {
			for _, x := range line.parts {
				if x.path != "" && !slices.Contains(out, x.path) {
					out = append(out, x.path)
				}
			}
		}
	}
	return out
}

func knownPath(path string) bool {
	if name, ok := strings.CutPrefix(path, "derived."); ok {
		_, found := schema.Content().DerivedRow(name)
		return found
	}
	r, ok := schema.Content().Row(path)
	return ok && r.Group.Many == ""
}
