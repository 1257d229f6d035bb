package sheets

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"io"
	"strings"
	"testing"
	"time"
)

// chain is a quantity sheet of n rows, each a formula over the one before.
func chain(n int) []byte {
	var b strings.Builder
	b.WriteString("name,entry,unit,reading,spread,low,high,note\nx0,1,mm,,0.01,,,start of the chain\n")
	for i := 1; i < n; i++ {
		fmt.Fprintf(&b, "x%d,=x%d*1.0001 + 0.5*mm,mm,,,0,2000,\"row %d, computed\"\n", i, i-1, i)
	}
	return []byte(b.String())
}

// caseList is a case sheet of n cases.
func caseList(n int) []byte {
	var b strings.Builder
	b.WriteString("job,setting,force,remark\n:unit,MPa,kN,\n")
	for i := range n {
		fmt.Fprintf(&b, "job %d,%d.5,,remark %d\n", i, i%25, i)
	}
	return []byte(b.String())
}

// parse is the least that reading a CSV file can cost.
func parse(file []byte) {
	r := csv.NewReader(bytes.NewReader(file))
	r.ReuseRecord = true
	for {
		if _, err := r.Read(); err == io.EOF {
			return
		}
	}
}

// BenchmarkRead reports, as ratio, the time relative to bare encoding/csv on
// the same file in the same run.
func BenchmarkRead(b *testing.B) {
	const rows = 100_000
	for _, test := range []struct {
		name string
		file []byte
	}{{"quantities", chain(rows)}, {"cases", caseList(rows)}} {
		b.Run(test.name, func(b *testing.B) {
			b.ReportAllocs()
			b.SetBytes(int64(len(test.file)))
			for b.Loop() {
				if _, problems := Read("f.csv", test.file); len(problems) > 0 {
					b.Fatal(problems[0])
				}
			}
			took := b.Elapsed()
			b.StopTimer()
			start := time.Now()
			for range b.N {
				parse(test.file)
			}
			b.ReportMetric(float64(took)/float64(time.Since(start)), "×csv")
		})
	}
}
