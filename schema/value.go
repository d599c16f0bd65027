package schema

import (
	"fmt"
	"slices"
	"strings"
	"time"
	"unicode/utf8"

	"github.com/agnivade/levenshtein"
	"go.yaml.in/yaml/v3"
	"golang.org/x/text/unicode/norm"

	"graftnote/schema/ident"
	"graftnote/schema/quantity"
)

// The longest texts that are kept: an identifier, a text, the story.
const (
	maxID    = 80
	maxText  = 500
	maxStory = 4000
)

// gapWords begin an honest gap.
const gapWords = "not recorded"

// notRecordedNode recognises an honest gap in its three spellings: quoted or
// bare "not recorded: reason", and the small mapping {not recorded: reason}.
func notRecordedNode(n *yaml.Node) (reason string, said bool) {
	const words = gapWords
	if n.Kind == yaml.MappingNode && len(n.Content) == 2 && strings.EqualFold(n.Content[0].Value, words) {
		return strings.TrimSpace(n.Content[1].Value), true
	}
	if n.Kind != yaml.ScalarNode || len(n.Value) < len(words) || !strings.EqualFold(n.Value[:len(words)], words) {
		return "", false
	}
	rest := strings.TrimSpace(n.Value[len(words):])
	if rest != "" && rest[0] != ':' {
		return "", false
	}
	return strings.TrimSpace(strings.TrimPrefix(rest, ":")), true
}

// field reads one answer into the entry.
func (r *reader) field(e *Entry, row *Row, item int, n *yaml.Node, o Origin) {
	r.answer(e.slot(row, item), row, item, n, o)
}

// answer reads one answer into its place.
func (r *reader) answer(s slot, row *Row, item int, n *yaml.Node, o Origin) {
	r.path = itemPath(row, item)
	head := answer{row: row, pos: r.doc.pos(n), origin: o, raw: n.Value, state: unreadable}
	defer func() {
		if s.Row() == nil {
			s.put(head, nil)
		}
	}()
	if !r.plain(n, r.path) {
		return
	}
	if blankNode(n) || n.Kind == yaml.SequenceNode && !slices.ContainsFunc(n.Content, func(c *yaml.Node) bool { return !blankNode(c) }) {
		head.state = blank // a field of a blank form, or a list that says nothing
		return
	}
	if reason, said := notRecordedNode(n); said {
		switch {
		case row.Refuse:
			r.node(r.doc, "not-recorded-refused", n, r.path, nil)
		case reason == "" || reason == reasonForm:
			r.node(r.doc, "reason-missing", n, r.path, nil)
		case unsafeText(reason) || len(reason) > maxText:
			r.node(r.doc, "control-character", n, r.path, nil)
		default:
			head.state, head.reason = notRecorded, norm.NFC.String(reason)
		}
		return
	}
	v, ok := r.value(row, n)
	if !ok {
		return
	}
	head.state = recorded
	if n.Kind == yaml.SequenceNode {
		for _, c := range n.Content {
			head.parts = append(head.parts, r.doc.pos(c))
		}
	}
	if p := row.Path(); (p == "case" || p == "replaces-case" || p == "followup") && !caseID(v.(string)) {
		head.state = unreadable
		r.node(r.doc, "case-id-form", n, p, nil)
	}
	s.put(head, v)
}

// blankNode is a value without a letter in it.
func blankNode(n *yaml.Node) bool {
	return n.Kind == yaml.ScalarNode && strings.TrimSpace(n.Value) == ""
}

// many types take a list of items.
var manyItems = map[string]bool{"codes": true, "texts": true, "clocks": true, "stitch-list": true}

// value reads the scalar, or the items of a list type.
func (r *reader) value(row *Row, n *yaml.Node) (any, bool) {
	items := []*yaml.Node{n}
	if n.Kind == yaml.SequenceNode && manyItems[row.Type] {
		items = n.Content
	}
	var values []any
	ok := true
	for _, c := range items {
		if !r.plain(c, r.path) {
			return nil, false
		}
		// The list of habits is written by graftnote and may name many.
		if c.Kind != yaml.ScalarNode || len(items) > maxItems && row.Key != "from-technique" {
			r.node(r.doc, "wrong-shape", c, r.path, nil)
			return nil, false
		}
		if blankNode(c) { // half said is not said: the list may lack an item
			r.node(r.doc, "wrong-shape", c, r.path, nil)
			return nil, false
		}
		v, good := r.known(row, c)
		ok = ok && good
		values = append(values, v...)
	}
	if !ok || len(values) == 0 {
		return nil, false
	}
	return collect(row.Type, values), true
}

// collect turns the items into the type that the answer holds.
func collect(kind string, values []any) any {
	switch kind {
	case "codes":
		return typed[Code](values)
	case "texts":
		return typed[string](values)
	case "clocks":
		return typed[quantity.ClockHour](values)
	case "stitch-list":
		return typed[quantity.Stitches](values)
	}
	return values[0]
}

func typed[T any](values []any) []T {
	out := make([]T, len(values))
	for i, v := range values {
		out[i] = v.(T)
	}
	return out
}

func single[T any](v T, p *quantity.Problem) ([]any, *problem) {
	if p != nil {
		return nil, fromQuantity(p)
	}
	return []any{v}, nil
}

func singleID[T any](v T, p *ident.Problem) ([]any, *problem) {
	if p != nil {
		return nil, fromIdent(p)
	}
	return []any{v}, nil
}

