package optimum

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// price finds which bounds bind at a point and what each costs: the slope of
// the value as a sum of the slopes of what binds, none of it negative. Where
// there is no such sum the point is in a corner, and the prices are not known.
func (s *search) price(p *Point, u []float64) {
	nan := math.NaN()
	p.Prices, p.Binds = make([]float64, s.Limits), make([]bool, s.Limits)
	p.Low, p.High = make([]float64, s.n), make([]float64, s.n)
	p.BindsAtLow, p.BindsAtHigh = make([]bool, s.n), make([]bool, s.n)
	l, ok := s.expand(u, false)
	if !ok {
		return
	}
	all := s.bounds()
	var near []int
	for i, b := range all {
		if b.away(l, u) >= foundBound {
			continue
		}
		near = append(near, i)
		switch {
		case b.limit >= 0:
			p.Binds[b.limit] = true
		case b.high:
			p.BindsAtHigh[b.k] = true
		default:
			p.BindsAtLow[b.k] = true
		}
	}
	set := func(i int, v float64) {
		switch b := all[i]; {
		case b.limit >= 0:
			p.Prices[b.limit] = v * s.span[0] / s.span[1+b.limit]
		case b.high:
			p.High[b.k] = v * s.span[0] / (s.To[b.k] - s.From[b.k])
		default:
			p.Low[b.k] = v * s.span[0] / (s.To[b.k] - s.From[b.k])
		}
	}
	for _, i := range near {
		set(i, nan)
	}
	var m []float64
	if m, p.Differential = s.multipliers(all, near, l, u); p.Differential {
		for j, i := range near {
			set(i, m[j])
		}
	}
}

// multipliers solves for the prices by least squares. ok reports that they are
// all at zero or above, that nothing of the slope is left, and that there is one
// such solution.
func (s *search) multipliers(all []bound, near []int, l *local, u []float64) (m []float64, ok bool) {
	size := 1e-9
	for _, v := range l.slopes[0] {
		size = math.Max(size, math.Abs(v))
	}
	rest := mat.NewVecDense(s.n, slices.Clone(l.slopes[0]))
	if len(near) > s.n {
		return nil, false
	}
	if len(near) > 0 {
		a := mat.NewDense(s.n, len(near), nil)
		for j, i := range near {
			_, slopes := all[i].at(l, u)
			a.SetCol(j, slopes)
		}
		var x mat.VecDense
		if err := x.SolveVec(a, rest); err != nil {
			return nil, false
		}
		var reached mat.VecDense
		reached.MulVec(a, &x)
		rest.SubVec(rest, &reached)
		for j := range near {
			if x.AtVec(j) < -1e-6*size {
				return nil, false
			}
			m = append(m, math.Max(0, x.AtVec(j)))
		}
	}
	return m, mat.Norm(rest, math.Inf(1)) <= 1e-4*math.Max(size, 1e-2)
}
