package calc

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"rambook/calc/line"
)

// lineThrough is the line through the cases of a sheet `visits` against `hours`.
func lineThrough(t *testing.T, name string, parts ...string) line.Line {
	t.Helper()
	trend, problems := compiled(t, parts...).Trend("visits", name, TrendOptions{Against: "hours"})
	if trend == nil {
		t.Fatal(told(problems))
	}
	return trend.Line
}

// visitsAt writes a sheet of visits at 0, 1, 3, 4 and 7 hours.
func visitsAt(head string, cells ...string) string {
	sheet := "visit,hours," + head + "\n:unit"
	for name := range strings.SplitSeq("hours,"+head, ",") {
		sheet += "," + map[bool]string{true: "text"}[name == "oil"]
	}
	sheet += "\n"
	for i, hours := range []int{0, 1, 3, 4, 7} {
		sheet += fmt.Sprintf("v%d,%d,%s\n", i, hours, cells[i])
	}
	return sheet
}

// dialGauge has u = 0.4 in all its readings, and 0.3 = step/√12 in each.
const dialGauge = "gauge,spread,step\n:unit,,\ndial,0.8,1.0392304845413265\nclamp,2 %,\n"

// TestReadingsOfOneGaugeCompared holds the line through readings of one gauge, and
// the differences between them, to closed forms. With equal own errors u the line
// has u/√Sxx in its slope and u·√(1/n + x̄²/Sxx) in its intercept, and the gauge's
// error, the same in all, moves the intercept by itself and the slope by nothing;
// of a difference it moves nothing (JCGM 100, 5.2.2, correlation 1 of that part).
func TestReadingsOfOneGaugeCompared(t *testing.T) {
	const own, common = 0.3, 0.4
	const mean, sxx = 3.0, 9 + 4 + 0 + 1 + 16 // of 0, 1, 3, 4 and 7 hours
	parts := []string{"model.csv", "name,entry,with,low\np,1,,\ny,=2*p,dial,0\n", "gauges.csv", dialGauge,
		"visits.csv", visitsAt("y", "10", "11", "13", "14", "17")}
	l := lineThrough(t, "y", parts...)
	for what, pair := range map[string][2]float64{
		"slope":     {l.SlopeError, own / math.Sqrt(sxx)},
		"intercept": {l.InterceptError, math.Hypot(common, own*math.Sqrt(1./5+mean*mean/sxx))},
	} {
		if !near(pair[0], pair[1], 1e-9) {
			t.Errorf("error of the %s %.12g, want %.12g", what, pair[0], pair[1])
		}
	}
	c, problems := compiled(t, parts...).Compare("visits", CompareOptions{By: "y"})
	if c == nil {
		t.Fatal(told(problems))
	}
	for _, r := range c.Rows[1:] {
		if want := 2 * math.Sqrt2 * own; !near(r.Spread, want, 1e-9) {
			t.Errorf("%s: difference ± %.12g, want ± %.12g", r.Name, r.Spread, want)
		}
	}
	// A pressure in front of a valve and, on the same gauge, one behind it: the
	// difference of two visits of which one was computed from the former.
	c, problems = compiled(t, "model.csv", "name,entry,with,low\np,1,dial,\ny,=p - 2,dial,0\n", "gauges.csv", dialGauge,
		"visits.csv", visitsAt("p,y", "10,", "11,", "13,11.5", "14,", "17,")).Compare("visits", CompareOptions{By: "y"})
	if c == nil {
		t.Fatal(told(problems))
	}
	for _, r := range c.Rows[1:] {
		if want := 2 * math.Sqrt2 * own; !near(r.Spread, want, 1e-9) {
			t.Errorf("%s: difference ± %.12g, want ± %.12g", r.Name, r.Spread, want)
		}
	}
}

