package optimum

import (
	"cmp"
	"math"

	"rambook/units/sorting"
)

// mostStarts is how many searches are made.
const mostStarts = 10

// starts picks the points of the grid that no neighbour is better than, with a
// weak and a strong penalty, so that a narrow room that the grid misses is found
// as well.
func (s *search) starts() [][]float64 {
	type start struct {
		i     int
		merit float64
	}
	var list []start
	known := map[int]bool{}
	for _, weight := range []float64{1e6, 30, 2} {
		var own []start
		for i := range s.grid[0] {
			if v := s.penalty(i, weight); !math.IsInf(v, 0) && s.isLeast(i, weight, v) {
				own = append(own, start{i, v})
			}
		}
		sorting.Stable(own, func(a, b start) int { return cmp.Compare(a.merit, b.merit) })
		for n, one := range own {
			if n < mostStarts/2 && !known[one.i] {
				known[one.i] = true
				list = append(list, one)
			}
		}
	}
	var points [][]float64
	for _, one := range list[:min(len(list), mostStarts)] {
		points = append(points, s.node(one.i))
	}
	return points
}

// isLeast reports whether no neighbour along an axis is better.
func (s *search) isLeast(i int, weight, v float64) bool {
	step := 1
	for range s.n {
		at := i / step % s.side
		if at > 0 && s.penalty(i-step, weight) < v || at < s.side-1 && s.penalty(i+step, weight) < v {
			return false
		}
		step *= s.side
	}
	return true
}
