package main

import (
	"slices"
	"strings"
)

// spoken is an answer as it is meant: without case, quotes, stops and the word
// eye.
func spoken(answer string) string {
	words := strings.FieldsFunc(strings.ToLower(answer), func(r rune) bool { return strings.ContainsRune(" \t.,;:!'\"’‘“”", r) })
	if len(words) > 1 && words[0] == "the" {
		words = words[1:]
	}
	if n := len(words); n > 1 && words[n-1] == "eye" {
		words = words[:n-1]
	}
	return strings.Join(words, " ")
}

// askWord asks until one of the words is typed and gives it as it stands there. A
// slip of the keyboard asks again; only an empty answer, which gives "", leaves.
func (a *app) askWord(question string, words ...string) (string, error) {
	for {
		typed, err := a.ask(question)
		if err != nil || typed == "" {
			return "", err
		}
		if i := slices.Index(words, spoken(typed)); i >= 0 {
			return words[i], nil
		}
		a.print.prompt("Only " + either(words) + " counts here; all that you typed before is kept.")
	}
}

func either(words []string) string {
	quotes := make([]string, len(words))
	for i, w := range words {
		quotes[i] = "'" + w + "'"
	}
	return strings.Join(quotes, " or ")
}

// mostOtherEyes is how often the other eye may be typed for one note.
const mostOtherEyes = 3

// askEye has the eye of a note typed: a last look at the side by a word of one's
// own, not a key that is pressed by habit. It is false when the note is left; slip
// tells that the other eye was typed to the end.
func (a *app) askEye(s *showing) (signs, slip bool, err error) {
	for range mostOtherEyes {
		eye, err := a.askWord("\nType the eye of this note, right or left, to sign it (nothing leaves it unsigned): ", "right", "left")
		switch {
		case err != nil || eye == "":
			return false, false, err
		case eye == strings.ToLower(s.eye()):
			return true, false, nil
		}
		a.print.prompt("You typed the other eye: this note is about the eye that its box names. Nothing is signed.\n" +
			"If the note is wrong, leave it unsigned and correct the entry; look at the consent. If it\nwas a slip, type the eye again.")
	}
	return false, true, nil
}

// onceMore asks again for the eye of the notes that were left by a slip, when all
// others were decided. What was typed for them is kept.
func (k *signing) onceMore() ([]*signature, error) {
	var out []*signature
	for _, s := range k.slipped {
		k.app.print.line("\n%s was left unsigned: the other eye was typed. Its reasons and confirmations are kept; look at the note above.", s.name)
		signs, _, err := k.app.askEye(s.showing)
		switch {
		case err != nil:
			return nil, err
		case signs:
			out = append(out, s)
		default:
			k.app.print.line("%s is left unsigned.", s.name)
		}
	}
	return out, nil
}
