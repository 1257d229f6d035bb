package optimum

import (
	"math"
	"math/rand/v2"
	"testing"
)

// at makes a task of a function of one point.
func at(from, to []float64, limits int, f func(x []float64) []float64) *Task {
	return &Task{From: from, To: to, Limits: limits, Values: func(x, out [][]float64) {
		for i := range out[0] {
			point := make([]float64, len(x))
			for k := range x {
				point[k] = x[k][i]
			}
			for k, v := range f(point) {
				out[k][i] = v
			}
		}
	}}
}

// Optima with closed forms. The prices follow from them as derivatives.
func TestClosedForms(t *testing.T) {
	for _, c := range []struct {
		name   string
		task   *Task
		x      []float64
		value  float64
		prices []float64
	}{
		{"a parabola inside its range", at([]float64{-3}, []float64{5}, 0, func(x []float64) []float64 {
			return []float64{(x[0] - 1.25) * (x[0] - 1.25)}
		}), []float64{1.25}, 0, nil},
		{"the end of a range", at([]float64{2}, []float64{5}, 0, func(x []float64) []float64 {
			return []float64{x[0] * x[0]}
		}), []float64{2}, 4, nil},
		// A closed can of volume V = 1 with the least surface: r³ = V/(2π), h = 2r, and dA/dV = 2/r.
		{"a can", at([]float64{0.1, 0.1}, []float64{3, 3}, 1, func(x []float64) []float64 {
			r, h := x[0], x[1]
			return []float64{2*math.Pi*r*r + 2*math.Pi*r*h, math.Pi*r*r*h - 1}
		}), []float64{math.Cbrt(1 / (2 * math.Pi)), 2 * math.Cbrt(1/(2*math.Pi))}, 3 * math.Cbrt(2*math.Pi),
			[]float64{2 / math.Cbrt(1/(2*math.Pi))}},
		// The largest box in an ellipsoid of axes 1, 2, 3 (in an octant): x_i = a_i/√3, volume abc/(3√3), and with
		// the ellipsoid's right side s, volume ∝ s^1.5.
		{"a box in an ellipsoid", at([]float64{0, 0, 0}, []float64{1, 2, 3}, 1, func(x []float64) []float64 {
			return []float64{-x[0] * x[1] * x[2], 1 - x[0]*x[0] - x[1]*x[1]/4 - x[2]*x[2]/9}
		}), []float64{1 / math.Sqrt(3), 2 / math.Sqrt(3), 3 / math.Sqrt(3)}, -6 / (3 * math.Sqrt(3)),
			[]float64{6 / (3 * math.Sqrt(3)) * 1.5}},
		// A linear program: -3x - 5y, x ≤ 4, 2y ≤ 12, 3x + 2y ≤ 18 has its optimum -36 at (2, 6), prices 0, 1.5, 1.
		{"a linear program", at([]float64{0, 0}, []float64{10, 10}, 3, func(x []float64) []float64 {
			return []float64{-3*x[0] - 5*x[1], 4 - x[0], 12 - 2*x[1], 18 - 3*x[0] - 2*x[1]}
		}), []float64{2, 6}, -36, []float64{0, 1.5, 1}},
		// Rosenbrock's valley within the disk x² + y² ≤ 2, whose edge it touches at (1, 1).
		{"a curved valley", at([]float64{-1.5, -1.5}, []float64{1.5, 1.5}, 1, func(x []float64) []float64 {
			a, b := 1-x[0], x[1]-x[0]*x[0]
			return []float64{a*a + 100*b*b, 2 - x[0]*x[0] - x[1]*x[1]}
		}), []float64{1, 1}, 0, nil},
		{"a corner", at([]float64{0}, []float64{1}, 0, func(x []float64) []float64 {
			return []float64{math.Max(x[0], 2*(0.7-x[0]))}
		}), []float64{1.4 / 3}, 1.4 / 3, nil},
		{"a corner in a plane", at([]float64{0, 0}, []float64{1, 1}, 0, func(x []float64) []float64 {
			return []float64{math.Abs(x[0]-0.3) + 2*math.Abs(x[1]-0.7)}
		}), []float64{0.3, 0.7}, 0, nil},
		// A strip so narrow that no point of a grid lies in it.
		{"a narrow room", at([]float64{0, 0}, []float64{1, 1}, 2, func(x []float64) []float64 {
			d := x[0] + math.Sqrt2*x[1] - 1.1
			return []float64{x[0]*x[0] + x[1]*x[1], d, 1e-5 - d}
		}), []float64{1.1 / 3, 1.1 * math.Sqrt2 / 3}, 1.21 / 3, []float64{2 * 1.1 / 3, 0}},
		// The root is not defined beyond the end where the optimum lies.
		{"beyond the end is nothing", at([]float64{0}, []float64{4}, 0, func(x []float64) []float64 {
			return []float64{math.Sqrt(x[0])}
		}), []float64{0}, 0, nil},
	} {
		got := c.task.Least()
		if got.Best == nil {
			t.Errorf("%s: nothing was found", c.name)
			continue
		}
		if d := math.Abs(got.Best.Value - c.value); d > 1e-6*math.Max(1, math.Abs(c.value)) {
			t.Errorf("%s: value %.12g, want %.12g", c.name, got.Best.Value, c.value)
		}
		for k := range c.x {
			if math.Abs(got.Best.X[k]-c.x[k]) > 1e-4 {
				t.Errorf("%s: variable %d is %.9g, want %.9g", c.name, k, got.Best.X[k], c.x[k])
			}
		}
		for k := range c.prices {
			if !(math.Abs(got.Best.Prices[k]-c.prices[k]) < 1e-4*math.Max(1, c.prices[k])) {
				t.Errorf("%s: price %d is %.9g, want %.9g", c.name, k, got.Best.Prices[k], c.prices[k])
			}
		}
	}
}

