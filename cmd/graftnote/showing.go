package main

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"slices"
	"strings"

	"graftnote/casebook"
	"graftnote/note"
	"graftnote/schema"
)

// showing is one note as it is put before its signer. What is signed afterwards
// is held to its token: nothing is signed that was not shown.
type showing struct {
	name    string // the case identifier
	file    string // "" for a note of the casebook
	checked schema.Checked
	doc     note.Document
	ask     []schema.Finding // to be answered
	prefill []string         // paths to be confirmed
	states  []schema.Finding // that block, and that the signer may confirm as true
	affirm  []affirmation    // that the entry confirms, to be affirmed
	typed   []schema.StateAt // of those, what the signer typed just now
	alike   []string         // earlier cases that look the same
	team    string           // what the entry's team says of the signer, when that is odd
	history casebook.History // of a signed case
	changes []casebook.Change
	moves   []schema.ItemMove // items that a correction takes out or adds
	// samePerson: the correction changes who the patient is said to be, so the signer
	// says that it is the same person.
	samePerson bool
	token      string
	unbound    bool // the words of a signed note, made from its entry: its signature binds none
	// confirm adds what the signer typed about the states to the entry, and puts it
	// before the signer anew; the findings tell what can't be read.
	confirm func([]schema.TypedState) (*showing, []schema.Finding, error)
	before  string // digest of the entry that this key has signed already, "" when none
}

// newShowing puts a checked entry before a signer, in the words that the signature
// will bind; the token covers both. With the history of its case it is a
// correction, and the token covers that too.
func (k *signing) newShowing(c schema.Checked, h casebook.History) (*showing, error) {
	d, err := toSign(c, k.phrases, k.language)
	if err != nil {
		return nil, err
	}
	s := &showing{name: c.ID(), file: c.File(), checked: c, doc: d, history: h, ask: casebook.ToAnswer(c), states: c.ToConfirm(), affirm: affirmations(c, d), prefill: casebook.Prefilled(c)}
	words, err := s.doc.Canonical()
	if err != nil {
		return nil, err
	}
	s.token = tokenOf([]byte(c.Digest()), words)
	if len(h.Revisions) == 0 {
		return s, nil
	}
	s.token = tokenOf(leafOf(h), []byte(s.token))
	old, err := schema.Sealed(h.Entry(len(h.Revisions)), k.given.options)
	if err != nil {
		return nil, bookFault("the changes", err)
	}
	s.moves = schema.ItemMoves(old.Entry(), c.Entry())
	s.changes, err = casebook.Changes(old.Canonical(), c.Canonical())
	return s, bookFault("the changes", err)
}

// teamOf says when the person who is about to sign is not the one whom the entry
// names as signer. Names are written in many ways, so it asks and never refuses.
func teamOf(e *schema.Entry, signer string) string {
	var named []string
	for _, m := range e.Team {
		if !m.Role.Is("signer") {
			continue
		}
		if strings.EqualFold(strings.TrimSpace(m.Name.Text()), strings.TrimSpace(signer)) {
			return ""
		}
		named = append(named, m.Name.Text())
	}
	if len(named) == 0 {
		return "The entry names no signer; the key is that of " + signer + "."
	}
	return "The entry names " + schema.JoinWords(named) + " as signer; the key is that of " + signer + "."
}

// tokenOf binds what was shown together.
func tokenOf(parts ...[]byte) string {
	h := sha256.New()
	for _, p := range parts {
		h.Write(p)
	}
	return hex.EncodeToString(h.Sum(nil))
}

// leafOf is the hash of the newest act on a case. By the chain of the acts it
// stands for all that went before.
func leafOf(h casebook.History) []byte {
	leaf := h.Current().Leaf
	return leaf[:]
}

// newAct puts a signed case before whoever acts on it.
func (k *signing) newAct(h casebook.History) (*showing, error) {
	c, err := schema.Sealed(h.Entry(len(h.Revisions)), k.given.options)
	if err != nil {
		return nil, &fault{status: statusIO, text: "case " + h.Case + ": its entry cannot be read by this version of graftnote"}
	}
	words := h.Document(len(h.Revisions))
	d := &dossier{history: h, entry: c, words: words}
	doc, err := d.document(k.phrases, k.language)
	if err != nil {
		return nil, err
	}
	return &showing{name: h.Case, checked: c, doc: doc, history: h, unbound: words == nil, token: tokenOf(leafOf(h))}, nil
}

// compare looks for copies among the signer's last entries and the notes of the
// same run before each. A correction is meant to be alike and is not compared. What
// an interrupted run of the same list has signed stands in the list, not among the
// earlier entries: the form gets the same questions again.
func compare(ctx context.Context, book *casebook.Casebook, signer string, list []*showing) error {
	entries := make([]casebook.Earlier, len(list))
	for i, s := range list {
		entries[i] = casebook.Earlier{Case: s.name, Entry: s.checked.Canonical()}
	}
	alike, err := book.Likenesses(ctx, signer, entries)
	if err != nil {
		return bookFault("the earlier entries", err)
	}
	for i, s := range list {
		s.alike = alike[i]
	}
	return nil
}