// TestTrendOfWhatVisitsShare holds trends of computed values against the line
// through the same points with each source of error told by hand: standard
// uncertainties, by source and visit.
func TestTrendOfWhatVisitsShare(t *testing.T) {
	all := func(f func(i int) float64) []float64 {
		list := make([]float64, 5)
		for i := range list {
			list[i] = f(i)
		}
		return list
	}
	the := func(x ...float64) []float64 { return x }
	for _, test := range []struct {
		name   string
		parts  []string
		y, own []float64
		shared [][]float64
	}{
		// Each visit reads its gauge, and all of them take off one zero.
		{"an offset in common", []string{"model.csv", "name,entry,spread\ngauge,0,0.6\nzero,1,0.8\ny,=gauge - zero,\n",
			"visits.csv", visitsAt("gauge,y", "10,", "11,", "13,", "14,", "17,")},
			the(9, 10, 12, 13, 16), the(0.3, 0.3, 0.3, 0.3, 0.3), [][]float64{the(-0.4, -0.4, -0.4, -0.4, -0.4)}},
		// One area turns every pressure into a force.
		{"a factor in common", []string{"model.csv", "name,entry,spread\np,1,0.6\narea,2,0.2\ny,=area*p,\n",
			"visits.csv", visitsAt("p,y", "10,", "11,", "13,", "14,", "17,")},
			the(20, 22, 26, 28, 34), the(0.6, 0.6, 0.6, 0.6, 0.6), [][]float64{the(1, 1.1, 1.3, 1.4, 1.7)}},
		// The third visit was read, and has nothing in common with the others.
		{"readings among them", []string{"model.csv", "name,entry,spread\np,17,0.6\narea,2,0.2\ny,=area*p,1\n",
			"visits.csv", visitsAt("p,y", "10,", "11,", "13,27", "14,", "17,")},
			the(20, 22, 27, 28, 34), the(0.6, 0.6, 0.5, 0.6, 0.6), [][]float64{the(1, 1.1, 0, 1.4, 1.7)}},
		// A given with a column is looked at itself.
		{"a given", []string{"model.csv", "name,entry,spread\np,17,0.6\ny,=2*p,\n",
			"visits.csv", visitsAt("p,y", "10,", "11,", "13,", "14,", "17,")},
			the(10, 11, 13, 14, 17), the(0.3, 0.3, 0.3, 0.3, 0.3), nil},
		// Visits with the same oil share its cell of the table.
		{"cells looked up", []string{"model.csv", "name,entry,unit,spread\n" +
			"p,1,,0.6\n" +
			"oil,thin,text,\n" +
			"y,=oils[oil].factor*p,,\n",
			"oils.csv", "oil,factor\n:unit,\n:spread,0.2\nthin,1\nthick,2\nstray,3\n",
			"visits.csv", visitsAt("oil,p,y", "thin,10,", "thick,5,", "thin,13,", "thick,7,", "stray,5,")},
			the(10, 10, 13, 14, 15), the(0.3, 0.6, 0.3, 0.6, math.Hypot(0.9, 0.5)),
			[][]float64{the(1, 0, 1.3, 0, 0), the(0, 0.5, 0, 0.7, 0)}},
		// Two shared givens whose errors are correlated: u² = 0.1² + 0.2² + 2·0.5·0.1·0.2
		// moves all alike.
		{"correlated givens in common", []string{"model.csv",
			"name,entry,spread\np,1,0.6\na,1,0.2\nb,1,0.4\ny,=p + a + b,\n",
			"ties.csv", "given,with,correlation\na,b,0.5\n",
			"visits.csv", visitsAt("p,y", "10,", "11,", "13,", "14,", "17,")},
			the(12, 13, 15, 16, 19), the(0.3, 0.3, 0.3, 0.3, 0.3),
			[][]float64{all(func(int) float64 { return math.Sqrt(0.07) })}},
		// A reading of each visit whose error goes with that of a shared given: of
		// 0.3·e_p, 0.6 · 0.3 is what b says of it, and 0.8 · 0.3 its own.
		{"an own given correlated with one in common",
			[]string{"model.csv", "name,entry,spread\np,1,0.6\nb,1,0.8\ny,=p + b,\n",
				"ties.csv", "given,with,correlation\np,b,0.6\n",
				"visits.csv", visitsAt("p,y", "10,", "11,", "13,", "14,", "17,")},
			the(11, 12, 14, 15, 18), the(0.24, 0.24, 0.24, 0.24, 0.24),
			[][]float64{all(func(int) float64 { return 0.4 + 0.6*0.3 })}},
		// Whichever of the two stands first.
		{"the other way round", []string{"model.csv", "name,entry,spread\nb,1,0.8\np,1,0.6\ny,=p + b,\n",
			"ties.csv", "given,with,correlation\np,b,0.6\n",
			"visits.csv", visitsAt("p,y", "10,", "11,", "13,", "14,", "17,")},
			the(11, 12, 14, 15, 18), the(0.24, 0.24, 0.24, 0.24, 0.24),
			[][]float64{all(func(int) float64 { return 0.4 + 0.6*0.3 })}},
		// Two own readings with one gauge at each visit: nothing in common.
		{"own givens correlated with each other", []string{"model.csv",
			"name,entry,spread\np,1,0.6\nq,1,0.8\ny,=p - q,\n",
			"ties.csv", "given,with,correlation\np,q,0.5\n",
			"visits.csv", visitsAt("p,q,y", "10,1,", "11,1,", "13,1,", "14,1,", "17,1,")},
			the(9, 10, 12, 13, 16), all(func(int) float64 { return math.Sqrt(0.09 + 0.16 - 0.12) }), nil},
		// All were read on one dial: its error moves them alike, its step each alone.
		{"readings with one gauge", []string{"model.csv", "name,entry,with\np,1,\ny,=2*p,dial\n",
			"gauges.csv", dialGauge, "visits.csv", visitsAt("y", "10", "11", "13", "14", "17")},
			the(10, 11, 13, 14, 17), the(0.3, 0.3, 0.3, 0.3, 0.3), [][]float64{the(0.4, 0.4, 0.4, 0.4, 0.4)}},
		// What is computed of a number of the dial is off by three times its error, and
		// the same way as a reading on it.
		{"readings and computed values with one gauge",
			[]string{"model.csv", "name,entry,with\np,1,dial\ny,=3*p,dial\n",
				"gauges.csv", dialGauge, "visits.csv", visitsAt("p,y", "1,", "2,11", "3,", "4,14", "5,")},
			the(3, 11, 9, 14, 15), the(0.9, 0.3, 0.9, 0.3, 0.9), [][]float64{the(1.2, 0.4, 1.2, 0.4, 1.2)}},
		{"and against each other", []string{"model.csv", "name,entry,with\np,1,dial\ny,=20 - p,dial\n",
			"gauges.csv", dialGauge, "visits.csv", visitsAt("p,y", "1,", "2,11", "3,", "4,14", "5,")},
			the(19, 11, 17, 14, 15), the(0.3, 0.3, 0.3, 0.3, 0.3), [][]float64{the(-0.4, 0.4, -0.4, 0.4, -0.4)}},
		// A clamp that is off by a share; and readings that state their own spread.
		{"readings with a gauge of shares", []string{"model.csv", "name,entry,with\np,1,\ny,=2*p,clamp\n",
			"gauges.csv", dialGauge, "visits.csv", visitsAt("y", "10", "11", "13", "14", "17")},
			the(10, 11, 13, 14, 17), the(0, 0, 0, 0, 0), [][]float64{the(0.1, 0.11, 0.13, 0.14, 0.17)}},
		{"readings with a spread of their own", []string{"model.csv",
			"name,entry,with,spread\np,1,,\ny,=2*p,dial,0.6\n",
			"gauges.csv", dialGauge, "visits.csv", visitsAt("y", "10", "11", "13", "14", "17")},
			the(10, 11, 13, 14, 17), the(0.3, 0.3, 0.3, 0.3, 0.3), nil},
	} {
		t.Run(test.name, func(t *testing.T) {
			name := "y"
			if test.name == "a given" {
				name = "p"
			}
			got := lineThrough(t, name, test.parts...)
			u := make([]float64, 5)
			for i := range u {
				u[i] = test.own[i]
				for _, f := range test.shared {
					u[i] = math.Hypot(u[i], f[i])
				}
			}
			want, err := line.Fit([]float64{0, 1, 3, 4, 7}, test.y, u, test.shared)
			if err != nil {
				t.Fatal(err)
			}
			for what, pair := range map[string][2]float64{
				"slope": {got.Slope, want.Slope}, "intercept": {got.Intercept, want.Intercept},
				"error of the slope":     {got.SlopeError, want.SlopeError},
				"error of the intercept": {got.InterceptError, want.InterceptError},
				"covariance":             {got.Covariance, want.Covariance},
				"band":                   {got.PredictionError(5), want.PredictionError(5)},
			} {
				if !near(pair[0], pair[1], 1e-9) {
					t.Errorf("%s: %.12g, want %.12g", what, pair[0], pair[1])
				}
			}
		})
	}
}

