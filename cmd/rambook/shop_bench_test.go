package main

import (
	"fmt"
	"path/filepath"
	"testing"
)

// BenchmarkShop checks a floor of presses in one call. It reports the time for one
// of them on one core; 500 on two cores in 3 s are 12 ms each.
func BenchmarkShop(b *testing.B) {
	const presses = 40
	floor := b.TempDir()
	args := []string{"check"}
	for i := range presses {
		dir := filepath.Join(floor, fmt.Sprintf("press %d", i))
		if status, _, said := obey("new", dir, "--example"); status != exitFine {
			b.Fatal(said)
		}
		args = append(args, dir)
	}
	b.ResetTimer()
	for b.Loop() {
		if status, _, said := obey(args...); status == exitWrong {
			b.Fatal(said)
		}
	}
	b.ReportMetric(float64(b.Elapsed().Milliseconds())/float64(b.N)/presses, "ms/press")
}