// toSign is the note as it is put before its signer, with each point to look at
// again and no answer yet.
func toSign(c schema.Checked, p *note.Phrases, language string) (note.Document, error) {
	d, err := note.Build(c, p, note.Options{Language: language, ToSign: true})
	for _, f := range casebook.ToAnswer(c) {
		d.Answers = append(d.Answers, note.Item{Label: findingWords(casebook.Answer{Rule: f.Rule, Path: f.Path}, p)})
	}
	return d, err
}

// wordsOf are what the signature binds: the document as it was shown, with the
// reasons that the signer gave.
func wordsOf(c schema.Checked, d note.Document, answers []casebook.Answer) ([]byte, error) {
	d.Answers = slices.Clone(d.Answers)
	for i, f := range casebook.ToAnswer(c) {
		for _, a := range answers {
			if a.Rule == f.Rule && a.Path == f.Path {
				d.Answers[i].Value = a.Reason
			}
		}
	}
	return d.Canonical()
}

// unsigned refuses a case that has a signed note. With again, a note that the same
// key signed for the same entry is no refusal: a run of the form was interrupted.
func (s *showing) unsigned(ctx context.Context, book *casebook.Casebook, key string, again bool) error {
	h, err := book.Get(ctx, s.name)
	switch {
	case errors.Is(err, casebook.ErrNoCase):
		return nil
	case err != nil:
		return bookFault("case "+s.name, err)
	}
	if first := h.Revisions[0].Statement; again && first.Signer.Key == key {
		s.before = first.EntrySHA256 // compared when the form has been read
		return nil
	}
	return bookFault("case "+s.name, casebook.ErrAlreadySigned)
}

func (s *showing) eye() string { return strings.ToLower(s.checked.Entry().Eye.Operated.Text()) }

// open counts what the signer has to answer.
func (s *showing) open() string {
	var parts []string
	for _, x := range []struct {
		n    int
		what string
	}{{len(s.states), "to confirm as true"}, {len(s.affirm), "to affirm as true"}, {len(s.ask), "to answer"}, {len(s.prefill), "to confirm"}, {len(s.alike), "alike"}} {
		if x.n > 0 {
			parts = append(parts, fmt.Sprintf("%d %s", x.n, x.what))
		}
	}
	if len(parts) == 0 {
		return "no open point"
	}
	return strings.Join(parts, ", ")
}

// batch lists all notes before the first is shown in full.
func (p *printer) batch(list []*showing) {
	if len(list) < 2 {
		return
	}
	p.line("%s to be signed:\n", count(len(list), "note"))
	for i, s := range list {
		p.line("%3d  %s  %s", i+1, p.paint(bold, s.doc.Banner.Eye), visibleProse(s.doc.Banner.PatientID+", "+s.doc.Banner.Operated))
		p.line("     %s", visibleProse(s.doc.Subtitle))
		p.line("     %s: %s", s.name, s.open())
	}
	p.line("")
}

// showing prints all that a signature will cover and all that is asked.
func (p *printer) showing(s *showing, n, of int) {
	if of > 1 {
		p.line("%s\nNote %d of %d\n", strings.Repeat("=", textWidth), n, of)
	}
	d := s.doc
	prefilled := d.Confirmed
	if len(s.prefill) > 0 { // they are listed below, to be confirmed
		d.Confirmed = nil
	}
	if len(s.history.Revisions) > 0 && len(s.changes) == 0 {
		d.Status, d.Draft, d.Standing = "The note in force, as it was signed", false, nil
		if s.unbound {
			d.Status = "The entry in force. " + wordsUnsigned
		}
	}
	writeNote(p, d)
	if len(s.history.Revisions) > 0 {
		p.line("")
		p.history(s.history)
	}
	if len(s.changes) > 0 {
		p.line("\nChanges that the correction makes:")
		p.changes(s.changes)
		p.moves(s.moves)
	}
	if len(s.prefill) > 0 {
		p.line("\nPrefilled from the standing technique, to be confirmed:")
		for i, path := range s.prefill {
			p.line("  %-32s %s", path, visibleProse(prefilled[i].Label+": "+prefilled[i].Value))
		}
	}
	p.states(s)
	remarks := false
	for _, f := range s.checked.Findings() {
		if f.Severity == schema.Look || f.Severity == schema.Remark {
			if !remarks {
				p.line("\nOpen points; each 'look again' is to be corrected or answered:")
				remarks = true
			}
			p.finding(f)
		}
	}
	for _, other := range s.alike {
		p.line("\nThis entry holds nearly the same values as case %s of the same surgeon.\nIs it truly another operation?", other)
	}
	if s.team != "" {
		p.line("\n%s", wrap(visibleProse(s.team)+" Look whether the right person signs.", textWidth, ""))
	}
	p.line("\nTo be signed: case %s, %s, patient %s: %s.", s.name, p.paint(bold, d.Banner.Eye), visibleProse(d.Banner.PatientID), s.open())
	p.line("Shown: %s", s.token)
}
