package month

import (
	"bufio"
	"bytes"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"io/fs"
	"regexp"
	"slices"
	"strings"
	"unicode/utf8"
)

// spreadsheetMarks says what a spreadsheet does to a CSV file when it opens and
// saves it. original holds the cells as they were, by key; nil when unknown.
func spreadsheetMarks(data []byte, f FileEntry, original map[string]map[string]string) []string {
	var out []string
	say := func(format string, args ...any) { out = append(out, fmt.Sprintf(format, args...)) }
	if bytes.HasPrefix(data, []byte("\xef\xbb\xbf")) {
		say("it begins with a byte order mark, as a spreadsheet writes it")
		data = data[3:]
	}
	if bytes.HasPrefix(data, []byte("PK\x03\x04")) || bytes.HasPrefix(data, []byte("\xd0\xcf\x11\xe0")) {
		say("it is a spreadsheet's workbook under the name of a CSV file")
		return out
	}
	if !utf8.Valid(data) {
		say("it is no longer UTF-8")
	}
	if n := bytes.Count(data, []byte("\n")); n > bytes.Count(data, []byte("\r\n")) {
		say("its lines no longer all end in CR and LF")
	}
	header, _, _ := bytes.Cut(data, []byte("\n"))
	comma := ','
	for _, other := range []rune{';', '\t'} {
		if bytes.Count(header, []byte(string(other))) > bytes.Count(header, []byte(string(comma))) {
			comma = other
		}
	}
	if comma != ',' {
		say("its cells are separated by %s instead of commas", map[rune]string{';': "semicolons", '\t': "tabs"}[comma])
	}
	r := csv.NewReader(bytes.NewReader(data))
	r.Comma, r.FieldsPerRecord, r.LazyQuotes = comma, -1, true
	records, err := r.ReadAll()
	if err != nil || len(records) == 0 {
		say("it can no longer be read as a table")
		return out
	}
	if f.Rows != nil && len(records)-1 != *f.Rows {
		say("it has %d rows and should have %d", len(records)-1, *f.Rows)
	}
	if original != nil {
		out = append(out, cellMarks(records, original)...)
	}
	return out
}

// cellMarks compares the cells with those of the NDJSON file, column by column.
func cellMarks(records [][]string, original map[string]map[string]string) []string {
	header := records[0]
	counts := map[string]int{}
	var order []string
	note := func(column, what string) {
		key := "column " + column + ": " + what
		if counts[key] == 0 {
			order = append(order, key)
		}
		counts[key]++
	}
	strange := 0
	for _, record := range records[1:] {
		was, ok := original[record[0]]
		if !ok {
			strange++
			continue
		}
		for i, now := range record {
			if i >= len(header) {
				break
			}
			before, known := was[header[i]]
			if known && before != now {
				note(header[i], whatBecame(before, now))
			}
		}
	}
	var out []string
	if strange > 0 {
		out = append(out, fmt.Sprintf("%d %s no row of the package by the first cell", strange, plural(strange, "row is", "rows are")))
	}
	slices.Sort(order)
	for _, what := range order {
		out = append(out, fmt.Sprintf("%s in %d %s", what, counts[what], plural(counts[what], "cell", "cells")))
	}
	return out
}

var (
	dateLike = regexp.MustCompile(`^[0-9]{1,4}[./-]([0-9]{1,2}|[A-Za-zäé]{3,9})\.?([./-][0-9]{2,4})?$|^[0-9]{1,2}\. ?[A-Za-zäé]{3,9}\.?( [0-9]{2,4})?$`)
	exponent = regexp.MustCompile(`^-?[0-9]+([.,][0-9]+)?[eE][+-]?[0-9]+$`)
)

// whatBecame says what happened to a cell, without the cell.
func whatBecame(before, now string) string {
	zeros := func(s string) string {
		s = strings.TrimLeft(s, "0")
		if strings.Contains(s, ".") {
			s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
		}
		if s == "" || s[0] == '.' {
			s = "0" + s
		}
		return s
	}
	switch {
	case now == "":
		return "the value is gone"
	case strings.ReplaceAll(now, ",", ".") == before:
		return "a decimal point became a comma"
	case zeros(before) == zeros(now):
		return "zeros were lost or added"
	case exponent.MatchString(now) && !exponent.MatchString(before):
		return "a value became a number with an exponent"
	case dateLike.MatchString(now):
		return "a value became a date"
	case strings.ReplaceAll(now, ",", ".") == zeros(before):
		return "zeros were lost and a decimal point became a comma"
	case strings.EqualFold(before, now):
		return "capitals were changed"
	case strings.HasPrefix(now, "#"):
		return "a value became a spreadsheet's error"
	}
	return "the value is another one"
}

// originalRows reads the NDJSON copy of a table, as cells of the CSV file by the
// first member of each line; nil when it is not there or was changed as well.
func originalRows(folder fs.FS, name string) map[string]map[string]string {
	m, err := readManifest(folder)
	if err != nil {
		return nil
	}
	i := slices.IndexFunc(m.Files, func(f FileEntry) bool { return f.Path == name })
	if i < 0 {
		return nil
	}
	if sum, _, err := digestOf(folder, name); err != nil || sum != m.Files[i].SHA256 {
		return nil
	}
	f, err := folder.Open(name)
	if err != nil {
		return nil
	}
	defer f.Close()
	out := map[string]map[string]string{}
	lines := bufio.NewScanner(f)
	lines.Buffer(nil, 1<<20)
	for lines.Scan() {
		key, row := ndjsonCells(lines.Bytes())
		if row == nil {
			return nil
		}
		out[key] = row
	}
	return out
}

// ndjsonCells gives the cells of one line and its first one.
func ndjsonCells(text []byte) (key string, row map[string]string) {
	var members map[string]json.RawMessage
	if err := json.Unmarshal(text, &members); err != nil {
		return "", nil
	}
	row = make(map[string]string, len(members))
	for name, raw := range members {
		switch {
		case string(raw) == "null":
			continue
		case raw[0] == '"':
			var cell string
			if json.Unmarshal(raw, &cell) != nil {
				return "", nil
			}
			row[strings.TrimSuffix(name, missingSuffix)] = cell
		default:
			row[name] = string(raw)
		}
	}
	d := json.NewDecoder(bytes.NewReader(text))
	for range 3 { // the brace, the name, the value
		t, err := d.Token()
		if err != nil {
			return "", nil
		}
		key, _ = t.(string)
	}
	return key, row
}
