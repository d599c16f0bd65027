package ident

import (
	"errors"
	"fmt"
	"strings"
)

var errGS1Digits = errors.New("the GS1 check digit needs one or more digits")

// GS1CheckDigit returns the check digit, '0' to '9', that completes data: from
// the right the digits weigh 3, 1, 3 ... and the check digit fills the sum up to
// a multiple of ten. It fails for an empty text and for any other character than
// a digit; the error does not quote data.
//
// Source: GS1 General Specifications, as taught by GS1 India
// (gs1india.org, check digit calculation).
func GS1CheckDigit(data string) (byte, error) {
	if data == "" || !allOf(data, isDigit) {
		return 0, errGS1Digits
	}
	sum := 0
	for i := 0; i < len(data); i++ {
		weight := 1
		if (len(data)-i)%2 == 1 {
			weight = 3
		}
		sum += weight * int(data[i]-'0')
	}
	return byte('0' + (10-sum%10)%10), nil
}

// GTIN is a Global Trade Item Number. The zero value holds no number.
type GTIN struct{ digits string }

const (
	gtinLength = 14
	gtinRule   = "a GTIN has 8, 12, 13 or 14 digits, the last a check digit with weights 3 and 1 (GS1 General Specifications)"
)

// ParseGTIN reads a GTIN-8, -12, -13 or -14 with or without blanks and hyphens
// and tests its check digit. Eight or more zeros pass that check and are refused.
func ParseGTIN(text string) (GTIN, *Problem) {
	s := dropSpaceAndDash(text)
	p := &Problem{Why: gtinRule, Fix: readLabel}
	if !allOf(s, isDigit) {
		p.What = "the GTIN holds a character that is not a digit"
		return GTIN{}, p
	}
	switch len(s) {
	case 8, 12, 13, gtinLength:
	default:
		p.What = fmt.Sprintf("the GTIN has %d digits, not 8, 12, 13 or 14", len(s))
		return GTIN{}, p
	}
	if strings.Trim(s, "0") == "" {
		p.What = "the GTIN is all zeros"
		p.Why = "zeros pass the check digit and are refused as a filler"
		return GTIN{}, p
	}
	last := len(s) - 1
	if check, err := GS1CheckDigit(s[:last]); err != nil || check != s[last] {
		p.What = "the check digit of the GTIN does not fit its other digits"
		p.Why = gtinRule + "; " + typingCheck
		return GTIN{}, p
	}
	return GTIN{digits: s}, nil
}
