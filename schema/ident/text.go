package ident

import (
	"strings"
	"unicode"
)

func isDigit(c byte) bool { return c >= '0' && c <= '9' }

func isUpper(c byte) bool { return c >= 'A' && c <= 'Z' }

func isAlnum(c byte) bool { return isDigit(c) || isUpper(c) }

func allOf(s string, class func(byte) bool) bool {
	for i := 0; i < len(s); i++ {
		if !class(s[i]) {
			return false
		}
	}
	return true
}

// upperASCII raises a-z only. Unicode case rules would turn foreign letters,
// such as the long s, into ASCII ones and so accept what was not typed.
func upperASCII(s string) string {
	return strings.Map(func(r rune) rune {
		if r >= 'a' && r <= 'z' {
			return r - ('a' - 'A')
		}
		return r
	}, s)
}

// dropSpace removes blanks of every kind, the no-break space included.
func dropSpace(s string) string {
	return strings.Map(func(r rune) rune {
		if unicode.IsSpace(r) {
			return -1
		}
		return r
	}, s)
}

// dropSpaceAndDash removes blanks and the hyphens that a word processor may put
// in place of a plain one (U+2010 to U+2013).
func dropSpaceAndDash(s string) string {
	return strings.Map(func(r rune) rune {
		if r == '-' || (r >= 0x2010 && r <= 0x2013) {
			return -1
		}
		return r
	}, dropSpace(s))
}

// lookalike gives the digit whose printed shape a letter shares. Common
// practice in label reading, no source.
func lookalike(c byte) (byte, bool) {
	const letters, digits = "OILSBZ", "011582"
	if i := strings.IndexByte(letters, c); i >= 0 {
		return digits[i], true
	}
	return 0, false
}
