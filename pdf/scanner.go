package pdf

import (
	"bytes"
	"encoding/hex"
	"strconv"
	"strings"
	"unicode/utf16"
)

// scanner reads what this package wrote, each part in its one form. After the
// first part that is otherwise, failed stays true and nothing more is read.
type scanner struct {
	b      []byte
	failed bool
}

// take returns the next n bytes.
func (s *scanner) take(n int) string {
	if s.failed || n < 0 || n > len(s.b) {
		s.failed = true
		return ""
	}
	part := string(s.b[:n])
	s.b = s.b[n:]
	return part
}

func (s *scanner) literal(want string) {
	if s.take(len(want)) != want {
		s.failed = true
	}
}

// until takes the bytes up to and with the mark, 200 at the most.
func (s *scanner) until(mark string) string {
	i := bytes.Index(s.b, []byte(mark))
	if s.failed || i < 0 || i > 200 {
		s.failed = true
		return ""
	}
	return s.take(i + len(mark))
}

// span takes the bytes of a set.
func (s *scanner) span(in func(byte) bool) string {
	n := 0
	for n < len(s.b) && in(s.b[n]) {
		n++
	}
	return s.take(n)
}

// number reads a whole number of up to nine digits without leading zeros.
func (s *scanner) number() int {
	text := s.span(func(b byte) bool { return b >= '0' && b <= '9' })
	n, err := strconv.Atoi(text)
	if err != nil || len(text) > 9 || strconv.Itoa(n) != text {
		s.failed = true
		return 0
	}
	return n
}

// digits reads a number of exactly n digits.
func (s *scanner) digits(n int) int {
	text := s.take(n)
	v, err := strconv.Atoi(text)
	if err != nil || v < 0 || strings.Trim(text, "0123456789") != "" {
		s.failed = true
		return 0
	}
	return v
}

// hexadecimal reads n small hexadecimal digits.
func (s *scanner) hexadecimal(n int) string {
	text := s.take(n)
	if strings.Trim(text, "0123456789abcdef") != "" {
		s.failed = true
	}
	return text
}

// name reads what pdfName wrote.
func (s *scanner) name() string {
	raw := s.span(func(b byte) bool { return b > ' ' })
	if len(raw) < 2 {
		s.failed = true
		return ""
	}
	name := unescape(raw[1:])
	if pdfName(name) != raw {
		s.failed = true
	}
	return name
}

// text reads what pdfText wrote.
func (s *scanner) text() string {
	if s.failed || len(s.b) == 0 {
		s.failed = true
		return ""
	}
	var text string
	n := 0
	if s.b[0] == '(' {
		var out []byte
		for n = 1; n < len(s.b) && s.b[n] != ')'; n++ {
			if s.b[n] == '\\' && n+1 < len(s.b) {
				n++
			}
			out = append(out, s.b[n])
		}
		text = string(out)
	} else {
		n = bytes.IndexByte(s.b, '>')
		raw, err := hex.DecodeString(strings.TrimPrefix(string(s.b[:max(n, 0)]), "<FEFF"))
		if err != nil || len(raw)%2 != 0 {
			s.failed = true
			return ""
		}
		units := make([]uint16, len(raw)/2)
		for i := range units {
			units[i] = uint16(raw[2*i])<<8 | uint16(raw[2*i+1])
		}
		text = string(utf16.Decode(units))
	}
	if s.take(n+1) != pdfText(text) {
		s.failed = true
	}
	return text
}
