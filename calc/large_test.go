package calc

import (
	"fmt"
	"runtime"
	"strings"
	"testing"
	"time"

	"rambook/sheets"
)

// chainSheet is a notebook of n formulas, each of which uses the one before.
func chainSheet(n int) []byte {
	var b strings.Builder
	b.WriteString("name,entry,unit,spread,low\nq0,25,MPa,0.1,\n")
	for i := 1; i < n; i++ {
		fmt.Fprintf(&b, "q%d,=q%d*0.5 + 12.5*MPa,MPa,,1\n", i, i-1)
	}
	return []byte(b.String())
}

// BenchmarkChain reads, compiles and checks a chain of 100,000 rows, and
// reports the time against one of 10,000 rows: linear is 10.
func BenchmarkChain(b *testing.B) {
	run := func(data []byte) time.Duration {
		runtime.GC()
		start := time.Now()
		s, problems := sheets.Read("chain.csv", data)
		if len(problems) > 0 {
			b.Fatal(told(problems))
		}
		m, problems := Compile(&sheets.Notebook{Sheets: []*sheets.Sheet{s}}, Options{})
		if m == nil {
			b.Fatal(told(problems))
		}
		if r, problems := m.Check(CheckOptions{}); r == nil {
			b.Fatal(told(problems))
		}
		return time.Since(start)
	}
	short, long := chainSheet(10_000), chainSheet(100_000)
	var a, c time.Duration
	for b.Loop() {
		a += run(short)
		c += run(long)
	}
	b.ReportMetric(float64(c.Milliseconds())/float64(b.N), "ms/100k-rows")
	b.ReportMetric(float64(c)/float64(a), "100k/10k")
}

// BenchmarkWide runs 10,000 formulas over 1,000 cases.
func BenchmarkWide(b *testing.B) {
	var rows, cases strings.Builder
	rows.WriteString("name,entry,unit\na,1,\n")
	cases.WriteString("case,a")
	for i := range 10_000 {
		fmt.Fprintf(&rows, "f%d,=a*%d + 1/(a + %d),\n", i, i, i+1)
	}
	cases.WriteString(",f9999\n:unit,,\n")
	for i := range 1000 {
		fmt.Fprintf(&cases, "c%d,%d,\n", i, i+1)
	}
	m := compiled(b, "rows.csv", rows.String(), "cases.csv", cases.String())
	for b.Loop() {
		if r, problems := m.Check(CheckOptions{}); r == nil {
			b.Fatal(told(problems))
		}
	}
}
