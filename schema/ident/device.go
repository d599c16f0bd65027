package ident

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"
)

// DeviceIdentifier is a unique device identifier carried by GS1: the item (GTIN)
// and what tells this one from others of its kind. Parts that the label does not
// carry are "".
//
// Source: GS1 General Specifications, application identifiers 01, 10, 11, 17 and
// 21, as reported by the documentation of public GS1 readers.
type DeviceIdentifier struct {
	GTIN       string // 14 digits
	Lot        string // batch or lot, up to 20 characters, case kept
	Serial     string // serial number, up to 20 characters, case kept
	Production string // production date, ISO 8601 YYYY-MM-DD
	Expiry     string // expiry date, ISO 8601 YYYY-MM-DD
}

// element is the shape of one GS1 application identifier.
type element struct {
	name     string
	size     int // exact length, or the greatest length of a variable element
	variable bool
	digits   bool
	date     bool
}

// elements holds the identifiers that a device label commonly carries. Those the
// note does not keep are here so that they can be told apart and passed over in
// an unbracketed text. Lengths: GS1 application identifier list (ref.gs1.org/ai).
var elements = map[string]element{
	"01":  {name: "item number (01)", size: gtinLength, digits: true},
	"10":  {name: "lot (10)", size: 20, variable: true},
	"11":  {name: "production date (11)", size: 6, digits: true, date: true},
	"12":  {name: "due date (12)", size: 6, digits: true, date: true},
	"13":  {name: "packaging date (13)", size: 6, digits: true, date: true},
	"15":  {name: "best-before date (15)", size: 6, digits: true, date: true},
	"16":  {name: "sell-by date (16)", size: 6, digits: true, date: true},
	"17":  {name: "expiry date (17)", size: 6, digits: true, date: true},
	"20":  {name: "variant (20)", size: 2, digits: true},
	"21":  {name: "serial number (21)", size: 20, variable: true},
	"22":  {name: "consumer variant (22)", size: 20, variable: true},
	"30":  {name: "count (30)", size: 8, variable: true, digits: true},
	"240": {name: "additional item number (240)", size: 30, variable: true},
	"241": {name: "customer part number (241)", size: 30, variable: true},
	"250": {name: "secondary serial number (250)", size: 30, variable: true},
}

const (
	groupSeparator = "\x1d" // FNC1 as transmitted by a scanner
	deviceRule     = "a GS1 device identifier is a row of elements, each an application identifier and its data: (01) item, (10) lot, (11) production, (17) expiry, (21) serial (GS1 General Specifications)"
	deviceFix      = "scan the label again, or type the line printed below the bar code with its brackets"
	// punctuation is the part of the GS1 data character set 82 that is neither
	// letter nor digit (ISO/IEC 646 invariant characters).
	punctuation = "!\"%&'()*+,-./:;<=>?_"
)

var bracketed = regexp.MustCompile(`\(([0-9]{2,4})\)`)

// ParseDeviceIdentifier reads a GS1 element string in either form: with brackets
// as printed, "(01)...(17)...(10)...", or as scanned, where variable elements end
// at a group separator (0x1D) or the end of the text. A symbology identifier such
// as "]d2" may come first. Elements that the note does not keep are tested for
// shape and passed over; unknown ones are refused, since in a scanned text their
// length cannot be known.
//
// Dates have two-digit years: currentYear, the full year at the time of reading,
// settles the century. A scanned text that lost its separators may read with a
// lot that has swallowed the elements after it; no reader can tell.
func ParseDeviceIdentifier(text string, currentYear int) (DeviceIdentifier, *Problem) {
	s := strings.TrimSpace(text)
	var parts [][2]string
	var p *Problem
	if strings.HasPrefix(s, "(") {
		parts, p = splitBracketed(s)
	} else {
		parts, p = splitScanned(dropSymbology(s))
	}
	if p != nil {
		return DeviceIdentifier{}, p
	}
	return collect(parts, currentYear)
}

// dropSymbology removes the three characters by which a scanner names the kind
// of bar code, and the separator that marks it as GS1.
func dropSymbology(s string) string {
	for _, kind := range []string{"]C1", "]d2", "]Q3", "]e0"} {
		if strings.HasPrefix(s, kind) {
			s = s[len(kind):]
			break
		}
	}
	return strings.TrimPrefix(s, groupSeparator)
}

func splitBracketed(s string) ([][2]string, *Problem) {
	heads := bracketed.FindAllStringSubmatchIndex(s, -1)
	if len(heads) == 0 || heads[0][0] != 0 {
		return nil, &Problem{
			What: "the device identifier does not begin with an application identifier of two to four digits in brackets",
			Why:  deviceRule, Fix: deviceFix,
		}
	}
	var parts [][2]string
	for i, h := range heads {
		end := len(s)
		if i+1 < len(heads) {
			end = heads[i+1][0]
		}
		value := strings.TrimSuffix(strings.TrimSpace(s[h[1]:end]), groupSeparator)
		parts = append(parts, [2]string{s[h[2]:h[3]], value})
	}
	return parts, nil
}

