package main

import (
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"strings"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"

	"graftnote/casebook"
	"graftnote/pdf"
)

// editStored edits the signed entry of a case in the database and gives it its
// digest: what somebody can do who has the file and no key.
func editStored(path, id, old, new string) error {
	db, err := sql.Open("sqlite", path)
	if err != nil {
		return err
	}
	defer db.Close()
	for _, t := range []string{"leaf_stays", "leaf_kept", "leaf_once"} {
		if _, err := db.Exec("DROP TRIGGER IF EXISTS " + t); err != nil {
			return err
		}
	}
	var at int64
	var text []byte
	if err := db.QueryRow("SELECT idx, statement FROM leaf WHERE case_id = ? AND kind = 'signed'", id).Scan(&at, &text); err != nil {
		return err
	}
	s, err := casebook.ParseStatement(text)
	if err != nil {
		return err
	}
	s.Entry = []byte(strings.Replace(string(s.Entry), old, new, 1))
	sum := sha256.Sum256(s.Entry)
	s.EntrySHA256 = hex.EncodeToString(sum[:])
	if text, err = s.Encode(); err != nil {
		return err
	}
	if _, err = db.Exec("UPDATE leaf SET statement = ? WHERE idx = ?", text, at); err != nil {
		return err
	}
	_, err = db.Exec("UPDATE casefile SET entry_sha256 = ? WHERE case_id = ?", s.EntrySHA256, id)
	return err
}

// tamper edits a stored entry in a script.
func tamper(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 4 {
		ts.Fatalf("usage: tamper CASEBOOK CASE OLD NEW")
	}
	ts.Check(editStored(ts.MkAbs(args[0]), args[1], args[2], args[3]))
}

// A forger who can write the casebook puts the digest of a forged page where
// earlier versions remembered what they had written. It proves nothing.
func TestRememberedDigestProvesNothing(t *testing.T) {
	b := newBook(t)
	id := b.sign(sampleText(t), "Imara Voss")
	page := read(t, b.write(id), id+".note.pdf")
	d, err := readDossier(t.Context(), b.book, id, b.verifier().given.options)
	if err != nil {
		t.Fatal(err)
	}
	doc, err := d.build(nil, "")
	if err != nil {
		t.Fatal(err)
	}
	if string(forge(t, doc)) != string(page) {
		t.Fatal("the note is drawn otherwise than it is written")
	}
	doc.Banner.Eye = "LEFT EYE"
	forged := forge(t, doc)
	sum := sha256.Sum256(forged)
	db, err := sql.Open("sqlite", b.path)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	for _, q := range []string{"CREATE TABLE product (case_id TEXT, revision INTEGER, kind TEXT, sha256 TEXT)",
		"INSERT INTO product VALUES ('" + id + "', 1, 'note.pdf', '" + hex.EncodeToString(sum[:]) + "')"} {
		if _, err := db.Exec(q); err != nil {
			t.Fatal(err)
		}
	}
	if verdict, why := said(t, b.verifier(), forged); verdict != fails || !strings.Contains(why, "altered page") {
		t.Errorf("%s: %s", verdict, why)
	}
}

// No page and no bundle of ours lacks a word that was signed, on either paper: what
// another version wrote must not be called altered for a broken line.
func TestSignedWordsAreWhole(t *testing.T) {
	b, ids := wholeLife(t)
	v := b.verifier()
	for _, id := range ids {
		d, err := readDossier(t.Context(), b.book, id, v.given.options)
		if err != nil {
			t.Fatal(err)
		}
		doc, err := d.build(v.maker.phrases, "")
		if err != nil {
			t.Fatal(err)
		}
		for _, paper := range []pdf.Paper{pdf.A4, pdf.Letter} {
			files, _, err := v.maker.final(d, paper, nil)
			if err != nil {
				t.Fatal(err)
			}
			if missing, ok := printedWords(doc, files[kindNote]); !ok || missing > 0 {
				t.Errorf("%s on %s: %d words are missing", id, paper.Name, missing)
			}
			for _, of := range []kind{kindBundle, kindDocument} {
				if missing, ok := quotedWords(doc, files[of]); !ok || missing > 0 {
					t.Errorf("%s, %s: %d words are missing", id, of, missing)
				}
			}
		}
		if n := len(tokensOf(textOf(doc))); n < 100 {
			t.Errorf("%s: only %d words are looked for", id, n)
		}
	}
}
