package fit

import (
	"errors"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"

	"rambook/calc/tape"
)

// The descent ends after so many steps, or when one changes next to nothing.
const (
	mostSteps = 3000
	smallStep = 1e-13 // share of a given's value that is no step any more
	smallGain = 1e-24 // share of the misfit
)

// ways are how a descent may go, in turn: its first steps damped little, or
// much; and by addition, or in proportion, so that a given keeps its sign and
// may change by powers of ten. A bold start finds the way out of a long valley,
// a careful one does not jump over the nearest one. The lowest place counts.
var ways = []way{{1e-3, false}, {1, false}, {1e3, false}, {1e-3, true}, {1, true}}

type way struct {
	damp       float64 // of the first step, against the scaled slopes
	proportion bool
}

// triangularize replaces total by the triangle of a stack of rows.
func triangularize(total, stack *mat.Dense) {
	var qr mat.QR
	qr.Factorize(stack)
	var r mat.Dense
	qr.RTo(&r)
	n, _ := total.Dims()
	total.Copy(r.Slice(0, n, 0, n))
}

// scales are what steps of the parameters are measured by.
func (j *joint) scales(x []float64) []float64 {
	s := make([]float64, len(x))
	for k, p := range j.parameters {
		s[k] = math.Max(math.Abs(x[k]), p.u)
		if s[k] == 0 {
			s[k] = 1e-300
		}
	}
	return s
}

func near(a, b, scale []float64) bool {
	for k := range a {
		if math.Abs(a[k]-b[k]) > 1e-9*scale[k] {
			return false
		}
	}
	return true
}

// descendBest moves x to the lowest of the places that descents from it reach.
func (j *joint) descendBest(x []float64, now state) (state, int) {
	best, start, steps := state{}, slices.Clone(x), 0
	for _, w := range ways {
		try := slices.Clone(start)
		then, n := j.descend(try, now, w)
		steps += n
		if !best.usable || then.misfit < best.misfit {
			best = then
			copy(x, try)
		}
	}
	best, n := j.descend(x, best, ways[0]) // a step in proportion may end where one by addition does not
	return best, steps + n
}

// descend moves x to where the misfit is least.
func (j *joint) descend(x []float64, now state, w way) (state, int) {
	p, steps, damp, grow := len(x), 0, w.damp, 2.0
	widths := make([]float64, p) // the largest slope seen, so that a given that acts less and less is not thrown far
	for ; steps < mostSteps; steps++ {
		r := now.triangle
		if w.proportion {
			r = inProportion(r, x)
		}
		held := make([]bool, p)
		gradient := make([]float64, p)
		for k := range p {
			column := 0.0
			for i := 0; i <= k; i++ {
				gradient[k] += r.At(i, k) * r.At(i, p)
				column += r.At(i, k) * r.At(i, k)
			}
			widths[k] = math.Max(widths[k], math.Sqrt(column))
			q := &j.parameters[k]
			uphill := gradient[k]
			if w.proportion && x[k] < 0 {
				uphill = -uphill
			}
			held[k] = x[k] <= q.from && uphill < 0 || x[k] >= q.to && uphill > 0 || widths[k] == 0
		}
		step := dampedStep(r, widths, held, damp)
		if step == nil {
			damp *= grow
			grow *= 2
			if math.IsInf(damp, 0) {
				break
			}
			continue
		}
		next := make([]float64, p)
		moved := false
		scale := j.scales(x)
		for k := range p {
			if w.proportion && x[k] != 0 {
				step[k] = x[k] * math.Expm1(step[k])
			}
			next[k] = clamp(x[k]+step[k], j.parameters[k].from, j.parameters[k].to)
			step[k] = next[k] - x[k]
			moved = moved || math.Abs(step[k]) > smallStep*scale[k]
		}
		gain := expected(now.triangle, step)
		if !moved || gain <= smallGain*now.misfit && !w.proportion {
			break
		}
		then := j.evaluate(next)
		if then.usable && then.misfit < now.misfit {
			quality := (now.misfit - then.misfit) / gain
			copy(x, next)
			now = then
			damp *= math.Max(1.0/3, 1-math.Pow(2*quality-1, 3))
			grow = 2
			continue
		}
		damp *= grow
		grow *= 2
		if math.IsInf(damp, 0) {
			break
		}
	}
	return now, steps
}

// inProportion are the slopes by the logarithms of the givens, but for those
// that are 0.
func inProportion(r *mat.Dense, x []float64) *mat.Dense {
	scaled := mat.DenseCopyOf(r)
	for k, v := range x {
		if v == 0 {
			continue
		}
		for i := 0; i <= k; i++ {
			scaled.Set(i, k, v*r.At(i, k))
		}
	}
	return scaled
}

// dampedStep solves |R·step - c|² + damp·|D·step|² for its least value.
func dampedStep(r *mat.Dense, widths []float64, held []bool, damp float64) []float64 {
	p := len(widths)
	var open []int
	for k := range p {
		if !held[k] {
			open = append(open, k)
		}
	}
	step := make([]float64, p)
	if len(open) == 0 {
		return step
	}
	a := mat.NewDense(p+len(open), len(open), nil)
	c := mat.NewVecDense(p+len(open), nil)
	for i := range p {
		c.SetVec(i, r.At(i, p))
		for n, k := range open {
			if k >= i {
				a.Set(i, n, r.At(i, k)/widths[k])
			}
		}
	}
	for n := range open {
		a.Set(p+n, n, math.Sqrt(damp))
	}
	var qr mat.QR
	qr.Factorize(a)
	var solved mat.VecDense
	if err := qr.SolveVecTo(&solved, false, c); err != nil && !conditionOnly(err) {
		return nil
	}
	for n, k := range open {
		step[k] = solved.AtVec(n) / widths[k]
		if !tape.Usable(step[k]) {
			return nil
		}
	}
	return step
}

func conditionOnly(err error) bool {
	var condition mat.Condition
	return errors.As(err, &condition) && !math.IsInf(float64(condition), 0)
}

// expected is how much of the misfit a step should take away.
func expected(r *mat.Dense, step []float64) float64 {
	p := len(step)
	gain := 0.0
	for i := range p {
		moved := 0.0
		for k := i; k < p; k++ {
			moved += r.At(i, k) * step[k]
		}
		c := r.At(i, p)
		gain += moved * (2*c - moved) // c² - (c - moved)²
	}
	return gain
}
