package line

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// errorsOf is what the errors of the points do to their line.
type errorsOf struct {
	points []float64   // the variance of each that is its own
	shared [][]float64 // by source and point, as in Fit

	whole, own covariance
	single     float64 // variance of a further y about the line, but for the line's own doubt

	// The mean of the sum of squares of the residuals, each over its u, and half
	// of its variance. Both are n - 2 where no two points share an error.
	mean, halfVariance float64
}

// newErrors looks at points of the variances scale/w.
func newErrors(x, w []float64, middleX, scale float64, shared [][]float64) *errorsOf {
	e := &errorsOf{points: make([]float64, len(x)), shared: shared}
	for i := range x {
		whole := scale / w[i]
		left := whole
		for _, f := range shared {
			left -= f[i] * f[i]
		}
		if left > slack*whole { // less is rounding
			e.points[i] = left
		}
	}
	// The parameters are level·y and slope·y; level and slope, scaled by the u,
	// span what the residuals have lost to the line.
	level, slope := make([]float64, len(x)), make([]float64, len(x))
	var total, sxx float64
	for i := range x {
		level[i], slope[i] = w[i], w[i]*(x[i]-middleX)
		total += w[i]
		sxx += w[i] * (x[i] - middleX) * (x[i] - middleX)
	}
	for i := range x {
		level[i] /= total
		slope[i] /= sxx
	}
	sum := func(c *covariance, level, slope, variance float64) {
		c.level += level * level * variance
		c.slope += slope * slope * variance
		c.both += level * slope * variance
	}
	for i, v := range e.points {
		sum(&e.own, level[i], slope[i], v)
	}
	e.whole = e.own
	for _, f := range shared {
		sum(&e.whole, dot(level, f), dot(slope, f), 1)
	}

	// What is left of each source's part in the points about its own line.
	left := make([][]float64, len(shared))
	for k, f := range shared {
		height, rise := dot(level, f), dot(slope, f)
		left[k] = make([]float64, len(x))
		for i := range x {
			left[k][i] = math.Sqrt(w[i]) * (f[i] - height - rise*(x[i]-middleX))
		}
	}
	// With S the covariance of the residuals over their u: its trace, and that of
	// its square.
	var crossed covariance // of the own variances along the two directions of the line
	for i, v := range e.points {
		own := v * w[i]
		lost := level[i]*level[i]*total/w[i] + slope[i]*slope[i]*sxx/w[i]
		e.single += own
		e.mean += own * (1 - lost)
		e.halfVariance += own * own * (1 - 2*lost)
		sum(&crossed, level[i]*math.Sqrt(total/w[i]), slope[i]*math.Sqrt(sxx/w[i]), own)
		for k := range left {
			e.halfVariance += 2 * own * left[k][i] * left[k][i]
		}
	}
	e.halfVariance += crossed.level*crossed.level + 2*crossed.both*crossed.both + crossed.slope*crossed.slope
	for k := range left {
		e.single += dot(left[k], left[k])
		e.mean += dot(left[k], left[k])
		for j := range left {
			joint := dot(left[k], left[j])
			e.halfVariance += joint * joint
		}
	}
	e.single /= total
	return e
}

// scatter is the probability of as large a sum of squares of residuals, each
// over its u. It is distributed as a sum of χ² with weights, here taken for one
// χ² of the same mean and variance (Box, Annals of Mathematical Statistics 25
// (1954), from memory); without shared errors that is χ² of n - 2 itself.
func (e *errorsOf) scatter(squares float64) float64 {
	switch {
	case squares == 0:
		return 1
	case e.mean <= 0:
		return 0 // the errors move all points along the line
	}
	degrees := e.mean * e.mean / e.halfVariance
	return distuv.ChiSquared{K: degrees}.Survival(squares * degrees / e.mean)
}

// along is the probability of a sum over the points, each times its weight, as
// far from 0.
func (e *errorsOf) along(weights []float64, sum float64) float64 {
	variance := 0.0
	for i, v := range e.points {
		variance += weights[i] * weights[i] * v
	}
	for _, f := range e.shared {
		joint := dot(weights, f)
		variance += joint * joint
	}
	switch {
	case sum == 0:
		return 1
	case variance == 0:
		return 0
	}
	return distuv.ChiSquared{K: 1}.Survival(sum * sum / variance)
}

func dot(a, b []float64) float64 {
	sum := 0.0
	for i := range a {
		sum += a[i] * b[i]
	}
	return sum
}
