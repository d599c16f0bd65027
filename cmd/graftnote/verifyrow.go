package main

import (
	"bytes"
	"context"
	"encoding/csv"
	"errors"
	"slices"

	"graftnote/casebook"
	"graftnote/registry"
)

// checkpointStart is the first line of a checkpoint.
const checkpointStart = "graftnote casebook checkpoint\n"

// checkpoint verifies a checkpoint that somebody kept.
func (v *verifier) checkpoint(out *verified, data []byte) {
	text := string(data)
	cp, err := casebook.ParseCheckpoint(text)
	if err != nil {
		out.say("checkpoint", fails, "malformed checkpoint")
		return
	}
	if len(v.keys) == 0 {
		out.say("key", notShown, "whose key signed is not known here: name the keys that you know (--trust), or the casebook")
	} else if err := casebook.VerifyGrowth(casebook.Growth{Old: text, New: text}, casebook.Trust{Keys: v.keys}); err != nil {
		var f casebook.Fault
		if errors.As(err, &f) {
			out.say(checkOf[f.Kind], fails, "%s: %s", f.Kind, f.What)
		}
	} else if i := slices.IndexFunc(v.keys, func(k casebook.PublicKey) bool { return k.ID == cp.Key }); i >= 0 {
		out.say("checkpoint", holds, "of %s, signed under the key of %s", count(int(cp.Size), "statement"), person(v.keys[i]))
		v.standing(out, v.keys[i])
	}
	v.growth(out, text)
}

// rowKeyColumn is the column that names the operation.
const rowKeyColumn = "row_key"

func isRow(data []byte) bool {
	head, _, _ := bytes.Cut(data, []byte("\n"))
	return bytes.HasPrefix(head, []byte(rowKeyColumn+","))
}

// rows compares registry rows with the casebook: a row carries no signature and
// no identifier.
func (v *verifier) rows(out *verified, data []byte) {
	if v.book == nil {
		out.say("row", notShown, "a row holds no signature: it can be compared with the casebook only (--casebook, --site)")
		return
	}
	if v.maker.export.rows.Key == nil {
		out.say("row", notShown, "without the site's row key (--site) the row can't be made again")
		return
	}
	keys, ok := rowKeys(data)
	if !ok {
		out.say("row", fails, "altered: it is no table of rows")
		return
	}
	cases, err := v.casesOfRows(keys)
	if err != nil {
		out.say("row", fails, "damaged: the cases cannot be listed")
		return
	}
	if i := slices.Index(cases, ""); i >= 0 {
		out.say("row", fails, "row %d is of no case in the casebook, or was made under another key", i+1)
		return
	}
	if len(cases) == 1 {
		out.Case = cases[0]
	}
	newest := v.rowsAgain(cases, 0)
	if bytes.Equal(newest, data) {
		if len(cases) == 1 {
			if d, err := readDossier(context.Background(), v.book, cases[0], v.given.options); err == nil {
				out.Revision = d.revision()
			}
		}
		out.say("row", holds, "made again from the signed %s of %s it is the same, byte for byte", entries(len(cases)), v.place)
		return
	}
	for back := 1; len(cases) == 1 && back < maxProofs; back++ {
		again := v.rowsAgain(cases, back)
		if again == nil {
			break
		}
		if bytes.Equal(again, data) {
			out.say("row", holds, "made again from an earlier revision of %s it is the same, byte for byte", v.place)
			out.say("standing", superseded, "there is a later revision, of which the row differs or which gives none")
			return
		}
	}
	out.say("row", fails, "altered, or made with other columns or by another version: it differs from the rows made again from the signed %s", entries(len(cases)))
}

func entries(n int) string {
	if n == 1 {
		return "entry"
	}
	return "entries"
}

// rowKeys reads the first column.
func rowKeys(data []byte) ([]string, bool) {
	all, err := csv.NewReader(bytes.NewReader(data)).ReadAll()
	if err != nil || len(all) < 2 {
		return nil, false
	}
	var keys []string
	for _, record := range all[1:] {
		keys = append(keys, record[0])
	}
	return keys, true
}

// casesOfRows finds the case of each row by making every case's pseudonym.
func (v *verifier) casesOfRows(keys []string) ([]string, error) {
	list, err := v.book.List(context.Background(), casebook.Filter{})
	if err != nil {
		return nil, err
	}
	byKey := make(map[string]string, len(list))
	for _, s := range list {
		byKey[registry.RowKey(v.maker.export.rows.Key, s.Case)] = s.Case
	}
	out := make([]string, len(keys))
	for i, k := range keys {
		out[i] = byKey[k]
	}
	return out, nil
}

// rowsAgain makes the rows of cases as of some revisions back; nil when one of
// them gives none.
func (v *verifier) rowsAgain(cases []string, back int) []byte {
	var rows []registry.Row
	for _, id := range cases {
		d, err := readDossier(context.Background(), v.book, id, v.given.options)
		if err == nil && back > 0 {
			if back >= d.revision() {
				return nil
			}
			d, err = newDossier(d.proofs[:d.revision()-back], v.given.options)
		}
		if err != nil {
			return []byte{}
		}
		if awaiting, _, withdrawn := d.standing(); awaiting || withdrawn {
			return []byte{}
		}
		r, err := registry.Make(d.entry, v.maker.export.rows)
		if err != nil {
			return []byte{}
		}
		rows = append(rows, r)
	}
	var b bytes.Buffer
	if registry.Write(&b, rows, v.maker.export.rows) != nil {
		return []byte{}
	}
	return b.Bytes()
}
