package line

import (
	"cmp"
	"math"

	"gonum.org/v1/gonum/stat/combin"
	"gonum.org/v1/gonum/stat/distuv"

	"rambook/units/sorting"
)

// suspicious is the p below which a line is called no good.
const suspicious = 0.01

// TellingPoints is how many points it takes before one of the tests can call a
// line no good.
const TellingPoints = 6

// Doubt is what speaks most against the line, with its p, or "" if nothing
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
func (l *Line) Telling() bool { return l.Points >= TellingPoints }

// test looks whether the residuals look like those of a straight line.
func (l *Line) test(x, residuals, w []float64, e *errorsOf) {
	order := make([]int, len(x))
	for i := range order {
		order[i] = i
	}
	sorting.Stable(order, func(a, b int) int { return cmp.Compare(x[a], x[b]) })
	l.runs = runsTest(residuals, order)
	l.curvature = l.bendTest(x, residuals, w, e)
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
func (l *Line) bendTest(x, residuals, w []float64, e *errorsOf) float64 {
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
		for i := range square {
			square[i] *= w[i]
		}
		return e.along(square, along)
	}
	left := math.Max(0, l.SumOfSquares-gain)
	if left == 0 {
		return math.NaN()
	}
	return distuv.F{D1: 1, D2: degrees}.Survival(gain / (left / degrees))
}
