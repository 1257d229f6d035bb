package calc

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/combin"
	"gonum.org/v1/gonum/stat/distuv"

	"rambook/calc/function"
)

// Line is a straight line y = Intercept + Slope·x fitted by least squares.
// Errors are standard errors (k = 1) as tables and other programs state them.
// Source: NIST/SEMATECH e-Handbook 4.4.3 and 4.1.4.3.
type Line struct {
	Points           int
	Weighted         bool // by 1/u²; the errors are then those of the u alone, not scaled by the scatter
	Slope, Intercept float64
	SlopeError       float64
	InterceptError   float64
	covariance       float64 // of slope and intercept
	sumOfSquares     float64 // of the residuals, each over its u if weighted
	// ResidualSD is the standard deviation of the residuals with n - 2 degrees
	// of freedom; if weighted, in the mean weight. NaN for two points.
	ResidualSD float64
	// Factor is what a standard error is multiplied by to cover 95.45 %:
	// Student's t for n - 2, or 2 if weighted.
	Factor float64

	// What speaks against the line, as probabilities that a good line looks
	// at least as bad. NaN where there are too few points to tell.
	runs      float64 // so few runs of residuals of one sign
	curvature float64 // so strong a bend
	scatter   float64 // so large residuals against their u; only if weighted

	middleX, middleY float64 // weighted means
	level            float64 // variance of the line at middleX
	single           float64 // variance of a further single y
}

// suspicious is the p below which a line is called no good.
const suspicious = 0.01

// tellingPoints is how many points it takes before one of the tests can call a
// line no good.
const tellingPoints = 6

// Doubt says what speaks most against the line, with its p, or "" if nothing
// does.
func (l *Line) Doubt() (why string, p float64) {
	p = suspicious
	for _, d := range []struct {
		why string
		p   float64
	}{
		{"the points bend", l.curvature},
		{"neighbouring points lie on the same side of it", l.runs},
		{"the points scatter more than their spreads allow", l.scatter},
	} {
		if d.p < p {
			why, p = d.why, d.p
		}
	}
	return why, p
}

// Telling reports whether there are enough points to see whether a straight
// line is right.
func (l *Line) Telling() bool { return l.Points >= tellingPoints }

// fitLine fits a straight line. u holds the standard uncertainties of y, and
// is nil if they are not known; then they are taken from the scatter.
func fitLine(x, y, u []float64) (Line, error) {
	n := len(x)
	least := 3 // two points leave no scatter to judge the line by
	if u != nil {
		least = 2
	}
	if n < least {
		return Line{}, fmt.Errorf("a line needs at least %d points, found %d", least, n)
	}
	w := make([]float64, n)
	for i := range w {
		w[i] = 1
		if u != nil {
			w[i] = 1 / (u[i] * u[i])
		}
	}
	l := Line{Points: n, Weighted: u != nil}
	var total, sxx, sxy float64
	for i := range x {
		total += w[i]
		l.middleX += w[i] * x[i]
		l.middleY += w[i] * y[i]
	}
	l.middleX /= total
	l.middleY /= total
	for i := range x {
		sxx += w[i] * (x[i] - l.middleX) * (x[i] - l.middleX)
		sxy += w[i] * (x[i] - l.middleX) * (y[i] - l.middleY)
	}
	if sxx == 0 || slices.Min(x) == slices.Max(x) {
		return Line{}, errors.New("a line needs two different places, here all are alike")
	}
	l.Slope = sxy / sxx
	l.Intercept = l.middleY - l.Slope*l.middleX
	residuals := make([]float64, n)
	for i := range x {
		residuals[i] = y[i] - l.middleY - l.Slope*(x[i]-l.middleX)
		l.sumOfSquares += w[i] * residuals[i] * residuals[i]
	}
	degrees := float64(n - 2)
	scale := l.sumOfSquares / degrees
	l.ResidualSD, l.scatter = math.Sqrt(scale*float64(n)/total), math.NaN()
	switch {
	case !l.Weighted:
		l.Factor = function.Student(function.Coverage, degrees)
	case n > 2:
		scale, l.Factor, l.scatter = 1, 2, survival(l.sumOfSquares, n-2)
	default:
		scale, l.Factor, l.ResidualSD = 1, 2, math.NaN()
	}
	l.level = scale / total
	l.SlopeError = math.Sqrt(scale / sxx)
	l.InterceptError = math.Sqrt(scale * (1/total + l.middleX*l.middleX/sxx))
	l.covariance = -l.middleX * scale / sxx
	l.single = scale * float64(n) / total
	l.judge(x, residuals, w)
	return l, nil
}