// scalar reads one text by the type of its row. A list type may give several
// values from one text ("10, 2").
func (r *reader) scalar(row *Row, n *yaml.Node) ([]any, bool) {
	text := norm.NFC.String(strings.TrimSpace(n.Value))
	hidden := unsafeRune
	if row.Type == "story" { // it may have lines and tabs
		hidden = func(c rune) bool { return c != '\n' && c != '\t' && unsafeRune(c) }
	}
	if strings.IndexFunc(text, hidden) >= 0 {
		r.node(r.doc, "control-character", n, r.path, nil)
		return nil, false
	}
	if row.unfilled(text) {
		r.node(r.doc, "value-unfilled", n, r.path, func(f *Finding) { f.What = row.Title + ": the" + strings.TrimPrefix(f.What, "The") })
		return nil, false
	}
	limit := map[string]int{"id": maxID, "story": maxStory}[row.Type]
	if limit == 0 {
		limit = maxText
	}
	if utf8.RuneCountInString(text) > limit {
		r.node(r.doc, "text-too-long", n, r.path, func(f *Finding) {
			f.What = fmt.Sprintf("%s is longer than %d characters.", row.Title, limit)
		})
		return nil, false
	}
	var v []any
	var p *problem
	switch row.Type {
	case "text", "texts", "id", "story":
		v = []any{text}
	case "code", "codes", "yes-no":
		return r.codes(row, n, text)
	case "count":
		d, _ := quantity.DimensionByName("count")
		q, qp := quantity.ParseQuantity(text, d)
		if p = fromQuantity(qp); p == nil {
			k, _ := q.Number.Int()
			v = []any{int(k)}
		}
	case "clock":
		v, p = single(quantity.ParseClockHour(text))
	case "clocks":
		hours, qp := quantity.ParseClockHours(text)
		p = fromQuantity(qp)
		for _, h := range hours {
			v = append(v, h)
		}
	case "date":
		v, p = single(quantity.ParseDate(text))
	case "time":
		v, p = single(quantity.ParseTimeOfDay(text))
	case "instant":
		v, p = single(quantity.ParseInstant(text))
	case "acuity":
		v, p = single(quantity.ParseAcuity(text))
	case "refraction":
		v, p = single(quantity.ParseRefraction(text))
	case "stitches", "stitch-list":
		v, p = single(quantity.ParseStitches(text))
	case "fraction":
		v, p = single(quantity.ParseFraction(text))
	case "nhs-number":
		v, p = singleID(ident.ParseNHSNumber(text))
	case "european-code":
		v, p = singleID(ident.ParseEuropeanCode(text))
	case "donation-number":
		v, p = singleID(ident.ParseDonationNumber(text))
	case "device-code":
		v, p = singleID(ident.ParseDeviceIdentifier(text, r.o.Now.Year()))
	default:
		d, ok := row.Dimension()
		if !ok {
			panic("schema: no reader for type " + row.Type)
		}
		v, p = single(quantity.ParseQuantity(text, d))
	}
	if p != nil {
		r.collector.value(r.doc, n, r.path, row.Title, p)
		return nil, false
	}
	return v, true
}

// codes reads one code, or several separated by commas.
func (r *reader) codes(row *Row, n *yaml.Node, text string) ([]any, bool) {
	list := r.dict.Lists[row.ListName()]
	words := []string{text}
	if row.Type == "codes" {
		words = strings.Split(text, ",")
	}
	var out []any
	for _, w := range words {
		code := strings.Join(strings.FieldsFunc(strings.ToLower(w), func(c rune) bool { return c == ' ' || c == '_' }), "-")
		if _, ok := list.Words(code); ok {
			out = append(out, Code(code))
			continue
		}
		known := make([]string, len(list.Codes))
		for i, c := range list.Codes {
			known[i] = c.Code
		}
		r.node(r.doc, "unknown-code", n, r.path, func(f *Finding) {
			f.What = row.Title + ": this word is not in the list."
			if near := nearCodes(code, known); near != nil {
				f.Fix = fmt.Sprintf(`Write "%s" if that is meant; the list is: %s.`, strings.Join(near, `" or "`), strings.Join(known, ", "))
			} else {
				f.Fix = "Write one of: " + strings.Join(known, ", ") + "."
			}
		})
		return nil, false
	}
	return out, true
}

// nearCodes are the codes that a slip of the keyboard may have meant. The first
// letter must agree and two slips are the most: "incomplete" is not "complete",
// and "bare descemet" is no plane that a program may choose. Codes equally near
// are all named, for "microperforation" and "macroperforation" lie side by side.
func nearCodes(word string, known []string) []string {
	if word == "" || len(word) > maxID {
		return nil
	}
	var near []string
	at := 3
	if len(word) <= 3 {
		at = 2
	}
	for _, k := range known {
		n := levenshtein.ComputeDistance(word, k)
		if k[0] != word[0] || n > at || n == at && near == nil {
			continue
		}
		if n < at {
			near, at = nil, n
		}
		near = append(near, k)
	}
	return near
}

func unsafeText(s string) bool { return strings.IndexFunc(s, unsafeRune) >= 0 }

// caseID accepts what may name a file on any system: it is made of lower-case
// letters, digits and hyphens, and is no device name of any system.
func caseID(s string) bool {
	if len(s) < 6 || len(s) > 40 || s[0] == '-' || s[len(s)-1] == '-' {
		return false
	}
	for _, r := range s {
		if (r < 'a' || r > 'z') && (r < '0' || r > '9') && r != '-' {
			return false
		}
	}
	return true
}

// instantText writes a moment with its offset, as it was typed.
func instantText(t time.Time) string { return t.Format("2006-01-02T15:04:05Z07:00") }
