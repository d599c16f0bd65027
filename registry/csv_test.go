package registry

import (
	"bytes"
	"errors"
	"math/rand/v2"
	"strings"
	"testing"
	"unicode/utf8"
)

// RFC 4180 section 2: CRLF after each record, a header, one field count, quotes
// balanced; text/csv in UTF-8 without a byte order mark.
func TestFileIsRFC4180(t *testing.T) {
	rows := allSamples(t)
	data := written(t, rows, Options{})
	if bytes.HasPrefix(data, []byte("\xef\xbb\xbf")) || !utf8.Valid(data) {
		t.Error("byte order mark or no UTF-8")
	}
	if n := bytes.Count(data, []byte("\r\n")); n != len(rows)+1 || n != bytes.Count(data, []byte("\n")) || n != bytes.Count(data, []byte("\r")) {
		t.Errorf("%d CRLF for %d rows, %d LF, %d CR", n, len(rows), bytes.Count(data, []byte("\n")), bytes.Count(data, []byte("\r")))
	}
	if !bytes.HasSuffix(data, []byte("\r\n")) {
		t.Error("the last record does not end in CRLF")
	}
	for n, line := range readBack(t, data) {
		if len(line) != len(Columns()) {
			t.Errorf("record %d has %d fields", n+1, len(line))
		}
		for i, have := range line {
			if have == "" {
				t.Errorf("record %d, field %d is empty", n+1, i+1)
			}
		}
	}
	if bytes.ContainsAny(data, `"`) {
		t.Error("no cell of the row needs quotes")
	}
}

// The order of the rows must not tell the order of the operations.
func TestRowsStandInTheOrderOfTheirKeys(t *testing.T) {
	rows := allSamples(t)
	data := written(t, rows, Options{})
	rand.New(rand.NewPCG(1, 2)).Shuffle(len(rows), func(i, j int) { rows[i], rows[j] = rows[j], rows[i] })
	if !bytes.Equal(data, written(t, rows, Options{})) {
		t.Error("the file depends on the order in which the rows were handed in")
	}
	lines := readBack(t, data)[1:]
	for i := 1; i < len(lines); i++ {
		if lines[i][0] <= lines[i-1][0] {
			t.Error("keys out of order")
		}
	}
}

func TestMonthWithoutOperations(t *testing.T) {
	lines := readBack(t, written(t, nil, Options{}))
	if len(lines) != 1 || lines[0][0] != "row_key" {
		t.Errorf("%v: a header and nothing else", lines)
	}
}

// OWASP ASVS 1.2.10 and CWE-1236: a cell that begins with = + - @ tab or CR runs
// as a formula when the file is opened. The signs of other scripts count too.
var hostileCells = []string{
	"=HYPERLINK(1)", "+1", "@a", "-a", "\tx", "\rx", "\nx", "\x00", "＝1", "＋1", "－1", "＠a", "−1", " =1", "\u00a0=1",
	"'=1", `"=1"`, "a\"b", "a,b", "a\nb", "\u202eabc", "\u200b=1", "Zoë", "", " ", "--1", "1e5", "0x1F", "1.", ".5", "١", "1\u00a0000", "NaN", "Inf", "-Inf", "1,5",
	strings.Repeat("9", 400), "yes ", "YES", "#REF!", "%0A", "2026-09-08", "09:05", "FIC-0101",
}

// Defence in depth: whatever went wrong before, Write lets no such cell into any
// column, and writes nothing at all.
func TestNoHostileCellIsWritten(t *testing.T) {
	good := rowFrom(t, sample(t, firstSample))
	tried := 0
	for i, col := range Columns() {
		for _, h := range hostileCells {
			bad := Row{cells: append([]string(nil), good.cells...)}
			bad.cells[i] = h
			var b bytes.Buffer
			err := Write(&b, []Row{bad}, Options{})
			if !errors.Is(err, ErrCell) || b.Len() > 0 {
				t.Errorf("column %s takes %q: %v, %d bytes", col.Name, h, err, b.Len())
			} else if h != "" && len(h) > 3 && strings.Contains(err.Error(), h) {
				t.Errorf("the message quotes the cell: %v", err)
			}
			tried++
		}
	}
	if tried < 4000 {
		t.Errorf("only %d cells tried", tried)
	}
}

// The same by chance: of random cells, those that pass begin with a letter or a
// digit, or are figures with a minus.
func TestRandomCells(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 11))
	alphabet := []rune("=+-@\t\r\n\"',;|0123456789.eyesnoNAabc ＝＋é\u202e")
	columns := Columns()
	passed := 0
	for range 200000 {
		text := make([]rune, r.IntN(6))
		for i := range text {
			text[i] = alphabet[r.IntN(len(alphabet))]
		}
		col := &columns[r.IntN(len(columns))]
		have := string(text)
		if col.accepts(have) != "" {
			continue
		}
		passed++
		first := have[0]
		letter := first >= '0' && first <= '9' || first >= 'a' && first <= 'z' || first >= 'A' && first <= 'Z'
		if !letter && (first != '-' || !col.Numeric()) || strings.ContainsAny(have, ",\"\r\n\t") {
			t.Fatalf("column %s takes %q", col.Name, have)
		}
	}
	if passed < 100 {
		t.Errorf("only %d random cells fit a column: the test says little", passed)
	}
}

func TestRowsOfForeignMakeAreRefused(t *testing.T) {
	for name, rows := range map[string][]Row{"zero": {{}}, "short": {{cells: []string{"a"}}}} {
		var b bytes.Buffer
		if err := Write(&b, rows, Options{}); !errors.Is(err, ErrCell) || b.Len() > 0 {
			t.Errorf("%s: %v", name, err)
		}
	}
}

type full struct{}

var errFull = errors.New("no space left")

func (full) Write([]byte) (int, error) { return 0, errFull }

func TestWriterFault(t *testing.T) {
	if err := Write(full{}, nil, Options{}); !errors.Is(err, errFull) {
		t.Error(err)
	}
}
