package phase

import (
	"math"

	"rambook/calc/coverage"
	"rambook/calc/line"
)

// Function is what an aggregate makes of the samples of a phase.
type Function uint8

const (
	Mean Function = iota
	Sum
	Count // samples that are no gap; of a condition, those in which it holds
	Least
	Greatest
	RMS       // square root of the mean square
	First     // where the phase begins, interpolated
	Last      // where it ends
	Slope     // of the least-squares line of Y over X
	Intercept // of that line, at X = 0
	Integral  // of Y over X, by trapezoids, ends included
)

// Aggregate is asked of each cycle.
type Aggregate struct {
	Phase int
	By    Function
	X, Y  int  // tracks; X alone where the function takes one
	Holds bool // of Count: X is a condition
}

// tracks are those that an aggregate reads.
func (a *Aggregate) tracks() []int {
	switch a.By {
	case Slope, Intercept, Integral:
		return []int{a.X, a.Y}
	}
	return []int{a.X}
}

// noise estimates how much the samples of a track scatter, by their second
// differences, which a steady movement does not enter. Differences three apart
// have no sample in common, and a single jump enters only one of them: so the
// product of the two gives the scatter, jumps or not.
type noise struct {
	last, before float64
	n            int        // samples since the last gap, at most 5
	d            [3]float64 // the last second differences, the latest first
	products     float64
	count        float64

	blank, longest int // rows since the last sample, and the most between two
}

func (s *noise) add(values []float64) {
	a, b, n, products, count := s.before, s.last, s.n, s.products, s.count
	d1, d2, d3 := s.d[0], s.d[1], s.d[2]
	for _, v := range values {
		if v != v {
			n = 0
			s.blank++
			continue
		}
		if n == 0 {
			s.longest, s.blank = max(s.longest, s.blank), 0
		}
		d := math.Abs((v - b) - (b - a))
		if n == 5 {
			products += d * d3
			count++
		} else {
			n++
		}
		a, b, d1, d2, d3 = b, v, d, d1, d2
	}
	s.before, s.last, s.n, s.products, s.count, s.d = a, b, n, products, count, [3]float64{d1, d2, d3}
}

// hole is the longest stretch of rows without a sample.
func (s *noise) hole() int { return max(s.longest, s.blank) }

// deviation is the standard deviation of one sample. Of normal scatter σ, a
// second difference is normal with √6 σ, and the mean of its size √(2/π) of that.
func (s *noise) deviation() float64 {
	if s.count == 0 {
		return 0
	}
	deviation := math.Sqrt(s.products / s.count * math.Pi / 12)
	if deviation < rounding*math.Abs(s.last) {
		return 0
	}
	return deviation
}

// rounding is the relative size below which scatter is that of the arithmetic.
const rounding = 1e-9

// sums accumulates one aggregate over the samples of a phase.
type sums struct {
	n              float64
	sum            float64
	least, most    float64
	line           line.Sums
	lastX, lastY   float64 // of the trapezoids
	startX, startY float64 // where the phase begins
	startChange    float64 // how far X may be off there, by the moment
}

func (s *sums) start(a *Aggregate, w *Window, m *moment) {
	*s = sums{least: math.Inf(1), most: math.Inf(-1), startX: w.value(a.X, m),
		startChange: w.change(a.X, m)}
	if a.By == Integral {
		s.startY = w.value(a.Y, m)
		s.lastX, s.lastY = s.startX, s.startY
	}
}

