package main

import (
	"bytes"
	"encoding/json"
	"html"
	"regexp"
	"strings"
	"unicode"

	"graftnote/note"
	"graftnote/pdf"
)

// What another version drew or wrote can't be made again, but the signed words
// must be in it all the same. So a forger who changes a word and the name of the
// version is told from another version: 'altered', not only 'not shown'. The other
// way round it proves nothing, since more words may stand there.

// longestToken is the longest word that is looked for, in characters: a longer one
// may be broken at the end of a line.
const longestToken = 8

// tokensOf counts the short words and numbers of a text. Words with letters beyond
// ASCII are left out: a page may print them in another form.
func tokensOf(text string) map[string]int {
	out := map[string]int{}
	for _, w := range strings.FieldsFunc(text, func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsDigit(r) }) {
		if len(w) <= longestToken && strings.IndexFunc(w, func(r rune) bool { return r > unicode.MaxASCII }) < 0 {
			out[w]++
		}
	}
	return out
}

// lacking is the number of words of the signed text that are not there.
func lacking(signed, there map[string]int) int {
	n := 0
	for w, want := range signed {
		n += max(0, want-there[w])
	}
	return n
}

// textOf are the words of a document that every version prints: sections, tables
// and lists, once.
func textOf(d note.Document) string {
	d.Words, d.Cautions, d.Diagram = nil, nil, nil
	parts := []string{d.Title, d.Subtitle, d.Banner.Eye, d.Banner.PatientID}
	parts = append(parts, d.Alerts...)
	for _, list := range [][]note.Item{d.Timeline, d.Brief, d.Answers, d.Confirmed} {
		for _, i := range list {
			parts = append(parts, i.Label, i.Value)
		}
	}
	return strings.Join(append(parts, sectionText(d)), "\n")
}

// sectionText are the words of the sections.
func sectionText(d note.Document) string {
	var parts []string
	for _, s := range d.Sections {
		parts = append(parts, s.Title)
		for _, b := range s.Blocks {
			parts = append(parts, b.Paragraph, b.Quote)
			parts = append(parts, b.List...)
			for _, e := range b.Events {
				parts = append(parts, e.Title, e.Text)
				for _, f := range e.Facts {
					parts = append(parts, f.Label, f.Value)
				}
			}
			if b.Table != nil {
				for _, row := range b.Table.Rows {
					parts = append(parts, row...)
				}
			}
		}
	}
	return strings.Join(parts, "\n")
}

// printedWords is how many of the signed words a page lacks; ok is false when that
// can't be told.
func printedWords(d note.Document, page []byte) (missing int, ok bool) {
	pages, err := pdf.Printed(page)
	if err != nil || len(pages) == 0 {
		return 0, false
	}
	signed := tokensOf(textOf(d))
	for w, n := range tokensOf(d.Banner.Eye) { // stands in the head of each page
		signed[w] += n * (len(pages) - 1)
	}
	return lacking(signed, tokensOf(strings.Join(pages, "\n"))), true
}

var tag = regexp.MustCompile(`<[^>]*>`)

// quotedWords is how many of the signed words the sections of a bundle's
// Composition lack; ok is false when there is none.
func quotedWords(d note.Document, bundle []byte) (missing int, ok bool) {
	var b struct {
		Entry []struct {
			Resource struct {
				ResourceType string `json:"resourceType"`
				Section      []struct {
					Title string `json:"title"`
					Text  struct {
						Div string `json:"div"`
					} `json:"text"`
				} `json:"section"`
			} `json:"resource"`
		} `json:"entry"`
	}
	if json.NewDecoder(bytes.NewReader(bundle)).Decode(&b) != nil {
		return 0, false
	}
	var there strings.Builder
	for _, e := range b.Entry {
		if e.Resource.ResourceType != "Composition" {
			continue
		}
		ok = true
		for _, s := range e.Resource.Section {
			there.WriteString(s.Title + "\n" + html.UnescapeString(tag.ReplaceAllString(s.Text.Div, "\n")) + "\n")
		}
	}
	return lacking(tokensOf(sectionText(d)), tokensOf(there.String())), ok
}
