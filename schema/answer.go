package schema

import (
	"fmt"
	"strings"
	"time"
	"unicode/utf8"

	"graftnote/schema/quantity"
)

// Pos is a place in a file: 1-based line and column, columns counted in
// characters. EndCol is the column after the last character.
type Pos struct {
	File   string
	Line   int
	Col    int
	EndCol int
}

// Known reports whether the place was read from a file.
func (p Pos) Known() bool { return p.Line > 0 }

// Origin says where an answer comes from.
type Origin int

// The origins of an answer. Technique answers stay unconfirmed until sign-off.
const (
	Typed     Origin = iota // in the case itself
	Header                  // in the list header of the same file
	Technique               // in the surgeon's standing technique
)

// Code is a word of a code list.
type Code string

// Answer is what the entry says about one field: a value, an honest "not
// recorded" with its reason, or nothing at all. The zero Answer is silence.
type Answer[T any] struct {
	answer
	value T
}

// Value is the typed value; the zero value when none was recorded.
func (a Answer[T]) Value() T { return a.value }

// answer is the part that does not depend on the type of the value.
type answer struct {
	row    *Row
	raw    string
	reason string
	pos    Pos
	parts  []Pos // places of the items of a list value
	state  state
	origin Origin
}

type state int

const (
	blank state = iota
	recorded
	notRecorded
	unreadable // something was typed that is no value; a finding says so
)

// Field is any answer, whatever its type.
type Field interface {
	Row() *Row
	Recorded() bool
	Blank() bool
	NotRecorded() (reason string, ok bool)
	Unread() (typed string, ok bool)
	Raw() string
	Pos() Pos
	Origin() Origin
	Any() any
	Text() string
	Texts() []string
	Words() string
	Codes() []Code
}

// Row is the dictionary row; nil for a silent answer.
func (a answer) Row() *Row { return a.row }

// Recorded reports whether there is a value.
func (a answer) Recorded() bool { return a.state == recorded }

// Blank reports silence: neither a value nor a reason.
func (a answer) Blank() bool { return a.state == blank }

// NotRecorded gives the reason when the entry says that there is no value.
func (a answer) NotRecorded() (string, bool) { return a.reason, a.state == notRecorded }

// maxQuoted is how much of an unread text is worth showing: a word, not a page.
const maxQuoted = 60

// Unread reports that something was typed that is no value of the field; a finding
// says why. typed is the text, on one line, for the page of the patient alone; it is
// "" when it is long, of several parts or holds what can't be printed. The form of a
// field that was left as it stood, and a gap without a reason, are not typed.
func (a answer) Unread() (typed string, ok bool) {
	if a.state != unreadable || a.row == nil {
		return "", false
	}
	typed = strings.Join(strings.Fields(a.raw), " ")
	if len(typed) >= len(gapWords) && strings.EqualFold(typed[:len(gapWords)], gapWords) || a.row.unfilled(typed) {
		return "", false
	}
	if unsafeText(typed) || utf8.RuneCountInString(typed) > maxQuoted {
		typed = ""
	}
	return typed, true
}

// Raw is the text as typed.
func (a answer) Raw() string { return a.raw }

// Pos is where the answer stands.
func (a answer) Pos() Pos { return a.pos }

// Origin says who gave the answer.
func (a answer) Origin() Origin { return a.origin }

// Any is the typed value behind the interface.
func (a Answer[T]) Any() any { return a.value }

// Text is the canonical text of the value: reading it again gives the same
// value. A list is joined by commas.
func (a Answer[T]) Text() string {
	if !a.Recorded() {
		return ""
	}
	return strings.Join(texts(a.value), ", ")
}

// Texts is the canonical text item by item.
func (a Answer[T]) Texts() []string {
	if !a.Recorded() {
		return nil
	}
	return texts(a.value)
}

// Codes are the codes of a code or codes answer, nil for any other.
func (a Answer[T]) Codes() []Code {
	if !a.Recorded() {
		return nil
	}
	switch v := any(a.value).(type) {
	case Code:
		return []Code{v}
	case []Code:
		return v
	}
	return nil
}

// Is reports whether one of the recorded codes is among those given.
func (a Answer[T]) Is(codes ...Code) bool {
	for _, have := range a.Codes() {
		for _, want := range codes {
			if have == want {
				return true
			}
		}
	}
	return false
}

// Words are the words of the note: the code list's words for codes, the
// canonical text for the rest.
func (a Answer[T]) Words() string {
	if hours, ok := any(a.value).([]quantity.ClockHour); ok && a.Recorded() {
		return joinWords(texts(hours))
	}
	codes := a.Codes()
	if codes == nil || a.row == nil {
		return a.Text()
	}
	list := Content().Lists[a.row.ListName()]
	out := make([]string, 0, len(codes))
	for _, c := range codes {
		w, ok := list.Words(string(c))
		if !ok {
			w = string(c)
		}
		out = append(out, w)
	}
	return joinWords(out)
}

// joinWords writes a list as prose: a, b and c.
func joinWords(w []string) string {
	if len(w) < 2 {
		return strings.Join(w, "")
	}
	return strings.Join(w[:len(w)-1], ", ") + " and " + w[len(w)-1]
}

// JoinWords writes a list as prose: "a, b and c".
func JoinWords(w []string) string { return joinWords(w) }

func texts(v any) []string {
	switch v := v.(type) {
	case string:
		return []string{v}
	case []string:
		return v
	case Code:
		return []string{string(v)}
	case []Code:
		out := make([]string, len(v))
		for i, c := range v {
			out[i] = string(c)
		}
		return out
	case time.Time:
		return []string{instantText(v)}
	case int:
		return []string{fmt.Sprint(v)}
	case []quantity.ClockHour:
		return stringers(v)
	case []quantity.Stitches:
		return stringers(v)
	case fmt.Stringer:
		return []string{v.String()}
	}
	panic(fmt.Sprintf("schema: no text for %T", v))
}

func stringers[T fmt.Stringer](v []T) []string {
	out := make([]string, len(v))
	for i, s := range v {
		out[i] = s.String()
	}
	return out
}

// put stores a parsed value; the reader alone calls it.
func (a *Answer[T]) put(head answer, v any) {
	a.answer = head
	if v != nil {
		a.value = v.(T)
	}
}

func (a *Answer[T]) head() *answer { return &a.answer }

// slot is a field of the entry that the reader can fill.
type slot interface {
	Field
	put(answer, any)
	head() *answer
}
