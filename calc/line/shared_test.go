package line

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"
)

// The closed forms follow from y = a + b·x + e: the slope is Σ (x - x̄) e / Sxx
// off, the intercept mean(e) - x̄ · that.

var sharedX = []float64{0, 1, 2.5, 4, 7, 8}

// TestSharedOffset: what moves all points alike is a doubt about the height of the
// line and about nothing else.
func TestSharedOffset(t *testing.T) {
	const own, offset = 0.3, 0.4
	y, u, shared := make([]float64, 6), make([]float64, 6), make([]float64, 6)
	for i, x := range sharedX {
		y[i], u[i], shared[i] = 3+2*x, math.Hypot(own, offset), offset
	}
	l, err := Fit(sharedX, y, u, [][]float64{shared})
	if err != nil {
		t.Fatal(err)
	}
	alone, _ := Fit(sharedX, y, []float64{own, own, own, own, own, own}, nil)
	for what, pair := range map[string][2]float64{
		"slope":                  {l.Slope, 2},
		"intercept":              {l.Intercept, 3},
		"error of the slope":     {l.SlopeError, alone.SlopeError},
		"error of the intercept": {l.InterceptError, math.Hypot(alone.InterceptError, offset)},
		"covariance":             {l.Covariance, alone.Covariance},
		"error at 5":             {l.Error(5), math.Hypot(alone.Error(5), offset)},
		"band at 5":              {l.PredictionError(5), alone.PredictionError(5)},
	} {
		if !near(pair[0], pair[1], 1e-12) {
			t.Errorf("%s: %.15g, want %.15g", what, pair[0], pair[1])
		}
	}
	// All of it shared: the points lie beside the line by nothing.
	l, _ = Fit(sharedX, y, shared, [][]float64{shared})
	if l.SlopeError > 1e-12 || !near(l.InterceptError, offset, 1e-12) || l.PredictionError(5) > 1e-12 ||
		l.scatter != 1 {
		t.Errorf("a shared offset alone: %+v", l)
	}
	y[3] += 0.01 // so what is off is no offset
	l, _ = Fit(sharedX, y, shared, [][]float64{shared})
	if why, p := l.Doubt(); p != 0 || why == "" {
		t.Errorf("a point that no offset explains: %q, %v", why, p)
	}
}

// TestSharedFactor: a factor moves slope and intercept by their own share, and
// never one against the other.
func TestSharedFactor(t *testing.T) {
	const own, factor = 0.3, 0.05
	y, u, shared := make([]float64, 6), make([]float64, 6), make([]float64, 6)
	for i, x := range sharedX {
		y[i] = 3 + 2*x
		shared[i] = factor * y[i]
		u[i] = math.Hypot(own, factor*(3+2*8)) // one for all, so that all weigh the same
	}
	l, err := Fit(sharedX, y, u, [][]float64{shared})
	if err != nil {
		t.Fatal(err)
	}
	// Σ cᵢ² (u² - (f·yᵢ)²) + (f·b)², with cᵢ = (xᵢ - x̄)/Sxx, and likewise.
	mean, sxx := 0.0, 0.0
	for _, x := range sharedX {
		mean += x / 6
	}
	for _, x := range sharedX {
		sxx += (x - mean) * (x - mean)
	}
	slope, intercept, covariance := factor*factor*4, factor*factor*9, factor*factor*6
	for i, x := range sharedX {
		v := u[i]*u[i] - shared[i]*shared[i]
		c := (x - mean) / sxx
		d := 1.0/6 - mean*c
		slope, intercept, covariance = slope+c*c*v, intercept+d*d*v, covariance+c*d*v
	}
	for what, pair := range map[string][2]float64{
		"error of the slope":     {l.SlopeError, math.Sqrt(slope)},
		"error of the intercept": {l.InterceptError, math.Sqrt(intercept)},
		"covariance":             {l.Covariance, covariance},
	} {
		if !near(pair[0], pair[1], 1e-12) {
			t.Errorf("%s: %.15g, want %.15g", what, pair[0], pair[1])
		}
	}
}