// TestTrendAgainstSampling draws the givens of an efficiency worked back from
// timed strokes many times, and fits each draw: area and flow are drawn once
// for all visits, each timing for itself, one visit was read.
func TestTrendAgainstSampling(t *testing.T) {
	const area, areaSpread, flow, flowSpread, timeSpread, readSpread = 450e-4, 4e-4, 27e-3 / 60, 0.3e-3 / 60, 0.05, 1.5
	hours, timed := []float64{0, 100, 220, 300, 410, 500}, []float64{4.21, 4.28, 4.31, 0, 4.44, 4.52}
	const read, readAt = 91.5, 3
	var rows strings.Builder
	for i := range hours {
		if i == readAt {
			fmt.Fprintf(&rows, "v%d,%g,,%g\n", i, hours[i], read)
			continue
		}
		fmt.Fprintf(&rows, "v%d,%g,%g,\n", i, hours[i], timed[i])
	}
	l := lineThrough(t, "efficiency", "model.csv",
		"name,entry,unit,spread\n"+
			"area,450,cm2,4\n"+
			"flow,27,L/min,0.3\n"+
			"timed,4,s,0.05\n"+
			"efficiency,=area*40*mm/timed/flow,%,1.5\n",
		"visits.csv", "visit,hours,timed,efficiency\n:unit,h,s,%\n"+rows.String())

	random := rand.New(rand.NewPCG(3, 4))
	const draws = 40000
	u := make([]float64, len(hours)) // the weights are those of the trend, the same in every draw
	for i := range u {
		y := 100 * area * 0.040 / timed[i] / flow
		u[i] = y / 2 * math.Hypot(areaSpread/area, math.Hypot(flowSpread/flow, timeSpread/timed[i]))
	}
	u[readAt] = readSpread / 2
	var slopes, intercepts [2]float64 // sums, and sums of squares
	y := make([]float64, len(hours))
	for range draws {
		a, q := area+areaSpread/2*random.NormFloat64(), flow+flowSpread/2*random.NormFloat64()
		for i := range y {
			y[i] = 100 * a * 0.040 / (timed[i] + timeSpread/2*random.NormFloat64()) / q
		}
		y[readAt] = read + readSpread/2*random.NormFloat64()
		one, err := line.Fit(hours, y, u, nil)
		if err != nil {
			t.Fatal(err)
		}
		for sums, x := range map[*[2]float64]float64{&slopes: one.Slope - l.Slope,
			&intercepts: one.Intercept - l.Intercept} {
			sums[0] += x
			sums[1] += x * x
		}
	}
	deviation := func(sums [2]float64) float64 {
		return math.Sqrt(sums[1]/draws - sums[0]*sums[0]/draws/draws)
	}
	if got, want := l.SlopeError, deviation(slopes); !near(got, want, 0.02) {
		t.Errorf("error of the slope %.5g, sampling gives %.5g", got, want)
	}
	if got, want := l.InterceptError, deviation(intercepts); !near(got, want, 0.02) {
		t.Errorf("error of the intercept %.5g, sampling gives %.5g", got, want)
	}
}

// TestComparedWithOwnCorrelated: two cases that read p for themselves, with errors
// that go with that of the shared b: of their difference only each one's own
// 0.8 · 0.6 is left, whichever of the two givens stands first.
func TestComparedWithOwnCorrelated(t *testing.T) {
	for _, givens := range []string{"p,1,0.6\nb,1,0.8\n", "b,1,0.8\np,1,0.6\n"} {
		c, problems := compiled(t, "model.csv", "name,entry,spread\n"+givens+"y,=p + b,\n",
			"ties.csv", "given,with,correlation\np,b,0.6\n", "cases.csv",
			"case,p,y\n:unit,,\nfirst,3,\nsecond,2,\n").Compare("cases", CompareOptions{By: "y", Most: true})
		if c == nil {
			t.Fatal(told(problems))
		}
		if got, want := c.Rows[1].Spread, math.Sqrt2*0.8*0.6; !near(got, want, 1e-9) {
			t.Errorf("%.9g, want %.9g", got, want)
		}
	}
}
