package calc

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"time"
)

// longTable makes a sheet of many rows, with a spread on each cell if asked for.
func longTable(rows int, spread string) string {
	var b strings.Builder
	b.WriteString("step,p,q,t,kind\n:unit,MPa,L/min,s,text\n:spread," + spread + "," + spread + ",,\n")
	for i := range rows {
		fmt.Fprintf(&b, "s%d,%.2f,%.2f,%.1f,%s\n", i, 10+math.Sin(float64(i)), 30+math.Cos(float64(i)), 1+float64(i%7),
			[]string{"press", "rest"}[i%2])
	}
	return b.String()
}

// tenAggregates are the aggregates of the benchmark: expressions of several
// columns, a condition, a text.
const tenAggregates = `name,entry,unit
energy,sum(table.p*table.q*table.t),kJ
time,sum(table.t),s
mean_power,mean(table.p*table.q),kW
rms_power,sqrt(sum((table.p*table.q)^2*table.t)/time),kW
peak,max(table.p),MPa
lowest,min(table.q),L/min
often,count(table.p > 10*MPa),
pressing,"sum(table.kind == ""press"" ? table.t : 0*s)",s
trend,"slope(table.t, table.p)",MPa/s
area,"integral(table.t, table.q)",L
`

// BenchmarkRows reports what aggregates over the rows of a table cost: a
// notebook of 1,000 rows and ten aggregates, from its cells to all values; and
// the value and spread of one aggregate over 10,000 doubtful cells. Beside each
// stands what the same notebook costs without its aggregates, in the same run.
func BenchmarkRows(b *testing.B) {
	const none = "name,entry,unit\ntime,3,s\n"
	run := func(model, table string) func() {
		return func() {
			m, problems := Compile(files(b, "1.csv", model, "table.csv", table), Options{})
			if m == nil {
				b.Fatal(told(problems))
			}
			if r, problems := m.Check(CheckOptions{}); r == nil || len(problems) > 0 {
				b.Fatal(told(problems))
			}
		}
	}
	thousand, doubtful := longTable(1000, ""), longTable(10_000, "0.1")
	const one = "name,entry,unit\nmean_pressure,mean(table.p),MPa\n"
	ways := []struct {
		name string
		run  func()
	}{
		{"1000-rows", run(none, thousand)},
		{"10-aggregates", run(tenAggregates, thousand)},
		{"10000-rows", run(none, doubtful)},
		{"doubtful-cells", run(one, doubtful)},
	}
	best := map[string]float64{}
	for b.Loop() {
		for _, w := range ways {
			start := time.Now()
			w.run()
			ms := float64(time.Since(start).Microseconds()) / 1000
			if old, ok := best[w.name]; !ok || ms < old {
				best[w.name] = ms
			}
		}
	}
	for _, w := range ways {
		b.ReportMetric(best[w.name], w.name+"-ms")
	}
	b.ReportMetric(best["10-aggregates"]/best["1000-rows"], "aggregates/rows")
	b.ReportMetric(best["doubtful-cells"]/best["10000-rows"], "doubt/rows")
}