// add takes the samples of rows from to to-1 in.
func (s *sums) add(a *Aggregate, w *Window, from, to int) {
	x := w.tracks[a.X][from:to]
	switch a.By {
	case Mean, Sum:
		sum, n := s.sum, s.n
		for _, v := range x {
			if v == v {
				sum += v
				n++
			}
		}
		s.sum, s.n = sum, n
	case Count:
		for _, v := range x {
			if v == v && (!a.Holds || v != 0) {
				s.n++
			}
		}
	case Least:
		least := s.least
		for _, v := range x {
			if v < least {
				least = v
			}
		}
		s.least = least
	case Greatest:
		most := s.most
		for _, v := range x {
			if v > most {
				most = v
			}
		}
		s.most = most
	case RMS:
		sum, n := s.sum, s.n
		for _, v := range x {
			if v == v {
				sum += v * v
				n++
			}
		}
		s.sum, s.n = sum, n
	case Slope, Intercept:
		s.line.Add(x, w.tracks[a.Y][from:to])
	case Integral:
		y := w.tracks[a.Y][from:to]
		lastX, lastY := s.lastX, s.lastY
		for i, v := range x {
			u := y[i]
			if v != v || u != u {
				continue
			}
			if lastX == lastX && lastY == lastY {
				s.sum += (v - lastX) * (u + lastY) / 2
			}
			lastX, lastY = v, u
			s.n++
		}
		s.lastX, s.lastY = lastX, lastY
	}
}

// ends are the two moments of a phase.
type ends struct {
	start, end moment
	rows       float64 // between them
}

// finish gives the aggregate and its spread: what the moments of the phase and
// the scatter of the samples leave open, each as a half-width for about 95 %.
// deviation is the standard deviation of one sample of the track that is summed.
func (s *sums) finish(a *Aggregate, w *Window, e *ends, deviation float64) (value, spread float64) {
	none := math.NaN()
	duration := e.end.time - e.start.time
	endX := w.value(a.X, &e.end)
	// byMoments is the effect of both moments, given how fast the value changes with each.
	byMoments := func(perStart, perEnd float64) float64 {
		return math.Hypot(perStart*e.start.spread, perEnd*e.end.spread)
	}
	switch a.By {
	case First:
		return s.startX, math.Hypot(s.startChange, 2*deviation)
	case Last:
		return endX, math.Hypot(w.change(a.X, &e.end), 2*deviation)
	case Count:
		return s.n, 1
	case Sum:
		if s.n == 0 {
			return none, none
		}
		return s.sum, math.Hypot(math.Hypot(known(s.startX), known(endX)), 2*deviation*math.Sqrt(s.n))
	case Least, Greatest:
		value = s.most
		if a.By == Least {
			value = s.least
		}
		better := func(x float64) bool { return a.By == Least && x < value || a.By == Greatest && x > value }
		spread = 0
		if better(s.startX) {
			value, spread = s.startX, s.startChange
		}
		if better(endX) {
			value, spread = endX, w.change(a.X, &e.end)
		}
		if math.IsInf(value, 0) {
			return none, none
		}
		// The extreme of many samples with scatter is beyond that of what they sample.
		n := math.Max(2, e.rows)
		return value, math.Hypot(spread, deviation*math.Max(2, math.Sqrt(2*math.Log(n))+1))
	}
	if a.By == Slope || a.By == Intercept {
		l, k := s.line.Line(), coverage.Near(max(1, int(s.line.N)-2)) // the scatter is known from so many
		if a.By == Slope {
			return l.Slope, k * l.SlopeError
		}
		return l.Intercept, k * l.InterceptError
	}
	if s.n == 0 {
		return none, none
	}
	switch a.By {
	case Mean:
		value = s.sum / s.n
		return value, math.Hypot(byMoments(known(value-s.startX)/duration, known(value-endX)/duration),
			2*deviation/math.Sqrt(s.n))
	case RMS:
		value = math.Sqrt(s.sum / s.n)
		if value == 0 {
			return 0, 2 * deviation
		}
		effect := func(x float64) float64 { return known(value*value-x*x) / (2 * value * duration) }
		return value, math.Hypot(byMoments(effect(s.startX), effect(endX)), 2*deviation/math.Sqrt(s.n))
	case Integral:
		endY := w.value(a.Y, &e.end)
		value = s.sum
		if endX == endX && endY == endY && s.lastX == s.lastX && s.lastY == s.lastY {
			value += (endX - s.lastX) * (endY + s.lastY) / 2
		}
		perTime := known(endX-s.startX) / duration
		return value, math.Hypot(byMoments(known(s.startY)*perTime, known(endY)*perTime),
			2*deviation*math.Abs(known(endX-s.startX))/math.Sqrt(s.n))
	}
	return none, none
}

// known is 0 for what is not.
func known(x float64) float64 {
	if x != x {
		return 0
	}
	return x
}
