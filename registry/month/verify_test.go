package month

import (
	"bytes"
	"encoding/csv"
	"errors"
	"maps"
	"slices"
	"strings"
	"testing"
	"testing/fstest"
)

func spoilt(f fstest.MapFS, name string, change func([]byte) []byte) fstest.MapFS {
	out := maps.Clone(f)
	out[name] = &fstest.MapFile{Data: change(bytes.Clone(f[name].Data))}
	return out
}

// What a spreadsheet does to a CSV file that it opens and saves, and what else can
// happen to a folder. That spreadsheets change codes on opening is known from gene
// names (Ziemann 2016, Genome Biology 17:177); the single forms are common
// practice, no source.
func TestVerifySaysWhatChanged(t *testing.T) {
	f := folder(t, build(t, input(crowd(t, 40)), keyed()))
	replace := func(old, new string) func([]byte) []byte {
		return func(b []byte) []byte {
			if !bytes.Contains(b, []byte(old)) {
				t.Fatalf("the table does not hold %q", old)
			}
			return bytes.ReplaceAll(b, []byte(old), []byte(new))
		}
	}
	table := func(change func(rows [][]string) [][]string) func([]byte) []byte {
		return func(b []byte) []byte { return tableAgain(t, b, change) }
	}
	drop := func(at int) func([][]string) [][]string {
		return func(rows [][]string) [][]string {
			for i := range rows {
				rows[i] = slices.Delete(rows[i], at, at+1)
			}
			return rows
		}
	}
	for name, c := range map[string]struct {
		change func([]byte) []byte
		says   []string
	}{
		"rows re-sorted": {table(func(rows [][]string) [][]string {
			slices.Reverse(rows[1:])
			return rows
		}), []string{"it has its size, and other bytes", "its rows stand in another order"}},
		"header sorted in": {table(func(rows [][]string) [][]string {
			slices.Reverse(rows)
			return rows
		}), []string{"its first line is no longer the one with the names of the columns"}},
		"column dropped": {table(drop(20)), []string{"column " + columnsOf(f)[20] + " is missing"}},
		"key dropped":    {table(drop(0)), []string{"column row_key is missing"}},
		"column added": {table(func(rows [][]string) [][]string {
			for i := range rows {
				rows[i] = slices.Insert(rows[i], 3, "7.75 Mai")
			}
			return rows
		}), []string{"a column was added or renamed: the one in place 4"}},
		"columns moved": {table(func(rows [][]string) [][]string {
			for i := range rows {
				rows[i][8], rows[i][9] = rows[i][9], rows[i][8]
			}
			return rows
		}), []string{"its columns stand in another order"}},
		"column twice": {table(func(rows [][]string) [][]string {
			for i := range rows {
				rows[i] = append(rows[i], rows[i][8])
			}
			return rows
		}), []string{"column " + columnsOf(f)[8] + " stands twice"}},
		"row again":       {table(func(rows [][]string) [][]string { return append(rows, rows[7]) }), []string{"1 row stands there again", "has 41 rows"}},
		"stranger":        {table(func(rows [][]string) [][]string { rows[3][0] = "r7.75"; return rows }), []string{"1 row is no row of the package by its key"}},
		"short row":       {table(func(rows [][]string) [][]string { rows[3] = rows[3][:9]; return rows }), []string{"1 row has more or fewer cells"}},
		"quotes":          {replace(",keratoconus,", ",\"keratoconus\","), []string{"quotation marks stand around cells that need none"}},
		"blank lines":     {func(b []byte) []byte { return append(b, "\r\n\r\n"...) }, []string{"its cells are as they were"}},
		"byte order mark": {func(b []byte) []byte { return append([]byte("\xef\xbb\xbf"), b...) }, []string{"byte order mark"}},
		"semicolons":      {replace(",", ";"), []string{"separated by semicolons"}},
		"tabs":            {replace(",", "\t"), []string{"separated by tabs"}},
		"line ends":       {replace("\r\n", "\n"), []string{"CR and LF"}},
		"dates":           {replace(",7.75,", ",07. Mai,"), []string{"column host_diameter_mm: a value became a date in"}},
		"codes to dates":  {replace("size 10-0", "10. Okt"), []string{"column suture_gauge: a value became a date"}},
		"zeros lost":      {replace(",8.00,", ",8,"), []string{"zeros were lost"}},
		"decimal comma":   {replace(",7.75,", ",\"7,75\","), []string{"a decimal point became a comma"}},
		"exponent":        {replace(",7.75,", ",7.75E+00,"), []string{"a number with an exponent"}},
		"capitals":        {replace(",keratoconus,", ",Keratoconus,"), []string{"capitals were changed"}},
		"error":           {replace(",7.75,", ",#NAME?,"), []string{"a spreadsheet's error"}},
		"value gone":      {replace(",7.75,", ",,"), []string{"the value is gone"}},
		"another value":   {replace(",keratoconus,", ",fuchs,"), []string{"column indication: the value is another one"}},
		"rows lost":       {func(b []byte) []byte { return b[:bytes.LastIndex(b[:len(b)-2], []byte("\r\n"))+2] }, []string{"has 39 rows and should have 40"}},
		"not UTF-8":       {replace(",keratoconus,", ",kerato\xe9,"), []string{"no longer UTF-8"}},
		"workbook":        {func([]byte) []byte { return []byte("PK\x03\x04 and so on") }, []string{"workbook"}},
		"empty":           {func([]byte) []byte { return nil }, []string{"can no longer be read as a table"}},
		"saved as it is done": {func(b []byte) []byte {
			b = bytes.ReplaceAll(bytes.ReplaceAll(b, []byte(","), []byte(";")), []byte("."), []byte(","))
			return append([]byte("\xef\xbb\xbf"), bytes.ReplaceAll(b, []byte("\r\n"), []byte("\n"))...)
		}, []string{"byte order mark", "semicolons", "CR and LF", "column host_diameter_mm: a decimal point became a comma in"}},
	} {
		problems, err := Verify(spoilt(f, "operations.csv", c.change))
		if err != nil || len(problems) == 0 {
			t.Errorf("%s: %v %v", name, problems, err)
			continue
		}
		var all strings.Builder
		for _, p := range problems {
			all.WriteString(p.String() + "\n")
			if p.File != "operations.csv" {
				t.Errorf("%s: %s", name, p)
			}
		}
		for _, says := range c.says {
			if !strings.Contains(all.String(), says) {
				t.Errorf("%s: not said: %s\n%s", name, says, all.String())
			}
		}
		if strings.Contains(all.String(), "7.75") || strings.Contains(all.String(), "Mai") {
			t.Errorf("%s: a cell is repeated", name)
		}
	}
}

