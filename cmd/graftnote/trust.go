package main

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"time"

	"graftnote/casebook"
	"graftnote/schema"
)

// Whom a reader trusts is the reader's to say: keys, founders, and the casebook
// that knows the others. Nothing of it is taken from where a stranger's files may
// lie.

// foundersVariable may name the list of founders, for a reader's whole desk.
const foundersVariable = "GRAFTNOTE_FOUNDERS"

// trust is on whose word the verifier takes a key for its owner's.
type trust struct {
	place      string // the casebook that gave it, in words; "" without one
	named      []casebook.PublicKey
	founders   []string // identifiers; nil when no list was named
	registered []casebook.PublicKey
}

var identifier = regexp.MustCompile(`^graftnote-[0-9a-f]{16}\+[0-9a-f]{8}$`)

// readFounders reads the list that the flag or the variable names.
func (f *verifyFlags) readFounders(a *app) ([]string, error) {
	path := f.founders
	if path == "" {
		path = a.env.getenv(foundersVariable)
	}
	if path == "" {
		return nil, nil
	}
	if err := f.apart(a, path); err != nil {
		return nil, err
	}
	text, err := readInput(path, mostTyped)
	if err != nil {
		return nil, unread(path, err)
	}
	if info, err := os.Stat(path); err == nil && openToOthers(info.Mode()) && info.Mode().Perm()&0o022 != 0 {
		a.print.hint("other users of this machine may change " + path + ": whoever writes it says whom you trust")
	}
	out := []string{}
	for i, line := range strings.Split(string(text), "\n") {
		line, _, _ = strings.Cut(line, "#")
		id, _, _ := strings.Cut(strings.TrimSpace(line), " ")
		switch {
		case id == "":
		case identifier.MatchString(id):
			out = append(out, id)
		default:
			return nil, &fault{status: statusIO, text: fmt.Sprintf("%s:%d: this is no identifier of a key", path, i+1),
				hints: []string{"write one on each line, as 'graftnote keys show' prints it: graftnote-394b3b4181168512+c9802492"}}
		}
	}
	return out, nil
}

// apart refuses a list of founders where whoever sent a note, or may write the
// casebook, could have put it.
func (f *verifyFlags) apart(a *app, path string) error {
	path = truePath(path)
	wrong := func(where string) error {
		return &fault{status: statusUsage, text: "the list of founders lies " + where,
			hints: []string{"whoever could put files there would say whom you trust; keep the list in a folder of your own, such as that of your settings"}}
	}
	if inside(path, truePath(".")) {
		return wrong("in the working folder")
	}
	if f.named(a) {
		if place := f.address(a); !casebook.IsAddress(place) && inside(path, filepath.Dir(truePath(place))) {
			return wrong("beside the casebook")
		}
	}
	return nil
}

// truePath is a path from the root on, without links.
func truePath(path string) string {
	if real, err := filepath.EvalSymlinks(path); err == nil {
		path = real
	}
	if abs, err := filepath.Abs(path); err == nil {
		path = abs
	}
	return path
}

func inside(path, dir string) bool {
	rel, err := filepath.Rel(dir, path)
	return err == nil && rel != ".." && !strings.HasPrefix(rel, ".."+string(filepath.Separator))
}

// named reports whether there is a casebook to look into: one that was named, by
// flag or variable, or the site's. One that happens to lie in the current folder
// may have come with the note.
func (f *verifyFlags) named(a *app) bool {
	if f.place != "" || a.env.getenv(casebookVariable) != "" {
		return true
	}
	_, err := os.Stat(f.address(a))
	if f.site != "" {
		return err == nil
	}
	if err == nil && !f.hinted {
		f.hinted = true
		a.print.hint("the " + casebookName + " in this folder is not looked into: it may have come with the note; name it if it is yours: --casebook " + casebookName)
	}
	return false
}

// placed says which casebook gives the trust, and how it was named. It holds no
// password.
func (f *verifyFlags) placed(a *app) string {
	address := f.address(a)
	place := placeName(address)
	if name := casebook.ServerName(address); name != "" {
		place += " at " + name
	}
	switch {
	case f.place != "":
		return place
	case a.env.getenv(casebookVariable) != "":
		return place + " (from " + casebookVariable + ")"
	}
	return place + " (the site's)"
}