func TestNoRoom(t *testing.T) {
	got := at([]float64{0}, []float64{1}, 2, func(x []float64) []float64 {
		return []float64{x[0], x[0] - 0.8, 0.4 - x[0]}
	}).Least()
	if got.Best != nil || got.Closest == nil {
		t.Fatalf("limits that exclude each other: best %v, closest %v", got.Best, got.Closest)
	}
	if x := got.Closest.X[0]; x < 0.399 || x > 0.801 {
		t.Errorf("the closest is at %g, want between the limits", x)
	}
	nowhere := func([]float64) []float64 { return []float64{math.NaN()} }
	if got := at([]float64{0}, []float64{1}, 0, nowhere).Least(); got.Best != nil || got.Closest != nil {
		t.Error("something was found where nothing can be computed")
	}
}

// Against exhaustive sweeps: 100 random functions with random limits, of one,
// two and three variables. Nothing on a fine grid may be better than what was
// found, and what was found keeps to its limits.
func TestAgainstSweeps(t *testing.T) {
	random := rand.New(rand.NewPCG(7, 15))
	smooth, found := 0, 0
	for trial := range 100 {
		n := 1 + trial%3
		limits := trial % 4
		from, to := make([]float64, n), make([]float64, n)
		for k := range n {
			from[k] = random.NormFloat64()
			to[k] = from[k] + 0.5 + 3*random.Float64()
		}
		functions := make([]func([]float64) float64, 1+limits)
		for i := range functions {
			functions[i] = randomFunction(random, n, from, to)
		}
		shift := make([]float64, len(functions))
		for i := 1; i < len(functions); i++ { // so that a point somewhere is allowed
			point := make([]float64, n)
			for k := range n {
				point[k] = from[k] + (to[k]-from[k])*(0.4+0.2*float64(trial%2))
			}
			shift[i] = functions[i](point) - 0.05
		}
		f := func(x []float64) []float64 {
			out := make([]float64, len(functions))
			for i := range functions {
				out[i] = functions[i](x) - shift[i]
			}
			return out
		}
		task := at(from, to, limits, f)
		got := task.Least()
		side := []int{0, 20001, 301, 61}[n]
		count := int(math.Pow(float64(side), float64(n)) + 0.5)
		best := math.Inf(1)
		low, high := math.Inf(1), math.Inf(-1)
		x := make([]float64, n)
		for i := range count {
			rest := i
			for k := range n {
				x[k] = from[k] + (to[k]-from[k])*float64(rest%side)/float64(side-1)
				rest /= side
			}
			out := f(x)
			low, high = math.Min(low, out[0]), math.Max(high, out[0])
			allowed := true
			for _, v := range out[1:] {
				allowed = allowed && v >= 0
			}
			if allowed {
				best = math.Min(best, out[0])
			}
		}
		if math.IsInf(best, 1) {
			continue
		}
		found++
		if got.Best == nil {
			t.Errorf("trial %d: nothing was found, a sweep finds %.6g", trial, best)
			continue
		}
		if got.Best.Value > best+1e-6*(high-low) {
			t.Errorf("trial %d (%d variables, %d limits): found %.9g, a sweep %.9g", trial, n, limits, got.Best.Value,
				best)
		}
		for k, v := range f(got.Best.X)[1:] {
			if v < -1e-7 {
				t.Errorf("trial %d: limit %d is broken by %g", trial, k, -v)
			}
		}
		if !got.Best.Differential {
			continue
		}
		smooth++
		for k, price := range got.Best.Prices { // the price against the least value with the limit moved
			if price < 1e-3 {
				continue
			}
			const step = 1e-4
			moved := at(from, to, limits, func(x []float64) []float64 {
				out := f(x)
				out[1+k] += step
				return out
			}).Least()
			if gain := (got.Best.Value - moved.Best.Value) / step; math.Abs(gain-price) > 0.05*price+1e-3 {
				t.Errorf("trial %d: limit %d gives %.5g for each unit, priced at %.5g", trial, k, gain, price)
			}
		}
	}
	t.Logf("%d models had room, %d of them a smooth optimum with prices", found, smooth)
	if found < 80 || smooth < 70 {
		t.Errorf("only %d models had room and %d prices", found, smooth)
	}
}

