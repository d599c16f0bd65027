package registry

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"io"
	"slices"
	"strings"
)

// Write writes a header and the rows as CSV by RFC 4180: UTF-8 without a byte
// order mark, CRLF after each record. The rows go out in the order of their
// keys, which says nothing about the order of the operations. Each cell is
// checked against its column first; at a fault nothing is written. The error
// is ErrColumn, ErrCell, ErrRowTwice or that of w.
func Write(w io.Writer, rows []Row, o Options) error {
	chosen, err := choose(o.Columns)
	if err != nil {
		return err
	}
	rows = slices.Clone(rows)
	slices.SortStableFunc(rows, func(a, b Row) int { return strings.Compare(a.Key(), b.Key()) })
	var out bytes.Buffer
	lines := csv.NewWriter(&out)
	lines.UseCRLF = true
	columns := load().columns
	record := make([]string, len(chosen))
	for n, i := range chosen {
		record[n] = columns[i].Name
	}
	if err := lines.Write(record); err != nil {
		return err
	}
	for n, r := range rows {
		if n > 0 && r.Key() == rows[n-1].Key() {
			return ErrRowTwice
		}
		if err := r.fill(record, chosen); err != nil {
			return err
		}
		if err := lines.Write(record); err != nil {
			return err
		}
	}
	lines.Flush()
	if err := lines.Error(); err != nil {
		return err
	}
	_, err = w.Write(out.Bytes())
	return err
}

// fill copies the chosen cells, each checked. The message names the column and
// never the cell.
func (r Row) fill(record []string, chosen []int) error {
	columns := load().columns
	if len(r.cells) != len(columns) {
		return fmt.Errorf("%w: the row was not made by this package", ErrCell)
	}
	for n, i := range chosen {
		if fault := columns[i].accepts(r.cells[i]); fault != "" {
			return fmt.Errorf("%w: column %s: %s", ErrCell, columns[i].Name, fault)
		}
		record[n] = r.cells[i]
	}
	return nil
}
