package ident

// Problem says why a text could not be read as an identifier.
//
// What, Why and Fix are public: they may be logged or shown to anyone and never
// carry the entered text, in whole or in part. Readings is private: it may
// quote the text and belongs only on the screen of the person who typed it, so
// it is left out of JSON and of Error.
type Problem struct {
	What     string   `json:"what"` // what is wrong, with positions but no values
	Why      string   `json:"why"`  // the rule and who publishes it
	Fix      string   `json:"fix"`  // what to do next
	Readings []string `json:"-"`    // likely readings of the text, possibly none
}

// Error returns the public statement of the problem, without any entered text.
func (p *Problem) Error() string { return p.What }

// typingCheck is the limit that every failed check character must state.
const typingCheck = "this is a typing check: it compares the characters with one another " +
	"and says nothing about whether the number was ever issued"

// readLabel is the remedy where the label or letter is the only authority.
const readLabel = "read the number again from its label and type it as printed"
