package ident

import (
	"errors"
	"strings"
)

// mod37Alphabet lists the ISO/IEC 7064 characters by value, 0 to 36. The last
// one occurs only as a check character.
const mod37Alphabet = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ*"

var errMod37 = errors.New("the mod 37,2 check needs one or more characters, each a digit or a capital letter")

// Mod37_2 returns the ISO/IEC 7064 mod 37,2 check character of s, one of 0-9,
// A-Z or '*'. It fails for an empty text and for any other character than 0-9
// and A-Z; the error does not quote s.
//
// Source: UK blood and tissue services guidelines ("Red Book"), Annex 2.
func Mod37_2(s string) (byte, error) {
	v, err := mod37Value(s)
	if err != nil {
		return 0, err
	}
	return mod37Alphabet[v], nil
}

// mod37Value is Mod37_2 as a number, 0 to 36. Doubling before each addition
// gives the weights 2, 4, 8 ... from the right that Annex 2 tabulates.
func mod37Value(s string) (int, error) {
	if s == "" || !allOf(s, isAlnum) {
		return 0, errMod37
	}
	sum := 0
	for i := 0; i < len(s); i++ {
		sum = (sum + strings.IndexByte(mod37Alphabet, s[i])) * 2 % 37
	}
	return (38 - sum) % 37, nil
}
