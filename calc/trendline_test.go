package calc

import (
	"fmt"
	"math"
	"strings"
	"testing"
)

// TestLineOfTwo: two points are enough for a line if their uncertainties are
// known; there is no scatter to judge it by.
func TestLineOfTwo(t *testing.T) {
	l, err := fitLine([]float64{1, 3}, []float64{10, 14}, []float64{0.3, 0.4})
	if err != nil {
		t.Fatal(err)
	}
	if !near(l.Slope, 2, 1e-14) || !near(l.Intercept, 8, 1e-14) || l.Factor != 2 {
		t.Errorf("the line is %v + %v x, factor %v", l.Intercept, l.Slope, l.Factor)
	}
	if want := math.Hypot(0.3, 0.4) / 2; !near(l.SlopeError, want, 1e-14) {
		t.Errorf("the slope's error is %v, expected %v", l.SlopeError, want)
	}
	for x, want := range map[float64]float64{1: 0.3, 3: 0.4} {
		if got := l.Error(x); !near(got, want, 1e-12) {
			t.Errorf("the line's error at %v is %v, expected that of the point, %v", x, got, want)
		}
	}
	for what, p := range map[string]float64{"residual": l.ResidualSD, "curvature": l.curvature, "runs": l.runs, "scatter": l.scatter} {
		if Has(p) {
			t.Errorf("two points are said to have a %s of %v", what, p)
		}
	}
}

// TestDoubt: of all that speaks against a line the strongest is told, and
// nothing that a good line shows often.
func TestDoubt(t *testing.T) {
	nan := math.NaN()
	for _, test := range []struct {
		curvature, runs, scatter float64
		why                      string
		p                        float64
	}{
		{nan, nan, nan, "", suspicious},
		{0.5, 0.3, 0.02, "", suspicious},
		{0.009, 0.3, nan, "the points bend", 0.009},
		{0.009, 0.001, nan, "neighbouring points lie on the same side of it", 0.001},
		{0.009, 0.001, 1e-5, "the points scatter more than their spreads allow", 1e-5},
		{1e-9, 0.001, 1e-5, "the points bend", 1e-9},
	} {
		l := Line{curvature: test.curvature, runs: test.runs, scatter: test.scatter}
		if why, p := l.Doubt(); why != test.why || p != test.p {
			t.Errorf("%v %v %v: doubt is %q, %v", test.curvature, test.runs, test.scatter, why, p)
		}
	}
	for points, want := range map[int]bool{2: false, 5: false, 6: true, 20: true} {
		if got := (&Line{Points: points}).Telling(); got != want {
			t.Errorf("%d points tell whether a line is right: %v", points, got)
		}
	}
}

// TestExactLine: points that lie on the line exactly leave nothing to test.
func TestExactLine(t *testing.T) {
	l, err := fitLine([]float64{0, 1, 2, 3}, []float64{1, 3, 5, 7}, nil)
	if err != nil || l.Slope != 2 || l.Intercept != 1 || l.ResidualSD != 0 || Has(l.curvature) || Has(l.runs) {
		t.Errorf("the line is %+v, %v", l, err)
	}
	l, err = fitLine([]float64{0, 0, 1, 1}, []float64{1, 2, 3, 4}, nil)
	if err != nil || l.Slope != 2 || Has(l.curvature) { // two places cannot tell a bend
		t.Errorf("the line through two places is %+v, %v", l, err)
	}
}

// TestTrendLeavesOut: cases without a value take no part, for a reason that is
// told.
func TestTrendLeavesOut(t *testing.T) {
	m := compiled(t, "model.csv", "name,entry,unit,low,high\nwear,,%,,\nspan,4,mm,,\nleft,=span*(1 - wear)/wear,mm,3,\n",
		"visits.csv", `visit,hours,wear,left
:unit,h,%,
none,,50,
open,10,,
zero,20,0,
first,30,10,
second,20,20,
third,40,40,
read,50,,2
`)
	trend, problems := m.Trend("visits", "left", TrendOptions{Against: "hours"})
	if trend == nil {
		t.Fatal(told(problems))
	}
	var out []string
	for _, r := range trend.LeftOut {
		out = append(out, r.Case+": "+r.Why)
	}
	if got, want := strings.Join(out, "; "), "none: hours is blank; open: left needs wear; zero: left: division by zero"; got != want {
		t.Errorf("left out: %s\nexpected: %s", got, want)
	}
	var points []string
	for _, p := range trend.Points {
		points = append(points, fmt.Sprintf("%s %v %.6g %v", p.Case, p.X, p.Y, p.Read))
	}
	if got, want := strings.Join(points, "; "), "second 20 16 false; first 30 36 false; third 40 6 false; read 50 2 true"; got != want {
		t.Errorf("points: %s\nexpected: %s", got, want)
	}
}

// TestTrendMeetsItsLimit: a line that falls goes towards the low limit, one
// that rises towards the high one, and of limits that differ that of the last
// case counts.
func TestTrendMeetsItsLimit(t *testing.T) {
	m := compiled(t, "model.csv", "name,entry,unit,low,high\nrate,1,mm/h,,\ntime,0,h,,\nup,=rate*time,mm,-20,=30*mm + time*mm/h\ndown,=-rate*time,mm,-20,30\nfree,=rate*time,mm,-20,\n",
		"visits.csv", "visit,time,up,down,free\n:unit,h,,,\n:spread,,0.1,0.1,0.1\na,0,0.1,0,0\nb,10,10,-10,10\nc,4,4,-4.1,4\n")
	for _, test := range []struct {
		name  string
		limit float64
		low   bool
		when  float64
	}{{"up", 40, false, 40}, {"down", -20, true, 20}} {
		trend, problems := m.Trend("visits", test.name, TrendOptions{Against: "time"})
		if trend == nil {
			t.Fatal(told(problems))
		}
		meets := trend.Meets
		if meets == nil || meets.Limit != test.limit || meets.Low != test.low || math.Abs(meets.When-test.when) > 0.5 || meets.Past ||
			!(meets.Earliest < meets.When && meets.When < meets.Latest) {
			t.Errorf("%s meets %+v, expected %v at about %v", test.name, meets, test.limit, test.when)
		}
	}
	if trend, _ := m.Trend("visits", "free", TrendOptions{Against: "time"}); trend == nil || trend.Meets != nil {
		t.Errorf("a rising line without a high limit meets %+v", trend.Meets)
	}
}

// TestTrendOfMixedSpreads counts the cases beyond the first three.
func TestTrendOfMixedSpreads(t *testing.T) {
	m := compiled(t, "model.csv", "name,entry,unit,spread\nrate,1,mm,0.1\nleft,=2*rate,mm,\n",
		"visits.csv", "visit,hours,rate,left\n:unit,h,,\n:spread,,1 %,\na,0,0,\nb,1,0,\nc,2,0,\nd,3,0,\ne,4,0,\nf,5,2,\n")
	_, problems := m.Trend("visits", "left", TrendOptions{Against: "hours"})
	if got, want := withHints(problems), "visits.csv: some cases of left have a spread and some have none: `a`, `b`, `c`, 2 more (give all of them one in the row :spread of the sheet, or none)"; got != want {
		t.Errorf("got\n%s\nexpected\n%s", got, want)
	}
}
