package optimum

import (
	"cmp"
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"

	"rambook/units/sorting"
)

// bound is one condition that may bind: a limit, or an end of a range.
type bound struct {
	limit int // from 0, -1 for an end
	k     int // the variable of an end
	high  bool
}

// bounds lists all of them: the limits, then the ends.
func (s *search) bounds() []bound {
	var list []bound
	for k := range s.Limits {
		list = append(list, bound{limit: k})
	}
	for k := range s.n {
		list = append(list, bound{-1, k, false}, bound{-1, k, true})
	}
	return list
}

// local is the value and the limits around a place, scaled, to second order.
type local struct {
	value  []float64       // by function
	slopes [][]float64     // by function and variable
	bends  []*mat.SymDense // by function
}

// expand evaluates the functions around a place, by differences; false where
// they cannot be computed on both sides.
func (s *search) expand(u []float64, second bool) (*local, bool) {
	h := 1e-6
	if second {
		h = 1e-4
	}
	center := slices.Clone(u) // moved inwards, so that no point leaves the ranges
	for k := range center {
		center[k] = math.Min(math.Max(center[k], h), 1-h)
	}
	points := [][]float64{u, center}
	at := func(moves ...int) {
		p := slices.Clone(center)
		for _, m := range moves {
			if m > 0 {
				p[m-1] += h
			} else {
				p[-m-1] -= h
			}
		}
		points = append(points, p)
	}
	for k := range s.n {
		at(k + 1)
		at(-k - 1)
	}
	first := len(points)
	if second {
		for k := range s.n {
			for l := range k {
				at(k+1, l+1)
				at(k+1, -l-1)
				at(-k-1, l+1)
				at(-k-1, -l-1)
			}
		}
	}
	values := s.values(points)
	out := &local{}
	for f, v := range values {
		scale := s.span[f]
		for i := range v {
			if math.IsNaN(v[i]) {
				return nil, false
			}
			v[i] /= scale
		}
		slopes := make([]float64, s.n)
		bend := mat.NewSymDense(s.n, nil)
		next := first
		for k := range s.n {
			up, down := v[2+2*k], v[3+2*k]
			curve := (up - 2*v[1] + down) / (h * h)
			slopes[k] = (up-down)/(2*h) + curve*(u[k]-center[k])
			if second {
				bend.SetSym(k, k, curve)
				for l := range k {
					bend.SetSym(k, l, (v[next]-v[next+1]-v[next+2]+v[next+3])/(4*h*h))
					next += 4
				}
			}
		}
		out.value = append(out.value, v[0])
		out.slopes = append(out.slopes, slopes)
		out.bends = append(out.bends, bend)
	}
	return out, true
}

// at gives a bound's value and slopes at a place, at zero or above if it holds.
func (b bound) at(l *local, u []float64) (value float64, slopes []float64) {
	if b.limit >= 0 {
		return l.value[1+b.limit], l.slopes[1+b.limit]
	}
	slopes = make([]float64, len(u))
	if b.high {
		slopes[b.k] = -1
		return 1 - u[b.k], slopes
	}
	slopes[b.k] = 1
	return u[b.k], slopes
}

// How near a bound is taken to bind, in parts of the ranges: while the place is
// sought, and where it has been found.
const (
	nearBound  = 1e-3
	foundBound = 1e-6
)

// away is about how far off the place a bound is met, in parts of the ranges.
func (b bound) away(l *local, u []float64) float64 {
	value, slopes := b.at(l, u)
	return value / math.Max(floats.Norm(slopes, 2), 1e-300)
}

// polish solves the conditions of an optimum (Karush, Kuhn and Tucker) by
// Newton's method, with those bounds active that seem to bind; a bound whose
// multiplier turns out negative is let go, one that is broken is taken in.
func (s *search) polish(start, multipliers []float64) ([]float64, bool) {
	u := slices.Clone(start)
	all := s.bounds()
	l, ok := s.expand(u, true)
	if !ok {
		return nil, false
	}
	active := make([]bool, len(all))
	for i, b := range all {
		away := b.away(l, u)
		active[i] = away < nearBound
		if b.limit >= 0 && multipliers != nil && active[i] {
			active[i] = multipliers[b.limit]*s.span[1+b.limit]/s.span[0] > 1e-6 || away < 0
		}
	}
	s.thin(all, active, l, u)
	last := make([]float64, len(all))
	for range 30 {
		var chosen []int
		for i := range all {
			if active[i] {
				chosen = append(chosen, i)
			}
		}
		step, m, ok := s.newton(all, chosen, l, u, last)
		if !ok {
			return nil, false
		}
		size := 0.0
		for k := range step {
			size = math.Max(size, math.Abs(step[k]))
		}
		shorten := math.Min(1, 0.1/math.Max(size, 1e-300))
		for k := range u {
			u[k] = math.Min(math.Max(u[k]+shorten*step[k], 0), 1)
		}
		clear(last)
		for j, i := range chosen {
			last[i] = m[j]
		}
		if l, ok = s.expand(u, true); !ok {
			return nil, false
		}
		if size > 1e-10 {
			continue
		}
		changed := false
		worst, which := -1e-9, -1
		for _, i := range chosen {
			if last[i] < worst {
				worst, which = last[i], i
			}
		}
		if which >= 0 {
			active[which], changed = false, true
		}
		for i, b := range all {
			if value, _ := b.at(l, u); !active[i] && value < -slack {
				active[i], changed = true, true
			}
		}
		if !changed {
			return u, true
		}
		s.thin(all, active, l, u)
	}
	return nil, false
}

// thin keeps of the active bounds no more than there are variables, those that
// are nearest first, since more of them have no common place but by chance.
func (s *search) thin(all []bound, active []bool, l *local, u []float64) {
	var list []int
	for i := range all {
		if active[i] {
			list = append(list, i)
		}
	}
	sorting.Stable(list, func(a, b int) int {
		return cmp.Compare(all[a].away(l, u), all[b].away(l, u))
	})
	for _, i := range list[min(len(list), s.n):] {
		active[i] = false
	}
}

// newton is one step for the place and the new multipliers of the chosen
// bounds.
func (s *search) newton(all []bound, chosen []int, l *local, u, last []float64) (step, multipliers []float64, ok bool) {
	n, c := s.n, len(chosen)
	a := mat.NewDense(n+c, n+c, nil)
	b := mat.NewVecDense(n+c, nil)
	for k := range n {
		for j := range n {
			sum := l.bends[0].At(k, j)
			for _, i := range chosen {
				if q := all[i].limit; q >= 0 {
					sum -= last[i] * l.bends[1+q].At(k, j)
				}
			}
			a.Set(k, j, sum)
		}
		b.SetVec(k, -l.slopes[0][k])
	}
	for j, i := range chosen {
		value, slopes := all[i].at(l, u)
		for k := range n {
			a.Set(k, n+j, -slopes[k])
			a.Set(n+j, k, slopes[k])
		}
		b.SetVec(n+j, -value)
	}
	var x mat.VecDense
	if err := x.SolveVec(a, b); err != nil {
		if condition, fine := err.(mat.Condition); !fine || math.IsInf(float64(condition), 0) {
			return nil, nil, false
		}
	}
	for k := range n {
		step = append(step, x.AtVec(k))
	}
	for j := range c {
		multipliers = append(multipliers, x.AtVec(n+j))
	}
	for _, v := range append(slices.Clone(step), multipliers...) {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return nil, nil, false
		}
	}
	return step, multipliers, true
}