// tableAgain writes a table again after a change.
func tableAgain(t *testing.T, data []byte, change func([][]string) [][]string) []byte {
	t.Helper()
	rows, err := csv.NewReader(bytes.NewReader(data)).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	w.UseCRLF = true
	if err := w.WriteAll(change(rows)); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func columnsOf(f fstest.MapFS) []string {
	head, _, _ := strings.Cut(string(f["operations.csv"].Data), "\r\n")
	return strings.Split(head, ",")
}

// In a registry's own form missing values may be empty cells, and the key may have
// any place: only what was changed is named.
func TestVerifySaysWhatChangedInAProfile(t *testing.T) {
	o := keyed()
	o.Profile = profile(t, "corvale")
	c := &o.Profile.Operations
	*c = append((*c)[1:], (*c)[0])
	f := folder(t, build(t, input(crowd(t, 60)), o))
	problems, err := Verify(spoilt(f, "operations.csv", func(b []byte) []byte {
		return tableAgain(t, b, func(rows [][]string) [][]string { slices.Reverse(rows[1:]); return rows })
	}))
	if err != nil || len(problems) != 2 || problems[1].Says != "its rows stand in another order" {
		t.Errorf("%v %v", problems, err)
	}
}

func TestVerifyFolder(t *testing.T) {
	f := folder(t, build(t, input(crowd(t, 40)), keyed()))
	if problems, err := Verify(f); err != nil || len(problems) > 0 {
		t.Fatalf("%v %v", problems, err)
	}
	// A person may write in the copy for reading.
	written := spoilt(f, "reading/operations.csv", func(b []byte) []byte { return b[10:] })
	if changed, err := ChangedCopies(written); err != nil || len(changed) != 1 || changed[0] != "reading/operations.csv" {
		t.Errorf("changed copies %v, %v", changed, err)
	}
	if changed, err := ChangedCopies(f); err != nil || changed != nil {
		t.Errorf("changed copies %v, %v", changed, err)
	}
	if problems, err := Verify(written); err != nil || len(problems) > 0 {
		t.Errorf("%v %v", problems, err)
	}
	less := maps.Clone(f)
	delete(less, "followups.ndjson")
	more := maps.Clone(f)
	more["notes.txt"] = &fstest.MapFile{Data: []byte("x")}
	for name, c := range map[string]struct {
		f    fstest.MapFS
		says string
	}{
		"missing":   {less, "followups.ndjson: the file is missing"},
		"stranger":  {more, "notes.txt: the file does not belong"},
		"bit":       {spoilt(f, "cover.txt", func(b []byte) []byte { b[0] ^= 1; return b }), "cover.txt: the file was changed"},
		"untold":    {spoilt(f, ExceptionsName, func(b []byte) []byte { return append(b, "\r\n"...) }), "exceptions.csv: what was changed in it cannot be told"},
		"both gone": {spoilt(spoilt(f, "operations.ndjson", func(b []byte) []byte { return b[1:] }), "operations.csv", func(b []byte) []byte { return b[1:] }), "operations.csv: the file was changed"},
		"sums":      {spoilt(f, ManifestName, func(b []byte) []byte { return bytes.Replace(b, []byte(`"sent": 4`), []byte(`"sent": 1`), 1) }), "do not make the operations entered"},
	} {
		problems, err := Verify(c.f)
		if err != nil || len(problems) == 0 || !strings.Contains(problems[0].String()+problems[len(problems)-1].String(), c.says) {
			t.Errorf("%s: %v %v", name, problems, err)
		}
	}
	for name, change := range map[string]func([]byte) []byte{
		"not JSON":     func([]byte) []byte { return []byte("{") },
		"other format": func(b []byte) []byte { return bytes.Replace(b, []byte(Format), []byte("something else"), 1) },
		"path outside": func(b []byte) []byte { return bytes.Replace(b, []byte(`"cover.txt"`), []byte(`"../cover.txt"`), 1) },
		"listed twice": func(b []byte) []byte { return bytes.Replace(b, []byte(`"cover.txt"`), []byte(`"operations.csv"`), 1) },
		"cover hidden": func(b []byte) []byte { return bytes.Replace(b, []byte(`"cover.txt"`), []byte(`"covers.txt"`), 1) },
		"digest cut":   func(b []byte) []byte { return bytes.Replace(b, []byte(`"sha256": "`), []byte(`"sha256": "0`), 1) },
	} {
		if _, err := Verify(spoilt(f, ManifestName, change)); !errors.Is(err, ErrPackage) {
			t.Errorf("%s: %v", name, err)
		}
	}
	if _, err := Verify(fstest.MapFS{}); !errors.Is(err, ErrPackage) {
		t.Errorf("%v", err)
	}
}
