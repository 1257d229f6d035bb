// Package line fits a straight line through points, and finds how sure the line
// is and what speaks against it. It has nothing to do with models and units.
package line

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"rambook/calc/coverage"
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
	Covariance       float64 // of slope and intercept
	SumOfSquares     float64 // of the residuals, each over its u if weighted
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

	middleX, middleY float64    // weighted means
	whole, own       covariance // of the line by all errors, and by those that no two points share
	single           float64    // variance of a further single y, but for what moves all of the line
}

// covariance is that of a line's parameters, counted from middleX.
type covariance struct{ level, slope, both float64 }

// at is the variance of the line at a distance from middleX.
func (c covariance) at(d float64) float64 { return max(0, c.level+2*c.both*d+c.slope*d*d) }

// slack is the part of the largest y that computed values lose in rounding. A
// slope or residuals below it are none.
const slack = 1e-12

// Fit fits a straight line. u holds the standard uncertainties of y, and
// is nil if they are not known; then they are taken from the scatter.
//
// shared holds, by source of error and point, by how much a source that several
// points share moves each of them at its standard uncertainty; its sign counts.
// It is part of u, and what is left of u is the point's own. The line is the
// same with it and without: each point weighs 1/u², and then the covariance of
// the points is carried through to the parameters, which are sums over the
// points (JCGM 100, 5.2.2). To weigh by the whole covariance instead would be a
// little closer where the points differ much in what they share, but a factor
// in common would then draw the line away from all of the points.
func Fit(x, y, u []float64, shared [][]float64) (Line, error) {
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
	noise := slack * max(slices.Max(y), -slices.Min(y))
	if l.Slope = sxy / sxx; math.Abs(l.Slope)*(slices.Max(x)-slices.Min(x)) <= noise {
		l.Slope = 0
	}
	l.Intercept = l.middleY - l.Slope*l.middleX
	residuals := make([]float64, n)
	for i := range x {
		residuals[i] = y[i] - l.middleY - l.Slope*(x[i]-l.middleX)
	}
	if max(slices.Max(residuals), -slices.Min(residuals)) <= noise {
		clear(residuals)
	}
	for i := range x {
		l.SumOfSquares += w[i] * residuals[i] * residuals[i]
	}
	degrees := float64(n - 2)
	scale := l.SumOfSquares / degrees
	l.ResidualSD, l.scatter = math.Sqrt(scale*float64(n)/total), math.NaN()
	if l.Weighted {
		scale = 1
	}
	e := newErrors(x, w, l.middleX, scale, shared)
	l.whole, l.own, l.single = e.whole, e.own, e.single
	switch {
	case !l.Weighted:
		l.Factor = coverage.Factor(n - 2)
	case n > 2:
		l.Factor, l.scatter = 2, e.scatter(l.SumOfSquares)
	default:
		l.Factor, l.ResidualSD = 2, math.NaN()
	}
	l.SlopeError = math.Sqrt(l.whole.slope)
	l.InterceptError = math.Sqrt(l.whole.at(-l.middleX))
	l.Covariance = l.whole.both - l.middleX*l.whole.slope
	l.test(x, residuals, w, e)
	return l, nil
}

// At is the line's y at x.
func (l *Line) At(x float64) float64 { return l.middleY + l.Slope*(x-l.middleX) }

// Error is the standard error of the line at x.
func (l *Line) Error(x float64) float64 { return math.Sqrt(l.whole.at(x - l.middleX)) }

// PredictionError is the standard error of a further single y at x, as far from
// the line. If weighted, that y is taken to be as doubtful as the points are on
// average, and to share with them what they share with each other.
func (l *Line) PredictionError(x float64) float64 {
	return math.Sqrt(l.single + l.own.at(x-l.middleX))
}

// Certain reports whether the slope stands out from none at all.
func (l *Line) Certain() bool { return math.Abs(l.Slope) > l.Factor*l.SlopeError }

// Flat reports whether all points have one y.
func (l *Line) Flat() bool { return l.Slope == 0 && l.SumOfSquares == 0 }

// Meets is where the line reaches a value, with the earliest and the latest x
// at which the line within its band does (Fieller's interval, from memory).
// It is only known if the slope is certain.
func (l *Line) Meets(value float64) (at, earliest, latest float64, ok bool) {
	if !l.Certain() {
		return 0, 0, 0, false
	}
	// (height + slope·d)² = k²·(variance of the line at d), with d = x - middleX.
	height := l.middleY - value
	k2 := l.Factor * l.Factor
	a := l.Slope*l.Slope - k2*l.whole.slope
	b := l.Slope*height - k2*l.whole.both
	c := height*height - k2*l.whole.level
	root := math.Sqrt(math.Max(0, b*b-a*c))
	return l.middleX - height/l.Slope, l.middleX + (-b-root)/a, l.middleX + (-b+root)/a, true
}
