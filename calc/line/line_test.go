package line

import (
	"math"
	"testing"
)

func near(got, want, tolerance float64) bool { return math.Abs(got-want) <= tolerance*math.Abs(want) }

// TestLineOfTwo: two points are enough for a line if their uncertainties are
// known; there is no scatter to judge it by.
func TestLineOfTwo(t *testing.T) {
	l, err := Fit([]float64{1, 3}, []float64{10, 14}, []float64{0.3, 0.4}, nil)
	if err != nil {
		t.Fatal(err)
	}
	if !near(l.Slope, 2, 1e-14) || !near(l.Intercept, 8, 1e-14) || l.Factor != 2 {
		t.Errorf("the line is %v + %v x, factor %v", l.Intercept, l.Slope, l.Factor)
	}
	if want := math.Hypot(0.3, 0.4) / 2; !near(l.SlopeError, want, 1e-14) {
		t.Errorf("the slope's error is %v, want %v", l.SlopeError, want)
	}
	for x, want := range map[float64]float64{1: 0.3, 3: 0.4} {
		if got := l.Error(x); !near(got, want, 1e-12) {
			t.Errorf("the line's error at %v is %v, want that of the point, %v", x, got, want)
		}
	}
	for what, p := range map[string]float64{"residual": l.ResidualSD, "curvature": l.curvature, "runs": l.runs,
		"scatter": l.scatter} {
		if !math.IsNaN(p) {
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
	l, err := Fit([]float64{0, 1, 2, 3}, []float64{1, 3, 5, 7}, nil, nil)
	if err != nil || l.Slope != 2 || l.Intercept != 1 || l.ResidualSD != 0 || !math.IsNaN(l.curvature) ||
		!math.IsNaN(l.runs) || !math.IsNaN(l.scatter) {
		t.Errorf("the line is %+v, %v", l, err)
	}
	l, err = Fit([]float64{0, 0, 1, 1}, []float64{1, 2, 3, 4}, nil, nil)
	if err != nil || l.Slope != 2 || !math.IsNaN(l.curvature) { // two places cannot tell a bend
		t.Errorf("the line through two places is %+v, %v", l, err)
	}
}

// TestMeets holds the earliest and latest place of a limit against the line's
// own band there.
func TestMeets(t *testing.T) {
	l, err := Fit([]float64{0, 10, 20, 30, 40}, []float64{100, 95.2, 89.9, 85.3, 79.8}, nil, nil)
	if err != nil {
		t.Fatal(err)
	}
	at, earliest, latest, ok := l.Meets(60)
	if !ok || !near(l.At(at), 60, 1e-12) {
		t.Fatalf("meets 60 at %v, where it is %v", at, l.At(at))
	}
	if low := l.At(earliest) - l.Factor*l.Error(earliest); !near(low, 60, 1e-10) {
		t.Errorf("at the earliest the band ends at %v", low)
	}
	if high := l.At(latest) + l.Factor*l.Error(latest); !near(high, 60, 1e-10) {
		t.Errorf("at the latest the band ends at %v", high)
	}
	flat, err := Fit([]float64{0, 10, 20, 30}, []float64{5, 5.2, 4.9, 5}, nil, nil)
	if err != nil {
		t.Fatal(err)
	}
	if _, _, _, ok := flat.Meets(4); ok || flat.Certain() {
		t.Error("a level line meets nothing")
	}
}

// TestLineNoGood gives points that a straight line does not describe.
func TestLineNoGood(t *testing.T) {
	var x, bent, waved, straight, u []float64
	for i := range 16 {
		at := float64(i)
		x, u = append(x, at), append(u, 0.1)
		noise := 0.1 * float64(i*i*7%5-2) / 2
		bent = append(bent, 50-0.2*at*at+noise)
		waved = append(waved, 50-3*at+4*float64(i/8)+noise)
		straight = append(straight, 50-3*at+noise)
	}
	for _, test := range []struct {
		name       string
		y, u       []float64
		no         func(*Line) float64
		suspicious bool
	}{
		{"bent", bent, nil, func(l *Line) float64 { return l.curvature }, true},
		{"bent in few runs", bent, nil, func(l *Line) float64 { return l.runs }, true},
		{"bent, with weights", bent, u, func(l *Line) float64 { return l.curvature }, true},
		{"scatter", waved, u, func(l *Line) float64 { return l.scatter }, true},
		{"straight", straight, nil, func(l *Line) float64 { return min(l.curvature, l.runs) }, false},
		{"straight, with weights", straight, u, func(l *Line) float64 { return min(l.curvature, l.runs, l.scatter) },
			false},
	} {
		l, err := Fit(x, test.y, test.u, nil)
		if err != nil {
			t.Fatal(err)
		}
		if p := test.no(&l); p < suspicious != test.suspicious {
			t.Errorf("%s: p is %v", test.name, p)
		}
	}
}

// TestRounding: what is below the rounding of computed values is neither a slope nor
// scatter; what is above it is.
func TestRounding(t *testing.T) {
	const eps = 1e-14
	level, line := make([]float64, 7), make([]float64, 7)
	x := make([]float64, 7)
	for i := range x {
		x[i] = float64(i)
		rounded := 1 + eps*float64(i*i%5)
		level[i], line[i] = 25*rounded, (25-3*x[i])*rounded
	}
	for _, test := range []struct {
		name string
		y    []float64
		flat bool
	}{{"level", level, true}, {"line", line, false}} {
		l, err := Fit(x, test.y, nil, nil)
		if err != nil {
			t.Fatal(err)
		}
		if why, _ := l.Doubt(); l.ResidualSD != 0 || l.SlopeError != 0 || l.Flat() != test.flat || why != "" ||
			l.Certain() == test.flat {
			t.Errorf("%s: %+v, doubt %q", test.name, l, why)
		}
	}
	level[3] += 1e-10
	if l, _ := Fit(x, level, nil, nil); l.ResidualSD == 0 || l.Flat() {
		t.Errorf("a scatter of 1e-10: %+v", l)
	}
	if l, _ := Fit(x, make([]float64, 7), nil, nil); !l.Flat() || l.ResidualSD != 0 {
		t.Errorf("noughts: %+v", l)
	}
}

// TestRunsTest counts by hand: of the 6 orders of two signs of each kind, 2 have
// two runs, 2 three and 2 four.
func TestRunsTest(t *testing.T) {
	order := []int{0, 1, 2, 3}
	for _, test := range []struct {
		residuals []float64
		want      float64
	}{
		{[]float64{1, 1, -1, -1}, 1. / 3},
		{[]float64{1, -1, -1, 1}, 2. / 3},
		{[]float64{1, -1, 1, -1}, 1},
	} {
		if got := runsTest(test.residuals, order); !near(got, test.want, 1e-12) {
			t.Errorf("%v: got %v, want %v", test.residuals, got, test.want)
		}
	}
}
