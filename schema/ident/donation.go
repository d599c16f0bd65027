package ident

import (
	"fmt"
	"strconv"
	"strings"
)

// DonationNumber is an ISBT 128 donation identification number of 13 characters:
// facility (5), year (2) and serial (6). Check and Flags are what stood beside
// it on the label and are not part of the number.
//
// Layout: ISBT 128 Standard Technical Specification (ST-001), data structure
// 001, as reported by public readers of it; the text itself is licensed and was
// not opened. Check: Red Book Annex 2.
type DonationNumber struct {
	Facility string // registered facility, 5 characters
	Year     string // last two digits of the year of assignment
	Serial   string // sequence number within facility and year, 6 digits
	Check    string // the typed check character, "" if none was typed
	Flags    string // the two flag characters, "" if none were typed
}

const (
	donationLength = 13
	flagOffset     = 60 // Red Book Annex 2: flag value = check value + 60
	donationRule   = "an ISBT 128 donation number has 13 characters: 5 for the facility, " +
		"2 for the year, 6 for the serial; two flag characters and one check character may follow (ISBT 128, data structure 001)"
	checkRule = "the check character follows ISO/IEC 7064 mod 37,2 (Red Book, Annex 2); " + typingCheck
)

// donationPlace is the class of characters allowed at one place of the number.
type donationPlace struct {
	allowed func(byte) bool
	says    string
}

// placeAt gives the class at place i, counted from 0. The letter O is nowhere
// allowed. The last two facility places, the year and the serial are digits.
func placeAt(i int) donationPlace {
	switch {
	case i == 0:
		return donationPlace{func(c byte) bool { return isAlnum(c) && c != 'O' && c != '0' },
			"a digit 1 to 9 or a letter other than O"}
	case i < 3:
		return donationPlace{func(c byte) bool { return isAlnum(c) && c != 'O' },
			"a digit or a letter other than O"}
	default:
		return donationPlace{isDigit, "a digit"}
	}
}

// flagAllowed is the flag alphabet of ST-001: digits and letters without I, O,
// Q and Z.
func flagAllowed(c byte) bool {
	return isAlnum(c) && !strings.ContainsRune("IOQZ", rune(c))
}

// ParseDonationNumber reads a donation number as printed, typed or scanned. It
// takes blanks anywhere, small letters, a leading "=", two flag characters and
// a check character. Without either it is complete; a check character, or flags
// in the range that carries the check value, must agree with the number. The
// letter O in a digit's place is refused with a reading and never repaired.
func ParseDonationNumber(text string) (DonationNumber, *Problem) {
	s := strings.TrimPrefix(upperASCII(dropSpace(text)), "=")
	if !allOf(s, func(c byte) bool { return c < 0x80 }) {
		return DonationNumber{}, &Problem{
			What: "the donation number holds a character outside the basic Latin alphabet",
			Why:  donationRule, Fix: readLabel,
		}
	}
	n := len(s)
	if n < donationLength || n > donationLength+3 {
		return DonationNumber{}, &Problem{
			What: fmt.Sprintf("the donation number has %d characters without blanks, not 13 (or 14 to 16 with flags and check character)", n),
			Why:  donationRule, Fix: readLabel,
		}
	}
	body, rest := s[:donationLength], s[donationLength:]
	d := DonationNumber{Facility: body[:5], Year: body[5:7], Serial: body[7:]}
	if len(rest) >= 2 {
		d.Flags, rest = rest[:2], rest[2:]
	}
	d.Check = rest
	if p := checkPlaces(d); p != nil {
		return DonationNumber{}, p
	}
	if p := checkTyped(d); p != nil {
		return DonationNumber{}, p
	}
	return d, nil
}

// checkPlaces reports every character of the number that its place does not
// allow, and the reading in which shape-alike letters are digits.
func checkPlaces(d DonationNumber) *Problem {
	body := d.String()
	reading := []byte(body)
	var wrong []string
	readable := true
	for i := 0; i < len(body); i++ {
		place := placeAt(i)
		if place.allowed(body[i]) {
			continue
		}
		wrong = append(wrong, fmt.Sprintf("character %d must be %s", i+1, place.says))
		digit, ok := lookalike(body[i])
		readable = readable && ok && place.allowed(digit)
		reading[i] = digit
	}
	if len(wrong) == 0 {
		return nil
	}
	p := &Problem{
		What: "the donation number has a character its place does not allow: " + strings.Join(wrong, "; "),
		Why:  donationRule + "; the letter O does not occur in it",
		Fix:  readLabel + "; nothing was changed for you",
	}
	if readable {
		p.Readings = []string{readingOf(string(reading), d.Check)}
	}
	return p
}

// readingOf words one possible number and how a typed check character fits it.
func readingOf(body, typed string) string {
	r := DonationNumber{Facility: body[:5], Year: body[5:7], Serial: body[7:]}
	text := "with digits in place of the letters it reads " + r.Spaced()
	switch typed {
	case "":
		return text + fmt.Sprintf(", whose check character is %c", r.CheckCharacter())
	case string(r.CheckCharacter()):
		return text + ", and the typed check character fits that"
	default:
		return text + ", but the typed check character does not fit that either"
	}
}

// checkTyped compares the typed flags and check character with the number.
func checkTyped(d DonationNumber) *Problem {
	if !allOf(d.Flags, flagAllowed) {
		return &Problem{
			What: "the two flag characters after the donation number hold one that is not allowed there",
			Why:  "flag characters are digits or letters other than I, O, Q and Z, and are not part of the number (ISBT 128, data structure 001)",
			Fix:  "leave the flag characters out, or type them as printed",
		}
	}
	// Values 60 to 96 carry the check value; all others only inform.
	if flag, err := strconv.Atoi(d.Flags); err == nil && flag >= flagOffset && flag < flagOffset+37 && flag != d.FlagValue() {
		return &Problem{
			What: "the flag characters carry a check value that does not fit the donation number",
			Why:  "flag values 60 to 96 are the check value plus 60; " + checkRule,
			Fix:  readLabel,
			Readings: []string{fmt.Sprintf("the number as typed, %s, has flag value %d",
				d.Spaced(), d.FlagValue())},
		}
	}
	if d.Check != "" && d.Check != string(d.CheckCharacter()) {
		return &Problem{
			What: "the typed check character does not fit the donation number",
			Why:  checkRule,
			Fix:  readLabel + "; look for two characters exchanged and for letters typed as digits",
			Readings: []string{fmt.Sprintf("the number as typed, %s, has check character %c",
				d.Spaced(), d.CheckCharacter())},
		}
	}
	return nil
}

// String returns the 13 characters of the number without blanks, flags or check
// character.
func (d DonationNumber) String() string { return d.Facility + d.Year + d.Serial }

// Spaced returns the number grouped as on a label, "XXXXX YY NNNNNN".
func (d DonationNumber) Spaced() string {
	return d.Facility + " " + d.Year + " " + d.Serial
}

// CheckCharacter returns the eye-readable mod 37,2 check character, or 0 for a
// number that ParseDonationNumber would not have returned.
func (d DonationNumber) CheckCharacter() byte {
	c, err := Mod37_2(d.String())
	if err != nil {
		return 0
	}
	return c
}

// FlagValue returns the check value in the form printed in the flag position,
// 60 to 96, or 0 for a number that ParseDonationNumber would not have returned.
func (d DonationNumber) FlagValue() int {
	v, err := mod37Value(d.String())
	if err != nil {
		return 0
	}
	return v + flagOffset
}
