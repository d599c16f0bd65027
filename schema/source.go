package schema

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"regexp"
	"strconv"
	"strings"
	"unicode/utf8"

	"go.yaml.in/yaml/v3"
)

// MaxFile is the largest entry file read, in bytes. A list of twenty cases is
// about 60 kB; anything past a megabyte is not an entry.
const MaxFile = 1 << 20

// The largest shapes that are read; each is far above what a day's list needs.
// They keep a hostile file of a megabyte from growing to gigabytes.
const (
	maxDepth  = 20      // nesting of an entry; the format itself needs four
	maxCases  = 200     // entries of one file
	maxItems  = 200     // items of one list
	maxSpent  = 2_000   // items of all lists of one file
	maxKeys   = 200     // fields under one heading
	maxValues = 100_000 // values of one file
	maxHints  = 100     // findings after which no spelling is suggested
)

// Source is one file as given.
type Source struct {
	Name string // as the user named it
	Data []byte
}

// lines splits like an editor does: LF, CRLF and old CR.
func (s Source) lines() []string {
	t := strings.ReplaceAll(string(s.Data), "\r\n", "\n")
	return strings.Split(strings.ReplaceAll(t, "\r", "\n"), "\n")
}

// document is one parsed YAML document with what is needed to point at it.
type document struct {
	root  *yaml.Node
	file  string
	lines []string
	// added counts the quotes put into a line (see quoteNotRecorded), so that
	// columns still fit the original bytes.
	added map[int][]int
	// spent counts the list items read so far in the whole file.
	spent *int
	// sealed says that the document is the canonical form of a signed one.
	sealed bool
}

// parse turns bytes into YAML nodes. Faults of the whole file become findings.
func (s Source) parse(c *collector) []*document {
	text, ok := s.decodeText(c)
	if !ok {
		return nil
	}
	if strings.HasPrefix(strings.TrimLeft(text, " \t\r\n"), "{") {
		text = strings.ReplaceAll(text, "\t", " ") // JSON may be indented by tabs
	}
	text = oddBreaks.Replace(text)
	if strings.Count(text, ",")+strings.Count(text, "\n")+strings.Count(text, "\r")+strings.Count(text, "[")+strings.Count(text, "{")+strings.Count(text, "- ") > maxValues {
		c.file("file-too-large", Pos{File: s.Name, Line: 1, Col: 1}, fmt.Sprintf("The file holds more than %d values.", maxValues), "")
		return nil
	}
	docs, err := parseYAML(text)
	added := map[int][]int{}
	if err != nil {
		var quoted string
		if quoted, added = quoteNotRecorded(text); len(added) > 0 {
			if again, err2 := parseYAML(quoted); err2 == nil || errorLine(err2) > errorLine(err) {
				docs, err = again, err2
			}
		}
	}
	if err != nil {
		c.file("file-not-yaml", Pos{File: s.Name, Line: max(1, errorLine(err)), Col: 1}, explainYAML(err), err.Error())
		return nil
	}
	lines := s.lines()
	if len(docs) > maxCases {
		c.file("file-too-large", Pos{File: s.Name, Line: 1, Col: 1}, fmt.Sprintf("The file holds more than %d entries.", maxCases), "")
		return nil
	}
	out, spent := make([]*document, 0, len(docs)), 0
	for _, n := range docs {
		out = append(out, &document{root: n, file: s.Name, lines: lines, added: added, spent: &spent})
	}
	if len(out) == 0 {
		c.file("file-empty", Pos{File: s.Name, Line: 1, Col: 1}, "", "")
	}
	return out
}

// oddBreaks are characters that YAML takes for an end of line and editors do
// not. They become an invisible blank, which every field refuses, so that lines
// are counted as the user sees them.
var oddBreaks = strings.NewReplacer("\u0085", "\u200b", "\u2028", "\u200b", "\u2029", "\u200b")

func (s Source) decodeText(c *collector) (string, bool) {
	at := Pos{File: s.Name, Line: 1, Col: 1}
	b := s.Data
	switch {
	case len(b) > MaxFile:
		c.file("file-too-large", at, "", strconv.Itoa(len(b))+" bytes")
		return "", false
	case bytes.HasPrefix(b, []byte{0xFF, 0xFE}), bytes.HasPrefix(b, []byte{0xFE, 0xFF}),
		len(b) > 3 && (b[0] == 0 || b[1] == 0):
		c.file("file-encoding", at, "The file is UTF-16.", "")
		return "", false
	}
	b = bytes.TrimPrefix(b, []byte{0xEF, 0xBB, 0xBF})
	if i := firstInvalid(b); i >= 0 {
		before := Source{Data: b[:i]}.lines() // a lone carriage return ends a line too
		at.Line = len(before)
		at.Col = 1 + utf8.RuneCountInString(before[len(before)-1])
		c.file("file-encoding", at, "The file is not UTF-8; it looks like Latin-1 or Windows-1252.", "")
		return "", false
	}
	return string(b), true
}

func firstInvalid(b []byte) int {
	for i := 0; i < len(b); {
		r, n := utf8.DecodeRune(b[i:])
		if r == utf8.RuneError && n == 1 {
			return i
		}
		i += n
	}
	return -1
}

