package phase

import (
	"math"
	"slices"
)

// Comparison is how the two sides of a condition are compared, or how its
// parts are joined.
type Comparison uint8

const (
	Less      Comparison = iota // A < B
	LessEqual                   // A ≤ B
	Equal                       // A = B
	Unequal                     // A ≠ B
	And                         // all of Parts
	Or                          // one of Parts
	Not                         // Parts[0] does not hold
)

// Operand is one side of a comparison: a track of the window, or a number.
type Operand struct {
	Track  int // -1 for a number
	Number float64
}

// Condition is what begins or ends a phase.
type Condition struct {
	By    Comparison
	A, B  Operand
	Parts []Condition
}

// at is the value of an operand in a row.
func (o *Operand) at(w *Window, row int) float64 {
	if o.Track < 0 {
		return o.Number
	}
	return w.tracks[o.Track][row]
}

// The three truths of a row: a blank cell leaves a condition unknown.
const (
	unknown int8 = iota - 1
	no
	yes
)

func truthOf(b bool) int8 {
	if b {
		return yes
	}
	return no
}

// truth reports whether the condition holds in a row.
func (c *Condition) truth(w *Window, row int) int8 {
	switch c.By {
	case Not:
		if t := c.Parts[0].truth(w, row); t != unknown {
			return 1 - t
		}
		return unknown
	case And, Or:
		settles := truthOf(c.By == Or)
		joined := 1 - settles
		for i := range c.Parts {
			switch c.Parts[i].truth(w, row) {
			case settles:
				return settles
			case unknown:
				joined = unknown
			}
		}
		return joined
	}
	a, b := c.A.at(w, row), c.B.at(w, row)
	switch {
	case a != a || b != b:
		return unknown
	case c.By == Less:
		return truthOf(a < b)
	case c.By == LessEqual:
		return truthOf(a <= b)
	case c.By == Equal:
		return truthOf(a == b)
	}
	return truthOf(a != b)
}

// find gives the first row from from on, and before to, in which the condition
// is yes, or no; to if there is none. A threshold, which most conditions are,
// takes a fraction of a nanosecond a row.
func (c *Condition) find(w *Window, want int8, from, to int) int {
	row := from
	if c.By <= LessEqual && (c.A.Track < 0) != (c.B.Track < 0) {
		below, k, track := c.A.Track >= 0, c.B.Number, c.A.Track // whether it holds below the threshold
		if !below {
			k, track = c.A.Number, c.B.Track
		}
		values := w.tracks[track][:to]
		strict := (c.By == Less) == (want == yes)
		switch below := below == (want == yes); {
		case below && strict:
			for ; row < to && !(values[row] < k); row++ {
			}
		case below:
			for ; row < to && !(values[row] <= k); row++ {
			}
		case strict:
			for ; row < to && !(values[row] > k); row++ {
			}
		default:
			for ; row < to && !(values[row] >= k); row++ {
			}
		}
		return row
	}
	for ; row < to && c.truth(w, row) != want; row++ {
	}
	return row
}

// jitter is how far noise may move the moment at which a comparison becomes
// true: twice the standard deviation of one sample over how fast it moves there,
// in the rows from from to to-1. The scatter is found by the median of second
// differences, which neither a steady movement nor a single jump enters.
func (c *Condition) jitter(w *Window, from, to int) float64 {
	if c.By > LessEqual || to-from < 5 {
		return 0
	}
	var margins, seconds []float64
	for row := from; row < to; row++ {
		if m := c.B.at(w, row) - c.A.at(w, row); m == m {
			margins = append(margins, m)
		}
	}
	for i := 2; i < len(margins); i++ {
		seconds = append(seconds, math.Abs(margins[i]-2*margins[i-1]+margins[i-2]))
	}
	if len(seconds) < 3 {
		return 0
	}
	slices.Sort(seconds)
	const toDeviation = 1.4826 / 2.449489742783178 // of a normal distribution; of a second difference √6
	deviation := seconds[len(seconds)/2] * toDeviation
	moved := math.Abs(margins[len(margins)-1] - margins[0])
	if moved == 0 {
		return 0
	}
	return 2 * deviation / moved * (w.time()[to-1] - w.time()[from])
}

// crossing is where between two rows the condition becomes yes, or no, as a
// share of the way from the first to the second: each comparison of its parts
// changes where the straight lines between the samples cross.
func (c *Condition) crossing(w *Window, want int8, before, row int) float64 {
	switch c.By {
	case Not:
		return c.Parts[0].crossing(w, 1-want, before, row)
	case And, Or:
		// To hold, all parts of an `and` must; to fail, one is enough. With `or` it is the other way.
		all := (c.By == And) == (want == yes)
		share := math.Inf(1)
		if all {
			share = 0
		}
		for i := range c.Parts {
			p := &c.Parts[i]
			if p.truth(w, row) != want {
				continue
			}
			s := p.crossing(w, want, before, row)
			if all {
				share = max(share, s)
			} else {
				share = min(share, s)
			}
		}
		return min(share, 1)
	}
	switch c.truth(w, before) {
	case want:
		return 0
	case unknown:
		return 1
	}
	if c.By == Equal || c.By == Unequal {
		return 0.5
	}
	from := c.B.at(w, before) - c.A.at(w, before)
	to := c.B.at(w, row) - c.A.at(w, row)
	if share := from / (from - to); share >= 0 && share <= 1 {
		return share
	}
	return 1
}

// byTheClock reports whether a comparison is of something that goes on by a
// second in each second between two rows, as a clock of the cycle does. Then
// the moment between them is known, and not only that it lies there.
func (c *Condition) byTheClock(w *Window, before, row int) bool {
	if c.By > LessEqual {
		return false
	}
	difference := func(row int) float64 { return c.A.at(w, row) - c.B.at(w, row) }
	moved := math.Abs(difference(row) - difference(before))
	passed := w.time()[row] - w.time()[before]
	return math.Abs(moved-passed) <= 1e-9*passed
}
