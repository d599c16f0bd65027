package ident

import "strings"

// String returns the identifier in canonical form: the elements that the note
// keeps, item first, with brackets as printed below a bar code. Reading it again
// in the same century gives the same identifier. Data that itself looks like a
// bracketed element is written as a scanner sends it, with separators.
func (d DeviceIdentifier) String() string {
	if d.GTIN == "" {
		return ""
	}
	plain := bracketed.MatchString(d.Lot) || bracketed.MatchString(d.Serial)
	var b strings.Builder
	for _, part := range []struct {
		ai, value string
		variable  bool
	}{
		{"01", d.GTIN, false}, {"11", gs1Digits(d.Production), false}, {"17", gs1Digits(d.Expiry), false},
		{"10", d.Lot, true}, {"21", d.Serial, true},
	} {
		switch {
		case part.value == "":
		case plain:
			b.WriteString(part.ai + part.value)
			if part.variable {
				b.WriteString(groupSeparator)
			}
		default:
			b.WriteString("(" + part.ai + ")" + part.value)
		}
	}
	return strings.TrimSuffix(b.String(), groupSeparator)
}

// gs1Digits is the reverse of gs1Date: YYMMDD of an ISO date, "" of none.
func gs1Digits(date string) string {
	digits := strings.ReplaceAll(date, "-", "")
	if len(digits) != 8 {
		return ""
	}
	return digits[2:]
}