func parseYAML(text string) (docs []*yaml.Node, err error) {
	defer func() { // the scanner panics on a few broken inputs
		if r := recover(); r != nil {
			docs, err = nil, errors.New("yaml: unreadable")
		}
	}()
	dec := yaml.NewDecoder(strings.NewReader(text))
	for {
		var n yaml.Node
		if err := dec.Decode(&n); err != nil {
			if errors.Is(err, io.EOF) {
				return docs, nil
			}
			return nil, err
		}
		// A line of dashes at the end begins a document that holds nothing.
		if n.Kind == yaml.DocumentNode && len(n.Content) == 1 && (n.Content[0].Tag != "!!null" || n.Content[0].Value != "") {
			docs = append(docs, n.Content[0])
		}
	}
}

var yamlLine = regexp.MustCompile(`line (\d+)`)

func errorLine(err error) int {
	if m := yamlLine.FindStringSubmatch(err.Error()); m != nil {
		n, _ := strconv.Atoi(m[1])
		return n
	}
	return 0
}

// explainYAML says in the trade's words what the parser tripped over. It must
// not quote the parser: its text may hold entered values.
func explainYAML(err error) string {
	text := err.Error()
	for _, known := range []struct{ part, say string }{
		{"mapping values are not allowed", "A second colon stands in this line. Put the value in quotes."},
		{"cannot start any token", "A tab or another character that YAML does not allow stands here. Indent with spaces; put the value in quotes."},
		{"control characters", "A control character stands in the file."},
		{"did not find expected ',' or '}'", "A brace or a comma is missing on or before this line."},
		{"did not find expected ',' or ']'", "A bracket or a comma is missing on or before this line."},
		{"did not find expected key", "The indentation does not fit the lines above."},
		{"could not find expected ':'", "A colon is missing after a field name on or before this line."},
		{"unexpected end of stream", "A quote or a bracket is opened and never closed."},
		{"exceeded max depth", "The file is nested too deeply to be an entry."},
		{"unknown anchor", "Anchors and aliases (& and *) are not read."},
		{"excessive aliasing", "Anchors and aliases (& and *) are not read."},
	} {
		if strings.Contains(text, known.part) {
			return known.say
		}
	}
	return "The file cannot be read as YAML here."
}

// notRecordedBare finds "key: not recorded: reason" written without quotes,
// which YAML itself refuses.
var notRecordedBare = regexp.MustCompile(`(?i)([\w-]+["']?\s*:\s+|[\[,]\s*|^\s*-\s+)(not recorded\s*:[^,}\]\n"']*)`)

// quoteNotRecorded quotes such values so that YAML can read them. It runs only
// on a file that YAML refused, and never inside a block of free text.
func quoteNotRecorded(text string) (string, map[int][]int) {
	added := map[int][]int{}
	lines := strings.Split(text, "\n")
	blockIndent := -1
	for i, line := range lines {
		indent := len(line) - len(strings.TrimLeft(line, " "))
		if blockIndent >= 0 {
			if strings.TrimSpace(line) == "" || indent > blockIndent {
				continue
			}
			blockIndent = -1
		}
		if blockStart.MatchString(line) {
			blockIndent = indent
		}
		var b strings.Builder
		last := 0
		for _, m := range notRecordedBare.FindAllStringSubmatchIndex(line, -1) {
			from, to := m[4], m[5]
			if !strings.ContainsAny(line[:from], "{[") { // outside braces the value runs to the end
				to = len(strings.TrimRight(line, " \r"))
				if c := strings.Index(line, " #"); c > from {
					to = c
				}
			}
			for to > from && (line[to-1] == ' ' || line[to-1] == '\r') {
				to--
			}
			if from < last {
				continue
			}
			b.WriteString(line[last:from] + `'` + strings.ReplaceAll(line[from:to], `'`, `''`) + `'`)
			added[i+1] = append(added[i+1], utf8.RuneCountInString(line[:from]), utf8.RuneCountInString(line[:to]))
			last = to
		}
		lines[i] = b.String() + line[last:]
	}
	return strings.Join(lines, "\n"), added
}

var blockStart = regexp.MustCompile(`:\s+[|>][+-]?\d?\s*(#.*)?$`)

// affords reports whether so many more list items are still read.
func (d *document) affords(items int) bool {
	*d.spent += items
	return items <= maxItems && *d.spent <= maxSpent
}

// pos is the place of a node in the original bytes.
func (d *document) pos(n *yaml.Node) Pos {
	p := Pos{File: d.file, Line: n.Line, Col: d.original(n.Line, n.Column)}
	p.EndCol = p.Col + max(1, utf8.RuneCountInString(firstLine(n.Value)))
	if n.Style&(yaml.DoubleQuotedStyle|yaml.SingleQuotedStyle) != 0 && len(d.added[n.Line]) == 0 {
		p.EndCol += 2
	}
	return p
}

// original takes back the quotes that quoteNotRecorded added before a column.
func (d *document) original(line, col int) int {
	shift := 0
	for _, at := range d.added[line] {
		if col-1-shift > at {
			shift++
		}
	}
	return col - shift
}

func (d *document) line(n int) string {
	if n < 1 || n > len(d.lines) {
		return ""
	}
	return d.lines[n-1]
}

func firstLine(s string) string {
	line, _, _ := strings.Cut(s, "\n")
	return line
}