func splitScanned(s string) ([][2]string, *Problem) {
	var parts [][2]string
	for s != "" {
		ai := ""
		for n := 2; n <= 3 && n <= len(s); n++ {
			if _, ok := elements[s[:n]]; ok {
				ai = s[:n]
			}
		}
		if ai == "" {
			return nil, unknownElement(len(parts))
		}
		e := elements[ai]
		s = s[len(ai):]
		end := strings.Index(s, groupSeparator)
		if end < 0 {
			end = len(s)
		}
		if !e.variable {
			end = min(end, e.size)
		}
		parts = append(parts, [2]string{ai, s[:end]})
		s = strings.TrimPrefix(s[end:], groupSeparator)
	}
	return parts, nil
}

func unknownElement(before int) *Problem {
	return &Problem{
		What: fmt.Sprintf("element %d of the device identifier has an application identifier that is not known here", before+1),
		Why:  deviceRule, Fix: deviceFix + "; leave out elements other than 01, 10, 11, 17 and 21",
	}
}

// collect tests each element and puts it in its place.
func collect(parts [][2]string, currentYear int) (DeviceIdentifier, *Problem) {
	var d DeviceIdentifier
	places := map[string]*string{
		"01": &d.GTIN, "10": &d.Lot, "11": &d.Production, "17": &d.Expiry, "21": &d.Serial,
	}
	seen := map[string]string{}
	for i, part := range parts {
		ai, value := part[0], part[1]
		e, ok := elements[ai]
		if !ok {
			return DeviceIdentifier{}, unknownElement(i)
		}
		if old, twice := seen[ai]; twice && old != value {
			return DeviceIdentifier{}, deviceProblem("the " + e.name + " of the device identifier occurs twice with different data")
		}
		seen[ai] = value
		kept, p := e.read(value, currentYear)
		if p != nil {
			return DeviceIdentifier{}, p
		}
		if place, ok := places[ai]; ok {
			*place = kept
		}
	}
	switch {
	case d.GTIN == "":
		return DeviceIdentifier{}, deviceProblem("the device identifier has no item number (01)")
	case d.Production != "" && d.Expiry != "" && d.Expiry < d.Production:
		return DeviceIdentifier{}, deviceProblem("the expiry date (17) of the device is before its production date (11)")
	}
	if _, p := ParseGTIN(d.GTIN); p != nil {
		return DeviceIdentifier{}, p
	}
	return d, nil
}

func deviceProblem(what string) *Problem {
	return &Problem{What: what, Why: deviceRule, Fix: deviceFix}
}

// read tests one value against the shape of its element and returns it, a date
// in ISO form.
func (e element) read(value string, currentYear int) (string, *Problem) {
	if e.variable && (value == "" || len(value) > e.size) {
		return "", deviceProblem(fmt.Sprintf("the %s of the device identifier has %d characters, not 1 to %d; a separator may be lost",
			e.name, len(value), e.size))
	}
	if !e.variable && len(value) != e.size {
		return "", deviceProblem(fmt.Sprintf("the %s of the device identifier has %d characters, not %d", e.name, len(value), e.size))
	}
	allowed, class := isDataCharacter, "one outside the GS1 data character set"
	if e.digits {
		allowed, class = isDigit, "one that is not a digit"
	}
	if !allOf(value, allowed) {
		return "", deviceProblem("the characters of the " + e.name + " of the device identifier include " + class)
	}
	if !e.date {
		return value, nil
	}
	date, ok := gs1Date(value, currentYear)
	if !ok {
		return "", deviceProblem("the " + e.name + " of the device identifier is not a calendar date")
	}
	return date, nil
}

func isDataCharacter(c byte) bool {
	return isDigit(c) || isUpper(c) || (c >= 'a' && c <= 'z') || strings.IndexByte(punctuation, c) >= 0
}

// gs1Date turns six digits YYMMDD into an ISO date. Day 00 is the last day of
// the month. A year 51 or more ahead of the current one is in the past century,
// a year 50 or more behind it in the next. The century rule is from memory of GS1
// General Specifications 7.12, unverified in the text; a public reader that cites
// that section does the same.
func gs1Date(digits string, currentYear int) (string, bool) {
	yy, _ := strconv.Atoi(digits[:2])
	month, _ := strconv.Atoi(digits[2:4])
	day, _ := strconv.Atoi(digits[4:])
	year := currentYear - currentYear%100 + yy
	switch ahead := yy - currentYear%100; {
	case ahead >= 51:
		year -= 100
	case ahead <= -50:
		year += 100
	}
	if day == 0 && month >= 1 && month <= 12 {
		day = lastDay(year, month)
	}
	if year > 9999 || !isDate(year, month, day) {
		return "", false
	}
	return fmt.Sprintf("%04d-%02d-%02d", year, month, day), true
}
