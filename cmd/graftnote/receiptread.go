package main

import (
	"bytes"
	"crypto/sha256"
	"encoding/csv"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"graftnote/casebook"
	"graftnote/registry/month"
	"graftnote/schema"
)

// maxRegistryWords is the longest finding on a row that the casebook takes.
const maxRegistryWords = 500

type receiptRow struct {
	Kind, Key, Result, Finding string
	line                       int
}

// receiptFile is an answer as it was read, with what is wrong in it. Faults name
// the file's line and never repeat the registry's words: they may name a patient.
type receiptFile struct {
	Package, Answer string
	Rows            []receiptRow

	path        string
	packageLine int
	answerLine  int
	faults      []answerFault
}

type answerFault struct {
	line      int
	status    int
	says, fix string
	more      int // lines with the same fault
}

// wrong notes a fault. One that many lines share is said once.
func (r *receiptFile) wrong(status, line int, says, fix string) {
	for i := range r.faults {
		if f := &r.faults[i]; f.says == says && f.fix == fix {
			f.more++
			return
		}
	}
	r.faults = append(r.faults, answerFault{line, status, says, fix, 0})
}

func (r *receiptFile) malformed(line int, says, fix string) { r.wrong(statusIO, line, says, fix) }

// said are the faults for the screen, the first maxReceiptFaults of them.
func (r *receiptFile) said() []*fault {
	var out []*fault
	for i, f := range r.faults {
		if i == maxReceiptFaults {
			break
		}
		text := fmt.Sprintf("%s:%d: %s", r.path, f.line, f.says)
		if f.more > 0 {
			text += ", and so in " + count(f.more, "more line")
		}
		out = append(out, &fault{status: f.status, text: text, hints: []string{f.fix}})
	}
	if n := len(out); n > 0 {
		last := out[n-1]
		if more := len(r.faults) - n; more > 0 {
			last.hints = append(last.hints, fmt.Sprintf("%s not shown", count(more, "more fault")))
		}
		last.hints = append(last.hints, "nothing was recorded; 'graftnote receipt --help' shows both forms")
	}
	return out
}

const maxReceiptFaults = 20

// readReceipt reads an answer in either form.
func readReceipt(id, path string, now time.Time, by string) (receiptFile, casebook.RegistryAnswer, []*fault) {
	r := receiptFile{path: path, packageLine: 1, answerLine: 1}
	var out casebook.RegistryAnswer
	f, err := openInput(path, anySize)
	if err != nil {
		return r, out, []*fault{unread(path, err)}
	}
	defer f.Close()
	b, err := io.ReadAll(io.LimitReader(f, maxReceipt+1))
	if err != nil {
		return r, out, []*fault{unread(path, err)}
	}
	sum := sha256.Sum256(b)
	r.read(b)
	if len(r.faults) == 0 {
		r.judge(id)
	}
	out = casebook.RegistryAnswer{Package: r.Package, Answer: casebook.AnswerState(r.Answer), File: hex.EncodeToString(sum[:]), At: now.Format(time.RFC3339), By: by}
	for _, row := range r.Rows {
		out.Rows = append(out.Rows, casebook.RowResult{Kind: row.Kind, Key: row.Key, Refused: row.Result == refusedWord, Finding: row.Finding})
	}
	return r, out, r.said()
}

func (r *receiptFile) read(b []byte) {
	text := bytes.TrimPrefix(b, []byte("\ufeff"))
	switch {
	case len(b) > maxReceipt:
		r.malformed(1, "the file is larger than any answer", "give the answer to one package only")
	case bytes.HasPrefix(b, []byte("PK\x03\x04")) || bytes.HasPrefix(b, []byte("\xd0\xcf\x11\xe0")):
		r.malformed(1, "the file is a spreadsheet's workbook", "save it as CSV in UTF-8, with commas")
	case len(bytes.TrimSpace(text)) == 0:
		r.malformed(1, "the file is empty", "ask the registry for its answer again")
	case !utf8.Valid(b):
		line := 1
		for rest := b; len(rest) > 0; {
			c, n := utf8.DecodeRune(rest)
			if c == utf8.RuneError && n == 1 {
				break
			}
			if c == '\n' {
				line++
			}
			rest = rest[n:]
		}
		r.malformed(line, "the line is not UTF-8", "save the file as UTF-8")
	case bytes.HasPrefix(bytes.TrimSpace(text), []byte("{")):
		r.readJSON(text)
	default:
		r.readCSV(text)
	}
}

