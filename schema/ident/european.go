package ident

import (
	"fmt"
	"strconv"
	"strings"
	"time"
)

// EuropeanCode is a Single European Code for tissues and cells: 40 characters in
// a donation identification sequence (country, establishment, donation) and a
// product identification sequence (the rest). It has no check digit of its own.
//
// Source: Commission Directive 2006/86/EC, Articles 10, 10a, 10b and Annex VII
// as inserted by Directive (EU) 2015/565.
type EuropeanCode struct {
	Country       string // ISO country code of the establishment, 2 letters
	Establishment string // tissue establishment number, 6 characters
	Donation      string // unique donation number, 13 characters
	System        string // product coding system: E, A or B
	Product       string // product number, 7 characters
	Split         string // split number, 3 characters
	Expiry        string // YYYYMMDD, or 00000000 where no expiry is defined
}

const (
	donationSequence = 21
	productSequence  = 19
	codeLength       = donationSequence + productSequence
	noExpiry         = "00000000"
	europeanRule     = "the Single European Code has 40 characters: a donation sequence of 21 " +
		"(country 2, establishment 6, donation 13) and a product sequence of 19 " +
		"(system 1, product 7, split 3, expiry 8) (Directive 2006/86/EC, Annex VII)"
)

// ParseEuropeanCode reads a Single European Code as printed or scanned. The
// prefix SEC, with or without a colon, and the ISBT 128 data identifier "&,4"
// are optional. Between the two sequences it takes blanks, a line break or
// nothing; a blank anywhere else is a sign of a lost or doubled character and is
// refused.
func ParseEuropeanCode(text string) (EuropeanCode, *Problem) {
	fields := dropPrefix(strings.Fields(upperASCII(text)))
	s := strings.Join(fields, "")
	if p := checkShape(s, fields); p != nil {
		return EuropeanCode{}, p
	}
	c := EuropeanCode{
		Country: s[0:2], Establishment: s[2:8], Donation: s[8:21],
		System: s[21:22], Product: s[22:29], Split: s[29:32], Expiry: s[32:40],
	}
	if p := c.checkClasses(); p != nil {
		return EuropeanCode{}, p
	}
	if _, _, _, ok := c.ExpiryDate(); !ok && c.Expiry != noExpiry {
		return EuropeanCode{}, &Problem{
			What: "the expiry date in the Single European Code is not a calendar date",
			Why:  "the last 8 characters are the expiry date as YYYYMMDD, or 00000000 where none is defined (Directive 2006/86/EC, Article 10b)",
			Fix:  readLabel,
		}
	}
	return c, nil
}

// dropPrefix removes what stands before the code. The letters SEC alone do not
// tell: a Swedish establishment whose number starts with C begins with them
// too. Only what is left over beyond 40 characters is a prefix.
func dropPrefix(fields []string) []string {
	length := 0
	for _, f := range fields {
		length += len(f)
	}
	for _, prefix := range []string{"SEC:", "SEC", "&,4"} {
		colon := strings.HasSuffix(prefix, ":")
		if len(fields) == 0 || !strings.HasPrefix(fields[0], prefix) || (length == codeLength && !colon) {
			continue
		}
		if fields[0] == prefix {
			return fields[1:]
		}
		return append([]string{fields[0][len(prefix):]}, fields[1:]...)
	}
	return fields
}

// checkShape reports a wrong length or a blank in the wrong place.
func checkShape(s string, fields []string) *Problem {
	p := &Problem{Why: europeanRule, Fix: readLabel}
	switch {
	case !allOf(s, isAlnum):
		p.What = "the Single European Code holds a character that is neither a digit nor a basic Latin letter"
	case len(s) == donationSequence:
		p.What = "only the donation sequence of the Single European Code is there; the product sequence of 19 characters is missing"
		p.Fix = "type both sequences; on many labels the second one stands on the next line"
	case len(s) == productSequence:
		p.What = "only the product sequence of the Single European Code is there; the donation sequence of 21 characters is missing"
		p.Fix = "type both sequences; on many labels the first one stands on the line before"
	case len(s) != codeLength:
		p.What = fmt.Sprintf("the Single European Code has %d characters without prefix and blanks, not 40", len(s))
	case len(fields) > 2 || (len(fields) == 2 && len(fields[0]) != donationSequence):
		p.What = "the Single European Code has a blank inside one of its sequences, so a character may be lost in one and doubled in the other"
		p.Fix = readLabel + "; leave one blank, after character 21"
	default:
		return nil
	}
	return p
}

// checkClasses reports the first part whose characters are of the wrong class.
// The whole code is already known to be digits and capital letters.
func (c EuropeanCode) checkClasses() *Problem {
	p := &Problem{Why: europeanRule, Fix: readLabel}
	switch {
	case !allOf(c.Country, isUpper):
		p.What = "the country code, characters 1 and 2 of the Single European Code, must be two letters"
	case !strings.Contains("EAB", c.System):
		p.What = "the product coding system, character 22 of the Single European Code, must be E, A or B"
		p.Why = "E is the EU compendium, A is ISBT 128, B is Eurocode (Directive 2006/86/EC, Article 10b)"
	case !allOf(c.Expiry, isDigit):
		p.What = "the expiry date, characters 33 to 40 of the Single European Code, must be digits"
		if reading, ok := digitsFor(c.Expiry); ok {
			p.Readings = []string{"with digits in place of the letters the expiry date reads " + reading}
		}
	default:
		return nil
	}
	return p
}

// digitsFor replaces letters by the digits they look like, for a reading only.
func digitsFor(s string) (string, bool) {
	out := []byte(s)
	for i, c := range out {
		if isDigit(c) {
			continue
		}
		d, ok := lookalike(c)
		if !ok {
			return "", false
		}
		out[i] = d
	}
	return string(out), true
}

// String returns the code in canonical form: 40 characters in capitals, one
// blank between the two sequences, no prefix.
func (c EuropeanCode) String() string {
	return c.Country + c.Establishment + c.Donation + " " + c.System + c.Product + c.Split + c.Expiry
}

// ExpiryDate returns the expiry date held in the code. ok is false where the
// code says that none is defined (00000000) and for a text that is no date.
func (c EuropeanCode) ExpiryDate() (year, month, day int, ok bool) {
	if len(c.Expiry) != len(noExpiry) || !allOf(c.Expiry, isDigit) {
		return 0, 0, 0, false
	}
	year, _ = strconv.Atoi(c.Expiry[:4])
	month, _ = strconv.Atoi(c.Expiry[4:6])
	day, _ = strconv.Atoi(c.Expiry[6:])
	if !isDate(year, month, day) {
		return 0, 0, 0, false
	}
	return year, month, day, true
}

// isDate reports whether the three numbers name a day of the Gregorian calendar
// from the year 1 on.
func isDate(year, month, day int) bool {
	return year >= 1 && month >= 1 && month <= 12 && day >= 1 && day <= lastDay(year, month)
}

// lastDay returns the number of days of a month, 1 to 12.
func lastDay(year, month int) int {
	return time.Date(year, time.Month(month)+1, 0, 0, 0, 0, 0, time.UTC).Day()
}
