package month

import (
	"fmt"
	"io"
	"math/rand/v2"
	"runtime"
	"testing"
)

// many streams n operations with three visits each. Cells are taken column by
// column from the samples, so that the columns have the spread of the samples;
// what a reader may know is drawn evenly.
func many(b *testing.B, n int) func(yield func(Operation, error) bool) {
	base := crowd(b, 40)
	var visits [][]string
	for _, o := range base {
		for _, v := range o.Visits {
			visits = append(visits, v.Cells)
		}
	}
	year := columnPlace("operation_year")
	return func(yield func(Operation, error) bool) {
		r := rand.New(rand.NewPCG(1, 2))
		for i := range n {
			o := Operation{Case: fmt.Sprintf("case-%07d", i), Person: fmt.Sprintf("FIC-%07d", i/10*9+i%9), State: Signed, Revision: 1, Consent: true,
				Month: Period{2026, 1 + r.IntN(12)}, Cells: make([]string, len(base[0].Cells))}
			for c := range o.Cells {
				o.Cells[c] = base[r.IntN(len(base))].Cells[c]
			}
			o.Cells[year] = "2026"
			for v := range 3 {
				cells := make([]string, len(visits[0]))
				for c := range cells {
					cells[c] = visits[r.IntN(len(visits))][c]
				}
				o.Visits = append(o.Visits, Visit{ID: fmt.Sprint(v), Month: Period{2026, 12}, Cells: cells})
			}
			if !yield(o, nil) {
				return
			}
		}
	}
}

type nowhere struct{ io.Writer }

func (nowhere) Close() error { return nil }

// BenchmarkYear builds and writes a year's package. The memory is that in use
// after the package was built, with the rows still held.
func BenchmarkYear(b *testing.B) {
	for _, n := range []int{1_000, 10_000, 100_000} {
		b.Run(fmt.Sprint(n), func(b *testing.B) {
			in := Input{Period: Period{2026, 0}, Operations: many(b, n), TheatreCount: n, At: now}
			for b.Loop() {
				p, err := Build(in, Options{Mode: Pseudonymised, Key: testKey})
				if err != nil {
					b.Fatal(err)
				}
				if err := p.Write(func(string) (io.WriteCloser, error) { return nowhere{io.Discard}, nil }); err != nil {
					b.Fatal(err)
				}
			}
			var m runtime.MemStats
			runtime.ReadMemStats(&m)
			b.ReportMetric(float64(m.Sys)/1e6, "MB-from-system")
			b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/float64(n)/1e3, "µs/operation")
		})
	}
}
