package ident

import (
	"fmt"
	"strings"
)

// NHSNumber is a patient's NHS number (England, Wales and the Isle of Man). The
// zero value holds no number. It is a direct identifier of a person: keep it out
// of file names, logs and messages.
type NHSNumber struct{ digits string }

const (
	nhsLength = 10
	nhsRule   = "an NHS number has 10 digits; the first nine, weighted 10 to 2, give the tenth by mod 11 (NHS Data Dictionary, NHS NUMBER)"
	nhsFix    = "read the number again from the patient's record, not from memory, and compare the name"
)

// ParseNHSNumber reads an NHS number with or without blanks and hyphens. It
// tests the check digit and refuses ten equal digits, which pass mod 11 for
// every digit because the nine weights sum to 54, that is 10 mod 11. No problem
// it returns carries a reading: the number identifies a person.
func ParseNHSNumber(text string) (NHSNumber, *Problem) {
	s := dropSpaceAndDash(text)
	p := &Problem{Why: nhsRule, Fix: nhsFix}
	switch {
	case !allOf(s, isDigit):
		p.What = "the NHS number holds a character that is not a digit"
		p.Fix = nhsFix + "; letters O, I and l are not digits"
		return NHSNumber{}, p
	case len(s) != nhsLength:
		p.What = fmt.Sprintf("the NHS number has %d digits, not 10", len(s))
		return NHSNumber{}, p
	case strings.Count(s, s[:1]) == nhsLength:
		p.What = "the NHS number is one repeated digit"
		p.Why = "one repeated digit passes the mod 11 check whatever the digit is, so it is refused as a filler"
		return NHSNumber{}, p
	}
	sum := 0
	for i := 0; i < nhsLength-1; i++ {
		sum += int(s[i]-'0') * (nhsLength - i)
	}
	check := (11 - sum%11) % 11
	switch {
	case check == 10:
		p.What = "no NHS number begins with these nine digits"
		p.Why = nhsRule + "; a result of 10 is never issued; " + typingCheck
	case check != int(s[nhsLength-1]-'0'):
		p.What = "the check digit of the NHS number does not fit its first nine digits"
		p.Why = nhsRule + "; " + typingCheck
	default:
		return NHSNumber{digits: s}, nil
	}
	return NHSNumber{}, p
}

// Digits returns the ten digits without blanks, or "" for the zero value.
func (n NHSNumber) Digits() string { return n.digits }

// String returns the number in groups of 3, 3 and 4, as in "943 476 5919", or
// "" for the zero value.
func (n NHSNumber) String() string {
	if len(n.digits) != nhsLength {
		return ""
	}
	return n.digits[:3] + " " + n.digits[3:6] + " " + n.digits[6:]
}
