package schema

import (
	"slices"
	"strings"
	"unicode"

	"golang.org/x/text/unicode/norm"

	"graftnote/schema/quantity"
)

// ligatures are letters that no decomposition takes apart.
var ligatures = strings.NewReplacer("ß", "ss", "æ", "ae", "œ", "oe", "ø", "o", "ł", "l", "đ", "d", "ð", "d", "þ", "th", "ı", "i")

// plainLetters writes a text in small letters without accents; whatever is
// neither letter nor digit becomes a blank.
func plainLetters(text string) string {
	var b strings.Builder
	for _, r := range norm.NFD.String(ligatures.Replace(strings.ToLower(norm.NFKC.String(text)))) {
		switch {
		case unicode.Is(unicode.Mn, r):
		case unicode.IsLetter(r) || unicode.IsDigit(r):
			b.WriteRune(r)
		default:
			b.WriteByte(' ')
		}
	}
	return b.String()
}

// joinedUp is a text as plainLetters writes it, without its blanks.
func joinedUp(text string) string { return strings.ReplaceAll(plainLetters(text), " ", "") }

func onlyDigits(text string) string {
	return strings.Map(func(r rune) rune {
		if r < '0' || r > '9' {
			return -1
		}
		return r
	}, text)
}

// The shortest piece of a name that counts, and the shortest that counts in the
// middle of other letters; the shortest run of digits that is a number.
const (
	shortName    = 3
	shortInside  = 4
	shortNumeric = 4
)

// CaseNamesPatient reports whether the case identifier holds a part of the
// patient's name, the hospital, national or encounter number, or the date of
// birth, however they are spelt. Such an identifier may name no file and stand
// in no report.
func (e *Entry) CaseNamesPatient() bool {
	if !e.Case.Recorded() {
		return false
	}
	id := plainLetters(e.Case.Value())
	joined, pieces := joinedUp(id), strings.Fields(id)
	runs := strings.FieldsFunc(id, func(r rune) bool { return !unicode.IsLetter(r) })
	for _, name := range []Answer[string]{e.Patient.Name, e.Patient.LatinName} {
		for _, part := range strings.Fields(plainLetters(name.Text())) {
			switch n := len([]rune(part)); {
			case n >= shortInside && strings.Contains(joined, part),
				n == shortName && slices.ContainsFunc(runs, func(run string) bool { return strings.HasPrefix(run, part) || strings.HasSuffix(run, part) }):
				return true
			}
		}
	}
	for _, number := range []string{e.Patient.ID.Text(), e.Patient.NationalNumber.Text(), e.Episode.Encounter.Text()} {
		whole, digits := joinedUp(number), onlyDigits(number)
		if short := strings.TrimLeft(digits, "0"); len(short) >= shortNumeric {
			digits = short
		}
		switch {
		case whole == "":
		case slices.Contains(pieces, whole),
			len(whole) >= shortNumeric && strings.Contains(joined, whole),
			len(digits) >= shortNumeric && strings.Contains(joined, digits):
			return true
		}
	}
	return e.Patient.Born.Recorded() && slices.ContainsFunc(dateDigits(e.Patient.Born.Value()), func(d string) bool { return strings.Contains(joined, d) })
}

// dateDigits are the eight digits of a day in the orders in which it is written.
func dateDigits(d quantity.Date) []string {
	ymd := onlyDigits(d.String())
	if len(ymd) != 8 {
		return nil
	}
	y, m, day := ymd[:4], ymd[4:6], ymd[6:]
	return []string{ymd, day + m + y, m + day + y}
}

func deriveCaseNamesPatient(s *scope) DerivedValue { return someYes(s.e.CaseNamesPatient()) }

// patientKey is the hospital number without the way it is spelt; "" when it is
// not recorded.
func patientKey(e *Entry) string {
	if !e.Patient.ID.Recorded() {
		return ""
	}
	return joinedUp(e.Patient.ID.Value())
}

// person is who a hospital number is said to belong to. Names are compared as
// the set of their parts: order, accents and capitals are spelling.
func personOf(e *Entry) (name, born string) {
	parts := strings.Fields(plainLetters(e.Patient.Name.Text()))
	slices.Sort(parts)
	return strings.Join(parts, " "), e.Patient.Born.Text()
}

// otherPerson reports that two entries cannot be about one person: the names or
// the dates of birth are both recorded and differ.
func (u use) otherPerson(other use) bool {
	differ := func(a, b string) bool { return a != "" && b != "" && a != b }
	return differ(u.name, other.name) || differ(u.born, other.born)
}
