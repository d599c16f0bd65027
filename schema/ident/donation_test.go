package ident

import (
	"strings"
	"testing"
)

// Published and recomputed check characters of whole donation numbers.
var donationVectors = []struct {
	number string
	check  byte
	flag   int
	source string
}{
	{"G123498654321", 'H', 77, "Red Book Annex 2, table A2.2"},
	{"G123489654321", 'Y', 94, "python-stdnum, doc test of iso7064.mod_37_2; flag = value + 60 by Annex 2"},
	{"G123417654321", 'A', 70, "ISBT 128 ST-001 appendix A.1 and A.2, as quoted by a public reader's tests"},
	{"A999915000001", 'M', 82, "three independent public test suites"},
	{"A999914123456", 'N', 83, "recomputed with python-stdnum 2.2"},
	{"W000017123456", 'G', 76, "recomputed with python-stdnum 2.2"},
}

func TestDonationCheckCharacter(t *testing.T) {
	for _, v := range donationVectors {
		d, p := ParseDonationNumber(v.number)
		if p != nil {
			t.Errorf("%s (%s): %v", v.number, v.source, p)
			continue
		}
		if d.CheckCharacter() != v.check || d.FlagValue() != v.flag {
			t.Errorf("%s: check %c flag %d, want %c %d (%s)", v.number, d.CheckCharacter(), d.FlagValue(), v.check, v.flag, v.source)
		}
		if d.String() != v.number || d.Check != "" || d.Flags != "" {
			t.Errorf("%s: read as %+v", v.number, d)
		}
	}
}

// Spellings of one number. Grouping 5-2-6 and "=" with flags: ISBT 128 data
// structure 001; grouping 4-3-3-3: Red Book Annex 2. Rest: common practice.
func TestDonationSpellings(t *testing.T) {
	for _, c := range []struct{ text, check, flags string }{
		{"G1234 98 654321", "", ""},
		{"G123 498 654 321", "", ""},
		{"=G1234 98 654321", "", ""},
		{"g123498654321", "", ""},
		{"G123498654321H", "H", ""},
		{"G1234 98 654321 H", "H", ""},
		{"g1234 98 654321 h", "H", ""},
		{"=G1234986543210 0", "", "00"},
		{"=G123498654321 00 H", "H", "00"},
		{"=G12349865432177", "", "77"},
		{"G1234 98 654321 n7", "", "N7"},
		{"\tG1234\u00a098\u2009654321\n", "", ""},
	} {
		d, p := ParseDonationNumber(c.text)
		if p != nil {
			t.Errorf("%q refused: %v", c.text, p)
			continue
		}
		if d.String() != "G123498654321" || d.Check != c.check || d.Flags != c.flags {
			t.Errorf("%q read as %+v", c.text, d)
		}
		if d.Facility != "G1234" || d.Year != "98" || d.Serial != "654321" || d.Spaced() != "G1234 98 654321" {
			t.Errorf("%q split as %+v", c.text, d)
		}
	}
}

// The second and third facility places may hold letters: ISBT 128 data structure
// 001 as quoted by public readers (current practice is digits).
func TestDonationLettersInFacility(t *testing.T) {
	if _, p := ParseDonationNumber("GAB34 98 654321"); p != nil {
		t.Errorf("letters in places 2 and 3 refused: %v", p)
	}
	if _, p := ParseDonationNumber("GABC4 98 654321"); p == nil {
		t.Error("a letter in place 4 accepted")
	}
	if _, p := ParseDonationNumber("01234 98 654321"); p == nil {
		t.Error("0 in place 1 accepted")
	}
}

func TestDonationRefused(t *testing.T) {
	for _, c := range []struct{ text, what, reading string }{
		// O for 0 with the number's own check character: the reading fits.
		{"A9999 15 OOO001 M", "character 8 must be a digit; character 9 must be a digit; character 10 must be a digit",
			"reads A9999 15 000001, and the typed check character fits that"},
		{"a9999 15 o00001", "character 8 must be a digit", "reads A9999 15 000001, whose check character is M"},
		{"A9999 15 O00001 N", "character 8 must be a digit", "does not fit that either"},
		{"A9999 15 X00001", "character 8 must be a digit", ""},
		{"O9999 15 000001", "character 1 must be a digit 1 to 9 or a letter other than O", ""},
		// The published pair that differs by one swap (98, 89), check characters kept.
		{"G1234 89 654321 H", "check character does not fit", "G1234 89 654321, has check character Y"},
		{"G1234 98 654321 Y", "check character does not fit", "has check character H"},
		{"G1234 98 654321 *", "check character does not fit", "has check character H"},
		{"G1234 98 654321 78", "check value that does not fit", "has flag value 77"},
		{"G1234 98 654321 O0", "flag characters", ""},
		{"", "has 0 characters", ""},
		{"G1234 98 65432", "has 12 characters", ""},
		{"G1234 98 654321 00 HH", "has 17 characters", ""},
		{"G1234-98-654321", "character 6 must be a digit", ""},
		{"==G1234 98 65432", "character 1 must be", ""},
		{"G1234 98 65432١", "outside the basic Latin alphabet", ""},
		{"G1234 98 65432\xff", "outside the basic Latin alphabet", ""},
		{"ſ1234 98 654321", "outside the basic Latin alphabet", ""},
	} {
		d, p := ParseDonationNumber(c.text)
		if p == nil {
			t.Errorf("%q accepted as %+v", c.text, d)
			continue
		}
		if !strings.Contains(p.What, c.what) {
			t.Errorf("%q: what = %q, want %q", c.text, p.What, c.what)
		}
		if readings := strings.Join(p.Readings, "\n"); (c.reading == "") != (readings == "") || !strings.Contains(readings, c.reading) {
			t.Errorf("%q: readings = %q, want %q", c.text, readings, c.reading)
		}
		if d != (DonationNumber{}) {
			t.Errorf("%q: refused but returned %+v", c.text, d)
		}
	}
}