// ask opens the casebook and reads what it knows of keys.
func (v *verifier) ask(ctx context.Context, f *verifyFlags) error {
	var err error
	if v.book, err = f.openBook(ctx, v.app, casebook.Options{ReadOnly: true}); err != nil {
		return err
	}
	if v.registered, err = v.book.Keys(ctx); err != nil {
		return bookFault("the keys of the casebook", err)
	}
	v.place = f.placed(v.app)
	v.keys = trusted(v.keys, v.registered)
	return nil
}

// keysFor are the keys that proofs are held to. Without a casebook a listed
// founder is known by the identifier.
func (v *verifier) keysFor(list []casebook.Proof) []casebook.PublicKey {
	if len(v.keys) > 0 || v.book != nil {
		return v.keys
	}
	var out []casebook.PublicKey
	for _, p := range list {
		for _, k := range p.Keys {
			if !slices.Contains(v.founders, k.ID) {
				return nil
			}
			if !slices.Contains(out, k) {
				out = append(out, k)
			}
		}
	}
	return out
}

// keyWords say what was found out about the signers' keys.
func (v *verifier) keyWords() string {
	switch {
	case v.book == nil:
		return "the key is one that you named"
	case len(v.named) > 0:
		return "the key is one that you named, and was in force by " + v.place
	}
	return "the key is registered in " + v.place + ", and was in force"
}

// vouched says for each signer on whose word the key stands, up to a founder. Only
// a key or a founder that the reader named is the reader's word.
func (v *verifier) vouched(out *verified, list []casebook.Proof) {
	var seen []string
	for _, p := range list {
		s, err := casebook.ParseStatement(p.Statement)
		if err != nil || slices.Contains(seen, s.Signer.Key) {
			continue
		}
		seen = append(seen, s.Signer.Key)
		v.standing(out, casebook.PublicKey{ID: s.Signer.Key, Name: s.Signer.Name, Role: s.Signer.Role})
	}
}

func (v *verifier) standing(out *verified, signer casebook.PublicKey) {
	who := person(signer)
	if slices.ContainsFunc(v.named, func(k casebook.PublicKey) bool { return k.ID == signer.ID }) {
		out.say("voucher", holds, "%s: you named this key", who)
		return
	}
	chain := casebook.Vouchers(v.registered, signer.ID)
	if len(chain) == 0 {
		if slices.Contains(v.founders, signer.ID) {
			out.say("voucher", holds, "%s is on your list of founders", who)
		}
		return // else the line about the key says it
	}
	for i, k := range chain {
		if i > 0 {
			who += ", vouched for by " + person(k)
			if distrusted(k, chain[i-1].VouchedAt) {
				out.say("voucher", notShown, "%s, whose key was not to be trusted any more when it vouched", who)
				return
			}
		}
		if slices.Contains(v.founders, k.ID) {
			out.say("voucher", holds, "%s, who is on your list of founders", who)
			return
		}
	}
	root := chain[len(chain)-1]
	switch {
	case !root.Stands():
		out.say("voucher", notShown, "nobody vouched: %s registered the key without a voucher, when that was allowed", who)
	case v.founders == nil:
		out.say("voucher", notShown, "nobody vouched: %s, a founder of this casebook, in its own word; name the founders whom you know (--founders), or the key (--trust)", who)
	default:
		out.say("voucher", notShown, "nobody vouched: %s, a founder of this casebook who is not on your list of founders", who)
	}
}

// person is who holds a key, in words.
func person(k casebook.PublicKey) string {
	return fmt.Sprintf("%s (%s)", schema.Visible(k.Name), k.Role)
}

// distrusted reports whether a key was not to be trusted at a time, as it was said
// at its revocation.
func distrusted(k casebook.PublicKey, at string) bool {
	since, err := time.Parse(time.RFC3339, k.Since)
	when, err2 := time.Parse(time.RFC3339, at)
	return err == nil && err2 == nil && !when.Before(since)
}

// founded says of a whole casebook on whose word its keys stand.
func (v *verifier) founded(out *verified) {
	held := true
	for _, k := range v.registered {
		chain := casebook.Vouchers(v.registered, k.ID)
		switch {
		case slices.ContainsFunc(chain, func(c casebook.PublicKey) bool { return slices.Contains(v.founders, c.ID) }):
		case k.Waits():
			out.say("voucher", remark, "nobody has vouched for key %s yet: it signed nothing", k.ID)
		default:
			held = false
			out.say("voucher", notShown, "nobody vouched: key %s stands on %s, who is on no list of founders that you named (--founders)", k.ID, person(chain[len(chain)-1]))
		}
	}
	if held {
		out.say("voucher", holds, "every key that signs stands on the word of a founder on your list")
	}
}