// randomFunction is a sum of a wave, a bowl and a slope.
func randomFunction(random *rand.Rand, n int, from, to []float64) func([]float64) float64 {
	slope, wave, center := make([]float64, n), make([]float64, n), make([]float64, n)
	for k := range n {
		slope[k], wave[k] = random.NormFloat64(), 2*random.NormFloat64()
		center[k] = from[k] + (to[k]-from[k])*random.Float64()
	}
	bowl, height, phase := random.NormFloat64()/2, random.NormFloat64(), 6*random.Float64()
	return func(x []float64) float64 {
		sum, angle := 0.0, phase
		for k := range n {
			d := x[k] - center[k]
			sum += slope[k]*x[k] + bowl*d*d
			angle += wave[k] * x[k]
		}
		return sum + height*math.Sin(angle)
	}
}

// TestEndsAreExact puts the ends of ranges in: from + (to - from) need not be to.
func TestEndsAreExact(t *testing.T) {
	rounded := 0
	for i := 1; i < 1000; i++ {
		from, to := -0.7*float64(i)/3, 0.1/float64(i)
		s := &search{Task: &Task{From: []float64{from}, To: []float64{to}}, n: 1}
		if s.valueAt(0, 0) != from || s.valueAt(0, 1) != to {
			t.Errorf("the ends of %v to %v are %v and %v", from, to, s.valueAt(0, 0), s.valueAt(0, 1))
		}
		if from+(to-from) != to {
			rounded++
		}
	}
	if rounded == 0 {
		t.Error("no range of these is one that rounding would miss")
	}
}