// At is the line's y at x.
func (l *Line) At(x float64) float64 { return l.middleY + l.Slope*(x-l.middleX) }

// Error is the standard error of the line at x.
func (l *Line) Error(x float64) float64 {
	d := (x - l.middleX) * l.SlopeError
	return math.Sqrt(l.level + d*d)
}

// PredictionError is the standard error of a further single y at x. If
// weighted, that y is taken to have the mean weight.
func (l *Line) PredictionError(x float64) float64 {
	return math.Sqrt(l.single + l.Error(x)*l.Error(x))
}

// Certain reports whether the slope is told from none at all.
func (l *Line) Certain() bool { return math.Abs(l.Slope) > l.Factor*l.SlopeError }

// meets is where the line reaches a value, with the earliest and the latest x
// at which the line within its band does (Fieller's interval, from memory).
// It is only known if the slope is certain.
func (l *Line) meets(value float64) (at, earliest, latest float64, ok bool) {
	if !l.Certain() {
		return 0, 0, 0, false
	}
	// (height + slope·d)² = k²·(level + slopeError²·d²), with d = x - middleX.
	height := l.middleY - value
	k2 := l.Factor * l.Factor
	a := l.Slope*l.Slope - k2*l.SlopeError*l.SlopeError
	b := l.Slope * height
	c := height*height - k2*l.level
	root := math.Sqrt(math.Max(0, b*b-a*c))
	return l.middleX - height/l.Slope, l.middleX + (-b-root)/a, l.middleX + (-b+root)/a, true
}

// judge tests whether the residuals look like those of a straight line.
func (l *Line) judge(x, residuals, w []float64) {
	order := make([]int, len(x))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(x[a], x[b]) })
	l.runs = runsTest(residuals, order)
	l.curvature = l.bendTest(x, residuals, w)
}

// runsTest is the probability of as few runs of one sign as the residuals
// have, if their signs come in random order. Source: Wald and Wolfowitz,
// Annals of Mathematical Statistics 11 (1940), from memory.
func runsTest(residuals []float64, order []int) float64 {
	var above, below, runs float64
	last := 0.0
	for _, i := range order {
		r := residuals[i]
		if r == 0 {
			continue
		}
		if r > 0 {
			above++
		} else {
			below++
		}
		if r*last <= 0 {
			runs++
		}
		last = r
	}
	if above == 0 || below == 0 {
		return math.NaN()
	}
	choose := func(n, k float64) float64 {
		if k < 0 || k > n {
			return 0
		}
		return math.Exp(combin.LogGeneralizedBinomial(n, k) - combin.LogGeneralizedBinomial(above+below, above)/2)
	}
	p := 0.0
	for r := 2.0; r <= runs; r++ {
		k := math.Floor(r / 2)
		if r == 2*k {
			p += 2 * choose(above-1, k-1) * choose(below-1, k-1)
		} else {
			p += choose(above-1, k)*choose(below-1, k-1) + choose(above-1, k-1)*choose(below-1, k)
		}
	}
	return math.Min(1, p)
}

// bendTest is the probability of as strong a bend as the residuals have: of
// the coefficient of x², if that were fitted too.
func (l *Line) bendTest(x, residuals, w []float64) float64 {
	// square is (x - middleX)² less its own straight line.
	square := make([]float64, len(x))
	var total, sxx, mean, slope float64
	for i := range x {
		d := x[i] - l.middleX
		square[i] = d * d
		total += w[i]
		sxx += w[i] * d * d
		mean += w[i] * square[i]
		slope += w[i] * square[i] * d
	}
	mean, slope = mean/total, slope/sxx
	var size, along float64
	for i := range x {
		square[i] -= mean + slope*(x[i]-l.middleX)
		size += w[i] * square[i] * square[i]
		along += w[i] * square[i] * residuals[i]
	}
	degrees := float64(len(x) - 3)
	gain := along * along / size // what the bend takes off the sum of squares
	switch {
	case size < 1e-20*sxx*sxx/total, l.Weighted && degrees < 0, !l.Weighted && degrees < 1:
		return math.NaN() // fewer than three places, or too few points
	case l.Weighted:
		return survival(gain, 1)
	}
	left := math.Max(0, l.sumOfSquares-gain)
	if left == 0 {
		return math.NaN()
	}
	return distuv.F{D1: 1, D2: degrees}.Survival(gain / (left / degrees))
}
