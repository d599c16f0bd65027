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

// asMade is a table as it was written: its columns and keys in order, and the
// cells by key and column.
type asMade struct {
	columns []string
	key     string // the column that tells the rows apart
	keys    []string
	rows    map[string]map[string]string
}

// spreadsheetMarks says what a spreadsheet does to a CSV file when it opens and
// saves it. made is the table as it was; nil when unknown. No cell is repeated,
// nor a heading that is none of the package: it may be a cell.
func spreadsheetMarks(data []byte, f FileEntry, made *asMade) []string {
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
	if more := bytes.Count(data, []byte(`"`)) - quotationMarks(records, comma); more > 0 {
		say("%d quotation marks stand around cells that need none", more)
	}
	if f.Rows != nil && len(records)-1 != *f.Rows {
		say("it has %d rows and should have %d", len(records)-1, *f.Rows)
	}
	if made != nil {
		out = append(out, made.marks(records)...)
	}
	switch {
	case len(out) > 0:
	case made != nil:
		say("its cells are as they were; what stands between them is not, such as blank lines")
	default:
		say("what was changed in it cannot be told from the files here")
	}
	return out
}

// quotationMarks counts those that the cells need.
func quotationMarks(records [][]string, comma rune) int {
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	w.Comma = comma
	if w.WriteAll(records) != nil {
		return 0
	}
	return bytes.Count(b.Bytes(), []byte(`"`))
}

// marks compares a table that was read with the one that was made.
func (m *asMade) marks(records [][]string) []string {
	header := records[0]
	var out []string
	say := func(format string, args ...any) { out = append(out, fmt.Sprintf(format, args...)) }
	known := func(name string) bool { return slices.Contains(m.columns, name) }
	if !slices.ContainsFunc(header, known) {
		say("its first line is no longer the one with the names of the columns")
		return out
	}
	var order []string
	for i, name := range header {
		switch {
		case !known(name):
			say("a column was added or renamed: the one in place %d", i+1)
		case slices.Contains(order, name):
			say("column %s stands twice", name)
		default:
			order = append(order, name)
		}
	}
	for _, name := range m.columns {
		if !slices.Contains(order, name) {
			say("column %s is missing", name)
		}
	}
	if !slices.Equal(order, filtered(m.columns, order)) {
		say("its columns stand in another order")
	}
	at := slices.Index(header, m.key)
	if at < 0 {
		return out // no row can be told from another
	}
	return append(out, m.rowMarks(records, at)...)
}

// rowMarks compares the rows and their cells; key is the place of the key.
func (m *asMade) rowMarks(records [][]string, key int) []string {
	header := records[0]
	counts := map[string]int{}
	var found []string
	note := func(column, what string) {
		k := "column " + column + ": " + what
		if counts[k] == 0 {
			found = append(found, k)
		}
		counts[k]++
	}
	strange, twice, uneven := 0, 0, 0
	seen := make(map[string]bool, len(records))
	var order []string
	for _, record := range records[1:] {
		if len(record) != len(header) {
			uneven++
		}
		if key >= len(record) || m.rows[record[key]] == nil {
			strange++
			continue
		}
		k := record[key]
		if seen[k] {
			twice++
			continue
		}
		seen[k] = true
		order = append(order, k)
		for i, now := range record {
			if i >= len(header) {
				break
			}
			before, known := m.rows[k][header[i]]
			if known && before != now {
				note(header[i], whatBecame(before, now))
			}
		}
	}
	var out []string
	for _, x := range []struct {
		n         int
		one, many string
	}{
		{uneven, "row has more or fewer cells than there are columns", "rows have more or fewer cells than there are columns"},
		{strange, "row is no row of the package by its key", "rows are no row of the package by their key"},
		{twice, "row stands there again", "rows stand there again"},
	} {
		if x.n > 0 {
			out = append(out, fmt.Sprintf("%d %s", x.n, plural(x.n, x.one, x.many)))
		}
	}
	var kept []string
	for _, k := range m.keys {
		if seen[k] {
			kept = append(kept, k)
		}
	}
	if !slices.Equal(order, kept) {
		out = append(out, "its rows stand in another order")
	}
	slices.Sort(found)
	for _, what := range found {
		out = append(out, fmt.Sprintf("%s in %d %s", what, counts[what], plural(counts[what], "cell", "cells")))
	}
	return out
}

// filtered are the texts of a list that stand in the other one too.
func filtered(list, other []string) []string {
	var out []string
	for _, x := range list {
		if slices.Contains(other, x) {
			out = append(out, x)
		}
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

// readAsMade reads the columns of a table in the descriptor and the cells in the
// NDJSON copy; nil when one of them is not there or was changed as well.
func readAsMade(folder fs.FS, table string) *asMade {
	m, err := readManifest(folder)
	if err != nil {
		return nil
	}
	for _, name := range []string{DescriptorName, table + ".ndjson"} {
		i := slices.IndexFunc(m.Files, func(f FileEntry) bool { return f.Path == name })
		if i < 0 {
			return nil
		}
		if sum, _, err := digestOf(folder, name); err != nil || sum != m.Files[i].SHA256 {
			return nil
		}
	}
	out := &asMade{rows: map[string]map[string]string{}}
	if !out.describe(folder, table) {
		return nil
	}
	f, err := folder.Open(table + ".ndjson")
	if err != nil {
		return nil
	}
	defer f.Close()
	lines := bufio.NewScanner(f)
	lines.Buffer(nil, 1<<20)
	for lines.Scan() {
		row := ndjsonCells(lines.Bytes())
		if row == nil {
			return nil
		}
		out.keys = append(out.keys, row[out.key])
		out.rows[row[out.key]] = row
	}
	if lines.Err() != nil {
		return nil
	}
	return out
}

// describe takes the columns and the key of a table from the descriptor.
func (m *asMade) describe(folder fs.FS, table string) bool {
	var d descriptor
	data, err := fs.ReadFile(folder, DescriptorName)
	if err != nil || json.Unmarshal(data, &d) != nil {
		return false
	}
	for _, r := range d.Resources {
		if r.Name != table || len(r.Schema.PrimaryKey) != 1 {
			continue
		}
		for _, raw := range r.Schema.Fields {
			var field struct {
				Name string `json:"name"`
			}
			if json.Unmarshal(raw, &field) != nil {
				return false
			}
			m.columns = append(m.columns, field.Name)
		}
		m.key = r.Schema.PrimaryKey[0]
	}
	return slices.Contains(m.columns, m.key)
}

// ndjsonCells gives the cells of one line as they stand in the CSV file.
func ndjsonCells(text []byte) map[string]string {
	var members map[string]json.RawMessage
	if err := json.Unmarshal(text, &members); err != nil {
		return nil
	}
	row := make(map[string]string, len(members))
	for name, raw := range members {
		switch {
		case string(raw) == "null":
			continue
		case raw[0] == '"':
			var cell string
			if json.Unmarshal(raw, &cell) != nil {
				return nil
			}
			figure := strings.TrimSuffix(name, missingSuffix)
			if figure != name && string(members[figure]) == "null" {
				if name = figure; cell == emptyMissing {
					cell = ""
				}
			}
			row[name] = cell
		default:
			row[name] = string(raw)
		}
	}
	return row
}
