package calc

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"gonum.org/v1/gonum/integrate"
	"gonum.org/v1/gonum/stat"
)

// TestAggregatesAgainstGonum holds lines with and without weights, means, mean
// squares and trapezoids over 100 random tables to gonum, and the spreads of
// lines to their closed forms: with y_i = a + b·x_i + e_i and weights w_i the
// slope is Σ w_i dx_i y_i / Σ w_i dx_i², so its spread is the root of
// Σ (w_i dx_i U)² over Σ w_i dx_i² (NIST/SEMATECH e-Handbook 4.4.3.2).
func TestAggregatesAgainstGonum(t *testing.T) {
	g := rand.New(rand.NewPCG(31, 32))
	for round := range 100 {
		n := 3 + g.IntN(20)
		x, y, w := make([]float64, n), make([]float64, n), make([]float64, n)
		table := "point,x,y,w\n:unit,mm,kN,\n:spread,,0.5,\n"
		for i := range n {
			x[i] = float64(i) + 0.8*g.Float64()
			y[i], w[i] = 40+7*x[i]+g.NormFloat64(), 0.1+3*g.Float64()
			table += fmt.Sprintf("p%d,%v,%v,%v\n", i, x[i], y[i], w[i])
		}
		r := checked(t, "1.csv", "name,entry,unit\n"+
			"b,\"=slope(t.x, t.y)\",kN/mm\na,\"=intercept(t.x, t.y)\",kN\n"+
			"bw,\"=slope(t.x, t.y, t.w)\",kN/mm\naw,\"=intercept(t.x, t.y, t.w)\",kN\n"+
			"scaled,\"=slope(t.x, t.y, 7*t.w/(2*kN)^2)\",kN/mm\n"+
			"middle,=mean(t.y),kN\n"+
			"weighed,=sum(t.w*t.y)/sum(t.w),kN\n"+
			"root,=rms(t.y),kN\n"+
			"area,\"=integral(t.x, t.y)\",J\n",
			"t.csv", table)
		a, b := stat.LinearRegression(x, y, nil, false)
		aw, bw := stat.LinearRegression(x, y, w, false)
		squares := make([]float64, n)
		for i := range y {
			squares[i] = y[i] * y[i]
		}
		for name, want := range map[string]float64{"a": a, "b": b, "aw": aw, "bw": bw, "scaled": bw,
			"middle": stat.Mean(y, nil), "weighed": stat.Mean(y, w), "root": math.Sqrt(stat.Mean(squares, nil)),
			"area": integrate.Trapezoidal(x, y)} {
			if got := r.find(t, name); !near(got.Value, want, 1e-11) {
				t.Errorf("round %d: %s is %v, gonum has %v", round, name, got.Value, want)
			}
		}
		middle := stat.Mean(x, w)
		var moves, width float64
		for i := range x {
			moves, width = moves+math.Pow(w[i]*(x[i]-middle)*0.5, 2), width+w[i]*(x[i]-middle)*(x[i]-middle)
		}
		if got := r.find(t, "bw").Spread; !near(got, math.Sqrt(moves)/width, 1e-10) {
			t.Errorf("round %d: the weighted slope is ± %v, expected ± %v", round, got, math.Sqrt(moves)/width)
		}
		if got := r.find(t, "middle").Spread; !near(got, 0.5/math.Sqrt(float64(n)), 1e-12) {
			t.Errorf("round %d: the mean is ± %v, expected ± %v", round, got, 0.5/math.Sqrt(float64(n)))
		}
	}
}

// TestWeights: a weight of 0 takes a point out, one below 0 is refused, and three
// arguments belong to lines only.
func TestWeights(t *testing.T) {
	const table = "point,x,y,w,bad\n:unit,,,,\na,0,1,1,1\nb,1,3,1,1\nc,2,9,0,-1\n"
	r := checked(t, "1.csv", "name,entry\nb,\"=slope(t.x, t.y, t.w)\"\n", "t.csv", table)
	if got := r.find(t, "b").Value; !near(got, 2, 1e-14) {
		t.Errorf("slope %v, expected 2", got)
	}
	for formula, want := range map[string]string{
		"slope(t.x, t.y, t.bad)": "the weight of a point is below 0",
		"slope(t.x, t.y, t.w, t.w)": "slope takes 2 expressions over the rows of one sheet and may have a weight, " +
			"here are 4",
		"integral(t.x, t.y, t.w)":    "integral takes 2 expressions over the rows of one sheet",
		"slope(t.x, t.y, u.w)":       "slope runs over the rows of one sheet, here of t and u",
		"intercept(t.x, t.y, 0*t.w)": "the weights of all points are 0",
	} {
		m, problems := Compile(files(t, "1.csv", "name,entry\nr,\"="+formula+"\"\n", "t.csv", table, "u.csv",
			"point,w\n:unit,\na,1\n"), Options{})
		if m != nil {
			_, problems = m.Check(CheckOptions{})
		}
		if got := told(problems); !strings.Contains(got, want) {
			t.Errorf("%s: got %s, expected %s", formula, got, want)
		}
	}
}

