package optimum

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/optimize"
)

// descend goes from a start to an optimum in three steps: an augmented
// Lagrangian to find which limits bind, Newton's method on the conditions of
// an optimum to be exact, and the simplex of Nelder and Mead where a corner of
// the functions keeps these from their end.
func (s *search) descend(number int, start []float64) []*Point {
	var ends []*Point
	keep := func(u []float64) *Point {
		p := s.point(u)
		if math.IsNaN(s.violation(p)) {
			return nil
		}
		s.price(p, u)
		p.start = number
		ends = append(ends, p)
		return p
	}
	if polished, ok := s.polish(start, nil); ok {
		keep(polished)
	}
	u, multipliers := s.lagrange(start)
	if polished, ok := s.polish(u, multipliers); ok {
		if p := keep(polished); p != nil && p.Differential && s.violation(p) == 0 {
			return ends
		}
	}
	keep(u)
	weight := 10.0
	for k, m := range multipliers {
		weight = math.Max(weight, 3*m*s.span[k+1]/s.span[0])
	}
	v := s.simplex(u, weight)
	if polished, ok := s.polish(v, nil); ok {
		keep(polished)
	}
	keep(v)
	return ends
}

// The variables of the descent are angles, u = sin²(angle), so that no step
// leaves the ranges, beyond which the functions need not be defined. They are
// counted in small turns: the first step of a descent is about one, and shall
// not lead into another valley.
const turn = 0.1

func angles(u []float64) []float64 {
	a := make([]float64, len(u))
	for k, v := range u {
		const inside = 1e-4 // at an end itself the slope is 0
		a[k] = math.Asin(math.Sqrt(math.Min(math.Max(v, inside), 1-inside))) / turn
	}
	return a
}

func parts(a []float64) []float64 {
	u := make([]float64, len(a))
	for k, v := range a {
		u[k] = math.Pow(math.Sin(turn*v), 2)
	}
	return u
}

// lagrange minimises an augmented Lagrangian by BFGS (Nocedal and Wright,
// Numerical Optimization, 2nd ed., section 17.4), and returns the multipliers
// of the limits.
func (s *search) lagrange(start []float64) (u, multipliers []float64) {
	u = slices.Clone(start)
	scaled := make([]float64, s.Limits) // multipliers, in parts of what value and limits range over
	stiffness := 10.0
	for range 14 {
		merit := func(values [][]float64, i int) float64 {
			sum := values[0][i] / s.span[0]
			for k := range scaled {
				if push := scaled[k] - stiffness*values[k+1][i]/s.span[k+1]; push > 0 {
					sum += push * push / (2 * stiffness)
				}
			}
			if math.IsNaN(sum) {
				return math.Inf(1)
			}
			return sum
		}
		problem := optimize.Problem{
			Func: func(a []float64) float64 { return merit(s.values([][]float64{parts(a)}), 0) },
			Grad: func(grad, a []float64) {
				const h = 1e-5
				var points [][]float64
				for k := range a {
					for _, sign := range []float64{-1, 1} {
						b := slices.Clone(a)
						b[k] += sign * h
						points = append(points, parts(b))
					}
				}
				values := s.values(points)
				for k := range a {
					grad[k] = (merit(values, 2*k+1) - merit(values, 2*k)) / (2 * h)
					if math.IsNaN(grad[k]) || math.IsInf(grad[k], 0) {
						grad[k] = 0
					}
				}
			},
		}
		result, _ := optimize.Minimize(problem, angles(u),
			&optimize.Settings{GradientThreshold: 1e-8, MajorIterations: 60,
				Converger: &optimize.FunctionConverge{Absolute: 1e-13, Relative: 1e-13, Iterations: 5}},
			&optimize.BFGS{})
		if result == nil || math.IsInf(result.F, 0) {
			break
		}
		next := parts(result.X)
		values := s.values([][]float64{next})
		change := 0.0
		for k := range scaled {
			now := math.Max(0, scaled[k]-stiffness*values[k+1][0]/s.span[k+1])
			change = math.Max(change, math.Abs(now-scaled[k])/stiffness)
			scaled[k] = now
		}
		for k := range u {
			change = math.Max(change, math.Abs(next[k]-u[k]))
		}
		u = next
		if change < 1e-8 {
			break
		}
		stiffness = math.Min(stiffness*3, 1e5)
	}
	for k := range scaled {
		multipliers = append(multipliers, scaled[k]*s.span[0]/s.span[k+1])
	}
	return u, multipliers
}

// simplex minimises the value with a penalty that is exact: a corner that is
// deep enough for the optimum to lie in it. It starts anew where it ended,
// since a simplex may collapse on a ridge.
func (s *search) simplex(u []float64, weight float64) []float64 {
	problem := optimize.Problem{Func: func(a []float64) float64 {
		p := s.point(parts(a))
		sum := p.Value / s.span[0]
		for k, v := range p.Limits {
			sum += weight * math.Max(0, -v/s.span[k+1])
		}
		if math.IsNaN(sum) {
			return math.Inf(1)
		}
		return sum
	}}
	a := angles(u)
	for _, size := range []float64{0.5, 0.2, 0.05, 0.01, 1e-3} {
		result, _ := optimize.Minimize(problem, a, &optimize.Settings{FuncEvaluations: 400,
			Converger: &optimize.FunctionConverge{Absolute: 1e-14, Iterations: 40}},
			&optimize.NelderMead{SimplexSize: size})
		if result == nil || math.IsInf(result.F, 0) {
			break
		}
		a = result.X
	}
	return parts(a)
}
