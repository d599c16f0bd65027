package registry

import (
	"bytes"
	"encoding/hex"
	"regexp"
	"strings"
	"testing"
)

// RFC 4231 section 4, test cases 1 to 4, 6 and 7: HMAC-SHA-256.
func TestKeyedHashIsHMACSHA256(t *testing.T) {
	longKey := bytes.Repeat([]byte{0xaa}, 131)
	counting, _ := hex.DecodeString("0102030405060708090a0b0c0d0e0f10111213141516171819")
	for _, v := range []struct {
		key, data []byte
		want      string
	}{
		{bytes.Repeat([]byte{0x0b}, 20), []byte("Hi There"), "b0344c61d8db38535ca8afceaf0bf12b881dc200c9833da726e9376c2e32cff7"},
		{[]byte("Jefe"), []byte("what do ya want for nothing?"), "5bdcc146bf60754e6a042426089575c75a003f089d2739839dec58b964ec3843"},
		{bytes.Repeat([]byte{0xaa}, 20), bytes.Repeat([]byte{0xdd}, 50), "773ea91e36800e46854db8ebd09181a72959098b3ef8c122d9635514ced565fe"},
		{counting, bytes.Repeat([]byte{0xcd}, 50), "82558a389a443c0ea4cc819899f2083a85f0faa3e578f8077a2e3ff46729665b"},
		{longKey, []byte("Test Using Larger Than Block-Size Key - Hash Key First"), "60e431591ee0b67f0d8a26aacbf5b77f8e0bc6213728c5140546040f0ee37f54"},
		{longKey, []byte("This is a test using a larger than block-size key and a larger than block-size data. The key needs to be hashed before being used by the HMAC algorithm."), "9b09ffa71b942fcb27635fbcd5b0e944bfdc63644f0713938a7f51535c3a35e2"},
	} {
		if got := hex.EncodeToString(keyedHash(v.key, v.data)); got != v.want {
			t.Errorf("HMAC of %q: %s, RFC 4231 gives %s", v.data, got, v.want)
		}
	}
}

// The whole construction, computed with Python 3.11 (hmac, hashlib, base64,
// struct) from its description in docs/registry-dictionary.md.
func TestKeysMatchAnIndependentComputation(t *testing.T) {
	for _, v := range []struct{ name, got, want string }{
		{"person", PersonKey(testKey, "FIC-0101"), "ptpebas3voqctcbwjas6qv4g3ut"},
		{"row", RowKey(testKey, "a1k7-double-bubble"), "rm5ryzwq5rtnmh3klsigmmudt5v"},
		{"epoch", Epoch(testKey), "ky7pkdsdg"},
	} {
		if v.got != v.want {
			t.Errorf("%s key %s, Python gives %s", v.name, v.got, v.want)
		}
	}
}

func TestPseudonymTellsApartWhatDiffers(t *testing.T) {
	other := bytes.Repeat([]byte{7}, 32)
	seen := map[string]string{}
	for name, p := range map[string]string{
		"person":         PersonKey(testKey, "FIC-0101"),
		"other person":   PersonKey(testKey, "FIC-0102"),
		"other key":      PersonKey(other, "FIC-0101"),
		"case":           RowKey(testKey, "case-one"),
		"other case":     RowKey(testKey, "case-two"),
		"person as case": RowKey(testKey, "FIC-0101"),
		"parts run over": Pseudonym(testKey, forRow, "case", "-one"), // the same bytes, divided otherwise
		"epoch":          Epoch(testKey),
		"other epoch":    Epoch(other),
	} {
		if have, twice := seen[p[1:]]; twice {
			t.Errorf("%s and %s give the same pseudonym", name, have)
		}
		seen[p[1:]] = name
	}
}

// Unicode Standard Annex 15: e with U+0301 composes to U+00E9. One person typed
// in two ways is one person.
func TestPseudonymIsOfTheNormalisedNumber(t *testing.T) {
	if PersonKey(testKey, " FIC-é1 ") != PersonKey(testKey, "FIC-e\u03011") {
		t.Error("composed and decomposed record numbers give different persons")
	}
	if PersonKey(testKey, "0101") == PersonKey(testKey, "101") {
		t.Error("a leading zero was lost")
	}
}

// RFC 4648 section 6: 32 letters of 5 bits, a to z and 2 to 7; 26 of them are
// 130 bits. The first letter keeps a key from being read as a number.
func TestPseudonymForm(t *testing.T) {
	form := regexp.MustCompile(`^[a-z2-7]{26}$`)
	for i := range 2000 {
		p := PersonKey(testKey, strings.Repeat("x", i%40)+string(rune('0'+i%10)))
		if p[0] != 'p' || !form.MatchString(p[1:]) {
			t.Fatalf("pseudonym %q", p)
		}
	}
	if keyLength*5 < 128 {
		t.Error("fewer than 128 bits")
	}
}

// A list of all record numbers is the attack on unkeyed hashes. Without the key
// none of the candidates must hit, whatever cheap key is tried.
func TestDictionaryOverRecordNumbersFailsWithoutTheKey(t *testing.T) {
	target := PersonKey(testKey, "0004711")
	for _, guess := range [][]byte{nil, {}, make([]byte, 32), []byte("graftnote"), []byte(forPerson)} {
		for n := range 20000 {
			if PersonKey(guess, sevenDigits(n)) == target {
				t.Fatalf("found by listing, number %d", n)
			}
		}
	}
	if PersonKey(testKey, sevenDigits(4711)) != target {
		t.Error("the holder of the key cannot link the row")
	}
}

func sevenDigits(n int) string {
	out := []byte("0000000")
	for i := 6; n > 0; i, n = i-1, n/10 {
		out[i] = byte('0' + n%10)
	}
	return string(out)
}
