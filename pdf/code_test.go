package pdf

import (
	"regexp"
	"strconv"
	"strings"
	"testing"

	"graftnote/note"
)

// modules reads the one symbol of a file: its modules, the edge of one in
// millimetres, and the operators before it.
func modules(t *testing.T, f *pdfFile) (dark map[[2]int]bool, size int, edge float64, page string) {
	t.Helper()
	for _, c := range f.contents() {
		m := regexp.MustCompile(`q 0 g ([0-9.]+) 0 0 -([0-9.]+) [0-9.]+ [0-9.]+ cm\n((?:\d+ \d+ \d+ 1 re\n)+)f Q`).FindStringSubmatchIndex(c)
		if m == nil {
			continue
		}
		if dark != nil || c[m[2]:m[3]] != c[m[4]:m[5]] {
			t.Fatal("two symbols, or modules that are not square")
		}
		dark = map[[2]int]bool{}
		v, _ := strconv.ParseFloat(c[m[2]:m[3]], 64)
		edge, page = v*25.4/72, c[:m[0]]
		for _, r := range regexp.MustCompile(`(\d+) (\d+) (\d+) 1 re`).FindAllStringSubmatch(c[m[6]:m[7]], -1) {
			x, _ := strconv.Atoi(r[1])
			y, _ := strconv.Atoi(r[2])
			n, _ := strconv.Atoi(r[3])
			for i := range n {
				dark[[2]int{x + i, y}] = true
				size = max(size, x+i+1, y+1)
			}
		}
	}
	return dark, size, edge, page
}

// ISO/IEC 18004:2015 section 6.3: finder patterns of 7 by 7 modules in three
// corners with a light separator; 7.9: the first two format bits, masked with
// 10, say the level, which is 00 for M; 6.3.8: a quiet zone of four modules.
// The house asks for 25 mm or more.
func TestCodeSymbol(t *testing.T) {
	finder := []string{"#######.", "#.....#.", "#.###.#.", "#.###.#.", "#.###.#.", "#.....#.", "#######.", "........"}
	for _, payload := range []string{signed().Code, "GRAFTNOTE:1", strings.Repeat("0123456789abcdef", 60)} {
		d := signed()
		d.Code = payload
		f := open(t, render(t, func() note.Document { return d }, Options{}))
		dark, size, edge, before := modules(t, f)
		if size < 21 || size > 177 || (size-17)%4 != 0 {
			t.Fatalf("%d modules", size)
		}
		if float64(size)*edge < 24.99 || edge < 0.4999 {
			t.Errorf("%d modules of %v mm", size, edge)
		}
		for y, row := range finder {
			for x, want := range row {
				for _, p := range [][2]int{{x, y}, {size - 1 - x, y}, {x, size - 1 - y}} {
					if dark[p] != (want == '#') {
						t.Fatalf("finder pattern differs at %v", p)
					}
				}
			}
		}
		if !dark[[2]int{0, 8}] || dark[[2]int{1, 8}] {
			t.Error("not level M")
		}
		// The white square below it is wider by eight modules.
		white := regexp.MustCompile(`([0-9.]+) -?([0-9.]+) re f\n$`).FindStringSubmatch(before)
		if white == nil {
			t.Fatal("no white square below the symbol")
		}
		if w, _ := strconv.ParseFloat(white[1], 64); w*25.4/72 < float64(size+8)*edge-0.01 {
			t.Errorf("white square of %v points", w)
		}
		var all string
		for _, p := range f.words() {
			all += text(p)
		}
		if !strings.Contains(strings.ReplaceAll(all, "\n", ""), payload) {
			t.Error("the code's text does not stand beside it")
		}
	}
}

// ISO/IEC 18004:2015 table 7: version 40-M holds 2331 bytes. A longer text
// stays readable as text, as does one that readers would have to guess.
func TestCodeTooLong(t *testing.T) {
	for code, drawn := range map[string]bool{strings.Repeat("x", 2331): true, strings.Repeat("x", 2332): false, "x\u00e9": false, "x\n": false} {
		d := signed()
		n := strings.Count(code, "x")
		d.Code = code
		f := open(t, render(t, func() note.Document { return d }, Options{}))
		if dark, _, _, _ := modules(t, f); (dark != nil) != drawn {
			t.Errorf("%d bytes: drawn is %v", n, dark != nil)
		}
		var all string
		for _, p := range f.words() {
			all += text(p)
		}
		if strings.Count(all, "x") < n || strings.Contains(all, "cannot be drawn") == drawn {
			t.Errorf("%d bytes: the text is not said in full", n)
		}
	}
}

// The lines of the checkpoint keep their order; what goes on is indented.
func TestCheckpointLines(t *testing.T) {
	pages := open(t, render(t, signed, Options{})).words()
	last := pages[len(pages)-1]
	lines := signed().Checkpoint
	first := place(t, last, lines[0])
	y := first.y
	for _, l := range lines[1:4] {
		w := place(t, last, l)
		if w.y >= y || w.x != first.x {
			t.Errorf("%q at %v,%v", l, w.x, w.y)
		}
		y = w.y
	}
	var long string
	for i, w := range last {
		if strings.HasPrefix(w.text, "\u2014 tarrant ") {
			long = w.text + last[i+1].text
			if last[i+1].x <= w.x {
				t.Error("the rest of a line is not indented")
			}
		}
	}
	if long != lines[5] {
		t.Errorf("%q", long)
	}
}
