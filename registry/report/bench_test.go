package report

import "testing"

// The report of a national pool: 20,000 operations with their visits.
func BenchmarkBuild(b *testing.B) {
	d := sample(1, 20000)
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Build(d, Options{}); err != nil {
			b.Fatal(err)
		}
	}
}
