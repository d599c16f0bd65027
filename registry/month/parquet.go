package month

import (
	"fmt"
	"io"
	"strconv"

	"github.com/parquet-go/parquet-go"

	"graftnote/registry"
)

// Sizes of what is held in memory while a Parquet file is written.
const (
	rowsPerGroup = 10_000
	rowsPerWrite = 500
	decimalSize  = 18 // digits of a decimal in 64 bits, Parquet logical types, DECIMAL
)

// parquetPath is the place of a table's Parquet file. The folder names are of the
// form key=value, which engines read as columns (Hive partitioning); the file
// carries the identifier of the package, so the parquet folders of many packages
// and sites can be laid into one pool and read in place.
func (p *Package) parquetPath(t *table) string {
	return fmt.Sprintf("%s/%s/period=%s/part-%s.parquet", ParquetFolder, t.name, p.Manifest.Period, p.Manifest.Package)
}

// ordered is a group whose fields stand in the order of the CSV file.
type ordered struct {
	parquet.Group
	names []string
}

func (o ordered) Fields() []parquet.Field {
	byName := map[string]parquet.Field{}
	for _, f := range o.Group.Fields() {
		byName[f.Name()] = f
	}
	out := make([]parquet.Field, len(o.names))
	for i, name := range o.names {
		out[i] = byName[name]
	}
	return out
}

// leaf is one column of the Parquet file and how its values are made.
type leaf struct {
	column   *column
	optional bool
	why      bool // the companion that says why a figure is missing
	values   map[string]parquet.Value
	unique   bool
}

// parquet writes the table with the columns of the CSV file. A figure is an
// integer or an exact decimal; one that is missing is null, and the column with
// the suffix _missing says why. All other cells are the texts of the CSV file.
func (t *table) parquet(out io.Writer) error {
	group := ordered{Group: parquet.Group{}}
	var leaves []leaf
	add := func(name string, node parquet.Node, l leaf) {
		if l.optional {
			node = parquet.Optional(node)
		}
		group.Group[name] = parquet.Encoded(node, &parquet.RLEDictionary)
		if l.unique {
			group.Group[name] = node
		}
		group.names = append(group.names, name)
		l.values = map[string]parquet.Value{}
		leaves = append(leaves, l)
	}
	for i := range t.columns {
		c := &t.columns[i]
		switch {
		case !c.Numeric():
			add(c.Name, parquet.String(), leaf{column: c, unique: c.role == "row-key" || c.role == "visit-key" || c.role == "person-key"})
			continue
		case c.Type == registry.TypeNumber:
			add(c.Name, parquet.Decimal(c.Places, decimalSize, parquet.Int64Type), leaf{column: c, optional: !c.Required})
		default:
			add(c.Name, parquet.Int(64), leaf{column: c, optional: !c.Required})
		}
		if c.Required {
			continue
		}
		add(c.Name+missingSuffix, parquet.String(), leaf{column: c, optional: true, why: true})
	}
	w := parquet.NewWriter(out, parquet.NewSchema(t.name, group), parquet.MaxRowsPerRowGroup(rowsPerGroup),
		parquet.Compression(&parquet.Snappy), parquet.CreatedBy("graftnote", strconv.Itoa(load().Version), ""))
	rows := make([]parquet.Row, 0, rowsPerWrite)
	buffer := make([]parquet.Value, rowsPerWrite*len(leaves))
	for n := range t.lines {
		row := buffer[len(rows)*len(leaves) : (len(rows)+1)*len(leaves)]
		for i := range leaves {
			v, err := leaves[i].value(&t.lines[n], i)
			if err != nil {
				return err
			}
			row[i] = v
		}
		if rows = append(rows, row); len(rows) == rowsPerWrite || n == len(t.lines)-1 {
			if _, err := w.WriteRows(rows); err != nil {
				return err
			}
			rows = rows[:0]
		}
	}
	return w.Close()
}

// value is the value of a cell at the place of its leaf.
func (l *leaf) value(of *line, place int) (parquet.Value, error) {
	cell := l.column.cell(of)
	if l.unique {
		return parquet.ValueOf(cell).Level(0, 0, place), nil
	}
	if v, ok := l.values[cell]; ok {
		return v, nil
	}
	v, err := l.fresh(cell, place)
	if err == nil {
		l.values[cell] = v
	}
	return v, err
}

func (l *leaf) fresh(cell string, place int) (parquet.Value, error) {
	code, missing := l.column.missing[cell]
	switch {
	case l.why && missing:
		return parquet.ValueOf(code).Level(0, 1, place), nil
	case l.why || l.column.Numeric() && missing:
		return parquet.NullValue().Level(0, 0, place), nil
	case !l.column.Numeric():
		return parquet.ValueOf(cell).Level(0, 0, place), nil
	}
	places := 0
	if l.column.Type == registry.TypeNumber {
		places = l.column.Places
	}
	n, ok := scaled(cell, places)
	if !ok {
		return parquet.Value{}, fmt.Errorf("month: column %s holds no figure of its places", l.column.Name)
	}
	if l.optional {
		return parquet.Int64Value(n).Level(0, 1, place), nil
	}
	return parquet.Int64Value(n).Level(0, 0, place), nil
}

// scaled is the figure times ten to the power of places, exact.
func scaled(cell string, places int) (int64, bool) {
	if cell == "" {
		return 0, false
	}
	digits := make([]byte, 0, len(cell)+places)
	after := -1
	for i := range len(cell) {
		switch b := cell[i]; {
		case b == '.' && after < 0:
			after = 0
		case b == '-' && i == 0, b >= '0' && b <= '9':
			digits = append(digits, b)
			if after >= 0 {
				after++
			}
		default:
			return 0, false
		}
	}
	for after = max(after, 0); after < places; after++ {
		digits = append(digits, '0')
	}
	if after > places {
		return 0, false
	}
	n, err := strconv.ParseInt(string(digits), 10, 64)
	return n, err == nil
}
