package pdf

import (
	"fmt"
	"strings"
	"unicode/utf8"

	"golang.org/x/text/unicode/norm"
)

// sameShape maps runes the faces lack to one that is drawn alike and says
// the same on paper.
var sameShape = map[rune]rune{
	0x2011: 0x2010, // non-breaking hyphen
}

// clean makes text safe to draw: composed form (Unicode Standard Annex 15,
// NFC), spaces for tabs and returns, and a visible code point, such as
// [U+4E2D], for every rune the faces lack. Line feeds stay.
func (s *faceSet) clean(text string) string {
	plain := true
	for i := range len(text) {
		if b := text[i]; b >= 0x7F || b < 0x20 && b != '\n' {
			plain = false
			break
		}
	}
	if plain {
		return text
	}
	if !utf8.ValidString(text) {
		text = spellBadBytes(text)
	}
	text = norm.NFC.String(text)
	ok := true
	var st reading
	for _, r := range text {
		if !s.draws(&st, r) && r != '\n' {
			ok = false
			break
		}
	}
	if ok {
		return text
	}
	var out strings.Builder
	text = strings.ReplaceAll(text, "\r\n", "\n")
	st = reading{}
	for _, r := range text {
		drawn := s.draws(&st, r)
		same, known := sameShape[r]
		switch {
		case r == '\n' || drawn:
			out.WriteRune(r)
		case r == '\t' || r == '\r':
			out.WriteByte(' ')
		case known && s.covered(same):
			out.WriteRune(same)
		default:
			fmt.Fprintf(&out, "[U+%04X]", r)
		}
	}
	return out.String()
}

// spellBadBytes shows bytes that are not UTF-8 by their value.
func spellBadBytes(text string) string {
	var out strings.Builder
	for i := 0; i < len(text); {
		r, n := utf8.DecodeRuneInString(text[i:])
		if r == utf8.RuneError && n == 1 {
			fmt.Fprintf(&out, "[0x%02X]", text[i])
		} else {
			out.WriteString(text[i : i+n])
		}
		i += n
	}
	return out.String()
}

// Covers returns the runes of s, after composition (NFC), that the embedded
// faces cannot draw, each once, in order of appearance; nil when all can be
// drawn. Render does not fail on them but prints their code points, so a name
// with such runes needs a Latin form beside it. Bytes that are not UTF-8
// count as U+FFFD. Line feed and tab are allowed.
// A combining mark is drawn when it follows a letter.
func Covers(s string) (missing []rune) {
	set, err := loadFaces()
	seen := map[rune]bool{}
	var st reading
	for _, r := range norm.NFC.String(s) {
		drawn := err == nil && set.draws(&st, r)
		if _, known := sameShape[r]; known || r == '\n' || r == '\t' || seen[r] || drawn {
			continue
		}
		seen[r] = true
		missing = append(missing, r)
	}
	return missing
}
