package main

import (
	"fmt"
	"os"
	"path/filepath"
	"testing"
)

// One entry, without the start of the process.
func BenchmarkCheckOne(b *testing.B) {
	for b.Loop() {
		if code, _, stderr := runIn(testEnvironment(), "", "check", sample); code != 0 {
			b.Fatal(stderr)
		}
	}
}

// Fifty entries with all products; the result is the time for all of them.
func BenchmarkWriteFifty(b *testing.B) {
	dir := b.TempDir()
	text := sampleText(b)
	for i := range 50 {
		if err := os.WriteFile(filepath.Join(dir, fmt.Sprintf("%02d.yaml", i)), []byte(copyOf(text, i)), 0o600); err != nil {
			b.Fatal(err)
		}
	}
	out := filepath.Join(b.TempDir(), "out")
	for b.Loop() {
		if code, _, stderr := runIn(testEnvironment(), "", "write", dir, "--out", out); code != 0 {
			b.Fatal(stderr)
		}
	}
}
