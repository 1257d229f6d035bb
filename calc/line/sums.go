package line

import "math"

// Sums is what is kept of points that go by one at a time, as many as there may
// be. The first point is where the others count from, so that the sums of
// squares keep their digits.
type Sums struct {
	N                float64
	x0, y0           float64
	x, y, xx, xy, yy float64
}

// Add takes the points in whose two coordinates are numbers.
func (s *Sums) Add(x, y []float64) {
	for i, v := range x {
		u := y[i]
		if v != v || u != u {
			continue
		}
		if s.N == 0 {
			s.x0, s.y0 = v, u
		}
		v, u = v-s.x0, u-s.y0
		s.N++
		s.x += v
		s.y += u
		s.xx += v * v
		s.xy += v * u
		s.yy += u * u
	}
}

// Summed is the least-squares line through the points of a sum, with the
// standard errors that its residuals give it. All are NaN without two places.
type Summed struct{ Slope, SlopeError, Intercept, InterceptError float64 }

// Line is the line through the points.
func (s *Sums) Line() Summed {
	n := s.N
	meanX, meanY := s.x/n, s.y/n
	sxx, sxy, syy := s.xx-s.x*meanX, s.xy-s.x*meanY, s.yy-s.y*meanY
	if n < 2 || sxx <= 0 {
		none := math.NaN()
		return Summed{none, none, none, none}
	}
	slope := sxy / sxx
	variance := 0.0
	if n > 2 {
		if rest := syy - slope*sxy; rest > 1e-13*syy { // else it is that of the arithmetic
			variance = rest / (n - 2)
		}
	}
	at := -s.x0 - meanX // x = 0, counted from the mean
	return Summed{slope, math.Sqrt(variance / sxx), s.y0 + meanY + slope*at, math.Sqrt(variance * (1/n + at*at/sxx))}
}
