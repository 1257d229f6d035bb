package optimum

import (
	"math"
	"slices"
)

// search is a task with what a first look at a grid has shown of it. Inside,
// variables run from 0 to 1 and values are as they are.
type search struct {
	*Task
	n     int
	side  int         // points along each variable of the grid
	grid  [][]float64 // by value, by point of the grid
	span  []float64   // what each value ranges over on the grid, never 0
	least []float64   // the point of the grid that violates least
}

// perSide is how fine the grid is, by the number of variables.
var perSide = [...]int{0, 1025, 65, 25}

// survey looks at the grid; nil if no point of it can be computed.
func (t *Task) survey() *search {
	s := &search{Task: t, n: len(t.From), side: perSide[len(t.From)]}
	count := 1
	for range s.n {
		count *= s.side
	}
	points := make([][]float64, count)
	for i := range points {
		points[i] = s.node(i)
	}
	s.grid = s.values(points)
	usable := 0
	for _, column := range s.grid {
		s.span = append(s.span, spanOf(column))
	}
	worst := math.Inf(1)
	for i := range points {
		if v := s.violationAt(i); !math.IsNaN(v) {
			usable++
			if v < worst {
				worst, s.least = v, points[i]
			}
		}
	}
	if usable == 0 {
		return nil
	}
	return s
}

// spanOf is what a value ranges over in the middle half of the grid: near a pole
// it may be as large as it likes.
func spanOf(column []float64) float64 {
	var list []float64
	for _, v := range column {
		if !math.IsNaN(v) {
			list = append(list, v)
		}
	}
	n := len(list)
	if n == 0 {
		return 1
	}
	slices.Sort(list)
	for _, span := range []float64{2 * (list[3*(n-1)/4] - list[(n-1)/4]), list[n-1] - list[0], math.Abs(list[0])} {
		if span > 0 {
			return span
		}
	}
	return 1
}

// node is a point of the grid.
func (s *search) node(i int) []float64 {
	u := make([]float64, s.n)
	for k := range u {
		u[k] = float64(i%s.side) / float64(s.side-1)
		i /= s.side
	}
	return u
}

// values evaluates points, by value and point. What is infinite is NaN.
func (s *search) values(points [][]float64) [][]float64 {
	x, out := make([][]float64, s.n), make([][]float64, 1+s.Limits)
	for k := range x {
		x[k] = make([]float64, len(points))
		for i, u := range points {
			x[k][i] = s.valueAt(k, u[k])
		}
	}
	for k := range out {
		out[k] = make([]float64, len(points))
	}
	s.Values(x, out)
	for _, column := range out {
		for i, v := range column {
			if math.IsInf(v, 0) {
				column[i] = math.NaN()
			}
		}
	}
	return out
}

// valueAt turns a part of a range into a value; its ends are exact.
func (s *search) valueAt(k int, u float64) float64 {
	switch {
	case u <= 0:
		return s.From[k]
	case u >= 1:
		return s.To[k]
	}
	return s.From[k] + u*(s.To[k]-s.From[k])
}

// violationAt is how far a point of the grid is from being allowed, in parts of
// what the limits range over; NaN if it cannot be computed.
func (s *search) violationAt(i int) float64 {
	sum := 0 * s.grid[0][i]
	for k := 1; k <= s.Limits; k++ {
		sum += s.short(k, s.grid[k][i])
	}
	return sum
}

// short is how far a limit is broken, in parts of what it ranges over.
func (s *search) short(k int, v float64) float64 {
	part := v / s.span[k]
	if part >= -slack {
		return 0 // a limit is kept within rounding
	}
	return -part
}

func (s *search) violation(p *Point) float64 {
	sum := 0 * p.Value
	for k, v := range p.Limits {
		sum += s.short(k+1, v)
	}
	return sum
}

// distance is the largest difference of two places, in parts of the ranges.
func (s *search) distance(a, b *Point) float64 {
	d := 0.0
	for k := range a.X {
		d = math.Max(d, math.Abs(a.X[k]-b.X[k])/(s.To[k]-s.From[k]))
	}
	return d
}

// penalty is the value of a point of the grid, with what it violates added by a
// weight; both in parts of what they range over.
func (s *search) penalty(i int, weight float64) float64 {
	v := s.grid[0][i]/s.span[0] + weight*s.violationAt(i)
	if math.IsNaN(v) {
		return math.Inf(1)
	}
	return v
}

// point evaluates one place.
func (s *search) point(u []float64) *Point {
	if u == nil {
		return nil
	}
	out := s.values([][]float64{u})
	p := &Point{Value: out[0][0]}
	for k := range u {
		p.X = append(p.X, s.valueAt(k, u[k]))
	}
	for _, column := range out[1:] {
		p.Limits = append(p.Limits, column[0])
	}
	return p
}

// bestSeen is the best point of the grid that is allowed, nil if none is.
func (s *search) bestSeen() *Point {
	best, least := -1, math.Inf(1)
	for i, v := range s.grid[0] {
		if v < least && s.violationAt(i) == 0 {
			best, least = i, v
		}
	}
	if best < 0 {
		return nil
	}
	p := s.point(s.node(best))
	p.start = -1
	s.price(p, s.node(best))
	return p
}
