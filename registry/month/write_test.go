package month

import (
	"bytes"
	"encoding/json"
	"errors"
	"io"
	"strings"
	"testing"

	"github.com/parquet-go/parquet-go"
)

// RFC 4180 section 2: CRLF after each record, a header, one count of fields; and
// UTF-8 without a byte order mark.
func TestTablesAreCSV(t *testing.T) {
	f := folder(t, build(t, input(crowd(t, 40)), keyed()))
	for _, name := range []string{"operations.csv", "followups.csv", ExceptionsName} {
		data := f[name].Data
		if bytes.Count(data, []byte("\n")) != bytes.Count(data, []byte("\r\n")) || !bytes.HasSuffix(data, []byte("\r\n")) || bytes.HasPrefix(data, []byte("\xef\xbb\xbf")) {
			t.Errorf("%s is not of the form", name)
		}
		for _, line := range records(t, f, name) {
			for _, cell := range line {
				if cell == "" || strings.ContainsRune("=+@\t\r＝＋＠", []rune(cell)[0]) {
					t.Errorf("%s: a cell is empty or starts like a formula", name)
				}
			}
		}
	}
}

// NDJSON and Parquet hold the cells of the CSV file. Parquet is read here by the
// library that wrote it; .ci/outside/month reads it with another engine.
func TestCopiesAreEqual(t *testing.T) {
	p := build(t, input(crowd(t, 40)), keyed())
	f := folder(t, p)
	for _, table := range p.tables {
		lines := records(t, f, table.name+".csv")
		jsonLines := bytes.Split(bytes.TrimSpace(f[table.name+".ndjson"].Data), []byte("\n"))
		data := f[p.parquetPath(table)].Data
		file, err := parquet.OpenFile(bytes.NewReader(data), int64(len(data)))
		if err != nil {
			t.Fatal(err)
		}
		if len(jsonLines) != len(lines)-1 || file.NumRows() != int64(len(lines)-1) {
			t.Fatalf("%s: %d, %d and %d rows", table.name, len(lines)-1, len(jsonLines), file.NumRows())
		}
		if got := file.Schema().Columns()[0][0]; got != lines[0][0] {
			t.Errorf("%s: the first column is %s", table.name, got)
		}
		for n, line := range lines[1:] {
			if !json.Valid(jsonLines[n]) {
				t.Fatal("a line is not JSON")
			}
			if !bytes.HasPrefix(jsonLines[n], []byte(`{"`+lines[0][0]+`":"`+line[0]+`"`)) {
				t.Fatalf("%s: the first member is not the key", table.name)
			}
			row := ndjsonCells(jsonLines[n])
			for i, cell := range line {
				if row[lines[0][i]] != cell {
					t.Errorf("%s: column %s differs", table.name, lines[0][i])
				}
			}
		}
	}
}

// Scaled integers of decimals, by hand.
func TestScaled(t *testing.T) {
	for _, c := range []struct {
		cell   string
		places int
		want   int64
		ok     bool
	}{
		{"7.75", 2, 775, true}, {"7.75", 3, 7750, true}, {"-5.25", 2, -525, true}, {"8", 2, 800, true}, {"0.030", 3, 30, true}, {"-0.00", 2, 0, true},
		{"7.755", 2, 0, false}, {"", 2, 0, false}, {"NA", 2, 0, false}, {"1.2.3", 3, 0, false}, {"1-2", 0, 0, false}, {"99999999999999999999", 0, 0, false},
	} {
		if n, ok := scaled(c.cell, c.places); n != c.want && c.ok || ok != c.ok {
			t.Errorf("%q to %d places: %d %v", c.cell, c.places, n, ok)
		}
	}
}

type failing struct{ io.Writer }

var errFull = errors.New("the disk is full")

func (failing) Write([]byte) (int, error) { return 0, errFull }
func (failing) Close() error              { return nil }

// A write ends at the first error, and the manifest is the last file: a folder
// without one is not a package.
func TestWriteStops(t *testing.T) {
	p := build(t, input(crowd(t, 40)), keyed())
	files, err := p.Files()
	if err != nil || files[len(files)-1].Name != ManifestName {
		t.Fatalf("%v", err)
	}
	for stop := range files {
		var asked []string
		err := p.Write(func(name string) (io.WriteCloser, error) {
			if asked = append(asked, name); len(asked) == stop+1 {
				if stop%2 == 0 {
					return nil, errFull
				}
				return failing{}, nil
			}
			return nowhere{io.Discard}, nil
		})
		if !errors.Is(err, errFull) || len(asked) != stop+1 {
			t.Errorf("stopped at %d: %v after %d files", stop, err, len(asked))
		}
	}
	again, err := p.Files()
	if err != nil || !bytes.Equal(again[len(again)-1].Data, files[len(files)-1].Data) {
		t.Error("a second writing differs")
	}
}

// Random keys outgrow two bytes.
func TestCodedGrows(t *testing.T) {
	c := newCoded()
	for i := range 1<<16 + 20_000 {
		c.add(itoa(i % (1<<16 + 500)))
	}
	for _, i := range []int{0, 8191, 8192, 1<<16 - 1, 1 << 16, 1<<16 + 499, 1<<16 + 500, 1<<16 + 19_999} {
		if got, want := c.text(i), itoa(i%(1<<16+500)); got != want {
			t.Errorf("row %d: %s", i, got)
		}
	}
}