// Flags 60 to 96 carry the check value, all others only inform: ISBT 128 ST-001,
// flag types, as quoted by public readers; 77 fits by Red Book Annex 2.
func TestDonationFlagRange(t *testing.T) {
	for flags, accepted := range map[string]bool{
		"00": true, "59": true, "60": false, "76": false, "77": true, "78": false, "96": false, "97": true, "99": true,
	} {
		if _, p := ParseDonationNumber("G1234 98 654321 " + flags); (p == nil) != accepted {
			t.Errorf("flags %s: %v", flags, p)
		}
	}
}

// A failed check must not read as proof of anything beyond typing (own rule).
func TestFailedCheckSaysTypingCheck(t *testing.T) {
	for name, p := range map[string]*Problem{
		"check character": second(ParseDonationNumber("G1234 98 654321 Y")),
		"flag value":      second(ParseDonationNumber("G1234 98 654321 78")),
		"NHS number":      second(ParseNHSNumber("943 476 5871")),
		"GTIN":            second(ParseGTIN("8904000210038")),
	} {
		if p == nil || !strings.Contains(p.Why, "this is a typing check") {
			t.Errorf("%s: %+v does not name the limit of the check", name, p)
		}
	}
}

func second[T any](_ T, p *Problem) *Problem { return p }

func TestZeroDonationNumberHasNoCheck(t *testing.T) {
	var d DonationNumber
	if d.CheckCharacter() != 0 || d.FlagValue() != 0 {
		t.Errorf("zero value has check %d and flag %d", d.CheckCharacter(), d.FlagValue())
	}
}

// ISO/IEC 7064 theory: every single change and every exchange of neighbours is
// found. Checked for every place and every pair of characters, the check
// character's own place included.
func TestMod37DetectsChangesAndSwaps(t *testing.T) {
	data := mod37Alphabet[:36]
	base := "G123498654321"
	for i := range len(base) {
		for _, a := range data {
			was := replace(base, i, byte(a))
			check := mustMod37(t, was)
			for _, b := range data {
				if a != b && mustMod37(t, replace(was, i, byte(b))) == check {
					t.Errorf("place %d: %c for %c not found", i+1, b, a)
				}
			}
		}
		if i+1 == len(base) {
			continue
		}
		for _, a := range data {
			for _, b := range data {
				was := replace(replace(base, i, byte(a)), i+1, byte(b))
				swapped := replace(replace(base, i, byte(b)), i+1, byte(a))
				if a != b && mustMod37(t, was) == mustMod37(t, swapped) {
					t.Errorf("places %d and %d: exchange of %c and %c not found", i+1, i+2, a, b)
				}
			}
		}
	}
	// The last character exchanged with the check character.
	for _, a := range data {
		was := replace(base, len(base)-1, byte(a))
		check := mustMod37(t, was)
		if check == byte(a) || check == '*' {
			continue
		}
		if mustMod37(t, replace(base, len(base)-1, check)) == byte(a) {
			t.Errorf("exchange of last character %c with check %c not found", a, check)
		}
	}
}

func TestMod37RefusesOtherCharacters(t *testing.T) {
	for _, s := range []string{"", "g", "A B", "A*", "Ä", "1-2", "\x00"} {
		c, err := Mod37_2(s)
		if err == nil {
			t.Errorf("%q gave %c", s, c)
		} else if s != "" && strings.Contains(err.Error(), s) && len(s) > 1 {
			t.Errorf("error quotes %q: %v", s, err)
		}
	}
}

func replace(s string, i int, c byte) string { return s[:i] + string(c) + s[i+1:] }

func mustMod37(t *testing.T, s string) byte {
	t.Helper()
	c, err := Mod37_2(s)
	if err != nil {
		t.Fatalf("%s: %v", s, err)
	}
	return c
}