// TestSharedAgainstMatrices holds the line against (XᵀWX)⁻¹XᵀW C WX(XᵀWX)⁻¹, and
// the moments of its sum of squares against the trace of the matrix that they
// are made of.
func TestSharedAgainstMatrices(t *testing.T) {
	x, y, u, shared := sharedExample()
	n := len(x)
	l, err := Fit(x, y, u, shared)
	if err != nil {
		t.Fatal(err)
	}
	c, w, design := mat.NewSymDense(n, nil), mat.NewDiagDense(n, nil), mat.NewDense(n, 2, nil)
	for i := range n {
		for k := range i + 1 {
			sum := 0.0
			for _, f := range shared {
				sum += f[i] * f[k]
			}
			c.SetSym(i, k, sum)
		}
		c.SetSym(i, i, u[i]*u[i])
		w.SetDiag(i, 1/(u[i]*u[i]))
		design.SetRow(i, []float64{1, x[i]})
	}
	var weighted, normal, inverse, map2, params, half mat.Dense
	weighted.Mul(design.T(), w)
	normal.Mul(&weighted, design)
	if err := inverse.Inverse(&normal); err != nil {
		t.Fatal(err)
	}
	map2.Mul(&inverse, &weighted) // parameters = map2·y
	half.Mul(&map2, c)
	params.Mul(&half, map2.T())
	// The residuals over u are R·e, and S = R C Rᵀ.
	var fitted, s, rc, squared mat.Dense
	fitted.Mul(design, &map2)
	r := mat.NewDense(n, n, nil)
	for i := range n {
		for k := range n {
			one := 0.0
			if i == k {
				one = 1
			}
			r.Set(i, k, (one-fitted.At(i, k))/u[i])
		}
	}
	rc.Mul(r, c)
	s.Mul(&rc, r.T())
	squared.Mul(&s, &s)
	w2 := make([]float64, n)
	mean := 0.0
	for i := range w2 {
		w2[i] = 1 / (u[i] * u[i])
		mean += w2[i] * x[i]
	}
	total := 0.0
	for _, v := range w2 {
		total += v
	}
	e := newErrors(x, w2, mean/total, 1, shared)
	for what, pair := range map[string][2]float64{
		"variance of the intercept": {l.InterceptError * l.InterceptError, params.At(0, 0)},
		"covariance":                {l.Covariance, params.At(0, 1)},
		"variance of the slope":     {l.SlopeError * l.SlopeError, params.At(1, 1)},
		"variance at 6": {l.Error(6) * l.Error(6),
			params.At(0, 0) + 12*params.At(0, 1) + 36*params.At(1, 1)},
		"mean of the squares":    {e.mean, mat.Trace(&s)},
		"half of their variance": {e.halfVariance, mat.Trace(&squared)},
	} {
		if !near(pair[0], pair[1], 1e-10) {
			t.Errorf("%s: %.15g, want %.15g", what, pair[0], pair[1])
		}
	}
	bare, _ := Fit(x, y, u, nil)
	if bare.Slope != l.Slope || bare.Intercept != l.Intercept || bare.SumOfSquares != l.SumOfSquares {
		t.Errorf("the line is not the same with shared errors: %+v and %+v", bare, l)
	}
}

// sharedExample is ten points with an offset that seven of them share, a factor
// that all share, and their own errors.
func sharedExample() (x, y, u []float64, shared [][]float64) {
	shared = [][]float64{make([]float64, 10), make([]float64, 10)}
	for i := range 10 {
		x = append(x, float64(i)+0.3*float64(i%3))
		y = append(y, 20-1.5*x[i])
		if i > 2 {
			shared[0][i] = 0.5
		}
		shared[1][i] = -0.02 * y[i]
		own := 0.2 + 0.05*float64(i%4)
		u = append(u, math.Hypot(own, math.Hypot(shared[0][i], shared[1][i])))
	}
	return x, y, u, shared
}

// TestSharedAgainstSampling draws the errors many times: the lines scatter as much as
// the errors say, a further point lies within the band about as often as it ought to,
// and a good line is seldom called no good.
func TestSharedAgainstSampling(t *testing.T) {
	x, truth, u, shared := sharedExample()
	random := rand.New(rand.NewPCG(1, 2))
	const draws = 40000
	var slope, intercept, both, within, scattered, bent float64
	y := make([]float64, len(x))
	for range draws {
		offset, factor := random.NormFloat64(), random.NormFloat64()
		drawn := func(i int) float64 {
			own := math.Sqrt(u[i]*u[i] - shared[0][i]*shared[0][i] - shared[1][i]*shared[1][i])
			return truth[i] + offset*shared[0][i] + factor*shared[1][i] + own*random.NormFloat64()
		}
		for i := range x {
			y[i] = drawn(i)
		}
		l, err := Fit(x, y, u, shared)
		if err != nil {
			t.Fatal(err)
		}
		ds, di := l.Slope+1.5, l.Intercept-20
		slope, intercept, both = slope+ds*ds, intercept+di*di, both+ds*di
		again := random.IntN(len(x)) // a further value like one of the points
		if math.Abs(drawn(again)-l.At(x[again])) < l.Factor*l.PredictionError(x[again]) {
			within++
		}
		if l.scatter < 0.05 {
			scattered++
		}
		if l.curvature < 0.05 {
			bent++
		}
	}
	l, _ := Fit(x, truth, u, shared)
	for what, test := range map[string]struct{ got, want, tolerance float64 }{
		"variance of the slope":     {slope / draws, l.SlopeError * l.SlopeError, 0.03},
		"variance of the intercept": {intercept / draws, l.InterceptError * l.InterceptError, 0.03},
		"covariance":                {both / draws, l.Covariance, 0.05},
		"further points in band":    {within / draws, 0.9545, 0.015},
		"called scattered":          {scattered / draws, 0.05, 0.15},
		"called bent":               {bent / draws, 0.05, 0.1},
	} {
		if !near(test.got, test.want, test.tolerance) {
			t.Errorf("%s: %.5g, want %.5g", what, test.got, test.want)
		}
	}
}

// TestScatterWithoutSharing is χ² of n - 2 degrees itself.
func TestScatterWithoutSharing(t *testing.T) {
	x, y, u, _ := sharedExample()
	y[4] += 1.2
	l, err := Fit(x, y, u, nil)
	if err != nil {
		t.Fatal(err)
	}
	if want := (distuv.ChiSquared{K: 8}).Survival(l.SumOfSquares); !near(l.scatter, want, 1e-11) {
		t.Errorf("scatter %v, want %v", l.scatter, want)
	}
}
