package main

import (
	"bytes"
	"encoding/json"
	"errors"
	"io"
	"slices"
	"strings"
)

// jsonReceipt walks through an answer in JSON and knows the line it is on.
type jsonReceipt struct {
	*receiptFile
	text []byte
	dec  *json.Decoder
	at   int64 // up to where lines are counted
	n    int
}

func (r *receiptFile) readJSON(b []byte) {
	w := &jsonReceipt{receiptFile: r, text: b, dec: json.NewDecoder(bytes.NewReader(b)), n: 1}
	has, ok := w.object("the answer", []string{"package", "answer", "rows"}, func(name string) bool {
		switch name {
		case "package":
			ok := w.words(name, &r.Package)
			r.packageLine = w.line()
			return ok
		case "answer":
			ok := w.words(name, &r.Answer)
			r.answerLine = w.line()
			return ok
		}
		return w.rows()
	})
	if !ok {
		return
	}
	for _, need := range []string{"package", "answer"} {
		if !has[need] {
			r.malformed(1, need+" is missing", `write "`+need+`": "..." in it`)
		}
	}
	if _, err := w.dec.Token(); !errors.Is(err, io.EOF) {
		r.malformed(w.line(), "something stands behind the answer", "give the answer to one package only")
	}
}

// line is that of the token read last.
func (w *jsonReceipt) line() int {
	to := min(w.dec.InputOffset(), int64(len(w.text)))
	w.n += bytes.Count(w.text[w.at:to], []byte("\n"))
	w.at = to
	return w.n
}

// noJSON notes where the file ends to be JSON.
func (w *jsonReceipt) noJSON() bool {
	w.malformed(w.line(), "from here on it is not JSON, or ends too early", "compare it with the form in 'graftnote receipt --help'")
	return false
}

func (w *jsonReceipt) begins(with json.Delim, what string) bool {
	t, err := w.dec.Token()
	switch {
	case err != nil:
		return w.noJSON()
	case t != with:
		w.malformed(w.line(), what+" does not begin with "+with.String(), "compare it with the form in 'graftnote receipt --help'")
		return false
	}
	return true
}

// object reads the members of one object; false when nothing can be read behind it.
func (w *jsonReceipt) object(what string, members []string, member func(name string) bool) (has map[string]bool, ok bool) {
	has = map[string]bool{}
	if !w.begins('{', what) {
		return has, false
	}
	for w.dec.More() {
		t, err := w.dec.Token()
		name, _ := t.(string)
		switch {
		case err != nil:
			return has, w.noJSON()
		case !slices.Contains(members, name):
			w.malformed(w.line(), what+" has a member that is not read", "write only "+strings.Join(members, ", "))
			var skipped any
			if w.dec.Decode(&skipped) != nil {
				return has, w.noJSON()
			}
			continue
		case has[name]:
			w.malformed(w.line(), name+" stands twice", "write it once")
		}
		has[name] = true
		if !member(name) {
			return has, false
		}
	}
	if _, err := w.dec.Token(); err != nil {
		return has, w.noJSON()
	}
	return has, true
}

func (w *jsonReceipt) words(name string, into *string) bool {
	var v any
	if w.dec.Decode(&v) != nil {
		return w.noJSON()
	}
	text, ok := v.(string)
	if !ok {
		w.malformed(w.line(), name+" is no text", `write it in quotation marks: "`+name+`": "..."`)
	}
	*into = text
	return true
}

func (w *jsonReceipt) rows() bool {
	if !w.begins('[', "rows") {
		return false
	}
	for w.dec.More() {
		var row receiptRow
		into := map[string]*string{"kind": &row.Kind, "key": &row.Key, "result": &row.Result, "finding": &row.Finding}
		_, ok := w.object("a row", receiptColumns[2:], func(name string) bool {
			if row.line == 0 {
				row.line = w.line()
			}
			return w.words(name, into[name])
		})
		if !ok {
			return false
		}
		if row.line == 0 {
			row.line = w.line()
		}
		w.Rows = append(w.Rows, row)
	}
	if _, err := w.dec.Token(); err != nil {
		return w.noJSON()
	}
	return true
}