// tiltBook is the seating sheet's columns: a feeler gauge with steps of 0.02 mm,
// seven stations, a wedge under each.
const tiltBook = `name,entry,unit,spread,low,high
position,,mm,1,,
gap,,mm,=reading_step(0.02*mm),,
wedge_slope,0.02,,,,
tilt,"=slope(stations.position, stations.gap)",mm/m,,-0.1,0.1
line_gap,"=intercept(stations.position, stations.gap) + tilt*position",mm,,,
rest,=gap - line_gap,mm,,-0.05,0.05
wedge_move,=(gap - mean(stations.gap))/wedge_slope,mm,,,
`

// TestStationsAreDoubtful: tilt and each wedge of seven stations have the ± that
// follows by hand, and a tilt near its limit is unsure. A reading to the next
// step of s is off by s/√12 at k = 1, so by U = s/√3 at k = 2 (JCGM 100, F.2.2.1).
// The tilt's ± is U/√Σdx² by the gaps (and slope·U_x/√Σdx² by the positions); the
// wedge of station i moves by ((1 - 1/n)·g_i - Σ g_k/n)/0.02, so its ± is
// U·√(1 - 1/n)/0.02.
func TestStationsAreDoubtful(t *testing.T) {
	gaps := []float64{0.02, 0.06, 0.08, 0.12, 0.16, 0.20, 0.22}
	sheet := "station,position,gap,line_gap,rest,wedge_move\n:unit,mm,mm,mm,mm,mm\n"
	for i, gap := range gaps {
		sheet += fmt.Sprintf("s%d,%d,%v,,,\n", i, 350*i, gap)
	}
	r := checked(t, "1.csv", tiltBook, "stations.csv", sheet)
	const n = 7
	u := 0.02 / math.Sqrt(3)
	width := 0.0
	for i := range gaps {
		width += math.Pow(350*(float64(i)-3), 2)
	}
	var slope float64
	for i, gap := range gaps {
		slope += 350 * (float64(i) - 3) * gap / width
	}
	// By the positions: ∂slope/∂x_i = (y_i - ȳ - 2·slope·dx_i)/Σdx².
	byPlace, mean := 0.0, 0.0
	for _, gap := range gaps {
		mean += gap / n
	}
	for i, gap := range gaps {
		byPlace += math.Pow((gap-mean-2*slope*350*(float64(i)-3))/width, 2)
	}
	spread := math.Hypot(u/math.Sqrt(width), math.Sqrt(byPlace)*1)
	tilt := r.find(t, "tilt")
	if !near(tilt.Value, slope*1000, 1e-12) || !near(tilt.Spread, spread*1000, 1e-9) {
		t.Errorf("tilt %v ± %v mm/m, expected %v ± %v", tilt.Value, tilt.Spread, slope*1000, spread*1000)
	}
	if tilt.Verdict != Unsure || math.Abs(tilt.Value-0.1) > tilt.Spread {
		t.Errorf("tilt %v ± %v mm/m is %v, and the limit of 0.1 lies within the spread", tilt.Value, tilt.Spread,
			tilt.Verdict)
	}
	for i := range gaps {
		wedge := r.in(t, "stations", fmt.Sprintf("s%d", i), "wedge_move")
		if want := u * math.Sqrt(1-1./n) / 0.02; !near(wedge.Value, (gaps[i]-mean)/0.02, 1e-9) ||
			!near(wedge.Spread, want, 1e-9) {
			t.Errorf("wedge %d: %v ± %v mm, expected %v ± %v", i, wedge.Value, wedge.Spread, (gaps[i]-mean)/0.02, want)
		}
	}
}