// The words of a result.
const (
	acceptedWord = "accepted"
	refusedWord  = "refused"
)

var rowKinds = []string{month.OperationRow, month.VisitRow}

// judge holds what was read to the words of an answer.
func (r *receiptFile) judge(id string) {
	answer := casebook.AnswerState(r.Answer)
	switch {
	case r.Package == "":
		r.malformed(r.packageLine, "the package is not named", "write the identifier that stands in the package's "+month.ManifestName)
	case r.Package != id:
		r.wrong(statusBlocked, r.packageLine, "it answers another package", "check the identifier in the package's "+month.ManifestName)
	}
	known := answer == casebook.AnswerPending || answer.Final()
	if !known {
		r.malformed(r.answerLine, "the answer is not one of the four words", "write refused, pending, accepted or accepted-with-findings")
	}
	type key struct{ kind, key string }
	first := map[key]receiptRow{}
	for _, row := range r.Rows {
		if before, twice := first[key{row.Kind, row.Key}]; !twice {
			first[key{row.Kind, row.Key}] = row
		} else if row.Key != "" {
			r.wrong(statusBlocked, row.line, "the row was answered before: "+before.Result+" on line "+strconv.Itoa(before.line)+", "+row.Result+" here",
				"give each row one result, and put several findings into one cell; ask the registry which result holds")
		}
		if !slices.Contains(rowKinds, row.Kind) {
			r.malformed(row.line, "the kind of the row is none that a package holds", "write "+strings.Join(rowKinds, " or "))
		}
		if row.Key == "" {
			r.malformed(row.line, "the key of the row is missing", "write the key as it stands in the package")
		}
		switch {
		case row.Result != acceptedWord && row.Result != refusedWord:
			r.malformed(row.line, "the result of the row is neither of the two words", "write accepted or refused")
		case row.Result == refusedWord && known && answer != casebook.AnswerRefused && answer != casebook.AnswerWithFindings:
			r.wrong(statusBlocked, row.line, "a row is refused, and the answer to the package is "+r.Answer, "write accepted-with-findings as the answer, or ask the registry")
		}
		if n := len(row.Finding); n > maxRegistryWords {
			r.malformed(row.line, "the finding is longer than 500 bytes", "shorten it, or keep the registry's code only")
		} else if !shown(row.Finding) {
			r.malformed(row.line, "the finding holds a character that cannot be seen", "write it again without it")
		}
	}
}

func shown(text string) bool {
	for line := range strings.SplitSeq(text, "\n") {
		if schema.Visible(line) != line {
			return false
		}
	}
	return true
}

// keyLike is the form of the keys that a package gives its rows. Only such a key
// is repeated: what stands in its place otherwise may be anything.
var keyLike = regexp.MustCompile(`^[rv][a-z2-7]{26}$`)

// compare holds the rows of an answer to those of the package.
func (r *receiptFile) compare(sent []casebook.SubmittedRow) {
	kindOf := map[string]string{}
	for _, s := range sent {
		if s.Package == r.Package {
			kindOf[s.Key] = s.Kind
		}
	}
	for _, row := range r.Rows {
		kind, known := kindOf[row.Key]
		_, small := kindOf[strings.ToLower(strings.TrimSpace(row.Key))]
		switch {
		case known && kind == row.Kind:
		case known:
			r.wrong(statusBlocked, row.line, "the key is that of another kind of row: "+kind, "write "+kind)
		case small:
			r.wrong(statusBlocked, row.line, "the key is written with capitals or blanks", "write it in small letters, as it stands in the package")
		case keyLike.MatchString(row.Key):
			r.wrong(statusBlocked, row.line, "the package does not hold the "+row.Kind+" row "+row.Key, "check that the answer is to this package; a row that was not sent has no answer")
		default:
			r.wrong(statusBlocked, row.line, "the package does not hold this "+row.Kind+" row: what stands there has not the form of a key", "write the key as it stands in the package: r or v, and 26 small letters and digits")
		}
	}
}

