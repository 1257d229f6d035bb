// Package optimum finds where a function of up to three variables is least
// while others stay at zero or above, from several starts, with what each of
// those that bind costs.
package optimum

import (
	"cmp"
	"math"
	"math/rand/v2"
	"slices"

	"rambook/units/sorting"
)

// Task is what is asked. All functions come from one evaluation: at a point,
// the first value is to be least and none of the others may be below zero. A
// point at which one of them is NaN is not allowed.
type Task struct {
	From, To []float64 // the range of each variable, From < To
	Limits   int       // how many values beside the first there are

	// Values computes many points at once: x holds one slice a variable, out one
	// slice a value, all as long as there are points.
	Values func(x, out [][]float64)
}

// Point is a place in the ranges, with what is there.
type Point struct {
	X      []float64
	Value  float64
	Limits []float64 // at zero or above

	// What the least value changes by when a limit is shifted by one: Value rises
	// by Prices[k] where Limits[k] must be 1 more. 0 of a limit that does not
	// bind, NaN where the functions have a corner that leaves it undefined. The
	// same of the ends of the ranges, when the end moves inwards by one.
	Prices       []float64
	Low, High    []float64
	BindsAtLow   []bool
	BindsAtHigh  []bool
	Binds        []bool
	Starts       int  // how many starts ended here
	Differential bool // the conditions of a smooth optimum hold, so that prices are good

	start int // the search that ended here, from 0; -1 if none did
}

// Answer is what was found.
type Answer struct {
	Best   *Point   // nil if no point is allowed
	Others []*Point // optima that are less good, each in a place of its own, best first
	Starts int      // how many searches were made

	// Without a point that is allowed: the one that is nearest to it, nil if none
	// can be computed.
	Closest *Point
}

// slack is how far below zero, as a share of what the limit ranges over, is
// still zero: it is rounding.
const slack = 1e-9

// Least finds the least value.
func (t *Task) Least() Answer {
	if len(t.From) == 0 {
		return t.alone()
	}
	s := t.survey()
	if s == nil {
		return Answer{}
	}
	var ends []*Point
	starts := s.starts()
	for number, start := range starts {
		ends = append(ends, s.descend(number, start)...)
	}
	answer := Answer{Starts: len(starts)}
	allowed := slices.DeleteFunc(slices.Clone(ends), func(p *Point) bool { return s.violation(p) > 0 })
	if best := s.bestSeen(); best != nil {
		allowed = append(allowed, best)
	}
	if len(allowed) == 0 {
		answer.Closest = s.nearest(ends)
		return answer
	}
	sorting.Stable(allowed, func(a, b *Point) int { return cmp.Compare(a.Value, b.Value) })
	answer.Best = s.settled(allowed[0], allowed)
	answer.Others = s.others(answer.Best, allowed)
	return answer
}

// alone is the answer where nothing varies.
func (t *Task) alone() Answer {
	out := make([][]float64, 1+t.Limits)
	for k := range out {
		out[k] = make([]float64, 1)
	}
	t.Values(nil, out)
	p := &Point{Value: out[0][0]}
	worst := math.Inf(1)
	for _, column := range out[1:] {
		p.Limits = append(p.Limits, column[0])
		worst = math.Min(worst, column[0])
	}
	p.Prices, p.Binds = make([]float64, t.Limits), make([]bool, t.Limits)
	switch {
	case math.IsNaN(p.Value) || math.IsNaN(worst):
		return Answer{}
	case worst < 0:
		return Answer{Closest: p}
	}
	p.Starts = 1
	return Answer{Best: p, Starts: 1}
}

// settled counts how many starts ended in the best point, and prefers among the
// ends that are as good one of which the prices are good.
func (s *search) settled(best *Point, allowed []*Point) *Point {
	near := s.span[0] * 1e-7
	chosen := best
	from := map[int]bool{}
	for _, p := range allowed {
		if p.Value-best.Value > near || s.distance(p, best) > samePlace {
			continue
		}
		if p.start >= 0 {
			from[p.start] = true
		}
		if p.Differential && !chosen.Differential && p.Value-best.Value <= s.span[0]*slack {
			chosen = p
		}
	}
	chosen.Starts = len(from)
	return chosen
}

// samePlace is how near two ends are, in parts of the ranges, to be one.
const samePlace = 1e-3

// others lists the optima beside the best, each once.
func (s *search) others(best *Point, allowed []*Point) []*Point {
	list := []*Point{best}
	for _, p := range allowed {
		near := func(o *Point) bool { return s.distance(p, o) < 20*samePlace }
		if p.Differential && !slices.ContainsFunc(list, near) && s.lowestAround(p) {
			list = append(list, p)
		}
	}
	return list[1:]
}

// lowestAround reports whether no allowed point close by is better: Newton's
// method ends on a saddle or on a summit as well.
func (s *search) lowestAround(p *Point) bool {
	const looks = 64
	random := rand.New(rand.NewPCG(1, 2))
	var points [][]float64
	for range looks {
		u := make([]float64, s.n)
		for k := range u {
			u[k] = (p.X[k]-s.From[k])/(s.To[k]-s.From[k]) + 2*samePlace*(2*random.Float64()-1)
			u[k] = math.Min(math.Max(u[k], 0), 1)
		}
		points = append(points, u)
	}
	values := s.values(points)
	for i := range points {
		short := 0.0
		for k := 1; k <= s.Limits; k++ {
			short += s.short(k, values[k][i])
		}
		if short == 0 && values[0][i] < p.Value-slack*s.span[0] {
			return false
		}
	}
	return true
}

// nearest is the end with the least violation.
func (s *search) nearest(ends []*Point) *Point {
	var best *Point
	for _, p := range append(ends, s.point(s.least)) {
		if p != nil && !math.IsNaN(s.violation(p)) && (best == nil || s.violation(p) < s.violation(best)) {
			best = p
		}
	}
	return best
}