var receiptColumns = []string{"package", "answer", "kind", "key", "result", "finding"}

func (r *receiptFile) readCSV(b []byte) {
	in := csv.NewReader(bytes.NewReader(b))
	in.FieldsPerRecord = -1
	head, err := in.Read()
	if err != nil {
		r.broken(err)
		return
	}
	if says := headSays(head); says != "" {
		r.malformed(1, says, "the first line is to be "+strings.Join(receiptColumns, ","))
		return
	}
	first, err := in.Read()
	switch {
	case errors.Is(err, io.EOF):
		r.malformed(2, "the line with package and answer is missing", "write the package, the answer and four empty cells: PACKAGE,accepted,,,,")
		return
	case err != nil:
		r.broken(err)
		return
	}
	line, _ := in.FieldPos(0)
	r.packageLine, r.answerLine = line, line
	if r.cells(first, line) {
		r.Package, r.Answer = first[0], first[1]
		if strings.Join(first[2:], "") != "" {
			r.malformed(line, "the first line below the names of the columns names a row", "leave its last four cells empty, and begin the rows on the next line")
		}
	}
	for {
		rec, err := in.Read()
		if errors.Is(err, io.EOF) {
			return
		}
		if err != nil {
			r.broken(err)
			return
		}
		line, _ := in.FieldPos(0)
		switch {
		case !r.cells(rec, line):
		case strings.Join(rec, "") == "":
			r.malformed(line, "the line has empty cells only", "delete it")
		case rec[0] != "" || rec[1] != "":
			r.malformed(line, "a line that names a row repeats package or answer", "leave its first two cells empty")
		default:
			r.Rows = append(r.Rows, receiptRow{rec[2], rec[3], rec[4], rec[5], line})
		}
	}
}

func (r *receiptFile) cells(rec []string, line int) bool {
	if len(rec) == len(receiptColumns) {
		return true
	}
	r.malformed(line, fmt.Sprintf("the line has %s and should have %d", count(len(rec), "cell"), len(receiptColumns)),
		"write all six, the empty ones too, with commas between them; put a cell that holds a comma in quotation marks")
	return false
}

// broken names the line at which a table ends to be one.
func (r *receiptFile) broken(err error) {
	line := 1
	var p *csv.ParseError
	if errors.As(err, &p) {
		line = p.Line
	}
	r.malformed(line, "a quotation mark stands where none may, or is not closed", "put the whole cell in quotation marks, and write each one inside it twice")
}

// headSays says what is wrong with the names of the columns; "" for nothing.
func headSays(head []string) string {
	if slices.Equal(head, receiptColumns) {
		return ""
	}
	whole := strings.Join(head, ",")
	for _, other := range []struct{ char, word string }{{";", "semicolons"}, {"\t", "tabs"}} {
		if strings.Count(whole, other.char) > strings.Count(whole, ",") {
			return "the cells are separated by " + other.word
		}
	}
	var missing []string
	for _, name := range receiptColumns {
		if !slices.Contains(head, name) {
			missing = append(missing, name)
		}
	}
	var strange []string
	for i, name := range head {
		if !slices.Contains(receiptColumns, name) {
			strange = append(strange, fmt.Sprint(i+1))
		}
	}
	switch {
	case len(missing) > 0 && len(strange) > 0:
		return "no column is called " + strings.Join(missing, ", ") + "; the name in place " + strings.Join(strange, ", ") + " is none of an answer"
	case len(missing) > 0:
		return "no column is called " + strings.Join(missing, ", ")
	case len(strange) > 0:
		return "the name in place " + strings.Join(strange, ", ") + " is none of an answer"
	}
	return "the columns stand in another order, or one stands twice"
}
